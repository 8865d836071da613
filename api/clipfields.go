package api

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"delaybook/domain"
	"delaybook/domain/recording"
	"delaybook/domain/service"
)

// clipFields are what may be said of a recording beside its files: fields of a
// form, or metadata of an upload that comes in bit by bit.
var clipFields = []string{
	"client_id", "method", "picture", "sound", "first", "second", "read_at", "card_source", "settings", "power_up", "distance_m", "air_c",
	"taken_at", "revision", "note", "segments", "first_track", "sound_track",
}

// newClip reads what is said of a recording.
func newClip(fields map[string]string) (service.NewClip, error) {
	f := fieldReader{fields: fields}
	in := service.NewClip{
		ClientID: fields["client_id"],
		ClipAsk: service.ClipAsk{
			Method: fields["method"], Picture: fields["picture"], Sound: fields["sound"], First: fields["first"], Second: fields["second"],
			ReadAt: fields["read_at"], CardSource: fields["card_source"], PowerUp: fields["power_up"], TakenAt: fields["taken_at"],
			Note: fields["note"], DistanceM: f.number("distance_m"), AirC: f.number("air_c"), Settings: f.settings(), Revision: f.integer("revision"),
		},
		Options: service.AnalysisOptions{Segments: f.spans("segments"), First: f.track("first_track"), Sound: f.track("sound_track")},
	}
	for _, name := range slices.Sorted(maps.Keys(fields)) {
		f.bad.Check(slices.Contains(clipFields, name), name, "there is no such field", "only "+strings.Join(clipFields, ", "))
	}
	return in, f.bad.Err("The clip is not valid.")
}

// A fieldReader reads texts and notes what is wrong with them.
type fieldReader struct {
	fields map[string]string
	bad    domain.Fields
}

func (f *fieldReader) number(name string) *float64 {
	text, given := f.fields[name]
	if !given || text == "" {
		return nil
	}
	x, err := strconv.ParseFloat(text, 64)
	f.bad.Check(err == nil, name, "it is not a number", "a number such as 1.2")
	return &x
}

func (f *fieldReader) integer(name string) *int {
	text, given := f.fields[name]
	if !given || text == "" {
		return nil
	}
	n, err := strconv.Atoi(text)
	f.bad.Check(err == nil, name, "it is not a whole number", "a whole number such as 3")
	return &n
}

// settings reads "lectern-delay=0, pa-delay=4.5", or the JSON of a measurement.
func (f *fieldReader) settings() []service.NewSetting {
	const form = `control=value, several with commas between them, such as lectern-delay=0`
	text := strings.TrimSpace(f.fields["settings"])
	if text == "" {
		return nil
	}
	if strings.HasPrefix(text, "[") {
		var in []NewSetting
		if err := decodeJSON([]byte(text), &in); err != nil {
			f.bad.Add("settings", "it is no list of settings", form+`, or [{"control":"lectern-delay","value":0}]`)
		}
		return toSettings(in)
	}
	var out []service.NewSetting
	for part := range strings.SplitSeq(text, ",") {
		control, value, ok := strings.Cut(part, "=")
		f.bad.Check(ok, "settings", fmt.Sprintf("%q is no setting", strings.TrimSpace(part)), form)
		out = append(out, service.NewSetting{Control: strings.TrimSpace(control), Value: strings.TrimSpace(value)})
	}
	return out
}

// spans reads "0-12.5, 14-30": stretches of a recording in seconds.
func (f *fieldReader) spans(name string) []service.Span {
	if strings.TrimSpace(f.fields[name]) == "" {
		return nil
	}
	var out []service.Span
	for part := range strings.SplitSeq(f.fields[name], ",") {
		s, err := ParseSpan(part)
		if err != nil {
			f.bad.Add(name, err.Error(), "from and to in seconds, such as 12.5-30, several with commas between them")
		}
		out = append(out, s)
	}
	return out
}

// ParseSpan reads a stretch of a recording, "12.5-30", in seconds.
func ParseSpan(text string) (service.Span, error) {
	from, to, ok := strings.Cut(strings.TrimSpace(text), "-")
	a, errA := strconv.ParseFloat(strings.TrimSpace(from), 64)
	b, errB := strconv.ParseFloat(strings.TrimSpace(to), 64)
	if !ok || errA != nil || errB != nil {
		return service.Span{}, fmt.Errorf("%q is no stretch of a recording", strings.TrimSpace(text))
	}
	return service.Span{FromS: a, ToS: b}, nil
}

// track reads "0.1.0": file, stream and channel, each from 0.
func (f *fieldReader) track(name string) *recording.Track {
	text := strings.TrimSpace(f.fields[name])
	if text == "" {
		return nil
	}
	parts := strings.Split(text, ".")
	var n [3]int
	ok := len(parts) == len(n)
	for i := 0; ok && i < len(n); i++ {
		var err error
		n[i], err = strconv.Atoi(parts[i])
		ok = err == nil
	}
	f.bad.Check(ok, name, "it is no track", "file, stream and channel, each from 0, such as 0.1.0")
	return &recording.Track{File: n[0], Stream: n[1], Channel: n[2]}
}
