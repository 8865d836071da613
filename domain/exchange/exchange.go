// Package exchange writes the facts of a book as lines of JSON and reads them
// back: the form in which a book leaves one service and enters another, or the
// command that solves it offline.
//
// The first line is a Header. Each other line is an object with one member,
// which names the kind of fact:
//
//	{"change":{"version":1,...}}
//	{"device":{"id":"...","slug":"cam-a",...}}
//
// Facts stand in order of kind, within a kind in order of version. Durations
// are ms, settings exact decimals as strings, rates exact fractions as strings.
// Each fact stands behind those that it refers to. Keys leave without their
// hashes: an export gives nobody access.
package exchange

import (
	"bufio"
	"encoding/json"
	"errors"
	"io"
	"time"

	"delaybook/domain"
)

// Format is the version of the form.
const Format = 1

// A Header begins an export.
type Header struct {
	Format      int            `json:"format"`
	BookVersion domain.Version `json:"book_version"`
	At          time.Time      `json:"at"`              // when it was written
	Facts       int            `json:"facts,omitempty"` // lines that follow, by which one that was cut off is known; 0: not said
}

// line is one line; exactly one member is set.
type line struct {
	Export      *Header                 `json:"delaybook_export,omitempty"`
	Change      *domain.Change          `json:"change,omitempty"`
	Crew        *domain.Crew            `json:"crew,omitempty"`
	Key         *domain.Key             `json:"key,omitempty"`
	Device      *domain.Device          `json:"device,omitempty"`
	Stated      *domain.Stated          `json:"stated,omitempty"`
	CardSource  *domain.CardSource      `json:"card_source,omitempty"`
	Limit       *domain.Limit           `json:"limit,omitempty"`
	Variances   *domain.Variances       `json:"variances,omitempty"`
	Rig         *domain.Rig             `json:"rig,omitempty"`
	PowerUp     *domain.PowerUp         `json:"power_up,omitempty"`
	Measurement *domain.Measurement     `json:"measurement,omitempty"`
	Settings    *domain.SettingsInForce `json:"settings,omitempty"`
	Strike      *domain.StrikeFact      `json:"strike,omitempty"`
}

// Write writes facts, which are not modified.
func Write(w io.Writer, h Header, facts *domain.Facts) error {
	buffered := bufio.NewWriter(w)
	out := json.NewEncoder(buffered)
	h.Format, h.Facts = Format, count(facts)
	err := out.Encode(line{Export: &h})
	for _, write := range []func(*json.Encoder, *domain.Facts) error{writeCompany, writeRigs} {
		err = errors.Join(err, write(out, facts))
	}
	return errors.Join(err, buffered.Flush())
}

func count(f *domain.Facts) int {
	return len(f.Changes) + len(f.Crews) + len(f.Keys) + len(f.Devices) + len(f.Stated) + len(f.CardSources) + len(f.Limits) +
		len(f.Variances) + len(f.Rigs) + len(f.PowerUps) + len(f.Measurements) + len(f.Settings) + len(f.Strikes)
}

func writeCompany(out *json.Encoder, f *domain.Facts) error {
	return errors.Join(
		each(out, f.Changes, func(l *line, x *domain.Change) { l.Change = x }),
		each(out, f.Crews, func(l *line, x *domain.Crew) { l.Crew = x }),
		each(out, f.Keys, func(l *line, x *domain.Key) {
			bare := *x
			bare.Hash = domain.Digest{}
			l.Key = &bare
		}),
		each(out, f.Devices, func(l *line, x *domain.Device) { l.Device = x }),
		each(out, f.Stated, func(l *line, x *domain.Stated) { l.Stated = x }),
		each(out, f.CardSources, func(l *line, x *domain.CardSource) { l.CardSource = x }),
		each(out, f.Limits, func(l *line, x *domain.Limit) { l.Limit = x }),
		each(out, f.Variances, func(l *line, x *domain.Variances) { l.Variances = x }),
	)
}

func writeRigs(out *json.Encoder, f *domain.Facts) error {
	return errors.Join(
		each(out, f.Rigs, func(l *line, x *domain.Rig) { l.Rig = x }),
		each(out, f.PowerUps, func(l *line, x *domain.PowerUp) { l.PowerUp = x }),
		each(out, f.Measurements, func(l *line, x *domain.Measurement) { l.Measurement = x }),
		each(out, f.Settings, func(l *line, x *domain.SettingsInForce) { l.Settings = x }),
		each(out, f.Strikes, func(l *line, x *domain.StrikeFact) { l.Strike = x }),
	)
}

func each[T any](out *json.Encoder, facts []T, put func(*line, *T)) error {
	for i := range facts {
		var l line
		put(&l, &facts[i])
		if err := out.Encode(l); err != nil {
			return err
		}
	}
	return nil
}
