package plan_test

import (
	"math/big"
	"strings"
	"testing"

	"delaybook/domain/law"
	"delaybook/domain/plan"
)

// Each reason, on the smallest rig that has it.
func TestWhy(t *testing.T) {
	t.Parallel()
	narrow := law.Law{S: 1}
	for _, c := range []struct {
		code plan.WhyCode
		says string
		make func() plan.Problem
	}{
		{plan.WhyKept, "7 frames (233.6 ms) are in force", func() plan.Problem {
			p := simple(ms("196.4"), ms("45"), ms("125"), narrow)
			p.Controls[0].Now = ms("7")
			return p
		}},
		{plan.WhyNeeded, "with 5 frames its chance to be in its limit is 0.", func() plan.Problem {
			return simple(ms("205.8"), ms("40"), ms("60"), law.Law{A: 16, S: 10})
		}},
		{plan.WhyUnused, "acts on no pair", func() plan.Problem {
			p := simple(ms("20"), ms("40"), ms("60"), narrow)
			p.Chains[1].Controls = nil
			return p
		}},
		{plan.WhyFeed, "pa stays live: with 1 frame it would get 33.4 ms more", func() plan.Problem {
			p := simple(ms("20"), ms("40"), ms("60"), narrow)
			p.Feeds = []plan.Feed{{Slug: "pa", Chain: "lectern", MaxAddedMS: ms("100")}}
			return p
		}},
		{plan.WhyNearest, "leave the least offset, 4.2 ms at most", func() plan.Problem {
			return simple(ms("196"), ms("100"), ms("100"), narrow)
		}},
		{plan.WhyLaterSound, "the later sound is less noticed", func() plan.Problem {
			p := simple(ms("10"), ms("30"), ms("30"), narrow)
			p.Controls[0].UnitMS = ms("20")
			return p
		}},
		{plan.WhyLeastPicture, "least picture delay", func() plan.Problem {
			p := simple(ms("20"), ms("40"), ms("60"), narrow)
			p.Controls[0].Signal, p.Chains[1].Controls, p.Chains[0].Controls = plan.Picture, nil, []string{"lectern-delay"}
			return p
		}},
	} {
		p := c.make()
		p.Target = big.NewRat(95, 100)
		if got := solve(t, p).Settings[0].Why; got.Code != c.code || !strings.Contains(got.Text, c.says) {
			t.Errorf("%s: got %+v", c.code, got)
		}
	}
}

// Between two controls on one path that are as good, the one listed first takes the delay.
func TestWhyListOrder(t *testing.T) {
	t.Parallel()
	p := simple(ms("66.7333"), ms("40"), ms("60"), law.Law{S: 1})
	second := p.Controls[0]
	second.Name = "desk-delay"
	p.Controls = append(p.Controls, second)
	p.Chains[1].Controls = append(p.Chains[1].Controls, "desk-delay")
	got := solve(t, p)
	if got.Settings[0].ValueText() != "2" || got.Settings[1].ValueText() != "0" {
		t.Errorf("%+v", got.Settings)
	}
}
