package pages

import (
	"strings"
	"testing"
	"time"

	"delaybook/domain"
	"delaybook/domain/plan"
	"delaybook/domain/service"
)

func pairAt(chance float64, importance domain.Importance) service.DelayPair {
	return service.DelayPair{
		JudgedPair: domain.JudgedPair{Importance: importance}, PairResult: plan.PairResult{Known: true, Chance: chance},
	}
}

// The words of a rig say its state, how sure it is, and why it is stale.
func TestTheWordsOfAStanding(t *testing.T) {
	t.Parallel()
	pairs := []service.DelayPair{pairAt(0.999, domain.Hard), pairAt(0.975, domain.Hard), pairAt(0.1, domain.Soft)}
	dial := service.DelaySetting{Setting: plan.Setting{Control: "lectern-delay"}}
	checked := time.Date(2026, 11, 20, 18, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		is   service.Standing
		want []string
	}{
		{service.Standing{State: service.RigInside}, []string{"Inside", "least sure 97 %"}},
		{service.Standing{State: service.RigOutside}, []string{"Outside", "beyond its limit"}},
		{service.Standing{State: service.RigUndecided}, []string{"Undecided", "One more measurement"}},
		{service.Standing{State: service.RigUnchecked}, []string{"Never checked"}},
		{service.Standing{State: service.RigStale, Revised: true, LastAt: checked}, []string{"Check again", "changed after its last check on 20 November"}},
		{service.Standing{State: service.RigStale, Dialled: []service.DelaySetting{dial, dial}}, []string{"differs from the plan: lectern-delay, lectern-delay."}},
	} {
		c.is.Delays = &service.Delays{Pairs: pairs}
		got := standingWords(c.is)
		for _, want := range c.want {
			if text := got.Head + ". " + got.Text; !strings.Contains(text, want) {
				t.Errorf("%s: %q does not say %q", c.is.State, text, want)
			}
		}
	}
	for _, state := range service.RigStates() {
		if standingWords(service.Standing{State: state, Delays: &service.Delays{}}).Head == "" {
			t.Errorf("no words for the state %s", state)
		}
	}
}
