package planfile

import (
	"encoding/json"
	"errors"
	"math"
	"strconv"

	"delaybook/domain/plan"
)

// Run reads a plan file, plans it and writes the result as indented JSON. Its error is a
// *plan.Refusal with pointers into the file.
func Run(data []byte, b plan.Budget) ([]byte, error) {
	p, prefix, err := Read(data)
	if err != nil {
		return nil, err
	}
	out, err := plan.Solve(p, b)
	var refused *plan.Refusal
	if errors.As(err, &refused) {
		for i := range refused.Fields {
			refused.Fields[i].Pointer = prefix + refused.Fields[i].Pointer
		}
	}
	if err != nil {
		return nil, err
	}
	return Write(out)
}

// Write is a plan as indented JSON with a final newline. Milliseconds and chances have nine decimals;
// what does not apply (no feeds, nothing given up, no bottleneck) is left out.
func Write(p plan.Plan) ([]byte, error) {
	text, err := json.MarshalIndent(toFile(p), "", " ")
	if err != nil {
		return nil, err
	}
	return append(text, '\n'), nil
}

// A decimal is written with at most nine decimals.
type decimal float64

// MarshalJSON rounds; a value that is not finite is null.
func (d decimal) MarshalJSON() ([]byte, error) {
	f := float64(d)
	if math.IsNaN(f) || math.IsInf(f, 0) {
		return []byte("null"), nil
	}
	rounded, err := strconv.ParseFloat(strconv.FormatFloat(f, 'f', 9, 64), 64)
	if err != nil {
		return nil, err
	}
	return strconv.AppendFloat(nil, rounded+0, 'f', -1, 64), nil
}

type planJSON struct {
	State       plan.State       `json:"state"`
	Proven      bool             `json:"proven"`
	Settings    []settingJSON    `json:"settings"`
	Pairs       []pairJSON       `json:"pairs"`
	Feeds       []feedJSON       `json:"feeds,omitempty"`
	Vector      vectorJSON       `json:"vector"`
	GivenUp     []string         `json:"given_up,omitempty"`
	Conflict    []string         `json:"conflict_at_target,omitempty"`
	Bottlenecks []map[string]any `json:"bottlenecks,omitempty"`
	Why         []whyJSON        `json:"why"`
	Advice      []adviceJSON     `json:"advice"`
}

type settingJSON struct {
	Control string  `json:"control"`
	Value   string  `json:"value"`
	MS      decimal `json:"ms"`
	AtEnd   bool    `json:"at_end"`
}

type pairJSON struct {
	Pair    string   `json:"pair"`
	Role    string   `json:"role"`
	After   *decimal `json:"after_ms"`
	HalfMS  decimal  `json:"next95_half_ms"`
	Chance  *decimal `json:"chance_in_limit"`
	Level   *int     `json:"level"`
	Verdict *string  `json:"verdict"`
}

type feedJSON struct {
	Feed     string  `json:"feed"`
	Added    decimal `json:"added_ms"`
	MaxAdded decimal `json:"max_added_ms"`
}

type vectorJSON struct {
	HardLevel    int      `json:"hard_level_reached_jointly"`
	Picture      decimal  `json:"picture_delay_sum_over_paths_ms"`
	SmallestHard *int     `json:"smallest_hard_level_capped,omitempty"`
	SmallestSoft *int     `json:"smallest_soft_level_capped,omitempty"`
	Feeds        decimal  `json:"feeds_added_ms"`
	Changed      int      `json:"controls_changed"`
	LargestHard  *decimal `json:"largest_abs_after_hard_ms,omitempty"`
	Sum          decimal  `json:"sum_of_after_ms"`
}

type whyJSON struct {
	Control string       `json:"control"`
	Code    plan.WhyCode `json:"code"`
	Text    string       `json:"text"`
}

type adviceJSON struct {
	Code plan.AdviceCode `json:"code"`
	Text string          `json:"text"`
}

func toFile(p plan.Plan) planJSON {
	out := planJSON{
		State: p.State, Proven: p.Proven, Vector: toVector(p.Vector),
		Settings: []settingJSON{}, Pairs: []pairJSON{}, Why: []whyJSON{}, Advice: []adviceJSON{},
	}
	for _, s := range p.Settings {
		out.Settings = append(out.Settings, settingJSON{s.Control, s.ValueText(), decimal(s.MS), s.AtEnd})
		out.Why = append(out.Why, whyJSON{s.Control, s.Why.Code, s.Why.Text})
	}
	for _, r := range p.Pairs {
		out.Pairs = append(out.Pairs, toPair(r))
	}
	for _, f := range p.Feeds {
		out.Feeds = append(out.Feeds, feedJSON{f.Feed, decimal(f.AddedMS), decimal(f.MaxAddedMS)})
	}
	for _, i := range p.GivenUp {
		out.GivenUp = append(out.GivenUp, p.Pairs[i].Name)
	}
	for _, i := range p.Conflict {
		out.Conflict = append(out.Conflict, p.Pairs[i].Name)
	}
	for _, b := range p.Bottlenecks {
		out.Bottlenecks = append(out.Bottlenecks, toBottleneck(b))
	}
	for _, a := range p.Advice {
		out.Advice = append(out.Advice, adviceJSON(a))
	}
	return out
}

func toPair(r plan.PairResult) pairJSON {
	out := pairJSON{Pair: r.Name, Role: string(r.Role), HalfMS: decimal(r.HalfWidthMS)}
	if r.Known {
		after, chance, verdict := decimal(r.AfterMS), decimal(r.Chance), string(r.Verdict)
		out.After, out.Chance, out.Level, out.Verdict = &after, &chance, &r.Level, &verdict
	}
	return out
}

func toVector(v plan.Vector) vectorJSON {
	return vectorJSON{
		HardLevel: v.HardLevel, Picture: decimal(v.PictureMS), SmallestHard: v.SmallestHard, SmallestSoft: v.SmallestSoft,
		Feeds: decimal(v.FeedsAddedMS), Changed: v.ControlsChanged, LargestHard: (*decimal)(v.LargestAbsAfterHardMS), Sum: decimal(v.SumOfAfterMS),
	}
}

// toBottleneck has only the members of its kind.
func toBottleneck(b plan.Bottleneck) map[string]any {
	out := map[string]any{"kind": b.Kind}
	switch b.Kind {
	case plan.ControlRange:
		out["control"], out["needs_ms"], out["missing_ms"], out["more_steps"] = b.Name, decimal(b.NeedsMS), decimal(b.MissingMS), b.MoreSteps
	case plan.FeedBound:
		out["feed"], out["needs_ms"], out["missing_ms"] = b.Name, decimal(b.NeedsMS), decimal(b.MissingMS)
	case plan.PairSpread:
		out["pair"], out["widen_each_side_ms"], out["spread_ms"] = b.Name, decimal(b.WidenMS), decimal(b.SpreadMS)
	default:
		out["pair"], out["widen_each_side_ms"] = b.Name, decimal(b.WidenMS)
	}
	return out
}
