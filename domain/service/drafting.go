package service

import (
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"strconv"
	"time"

	"delaybook/domain"
	"delaybook/domain/book"
	"delaybook/domain/timebase"

	"github.com/google/uuid"
	"github.com/shopspring/decimal"
)

// A drafting turns what callers send into measurements, one after the other:
// each sees the power-ups that those before it made.
type drafting struct {
	service *Service
	book    *book.Book
	caller  Caller
	next    domain.Version
	now     time.Time
	facts   domain.Facts
	seen    map[domain.RigID][]moment
	sent    map[uuid.UUID]int // of facts.Measurements
}

func (s *Service) newDrafting(b *book.Book, c Caller, next domain.Version) *drafting {
	return &drafting{
		service: s, book: b, caller: c, next: next, now: s.now(),
		seen: map[domain.RigID][]moment{}, sent: map[uuid.UUID]int{},
	}
}

// OnceID is what a measurement or a clip without an identifier of its own is known
// by: the idempotency key, which may be any text. It is empty without one.
func OnceID(r Request) string {
	if id, ok := parseID(r.Once); ok {
		return id.String()
	}
	if r.Once != "" {
		return uuid.NewSHA1(r.Caller.Crew.UUID, []byte(r.Once)).String()
	}
	return ""
}

func batchClientID(r Request, i int) string {
	if r.Once == "" {
		return ""
	}
	return uuid.NewSHA1(r.Caller.Crew.UUID, []byte(r.Once+"/"+strconv.Itoa(i))).String()
}

// add returns the measurement that in asks for: a new one with the version
// next, or the one that was stored under its client identifier before.
func (d *drafting) add(in NewMeasurement) (*domain.Measurement, error) {
	var bad domain.Fields
	bad.Check(in.Rig != "", "/rig", "it is missing", "the rig that was measured, as SLUG or CREW.SLUG")
	if err := bad.Err("The measurement is not valid."); err != nil {
		return nil, err
	}
	rig, err := d.caller.rigToChange(d.book, in.Rig, domain.Tech)
	if err != nil {
		return nil, err
	}
	m := domain.Measurement{Rig: rig.ID, By: d.caller.Key, Version: d.next, Fingerprint: fingerprint(rig.ID, in)}
	if in.ClientID == "" {
		m.ClientID = d.service.newID()
	} else {
		id, ok := parseID(in.ClientID)
		bad.Check(ok, "/client_id", fmt.Sprintf("%q is not a UUID", short(in.ClientID)), "a UUID that you made for this measurement")
		m.ClientID = id
		if earlier, err := d.earlier(&m); earlier != nil || err != nil {
			return earlier, err
		}
	}
	m.Clip = in.Clip
	d.resolve(&bad, rig, &m, in)
	if err := bad.Err("The measurement is not valid."); err != nil {
		return nil, err
	}
	m.ID = domain.MeasurementID{UUID: d.service.newID()}
	m.PowerUp = d.powerUp(rig, &m, in.PowerUp)
	at := len(d.facts.Measurements)
	d.facts.Measurements = append(d.facts.Measurements, m)
	d.seen[rig.ID] = append(d.moments(rig), momentOf(&m))
	d.sent[m.ClientID] = at
	return &m, nil
}

// fingerprint tells a repeat from another measurement under the same client
// identifier. It covers what was sent, not what was made of it, so that a
// repeat is recognised however the rig changed in between.
func fingerprint(rig domain.RigID, in NewMeasurement) [32]byte {
	text, err := json.Marshal(in)
	if err != nil {
		panic(fmt.Sprintf("service: a measurement of plain fields can not be written as JSON: %v", err))
	}
	return sha256.Sum256(append(rig.UUID[:], text...))
}

func (d *drafting) earlier(m *domain.Measurement) (*domain.Measurement, error) {
	earlier, _, ok := d.book.MeasurementByClientID(m.ClientID)
	if at, sent := d.sent[m.ClientID]; sent {
		earlier, ok = &d.facts.Measurements[at], true
	}
	if !ok {
		return nil, nil
	}
	if earlier.Fingerprint != m.Fingerprint {
		var bad domain.Fields
		bad.Add("/client_id", "another measurement has it", "a new UUID for each measurement, or the same measurement again")
		return nil, bad.Err("The client_id belongs to another measurement.")
	}
	return earlier, nil
}

// Bounds on when a measurement was taken: a phone's clock may be ten minutes
// fast, and nobody remembers what was measured ten years ago.
const (
	clockError = 10 * time.Minute
	maxAge     = 10 * 365 * 24 * time.Hour
)

func (d *drafting) resolve(bad *domain.Fields, rig *book.Rig, m *domain.Measurement, in NewMeasurement) {
	m.TakenAt = d.takenAt(bad, in.TakenAt)
	revision := rig.RevisionAt(m.TakenAt)
	if in.Revision != nil {
		var ok bool
		if revision, ok = rig.Revision(*in.Revision); !ok {
			bad.Add("/revision", "the rig has no such revision", fmt.Sprintf("1 to %d", rig.Current().Number))
			return
		}
	}
	m.Revision = revision.Number
	layout := &revision.Layout
	d.resolveMethod(bad, layout, m, in)
	destination := d.resolveChains(bad, layout, m, in)
	m.Readings = resolveReadings(bad, m, in.Readings)
	checkUncertainties(bad, m)
	m.Note = checkText(bad, "/note", in.Note, optional)
	least := 0.0
	if m.FirstSig == m.SecondSig {
		least = -maxAirM // the second microphone's distance minus the first's
	}
	checkNumber(bad, "/distance_m", in.DistanceM, least, maxAirM, "a distance in metres")
	bad.Check(in.DistanceM == nil || m.SecondSig != domain.Picture, "/distance_m", "two pictures have no way through air", "no distance_m")
	checkNumber(bad, "/air_c", in.AirC, -40, 60, "an air temperature in degrees Celsius")
	m.DistanceM, m.AirC = in.DistanceM, in.AirC
	d.resolveSpread(bad, m, in)
	checkText(bad, "/power_up", in.PowerUp, optional)
	if destination != nil {
		m.Settings = d.resolveSettings(bad, rig, layout, destination, m, in.Settings)
	}
}

func (d *drafting) takenAt(bad *domain.Fields, text string) time.Time {
	if text == "" {
		return d.now
	}
	at, err := time.Parse(time.RFC3339, text)
	switch {
	case err != nil:
		bad.Add("/taken_at", fmt.Sprintf("%q is not an instant", short(text)), "date and time with offset, such as 2026-11-20T18:04:00+01:00")
		return d.now
	case at.After(d.now.Add(clockError)):
		bad.Add("/taken_at", "it lies in the future", "when it was measured; check the clock of the phone")
	case at.Before(d.now.Add(-maxAge)):
		bad.Add("/taken_at", "it lies more than ten years back", "when it was measured; check the clock of the phone")
	}
	return at.Truncate(time.Microsecond)
}

func (d *drafting) resolveMethod(bad *domain.Fields, l *domain.Layout, m *domain.Measurement, in NewMeasurement) {
	m.Method = domain.Method(in.Method)
	bad.Check(m.Method.Valid(), "/method", fmt.Sprintf("%q is not a method", short(in.Method)), "eye, clip, tracks or clap")
	if m.Method == domain.ByEye || m.Method == domain.Clap {
		if m.Eye = domain.EyeRule(in.Eye); m.Eye == "" {
			m.Eye = domain.UnknownEye
		}
		bad.Check(m.Eye.Valid(), "/eye", fmt.Sprintf("%q is not a way of reading by eye", short(in.Eye)), "one-side, both-sides or unknown")
	} else {
		bad.Check(in.Eye == "", "/eye", "the method is not read by eye", "no eye, or the method eye or clap")
	}
	if m.FrameRate = l.FrameRate; in.FrameRate != "" {
		m.FrameRate = checkRate(bad, "/frame_rate", in.FrameRate)
	}
	if in.CardSource != "" {
		m.CardSource = checkSlug(bad, "/card_source", in.CardSource)
		bad.Check(m.Method.UsesCard(), "/card_source", "the method shows no card", "no card_source, or the method eye or clip")
	}
}

// resolveSpread takes what only an analysis can tell: how its events scatter and drift.
func (d *drafting) resolveSpread(bad *domain.Fields, m *domain.Measurement, in NewMeasurement) {
	analysed := m.Method == domain.Clip || m.Method == domain.Tracks
	bad.Check(in.EventSDMS == nil || analysed, "/event_sd_ms", "the method has no analysed events", "no event_sd_ms, or the method clip or tracks")
	bad.Check(in.DriftPPM == nil || analysed, "/drift_ppm", "the method has no analysed events", "no drift_ppm, or the method clip or tracks")
	checkNumber(bad, "/event_sd_ms", in.EventSDMS, 0, maxOffsetMS, "the standard deviation of the events in ms")
	checkNumber(bad, "/drift_ppm", in.DriftPPM, -maxDriftPPM, maxDriftPPM, "a drift in microseconds a second")
	m.EventSDMS, m.DriftPPM = in.EventSDMS, in.DriftPPM
}

// maxDriftPPM is beyond what any two clocks and any mixed-up rate give: film
// played at 25 instead of 24 frames a second runs 41 667 ppm fast.
const maxDriftPPM = 100_000

func resolveReadings(bad *domain.Fields, m *domain.Measurement, in []NewReading) []domain.Reading {
	const most = 1000
	if len(in) == 0 || len(in) > most {
		bad.Add("/readings", fmt.Sprintf("there are %d", len(in)), "1 to 1000 readings")
		return nil
	}
	readings := make([]domain.Reading, 0, len(in))
	for i, r := range in {
		readings = append(readings, resolveReading(bad, fmt.Sprintf("/readings/%d", i), m, r))
	}
	return readings
}

// checkUncertainties wants an uncertainty of every reading or of none: one that
// is known can not be weighed against one that is not.
func checkUncertainties(bad *domain.Fields, m *domain.Measurement) {
	with := 0
	for i := range m.Readings {
		if m.Readings[i].UMS != nil {
			with++
		}
	}
	bad.Check(with == 0 || with == len(m.Readings), "/readings", "some have u_ms and some do not", "u_ms with every reading or with none")
}

func resolveReading(bad *domain.Fields, at string, m *domain.Measurement, in NewReading) domain.Reading {
	r := domain.Reading{UMS: in.UMS, AtS: in.AtS}
	checkNumber(bad, at+"/u_ms", in.UMS, minU, maxOffsetMS, "an uncertainty in ms")
	checkNumber(bad, at+"/at_s", in.AtS, 0, 24*3600, "a time in seconds from the start of the recording")
	switch {
	case in.OffsetMS != nil && in.Frames != "":
		bad.Add(at+"/offset_ms", "frames are given too", "frames with heard, or offset_ms")
	case in.OffsetMS != nil:
		bad.Check(in.Heard == "", at+"/heard", "offset_ms carries its sign", "no heard; positive means that the sound is early")
		checkNumber(bad, at+"/offset_ms", in.OffsetMS, -maxOffsetMS, maxOffsetMS, "an offset in ms")
		r.OffsetMS = *in.OffsetMS
	case in.Frames != "":
		bad.Check(m.Eye != "", at+"/frames", "frames are counted by eye or at a clap", "offset_ms, or the method eye or clap")
		bad.Check(in.UMS == nil, at+"/u_ms", "a count of frames has its own uncertainty", "no u_ms, or offset_ms")
		before := len(*bad)
		frames := checkDecimal(bad, at+"/frames", in.Frames, "")
		if len(*bad) > before {
			return r
		}
		r.Frames, r.Heard = &frames, domain.Heard(in.Heard)
		r.OffsetMS = frameOffset(bad, at, m, frames, r.Heard)
	default:
		bad.Add(at, "it says nothing", "frames with heard (early, late or in-sync), or offset_ms")
	}
	return r
}

// frameOffset converts what was counted and heard to ms, exactly but for one rounding.
func frameOffset(bad *domain.Fields, at string, m *domain.Measurement, frames decimal.Decimal, heard domain.Heard) float64 {
	if m.FrameRate.IsZero() {
		return 0 // the rate was refused already
	}
	doubled := frames.Mul(decimal.NewFromInt(2))
	switch {
	case frames.IsNegative():
		bad.Add(at+"/frames", "it is negative", "how many frames, as a positive number, and heard: late or early")
		return 0
	case !doubled.IsInteger():
		bad.Add(at+"/frames", "it is not a multiple of half a frame", "whole frames or halves, such as 5 or 6.5")
		return 0
	case doubled.GreaterThan(decimal.NewFromInt(1_000_000)):
		bad.Add(at+"/frames", "it is absurd", "how many frames the sound was early or late")
		return 0
	}
	ms := m.FrameRate.HalfFramesMS(timebase.HalfFrames(doubled.IntPart()))
	bad.Check(ms <= maxOffsetMS, at+"/frames", "it is more than ten seconds", "how many frames the sound was early or late")
	switch heard {
	case domain.Early:
		bad.Check(ms > 0, at+"/heard", "0 frames are neither early nor late", "in-sync")
		return ms
	case domain.Late:
		bad.Check(ms > 0, at+"/heard", "0 frames are neither early nor late", "in-sync")
		return -ms
	case domain.InSync:
		bad.Check(ms == 0, at+"/heard", "in sync means 0 frames", "early or late, or 0 frames")
	default:
		bad.Add(at+"/heard", fmt.Sprintf("%q is not what can be heard", short(string(heard))), "early, late or in-sync: how the sound came")
	}
	return 0
}
