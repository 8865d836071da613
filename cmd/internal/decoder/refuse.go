package decoder

import (
	"errors"
	"fmt"
	"time"

	"delaybook/domain/recording"
)

// An Error is a file that gives no recording, with what to say about it.
type Error struct {
	recording.Refusal
	Err error // what happened below; may be nil
}

func (e *Error) Error() string { return e.Text + " " + e.Try }

// Unwrap answers what happened below.
func (e *Error) Unwrap() error { return e.Err }

// RefusalOf answers the refusal that an error of this package carries.
func RefusalOf(err error) (recording.Refusal, bool) {
	if e := (*Error)(nil); errors.As(err, &e) {
		return e.Refusal, true
	}
	return recording.Refusal{}, false
}

func refuse(r recording.Refusal, cause error) error { return &Error{Refusal: r, Err: cause} }

const exportAgain = "Send the file as the camera wrote it, or export it as MP4 with H.264 and AAC, or MOV with PCM."

func unreadable(text string) recording.Refusal {
	return recording.Refusal{Code: recording.Unreadable, Text: text, Try: exportAgain}
}

func timedOut(l Limits) recording.Refusal {
	return recording.Refusal{
		Code: recording.TimedOut,
		Text: fmt.Sprintf("Decoding was stopped after %s.", shortDuration(min(l.Wall, l.CPU))),
		Try:  "Send 20 seconds at 1920x1080, or in H.264; or let the operator name a native decoder, which is several times faster.",
	}
}

func tooBig(text, try string) recording.Refusal {
	return recording.Refusal{Code: recording.TooBig, Text: text, Try: try}
}

// shortDuration writes a duration for people: "40 s", "3 min".
func shortDuration(d time.Duration) string {
	s := d.Seconds()
	if s < 100 {
		return fmt.Sprintf("%.0f s", max(s, 1))
	}
	return fmt.Sprintf("%.0f min", s/60)
}
