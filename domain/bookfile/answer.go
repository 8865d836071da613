package bookfile

import (
	"fmt"
	"math"

	"delaybook/domain/estimate"
	"delaybook/domain/limits"
)

// An Answer is what package estimate makes of a book.
type Answer struct {
	Offsets   []offset            `json:"offsets"`
	Latencies []latency           `json:"latencies"`
	Flags     map[string][]string `json:"measurement_flags"` // by measurement, those that have any
	Variances []usedVariance      `json:"variances"`
	Test      *classTest          `json:"class_test_free,omitempty"`
	Plans     map[string]any      `json:"plans,omitempty"` // of an export: what to set, by rig
}

// A Question asks for one offset.
type Question struct {
	Rig   string // how the answer names it
	Limit string // slug, for the answer; empty: none
	estimate.OffsetQuery
}

type offset struct {
	Rig          string             `json:"rig"`
	Picture      string             `json:"picture"`
	Sound        string             `json:"sound"`
	Destination  string             `json:"destination"`
	Settings     []estimateSetting  `json:"settings"`
	Determined   bool               `json:"determined"`
	OffsetMS     *float64           `json:"offset_ms"`
	SEMS         *float64           `json:"se_ms"`
	DF           *float64           `json:"df"` // null: no estimated variance takes part
	CI95         *[2]float64        `json:"ci95"`
	NextSEMS     *float64           `json:"next_se_ms"`
	NextDF       *float64           `json:"next_df"`
	Next95       *[2]float64        `json:"next95"`
	AfterMS      *float64           `json:"after_ms"`
	Limit        *string            `json:"limit"`
	Chance       *float64           `json:"chance_in_limit"`
	Verdict      *string            `json:"verdict"`
	CardSourceMS *float64           `json:"card_source_ms"`
	StatedMS     *float64           `json:"stated_ms"`
	Basis        string             `json:"basis"`
	Scatter      map[string]float64 `json:"scatter,omitempty"`
	Flags        []string           `json:"flags"`
	Why          string             `json:"why"`
	Missing      []string           `json:"missing,omitempty"`
}

type estimateSetting struct {
	Control string  `json:"control"`
	Value   float64 `json:"value"`
}

type latency struct {
	Device        string      `json:"device"`
	Mode          string      `json:"mode"`
	Signal        string      `json:"signal"`
	Determined    bool        `json:"determined"`
	LatencyMS     *float64    `json:"latency_ms"`
	SEMS          *float64    `json:"se_ms,omitempty"`
	DF            *float64    `json:"df,omitempty"`
	CI95          *[2]float64 `json:"ci95,omitempty"`
	Next95        *[2]float64 `json:"next95,omitempty"`
	OnlyWith      []term      `json:"only_with,omitempty"`
	CombinationMS *float64    `json:"combination_ms,omitempty"`
	CombinationSE *float64    `json:"combination_se_ms,omitempty"`
	Bounds        *[2]float64 `json:"bounds,omitempty"`
	Flags         []string    `json:"flags,omitempty"`
	Advice        string      `json:"advice,omitempty"`
}

type term struct {
	Coef   float64 `json:"coef"`
	Device string  `json:"device"`
	Mode   string  `json:"mode"`
	Signal string  `json:"signal"`
}

type usedVariance struct {
	Class string  `json:"class"`
	MS2   float64 `json:"ms2"`
}

type classTest struct {
	Q        float64 `json:"q"`
	Nu       float64 `json:"nu"`
	Rejected bool    `json:"rejected"`
}

// Solve answers what the file asks, at its variances in use.
func (f *File) Solve() (*Answer, error) { return f.answer(estimate.Solve) }

// Fit answers what the file asks with the variances fitted to it.
func (f *File) Fit() (*Answer, error) { return f.answer(estimate.Fit) }

func (f *File) answer(solve func(estimate.Book) (*estimate.Solution, error)) (*Answer, error) {
	b, err := f.Book()
	if err != nil {
		return nil, err
	}
	s, err := solve(b)
	if err != nil {
		return nil, err
	}
	asked := f.Ask
	if asked == nil {
		asked = f.everything(s)
	}
	var questions []Question
	for i, q := range asked.Offsets {
		question, err := f.question(q, fmt.Sprintf("/ask/offsets/%d", i))
		if err != nil {
			return nil, err
		}
		questions = append(questions, question)
	}
	var latencies []estimate.LatencyQuery
	for _, q := range asked.Latencies {
		latencies = append(latencies, estimate.LatencyQuery{Device: q.Device, Mode: q.Mode, Signal: estimate.Signal(q.Signal)})
	}
	return NewAnswer(s, questions, latencies)
}

// NewAnswer answers questions from a solution.
func NewAnswer(s *estimate.Solution, questions []Question, latencies []estimate.LatencyQuery) (*Answer, error) {
	out := &Answer{Offsets: []offset{}, Latencies: []latency{}, Flags: map[string][]string{}}
	for i, q := range questions {
		o, err := s.Offset(q.OffsetQuery)
		if err != nil {
			return nil, fmt.Errorf("offset %d: %w", i, err)
		}
		out.Offsets = append(out.Offsets, fromOffset(q, o))
	}
	for i, q := range latencies {
		l, err := s.Latency(q)
		if err != nil {
			return nil, fmt.Errorf("latency %d: %w", i, err)
		}
		out.Latencies = append(out.Latencies, fromLatency(l))
	}
	for _, r := range s.Reports() {
		if len(r.Flags) > 0 {
			out.Flags[r.ID] = r.Flags
		}
	}
	for _, v := range s.Variances() {
		out.Variances = append(out.Variances, usedVariance{v.Class, v.MS2})
	}
	if t, ok := s.ClassTest(); ok {
		out.Test = &classTest{Q: t.Q, Nu: t.Nu, Rejected: t.Phase != estimate.PhaseKnown}
	}
	return out, nil
}

// everything asks for every picture against every sound at every destination,
// judged by its limit with nothing dialled in, and for every latency.
func (f *File) everything(s *estimate.Solution) *ask {
	out := &ask{}
	for _, r := range f.Rigs {
		destinations := r.Destinations
		if len(destinations) == 0 {
			destinations = []destination{{Slug: "programme", Limit: limits.Default}}
		}
		for _, d := range destinations {
			for _, p := range r.Chains {
				for _, q := range r.Chains {
					if p.Signal == "picture" && q.Signal == "sound" {
						out.Offsets = append(out.Offsets, askOffset{
							Rig: r.Slug, Picture: p.Slug, Sound: q.Slug, Destination: d.Slug, Limit: d.Limit,
						})
					}
				}
			}
		}
	}
	for _, q := range s.Latencies() {
		out.Latencies = append(out.Latencies, askLatency{q.Device, q.Mode, string(q.Signal)})
	}
	return out
}

func (f *File) question(q askOffset, at string) (Question, error) {
	first, second, err := sides(at, q.Picture, q.Sound, q.First, q.Second)
	if err != nil {
		return Question{}, err
	}
	out := Question{Rig: q.Rig, Limit: q.Limit, OffsetQuery: estimate.OffsetQuery{
		Rig: q.Rig, First: first, Second: second, Destination: q.Destination, Settings: settings(q.Settings),
	}}
	if q.Limit != "" {
		if out.OffsetQuery.Limit, err = f.limit(q.Limit); err != nil {
			return out, fmt.Errorf("%s: %w", at, err)
		}
	}
	return out, nil
}

func fromOffset(q Question, o estimate.Offset) offset {
	out := offset{Rig: q.Rig, Picture: q.First, Sound: q.Second, Settings: []estimateSetting{}, Flags: []string{}}
	for _, x := range q.Settings {
		out.Settings = append(out.Settings, estimateSetting(x))
	}
	if q.Limit != "" {
		out.Limit = &q.Limit
	}
	out.fill(o)
	return out
}

// limit finds a limit of the file, else a published one.
func (f *File) limit(slug string) (*estimate.Limit, error) {
	for _, l := range f.Limits {
		if l.Slug == slug {
			return &estimate.Limit{EarlyMS: l.EarlyMS, LateMS: l.LateMS}, nil
		}
	}
	if l, ok := limits.BySlug(slug); ok {
		return &estimate.Limit{EarlyMS: l.EarlyMS, LateMS: l.LateMS}, nil
	}
	return nil, fmt.Errorf("there is no limit %q: list it under limits with early_ms and late_ms", slug)
}

func (o *offset) fill(x estimate.Offset) {
	o.Destination, o.Basis, o.Why, o.Missing = x.Destination, string(x.Basis), x.Why, x.Missing
	o.Flags = append(o.Flags, x.Flags...)
	if x.Estimate == nil {
		return
	}
	o.Determined = true
	o.OffsetMS, o.SEMS, o.DF, o.CI95 = clean(x.Estimate.ValueMS), clean(x.Estimate.SEMS), finite(x.Estimate.DF), &x.Estimate.Interval
	o.NextSEMS, o.NextDF, o.Next95 = &x.Next.SEMS, finite(x.Next.DF), &x.Next.Interval
	o.AfterMS = clean(x.Outcome.AfterMS)
	if o.Limit != nil {
		verdict := string(x.Outcome.Verdict)
		o.Chance, o.Verdict = &x.Outcome.Chance, &verdict
	}
	o.CardSourceMS, o.StatedMS = clean(x.Scatter.CardSourceMS), clean(x.Scatter.StatedMS)
	o.Scatter = map[string]float64{
		"reading_ms": x.Scatter.ReadingMS, "quantisation_ms": x.Scatter.QuantisationMS, "phase_ms": x.Scatter.PhaseMS,
		"other_ms": x.Scatter.OtherMS, "unit_ms": x.Scatter.UnitMS, "card_source_ms": x.Scatter.CardSourceMS, "stated_ms": x.Scatter.StatedMS,
	}
}

func fromLatency(l estimate.Latency) latency {
	out := latency{
		Device: l.Device, Mode: l.Mode, Signal: string(l.Signal), Determined: l.Determined, Bounds: l.Bounds, Flags: l.Flags, Advice: l.Advice,
	}
	if l.Direct {
		zero := 0.0
		out.LatencyMS, out.SEMS, out.CI95 = &zero, &zero, &[2]float64{}
	}
	if l.Estimate != nil {
		out.LatencyMS, out.SEMS, out.DF, out.CI95 = &l.Estimate.ValueMS, &l.Estimate.SEMS, finite(l.Estimate.DF), &l.Estimate.Interval
	}
	if l.Next != nil {
		out.Next95 = &l.Next.Interval
	}
	for _, t := range l.OnlyWith {
		out.OnlyWith = append(out.OnlyWith, term{t.Coef, t.Device, t.Mode, string(t.Signal)})
	}
	if l.Combination != nil {
		out.CombinationMS, out.CombinationSE = clean(l.Combination.ValueMS), clean(l.Combination.SEMS)
	}
	return out
}

// clean takes the rounding of sums of milliseconds off a value, a millionth of a
// nanosecond, so that what cancels is 0.
func clean(x float64) *float64 {
	const perMS = 1e12
	if r := math.Round(x*perMS) / perMS; math.Abs(x) < 1 {
		x = r + 0 // no negative zero
	}
	return &x
}

// finite returns nil for what JSON can not hold.
func finite(x float64) *float64 {
	if math.IsInf(x, 0) || math.IsNaN(x) {
		return nil
	}
	return &x
}
