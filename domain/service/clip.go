package service

import (
	"time"

	"delaybook/domain"
	"delaybook/domain/recording"

	"github.com/google/uuid"
)

// A ClipState says how far a recording has come.
type ClipState string

// The states of a clip.
const (
	ClipUploaded  ClipState = "uploaded"  // sent, to be stepped by a person: nothing analyses it
	ClipQueued    ClipState = "queued"    // waits for its analysis
	ClipAnalysing ClipState = "analysing" // is being decoded and analysed
	ClipDone      ClipState = "done"      // measured: accept or reject it
	ClipRefused   ClipState = "refused"   // gives no number; its result says why and what to try
	ClipFailed    ClipState = "failed"    // the analysis broke off; try it again
	ClipCancelled ClipState = "cancelled" // the analysis was called off
	ClipAccepted  ClipState = "accepted"  // its measurements are in the book
	ClipRejected  ClipState = "rejected"  // looked at and not taken
	ClipDeleted   ClipState = "deleted"   // gone; kept so that its client_id is not used again
)

// Running reports whether the state changes by itself.
func (s ClipState) Running() bool { return s == ClipQueued || s == ClipAnalysing }

// A Clip is a recording that somebody sent in and what became of it. It is
// working state and no fact of the book: what is accepted of it is.
type Clip struct {
	ID          domain.ClipID
	Rig         domain.RigID
	ClientID    uuid.UUID
	Fingerprint domain.Digest // of what was sent
	By          domain.KeyID
	Host        uuid.UUID // the folder of recordings that holds its files
	CreatedAt   time.Time
	KeepUntil   time.Time // its files are deleted then
	Kept        bool      // its files are there
	Ask         ClipAsk
	Files       []ClipFile

	Row       domain.Version // of the row, from 1; for If-Match
	State     ClipState
	Attempt   int // of the analysis, from 1; 0: none was asked for
	Options   AnalysisOptions
	QueuedAt  *time.Time
	StartedAt *time.Time
	EndedAt   *time.Time
	BeatAt    *time.Time // when who analyses it was last heard of
	Progress  float64    // 0 to 1
	EstimateS *float64   // seconds that the analysis takes in all; nil: not known yet
	Failure   string     // why it failed, for people

	Result       *recording.Result // of the newest attempt that ended
	Evidence     *recording.Evidence
	Decision     *ClipDecision // nil: neither accepted nor rejected
	Measurements []domain.MeasurementID
}

// A ClipFile is one file of a clip as it was sent.
type ClipFile struct {
	Name   string        `json:"name"` // as its sender calls it; never a path of this machine
	Size   int64         `json:"size"` // bytes
	SHA256 domain.Digest `json:"sha256"`
}

// A ClipAsk is what was said of a recording when it was sent: the defaults of
// what is accepted of it.
type ClipAsk struct {
	Method     string       `json:"method"` // clip, tracks; eye, clap: nothing to analyse
	Picture    string       `json:"picture,omitempty"`
	Sound      string       `json:"sound,omitempty"`
	First      string       `json:"first,omitempty"`
	Second     string       `json:"second,omitempty"`
	ReadAt     string       `json:"read_at,omitempty"`
	CardSource string       `json:"card_source,omitempty"`
	Settings   []NewSetting `json:"settings,omitempty"`
	PowerUp    string       `json:"power_up,omitempty"`
	DistanceM  *float64     `json:"distance_m,omitempty"`
	AirC       *float64     `json:"air_c,omitempty"`
	TakenAt    string       `json:"taken_at,omitempty"` // RFC 3339
	Revision   *int         `json:"revision,omitempty"`
	Note       string       `json:"note,omitempty"`
}

// A Span is a stretch of a recording, seconds from its start.
type Span struct {
	FromS float64 `json:"from_s"`
	ToS   float64 `json:"to_s"`
}

// AnalysisOptions say what to look at. The zero value leaves it to the analysis.
type AnalysisOptions struct {
	Method   recording.Method `json:"method"`
	Segments []Span           `json:"segments,omitempty"` // empty: found from steps of the offset
	First    *recording.Track `json:"first,omitempty"`    // tracks: the first; nil: picked
	Sound    *recording.Track `json:"sound,omitempty"`    // clip: the one with the beeps; tracks: the second; nil: picked
}

// A ClipDecision says who took or turned down what a clip gave.
type ClipDecision struct {
	By          domain.KeyID   `json:"by"`
	At          time.Time      `json:"at"`
	Reason      string         `json:"reason,omitempty"`  // of a rejection
	Fingerprint domain.Digest  `json:"fingerprint"`       // of what was sent, to tell a repeat
	Version     domain.Version `json:"version,omitempty"` // of the book after an acceptance
}
