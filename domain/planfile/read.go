// Package planfile reads a rig to plan from a JSON file and writes the plan as JSON.
//
// A plan file needs no database: it carries the controls, chains, destinations, feeds and pairs of
// one rig with the offset of every pair and the law of its next power-up. Durations and values are
// exact: decimals ("0.1") or fractions ("1001/30"), as strings, or JSON numbers. The file is the
// input object itself or a worked case around it ({"name", "note", "input", "expected"}).
//
//	{"target": "0.975",
//	 "controls": [{"control": "lectern-delay", "signal": "sound", "unit": "frame", "unit_ms": "1001/30",
//	   "step": "1", "min": "0", "max": "8", "engaged_ms": "0", "ours": true, "now": null}],
//	 "chains": [{"slug": "cam-1", "signal": "picture", "controls": []},
//	   {"slug": "lectern", "signal": "sound", "controls": ["lectern-delay"]}],
//	 "destinations": [{"slug": "programme", "limit": "ebu-r37", "early_ms": "40", "late_ms": "60",
//	   "picture_tail_controls": [], "sound_tail_controls": []}],
//	 "feeds": [{"slug": "pa", "chain": "lectern", "max_added_ms": "5"}],
//	 "pairs": [{"picture": "cam-1", "sound": "lectern", "destination": "programme", "importance": "hard",
//	   "location_ms": "205.8", "half_width_ms": 16.7, "s_ms": 10, "t_factor": 1.25}]}
//
// Everything but the names may be left out where it has a plain meaning: target 0.975, step 1,
// minimum 0, nothing engaged, ours, nothing in force, importance hard, location not known.
package planfile

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"

	"delaybook/domain/law"
	"delaybook/domain/plan"
)

// Read decodes a plan file. Its error is a *plan.Refusal naming every place that is wrong and what
// to send instead; prefix is the JSON pointer of the input inside the file, "" or "/input", which
// a Refusal of the planner itself wants before its own pointers.
func Read(data []byte) (p plan.Problem, prefix string, err error) {
	decoder := json.NewDecoder(bytes.NewReader(data))
	decoder.UseNumber()
	var file any
	if err := decoder.Decode(&file); err != nil {
		return plan.Problem{}, "", notJSON(err)
	}
	if _, err := decoder.Token(); !errors.Is(err, io.EOF) {
		return plan.Problem{}, "", refusal("", "there is more after the JSON value", "one JSON object")
	}
	r := &reader{}
	top, ok := file.(map[string]any)
	if !ok {
		return plan.Problem{}, "", refusal("", "the file is "+kind(file), "an object with controls, chains, destinations and pairs")
	}
	in := node{reader: r, value: top}
	if _, wrapped := top["input"]; wrapped {
		in.only("name", "note", "input", "expected")
		in, prefix = in.get("input"), "/input"
	}
	p = problem(in)
	if len(r.fields) > 0 {
		return plan.Problem{}, prefix, &plan.Refusal{Fields: r.fields}
	}
	return p, prefix, nil
}

func refusal(pointer, detail, send string) error {
	return &plan.Refusal{Fields: []plan.Field{{Pointer: pointer, Detail: detail, Send: send}}}
}

func notJSON(err error) error {
	return refusal("", "the file is not JSON: "+err.Error(), "one JSON object with controls, chains, destinations and pairs")
}

func problem(in node) plan.Problem {
	in.only("target", "controls", "chains", "destinations", "feeds", "pairs")
	p := plan.Problem{Target: in.get("target").exact()}
	for _, x := range in.get("controls").list() {
		p.Controls = append(p.Controls, control(x))
	}
	for _, x := range in.get("chains").list() {
		x.only("slug", "signal", "controls")
		p.Chains = append(p.Chains, plan.Chain{
			Slug: x.get("slug").required().text(), Signal: plan.Signal(x.get("signal").required().text()),
			Controls: x.get("controls").texts(),
		})
	}
	for _, x := range in.get("destinations").list() {
		x.only("slug", "limit", "early_ms", "late_ms", "picture_tail_controls", "sound_tail_controls")
		p.Destinations = append(p.Destinations, plan.Destination{
			Slug: x.get("slug").required().text(), Limit: x.get("limit").text(),
			EarlyMS: x.get("early_ms").required().exact(), LateMS: x.get("late_ms").required().exact(),
			PictureControls: x.get("picture_tail_controls").texts(), SoundControls: x.get("sound_tail_controls").texts(),
		})
	}
	for _, x := range in.get("feeds").list() {
		x.only("slug", "chain", "max_added_ms")
		p.Feeds = append(p.Feeds, plan.Feed{
			Slug: x.get("slug").required().text(), Chain: x.get("chain").required().text(), MaxAddedMS: x.get("max_added_ms").required().exact(),
		})
	}
	for _, x := range in.get("pairs").list() {
		p.Pairs = append(p.Pairs, pair(x))
	}
	return p
}

func control(x node) plan.Control {
	x.only("control", "signal", "unit", "unit_ms", "step", "min", "max", "engaged_ms", "ours", "now")
	return plan.Control{
		Name: x.get("control").required().text(), Signal: plan.Signal(x.get("signal").required().text()), Unit: x.get("unit").text(),
		UnitMS: x.get("unit_ms").required().exact(), Step: x.get("step").exact(), Min: x.get("min").exact(),
		Max: x.get("max").required().exact(), EngagedMS: x.get("engaged_ms").exact(),
		Fixed: !x.get("ours").flag(true), Now: x.get("now").exact(),
	}
}

func pair(x node) plan.Pair {
	x.only("picture", "sound", "destination", "importance", "location_ms", "half_width_ms", "s_ms", "t_factor")
	return plan.Pair{
		Picture: x.get("picture").required().text(), Sound: x.get("sound").required().text(),
		Destination: x.get("destination").required().text(), Importance: plan.Importance(x.get("importance").text()),
		LocationMS: x.get("location_ms").exact(),
		Law:        law.Law{A: x.get("half_width_ms").float(0), S: x.get("s_ms").float(0), Q: x.get("t_factor").float(1)},
	}
}
