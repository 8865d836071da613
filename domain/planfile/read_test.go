package planfile_test

import (
	"encoding/json"
	"errors"
	"os"
	"strings"
	"testing"

	"delaybook/domain/plan"
	"delaybook/domain/planfile"
)

func everyday(t *testing.T) string {
	t.Helper()
	data, err := os.ReadFile("testdata/01-everyday.json")
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

// The input alone is a plan file too, and numbers may stand without quotes.
func TestInputAlone(t *testing.T) {
	t.Parallel()
	var file struct{ Input json.RawMessage }
	if err := json.Unmarshal([]byte(everyday(t)), &file); err != nil {
		t.Fatal(err)
	}
	whole, err := planfile.Run([]byte(everyday(t)), plan.Budget{})
	if err != nil {
		t.Fatal(err)
	}
	for _, input := range []string{string(file.Input), strings.Replace(string(file.Input), `"205.761111111"`, `2.05761111111e2`, 1)} {
		alone, err := planfile.Run([]byte(input), plan.Budget{})
		if err != nil || string(alone) != string(whole) {
			t.Errorf("%v\n%s\nwant\n%s", err, alone, whole)
		}
	}
}

// A pair without a location is written with nulls, and the state says so.
func TestUnknownLocation(t *testing.T) {
	t.Parallel()
	out, err := planfile.Run([]byte(strings.Replace(everyday(t), `"205.761111111"`, `null`, 1)), plan.Budget{})
	if err != nil {
		t.Fatal(err)
	}
	var got struct {
		State string
		Pairs []struct {
			After   *float64 `json:"after_ms"`
			Chance  *float64 `json:"chance_in_limit"`
			Verdict *string
			Role    string
		}
	}
	if err := json.Unmarshal(out, &got); err != nil {
		t.Fatal(err)
	}
	if p := got.Pairs[0]; got.State != "unknown" || p.After != nil || p.Chance != nil || p.Verdict != nil || p.Role != "unknown" {
		t.Errorf("%+v", got)
	}
}

// Each mistake is refused at its place with what to send instead; those the planner finds get the
// pointer into the whole file too.
func TestRefusals(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ from, to, pointer, says string }{
		{`"step": "1"`, `"steps": "1"`, "/input/controls/0/steps", "one of control, signal"},
		{`"step": "1"`, `"step": true`, "/input/controls/0/step", "a number"},
		{`"step": "1"`, `"step": "0x10"`, "/input/controls/0/step", "fraction"},
		{`"step": "1"`, `"step": "1e999999999"`, "/input/controls/0/step", "fraction"},
		{`"step": "1"`, `"step": "1/0"`, "/input/controls/0/step", "fraction"},
		{`"step": "1"`, `"step": "0"`, "/input/controls/0/step", "above 0"},
		{`"max": "8"`, `"max": null`, "/input/controls/0/max", "a value"},
		{`"ours": true`, `"ours": "yes"`, "/input/controls/0/ours", "true or false"},
		{`"slug": "cam-1"`, `"slug": 7`, "/input/chains/0/slug", "a string"},
		{`"feeds": []`, `"feeds": {}`, "/input/feeds", "a list"},
		{`"feeds": []`, `"feeds": [3]`, "/input/feeds/0", "an object"},
		{`"note"`, `"remark"`, "/remark", "one of name, note"},
		{`"importance": "hard"`, `"importance": "very"`, "/input/pairs/0/importance", "soft"},
		{`"s_ms": 10`, `"s_ms": -10`, "/input/pairs/0", "0 or more"},
		{`"s_ms": 10`, `"s_ms": 1,`, "", "one JSON object"},
		{`"target": "0.95"`, `"target": "95"`, "/input/target", "thousandths"},
	} {
		text := everyday(t)
		if !strings.Contains(text, c.from) {
			t.Fatalf("the case has no %s", c.from)
		}
		_, err := planfile.Run([]byte(strings.Replace(text, c.from, c.to, 1)), plan.Budget{})
		var refused *plan.Refusal
		if !errors.As(err, &refused) {
			t.Errorf("%s: got %v", c.to, err)
			continue
		}
		if f := refused.Fields[0]; f.Pointer != c.pointer || !strings.Contains(f.Send, c.says) {
			t.Errorf("%s: got %+v, want %s ... %s", c.to, f, c.pointer, c.says)
		}
	}
	for _, text := range []string{"", "[]", "7", "{} {}", `{"input": 3}`, "\xff"} {
		var refused *plan.Refusal
		if _, err := planfile.Run([]byte(text), plan.Budget{}); !errors.As(err, &refused) {
			t.Errorf("%q: got %v", text, err)
		}
	}
}

func FuzzRun(f *testing.F) {
	data, err := os.ReadFile("testdata/04-desk-channel-feeds-pa.json")
	if err != nil {
		f.Fatal(err)
	}
	f.Add(data)
	f.Fuzz(func(t *testing.T, data []byte) {
		out, err := planfile.Run(data, plan.Budget{Nodes: 1000})
		if err == nil && !json.Valid(out) {
			t.Errorf("not JSON: %s", out)
		}
	})
}
