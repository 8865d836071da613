package pages

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"delaybook/domain"
	"delaybook/domain/book"
	"delaybook/domain/service"

	"github.com/skip2/go-qrcode"
)

// What a person says has no sign; what the book keeps has: positive is early.
func TestTheSignOfAReading(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		heard, amount, unit string
		ms                  float64
		frames              string
	}{
		{"early", "12,5", "ms", 12.5, ""},
		{"late", " 40.5 ", "ms", -40.5, ""},
		{"in-sync", "", "ms", 0, ""},
		{"in-sync", "7", "ms", 0, ""}, // typed before somebody changed their mind
		{"early", "5", "frames", 0, "5"},
		{"late", "0,5", "frames", 0, "0.5"},
		{"in-sync", "3", "frames", 0, "0"},
	} {
		page := measurePage{Entry: measureEntry{Heard: c.heard, Amount: c.amount, Unit: c.unit}}
		got, wrong := page.reading()
		if wrong != "" {
			t.Errorf("%+v: %s", c, wrong)
			continue
		}
		if c.unit == "ms" {
			if got.OffsetMS == nil || *got.OffsetMS != c.ms || got.Heard != "" || math.Signbit(*got.OffsetMS) != (c.ms < 0) {
				t.Errorf("%+v: got %+v", c, got)
			}
			continue
		}
		if got.Frames != c.frames || got.Heard != c.heard || got.OffsetMS != nil {
			t.Errorf("%+v: got %+v", c, got)
		}
	}
}

func TestAReadingThatSaysNothingOrASignIsAskedForAgain(t *testing.T) {
	t.Parallel()
	for _, e := range []measureEntry{
		{Heard: "", Amount: "5", Unit: "frames"},
		{Heard: "soon", Amount: "5", Unit: "frames"},
		{Heard: "early", Amount: "", Unit: "frames"},
		{Heard: "early", Amount: " ", Unit: "ms"},
		{Heard: "early", Amount: "-5", Unit: "ms"},
		{Heard: "late", Amount: "five", Unit: "ms"},
		{Heard: "late", Amount: "NaN", Unit: "ms"},
		{Heard: "late", Amount: "Inf", Unit: "ms"},
	} {
		if _, wrong := (&measurePage{Entry: e}).reading(); wrong == "" {
			t.Errorf("%+v was taken", e)
		}
	}
}

func TestTheNextJobComesFirst(t *testing.T) {
	t.Parallel()
	var rigs []rigEntry
	for i, date := range []string{"2026-11-20", "", "2026-12-01", "2026-11-25", "2026-11-24"} {
		rig := domain.Rig{Name: "rig " + strconv.Itoa(i), JobDate: date}
		rigs = append(rigs, rigEntry{RigView: service.RigView{Rig: &book.Rig{Rig: rig}}})
	}
	byJob(rigs, "2026-11-25")
	var got []string
	for _, r := range rigs {
		got = append(got, r.JobDate)
	}
	if want := "2026-11-25 2026-12-01  2026-11-24 2026-11-20"; strings.Join(got, " ") != want {
		t.Errorf("got %q, want %q", strings.Join(got, " "), want)
	}
}

// The drawing is read back module by module, with the quiet zone that readers need.
func TestTheCodeIsDrawnAsItIs(t *testing.T) {
	t.Parallel()
	const text = "https://book.test/rigs/red-van.harbour-hall"
	drawn, err := qrCode(text, `a "label"`)
	if err != nil {
		t.Fatal(err)
	}
	_, path, _ := strings.Cut(string(drawn), ` d="`)
	dark := map[[2]int]bool{}
	for _, run := range strings.Split(strings.TrimSuffix(strings.TrimSuffix(path, `"/></svg>`), "z"), "z") {
		move, length, ok := strings.Cut(strings.TrimPrefix(run, "M"), "h")
		xy := strings.Fields(move)
		long, _, _ := strings.Cut(length, "v")
		n, err := strconv.Atoi(long)
		if !ok || len(xy) != 2 || err != nil {
			t.Fatalf("run %q", run)
		}
		x, _ := strconv.Atoi(xy[0])
		y, _ := strconv.Atoi(xy[1])
		for i := range n {
			dark[[2]int{x + i, y}] = true
		}
	}
	code, err := qrcode.New(text, qrcode.Medium)
	if err != nil {
		t.Fatal(err)
	}
	modules := code.Bitmap() // with a border of four modules
	for y, row := range modules {
		for x, on := range row {
			if dark[[2]int{x, y}] != on {
				t.Fatalf("module %d, %d: drawn %v", x, y, !on)
			}
		}
	}
	if strings.Contains(string(drawn), `"label""`) {
		t.Error("the label is not escaped")
	}
}
