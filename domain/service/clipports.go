package service

import (
	"context"
	"io"
	"time"

	"delaybook/domain"
	"delaybook/domain/recording"

	"github.com/google/uuid"
)

// An AnalysisRequest is one recording to measure.
type AnalysisRequest struct {
	Files []string // paths on this machine, one or two, of files that nothing is known of
	AnalysisOptions
}

// Progress says how far an analysis has come.
type Progress struct {
	Done     float64       // 0 to 1
	Estimate time.Duration // that it takes in all; 0: not known
}

// An Analyst decodes recordings and measures them.
type Analyst interface {
	// Estimate returns about how long Analyse would take, without decoding.
	Estimate(ctx context.Context, r AnalysisRequest) (time.Duration, error)

	// Analyse measures a recording. A recording that gives no number is a
	// result that says why, not an error. It calls progress now and then, never
	// concurrently, and ends soon after ctx does.
	Analyse(ctx context.Context, r AnalysisRequest, progress func(Progress)) (recording.Result, error)
}

// A ClipStore keeps clips and runs their jobs. Package db implements it.
type ClipStore interface {
	// AddClip stores a new clip, and its job if it is queued, in one
	// transaction. A client identifier that is taken is a Conflict.
	AddClip(ctx context.Context, c *Clip) error

	// Clip returns a clip, nil if there is none.
	Clip(ctx context.Context, id domain.ClipID) (*Clip, error)

	// ClipByClientID returns the clip that was sent under an identifier, nil
	// if there is none.
	ClipByClientID(ctx context.Context, id uuid.UUID) (*Clip, error)

	// ClipsOf returns the clips of a rig, newest first, without their evidence
	// and with the first segment of their results only. Deleted ones are left out.
	ClipsOf(ctx context.Context, rig domain.RigID) ([]*Clip, error)

	// ChangeClip lets fn change a clip while nobody else does, counts its row
	// version up and stores it, with a job if fn leaves it queued with another
	// attempt. If fn returns an error nothing is stored. It returns nil if there
	// is no such clip.
	ChangeClip(ctx context.Context, id domain.ClipID, fn func(*Clip) error) (*Clip, error)

	// Beat notes how far the attempt of an analysis is, and reports whether it
	// is still wanted. The row version stays.
	Beat(ctx context.Context, id domain.ClipID, attempt int, at time.Time, progress float64, estimateS *float64) (bool, error)

	// Stalled returns the clips whose analysis was last heard of before at, or
	// whose job was taken a while ago and nothing heard of since.
	Stalled(ctx context.Context, at time.Time) ([]domain.ClipID, error)

	// Expired returns the clips of a host whose files are there and are not to
	// be kept at the instant.
	Expired(ctx context.Context, host uuid.UUID, at time.Time) ([]domain.ClipID, error)

	// WorkClips runs the jobs of a host, a few at a time, until ctx ends and
	// what was begun has returned. work returns an error if the job is to be
	// tried again.
	WorkClips(ctx context.Context, host uuid.UUID, work func(ctx context.Context, id domain.ClipID, attempt int) error) error
}

// ClipFiles keeps the files of clips, in a folder for each. Package
// db/clipfiles implements it.
type ClipFiles interface {
	ClipMade

	// Host identifies the folder that holds them all.
	Host() uuid.UUID

	// Write stores what r gives as file n of a clip, from 0, and makes sure that
	// it survives a crash. It refuses more than most bytes with TooLarge, and a
	// full disk with Full.
	Write(id domain.ClipID, n int, r io.Reader, most int64) (ClipFile, error)

	// Adopt makes a file of the same disk file n of a clip. It may be removed
	// where it was once the clip is stored.
	Adopt(id domain.ClipID, n int, path string) (ClipFile, error)

	// Paths returns where the n files of a clip are.
	Paths(id domain.ClipID, n int) []string

	// Remove deletes the files of a clip, if there are any.
	Remove(id domain.ClipID) error

	// ExpireUploads deletes what came in bit by bit and was last written before at.
	ExpireUploads(at time.Time) error

	// Folders returns the clips that have files which were begun before at.
	Folders(at time.Time) ([]domain.ClipID, error)
}
