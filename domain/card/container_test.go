package card_test

import (
	"errors"
	"strings"
	"testing"

	"delaybook/domain/card"
	"delaybook/domain/timebase"
)

func TestParse(t *testing.T) {
	t.Parallel()
	for _, in := range []string{"29.97", "30000/1001", " 29.970 "} {
		if rate, err := card.ParseRate(in); err != nil || rate.String() != "30000/1001" {
			t.Errorf("ParseRate(%q) = %v, %v", in, rate, err)
		}
	}
	for _, in := range []string{"", "48", "29.9", "120", "x"} {
		_, err := card.ParseRate(in)
		if fault, ok := errors.AsType[*timebase.InputError](err); !ok || !strings.Contains(fault.Send, "23.976, 24, 25") {
			t.Errorf("ParseRate(%q): %v", in, err)
		}
	}
	for in, media := range map[string]string{"mov": "video/quicktime", " MP4": "video/mp4"} {
		if c, err := card.ParseContainer(in); err != nil || c.Media() != media {
			t.Errorf("ParseContainer(%q) = %q, %v", in, c, err)
		}
	}
	if _, err := card.ParseContainer("mkv"); err == nil || !strings.Contains(err.Error(), `"mov" or "mp4"`) {
		t.Errorf("a card in mkv: %v", err)
	}
}

// TestNamesDiffer: a name is the key under which a file is kept.
func TestNamesDiffer(t *testing.T) {
	t.Parallel()
	seen := map[string]bool{}
	for _, rate := range card.Rates() {
		for _, c := range card.Containers() {
			name := card.FileName(rate, c)
			if seen[name] || strings.ContainsAny(name, "/ \"") || !strings.Contains(name, "v1-") {
				t.Errorf("%s %s: the name is %q", rate.Label(), c, name)
			}
			seen[name] = true
		}
	}
}
