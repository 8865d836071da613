package service

import (
	"context"

	"delaybook/domain"
	"delaybook/domain/onset"
)

// A Still is one frame of a recording as an image.
type Still struct {
	Ticks int64 // its time stamp, 1/90000 s, which is what decoders give exactly
	JPEG  []byte
}

// TicksPerS is the unit of the time stamps of stills.
const TicksPerS = 90000

// A Hearing is what is to be heard in a recording that somebody steps through.
type Hearing struct {
	DurationS float64       `json:"duration_s"` // 0: the file does not say
	FPS       float64       `json:"fps"`        // as the file says; 0: it does not
	Onsets    []onset.Onset `json:"onsets"`     // in order of time
}

// A Viewer opens recordings for a person to step through. A file that it can not
// show is a Conflict that says why and what to do.
type Viewer interface {
	// Stills returns at most n frames from the first one at or after fromS
	// seconds, width pixels wide. Fewer mean that the file ends.
	Stills(ctx context.Context, file string, fromS float64, n, width int) ([]Still, error)

	// Listen returns what is to be heard.
	Listen(ctx context.Context, file string) (Hearing, error)
}

// ClipMade keeps what was made of the files of a clip beside them, to be made
// again when it is lost. It goes when they do. Names are of letters, digits and
// dashes.
type ClipMade interface {
	// Made returns the names of the files in a folder that was kept, ok false
	// if there is none.
	Made(id domain.ClipID, folder string) (names []string, ok bool, err error)

	// MadeFile returns what is in a file of a folder, nil if there is none.
	MadeFile(id domain.ClipID, folder, name string) ([]byte, error)

	// KeepMade keeps a folder of files, as a whole; one of that name that is
	// there stays. Of more than most folders the oldest are deleted.
	KeepMade(id domain.ClipID, folder string, files map[string][]byte, most int) error
}
