package card_test

import (
	"math"
	"strings"
	"testing"

	"delaybook/domain/card"
)

// TestBeep reads the tone back as a meter would. AES17 calls a sine whose peak is
// the largest sample 0 dBFS (from memory), so -12 dBFS is a peak of 0.2512.
func TestBeep(t *testing.T) {
	t.Parallel()
	beep := card.Beep()
	if len(beep) != 2880 || beep[0] != 0 || beep[1] <= 0 {
		t.Fatalf("%d samples that begin %v, want 2880 from 0 upwards", len(beep), beep[:2])
	}
	// Correlate the steady part, 55 ms, with sine and cosine of 2 kHz.
	const from, to = 48, 48 + 2640
	var sine, cosine float64
	for n := from; n < to; n++ {
		phase := 2 * math.Pi * 2000 * float64(n) / 48000
		sine += beep[n] * math.Sin(phase) * 2 / (to - from)
		cosine += beep[n] * math.Cos(phase) * 2 / (to - from)
	}
	if level := 20 * math.Log10(math.Hypot(sine, cosine)); math.Abs(level+12) > 1e-6 || math.Abs(cosine) > 1e-9 {
		t.Errorf("%g dBFS with a phase of %g, want -12 and 0", level, math.Atan2(cosine, sine))
	}
	// Half way up after 0.5 ms and half way down 2 ms before the end, a quarter of a period past a zero.
	for n, want := range map[int]float64{30: 30.0 / 48, 6: 6.0 / 48, 2880 - 90: 90.0 / 192} {
		if got := math.Abs(beep[n]) / math.Pow(10, -0.6); math.Abs(got-want) > 1e-9 {
			t.Errorf("the envelope at sample %d is %g, want %g", n, got, want)
		}
	}
}

func TestSoundHasABeepAtEachEvent(t *testing.T) {
	t.Parallel()
	f := mustFile(t, "59.94")
	sound := f.Sound()
	if int64(len(sound)) != f.Samples {
		t.Fatalf("%d samples, want %d", len(sound), f.Samples)
	}
	quiet := int64(0)
	for _, e := range f.Events {
		for n := quiet; n <= e.Sample; n++ {
			if sound[n] != 0 {
				t.Fatalf("sample %d is %d before the beep at %d", n, sound[n], e.Sample)
			}
		}
		if sound[e.Sample+1] == 0 || sound[e.Sample+54] != 8231 { // 0.251189 * 32768
			t.Errorf("the beep at %d begins with %d and has a peak of %d", e.Sample, sound[e.Sample+1], sound[e.Sample+54])
		}
		quiet = e.Sample + 2880
	}
}

// TestPictures: only the area differs, it is black or white, centred, and has 35 %
// of the picture.
func TestPictures(t *testing.T) {
	t.Parallel()
	f := mustFile(t, "29.97")
	for _, size := range [][2]int{{160, 90}, {640, 360}, {1280, 720}, {1920, 1080}} {
		w, h := size[0], size[1]
		dark, lit := f.Luma(w, h, false), f.Luma(w, h, true)
		a := card.Area(w, h)
		if 2*a.X+a.Width != w || 2*a.Y+a.Height != h || a.X%2 != 0 || a.Y%2 != 0 {
			t.Errorf("%d x %d: the area %+v is not centred on even rows and columns", w, h, a)
		}
		if share := float64(a.Width*a.Height) / float64(w*h); math.Abs(share-0.35) > 0.011 {
			t.Errorf("%d x %d: the area has %.4f of the picture", w, h, share)
		}
		for i := range dark {
			x, y := i%w, i/w
			inside := x >= a.X && x < a.X+a.Width && y >= a.Y && y < a.Y+a.Height
			switch {
			case inside && (dark[i] != 16 || lit[i] != 235):
				t.Fatalf("%d x %d: inside at %d, %d dark is %d and lit %d", w, h, x, y, dark[i], lit[i])
			case !inside && (dark[i] != lit[i] || dark[i] > 90):
				t.Fatalf("%d x %d: outside at %d, %d dark is %d and lit %d", w, h, x, y, dark[i], lit[i])
			}
		}
	}
	for _, size := range [][2]int{{0, 0}, {158, 90}, {160, 88}, {162, 92}, {160, 91}, {-160, -90}} {
		if f.Luma(size[0], size[1], true) != nil {
			t.Errorf("a picture of %v is drawn", size)
		}
	}
}

// TestPicturesSayTheirRate looks at the figures below the area.
func TestPicturesSayTheirRate(t *testing.T) {
	t.Parallel()
	var rows []string
	luma := mustFile(t, "25").Luma(160, 90, true)
	for y := 76; y < 81; y++ {
		var row strings.Builder
		for x := 76; x < 84; x++ {
			row.WriteString(map[bool]string{true: "#", false: "."}[luma[y*160+x] != 16])
		}
		rows = append(rows, row.String())
	}
	want := []string{"###.###.", "..#.#...", "###.###.", "#.....#.", "###.###."}
	if got := strings.Join(rows, "\n"); got != strings.Join(want, "\n") {
		t.Errorf("the figures are\n%s\nwant\n%s", got, strings.Join(want, "\n"))
	}
	for _, rate := range card.Rates() { // each label fits
		if mustFile(t, rate.String()).Luma(160, 90, false) == nil {
			t.Errorf("%s: no picture", rate.Label())
		}
	}
}
