package card_test

import (
	"math"
	"math/big"
	"testing"

	"delaybook/domain/card"
	"delaybook/domain/timebase"

	"github.com/google/go-cmp/cmp"
)

func TestRates(t *testing.T) {
	t.Parallel()
	var got []string
	for _, rate := range card.Rates() {
		got = append(got, rate.String())
	}
	// The rates of Recommendations ITU-R BT.709-6 and BT.2020-2 up to 60.
	want := []string{"24000/1001", "24", "25", "30000/1001", "30", "50", "60000/1001", "60"}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("rates (-want +got):\n%s", diff)
	}
	for _, rate := range card.Screens() {
		if rate.IsZero() {
			t.Error("the rate of a screen can not be read")
		}
	}
}

func TestNewFileRefuses(t *testing.T) {
	t.Parallel()
	for _, rate := range []timebase.Rate{{}, mustRate(t, "12"), mustRate(t, "241")} {
		if _, err := card.NewFile(rate); err == nil {
			t.Errorf("a file at %q is made", rate)
		}
	}
}

// TestLightAndSoundStayTogether checks each event of each file in exact
// fractions: nearest frame, beep within half a sample of it, nothing cut off.
func TestLightAndSoundStayTogether(t *testing.T) {
	t.Parallel()
	half := big.NewRat(1, 2)
	for _, rate := range card.Rates() {
		f := mustFile(t, rate.String())
		if len(f.Events) != 60 || len(f.Truth()) != 60 {
			t.Fatalf("%s: %d events", rate.Label(), len(f.Events))
		}
		for k, e := range f.Events {
			ideal := new(big.Rat).Mul(big.NewRat(int64(400+card.StartMS(k)), 1000), rate.Rat()) // in frames
			if off := ideal.Sub(ideal, big.NewRat(e.Frame, 1)); off.Abs(off).Cmp(half) > 0 {
				t.Errorf("%s: event %d is %s frames off", rate.Label(), k, off.FloatString(3))
			}
			samples := new(big.Rat).Quo(big.NewRat(48000*e.Frame, 1), rate.Rat())
			if off := samples.Sub(samples, big.NewRat(e.Sample, 1)); off.Abs(off).Cmp(half) > 0 {
				t.Errorf("%s: the beep of event %d is %s samples from its flash", rate.Label(), k, off.FloatString(3))
			}
			truth := f.Truth()[k]
			if math.Abs(truth.PictureS-truth.SoundS) > 0.5/48000+1e-12 || truth.Event != k+1 || truth.Frame != e.Frame || truth.Sample != e.Sample {
				t.Errorf("%s: event %d is %+v, told as %+v", rate.Label(), k, e, truth)
			}
		}
		last := f.Events[59]
		if last.Frame+f.FlashFrames >= f.Frames || last.Sample+card.BeepMS*48 >= f.Samples {
			t.Errorf("%s: the last event %+v runs over the end %d, %d", rate.Label(), last, f.Frames, f.Samples)
		}
		if ms := rate.FramesMS(f.FlashFrames); math.Abs(ms-card.FlashMS) > rate.FrameMS()/2 {
			t.Errorf("%s: a flash lasts %g ms", rate.Label(), ms)
		}
	}
}

// TestKnownFrames are worked out by hand: 400 ms are 10 frames at 25, and 11.988
// frames at 30000/1001, so frame 12, which starts at 0.4004 s and sample 19219.2.
func TestKnownFrames(t *testing.T) {
	t.Parallel()
	for rate, want := range map[string][]card.Event{
		"25":     {{Frame: 10, Sample: 19200}, {Frame: 30, Sample: 57600}}, // 1216 ms are 30.4 frames
		"29.97":  {{Frame: 12, Sample: 19219}, {Frame: 36, Sample: 57658}}, // 36.44 frames; 36 are 57657.6 samples
		"59.94":  {{Frame: 24, Sample: 19219}, {Frame: 73, Sample: 58458}}, // 72.89 frames; 73 are 58458.4 samples
		"24":     {{Frame: 10, Sample: 20000}, {Frame: 29, Sample: 58000}}, // 9.6 and 29.18 frames
		"60":     {{Frame: 24, Sample: 19200}, {Frame: 73, Sample: 58400}}, // 72.96 frames
		"50":     {{Frame: 20, Sample: 19200}, {Frame: 61, Sample: 58560}}, // 60.8 frames
		"30":     {{Frame: 12, Sample: 19200}, {Frame: 36, Sample: 57600}}, // 36.48 frames
		"23.976": {{Frame: 10, Sample: 20020}, {Frame: 29, Sample: 58058}}, // 9.59 and 29.15 frames of 2002 samples
	} {
		if diff := cmp.Diff(want, mustFile(t, rate).Events[:2]); diff != "" {
			t.Errorf("%s (-want +got):\n%s", rate, diff)
		}
	}
	f := mustFile(t, "29.97")
	if f.Frames != 1854 || f.Samples != 2969366 || f.FlashFrames != 5 { // 61855 ms are 1853.80 frames; 1854 are 2969366.4 samples
		t.Errorf("a file of %d frames, %d samples, flashes of %d frames", f.Frames, f.Samples, f.FlashFrames)
	}
}

func TestLit(t *testing.T) {
	t.Parallel()
	f := mustFile(t, "25")
	for frame, want := range map[int64]bool{0: false, 9: false, 10: true, 13: true, 14: false, 29: false, 30: true, 33: true, 34: false} {
		if got := f.Lit(frame); got != want {
			t.Errorf("frame %d is lit: %t, want %t", frame, got, want)
		}
	}
	lit := int64(0)
	for frame := range f.Frames {
		if f.Lit(frame) {
			lit++
		}
	}
	if lit != 60*4 {
		t.Errorf("%d frames are lit, want 60 flashes of 4", lit)
	}
}
