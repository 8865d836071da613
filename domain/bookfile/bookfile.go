// Package bookfile reads a hand-written book and writes what package estimate
// makes of it: the form of the command that solves a book without a service.
//
// A book file is one JSON object with the members devices, rigs, measurements,
// stated, card_sources, limits, variances_in_use and ask, in the shapes of the
// API. Without ask every picture is asked against every sound of a rig at every
// destination, and every latency. The answer has the members offsets,
// latencies, measurement_flags and variances.
package bookfile

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"delaybook/domain/timebase"
)

// A File is a book as it is written by hand.
type File struct {
	Name         string        `json:"book"`
	Explains     string        `json:"explains"`
	Devices      []device      `json:"devices"`
	Rigs         []rig         `json:"rigs"`
	Measurements []measurement `json:"measurements"`
	Stated       []stated      `json:"stated"`
	CardSources  []cardSource  `json:"card_sources"`
	Limits       []limit       `json:"limits"`
	Variances    []variance    `json:"variances_in_use"`
	Ask          *ask          `json:"ask"`
	Expected     any           `json:"expected"` // of a worked book; not looked at
}

type device struct {
	Slug     string    `json:"slug"`
	Name     string    `json:"name"`
	Kind     string    `json:"kind"`
	Notes    string    `json:"notes"`
	Modes    []mode    `json:"modes"`
	Controls []control `json:"controls"`
	Units    []any     `json:"units"`
}

type mode struct {
	Slug       string        `json:"slug"`
	Format     string        `json:"format"`
	Scan       string        `json:"scan"`
	FrameRate  timebase.Rate `json:"frame_rate"`
	Firmware   string        `json:"firmware"`
	Processing string        `json:"processing"`
	Port       string        `json:"port"`
	Shutter    string        `json:"shutter"`
	Direct     []string      `json:"direct"`
	Varies     bool          `json:"varies"`
}

type control struct {
	Slug       string              `json:"slug"`
	Signal     string              `json:"signal"`
	Unit       string              `json:"unit"`
	Rate       timebase.Rate       `json:"rate"`
	SampleRate timebase.SampleRate `json:"sample_rate"`
	Step       float64             `json:"step"`
	Min        float64             `json:"min"`
	Max        float64             `json:"max"`
	Where      string              `json:"where"`
	ActsOn     string              `json:"acts_on"`
	EngagedMS  float64             `json:"engaged_ms"`
	Ours       *bool               `json:"ours"`
}

type rig struct {
	Slug         string        `json:"slug"`
	Name         string        `json:"name"`
	Crew         string        `json:"crew"`
	Visibility   any           `json:"visibility"`
	FrameRate    timebase.Rate `json:"frame_rate"`
	Chains       []chain       `json:"chains"`
	Destinations []destination `json:"destinations"`
	Feeds        any           `json:"feeds"`
	Pairs        any           `json:"pairs"`
}

type chain struct {
	Slug    string  `json:"slug"`
	Signal  string  `json:"signal"`
	Subject string  `json:"subject"`
	AirM    float64 `json:"air_m"`
	Stages  []stage `json:"stages"`
}

type stage struct {
	Device   string         `json:"device"`
	Mode     string         `json:"mode"`
	Unit     string         `json:"unit"`
	Timing   string         `json:"timing"`
	Controls []stageControl `json:"controls"`
}

type stageControl struct {
	Control string `json:"control"`
	Name    string `json:"name"`
	Ours    *bool  `json:"ours"`
}

type destination struct {
	Slug    string  `json:"slug"`
	Limit   string  `json:"limit"`
	AirM    float64 `json:"air_m"`
	Picture []stage `json:"picture"`
	Sound   []stage `json:"sound"`
}

type measurement struct {
	ID         string        `json:"id"`
	ClientID   string        `json:"client_id"`
	Rig        string        `json:"rig"`
	Picture    string        `json:"picture"`
	Sound      string        `json:"sound"`
	First      string        `json:"first"`
	Second     string        `json:"second"`
	ReadAt     string        `json:"read_at"`
	Method     string        `json:"method"`
	Eye        string        `json:"eye"`
	FrameRate  timebase.Rate `json:"frame_rate"`
	CardSource string        `json:"card_source"`
	Readings   []reading     `json:"readings"`
	Settings   []setting     `json:"settings"`
	PowerUp    string        `json:"power_up"`
	DistanceM  *float64      `json:"distance_m"`
	AirC       *float64      `json:"air_c"`
	TakenAt    time.Time     `json:"taken_at"`
	EventSDMS  float64       `json:"event_sd_ms"`
	Revision   int           `json:"revision"`
	Note       string        `json:"note"`
	Struck     any           `json:"struck"` // anything but null and false leaves it out
}

type reading struct {
	Frames   *float64 `json:"frames"`
	Heard    string   `json:"heard"`
	OffsetMS *float64 `json:"offset_ms"`
	UMS      *float64 `json:"u_ms"`
	AtS      *float64 `json:"at_s"`
}

type setting struct {
	Control string  `json:"control"`
	Value   float64 `json:"value"`
}

type stated struct {
	ID          string   `json:"id"`
	Device      string   `json:"device"`
	Mode        string   `json:"mode"`
	Signal      string   `json:"signal"`
	Difference  []string `json:"difference"`
	ValueMS     float64  `json:"value_ms"`
	UMS         float64  `json:"u_ms"`
	HalfWidthMS float64  `json:"half_width_ms"`
	Source      string   `json:"source"`
	Struck      any      `json:"struck"`
}

type cardSource struct {
	Slug     string  `json:"slug"`
	Name     string  `json:"name"`
	StatedMS float64 `json:"stated_ms"`
	UMS      float64 `json:"u_ms"`
	Source   string  `json:"source"`
}

type limit struct {
	Slug    string  `json:"slug"`
	Name    string  `json:"name"`
	EarlyMS float64 `json:"early_ms"`
	LateMS  float64 `json:"late_ms"`
	Source  string  `json:"source"`
}

type variance struct {
	Class string  `json:"class"`
	MS2   float64 `json:"ms2"`
	S0    float64 `json:"s0_ms2"`
	Nu0   float64 `json:"nu0"`
	Phase string  `json:"phase"`
}

type ask struct {
	Fitted    bool         `json:"fitted"`
	Offsets   []askOffset  `json:"offsets"`
	Latencies []askLatency `json:"latencies"`
}

type askOffset struct {
	Rig         string    `json:"rig"`
	Picture     string    `json:"picture"`
	Sound       string    `json:"sound"`
	First       string    `json:"first"`
	Second      string    `json:"second"`
	Destination string    `json:"destination"`
	Limit       string    `json:"limit"`
	Settings    []setting `json:"settings"`
}

type askLatency struct {
	Device string `json:"device"`
	Mode   string `json:"mode"`
	Signal string `json:"signal"`
}

// Read reads a book file. Members that no book has are not an error, because a
// person may keep notes in it; the first one is named in warning, in case it
// was meant to be another.
func Read(data []byte) (f *File, warning string, err error) {
	strict := json.NewDecoder(bytes.NewReader(data))
	strict.DisallowUnknownFields()
	f = &File{}
	strictErr := strict.Decode(f)
	if strictErr == nil {
		return f, "", nil
	}
	f = &File{}
	if err := json.Unmarshal(data, f); err != nil {
		return nil, "", fmt.Errorf("the book is not a JSON object as expected: %w", err)
	}
	return f, strings.Replace(strictErr.Error(), "json: unknown field", "there is no member", 1) + " where it stands: it is passed over", nil
}
