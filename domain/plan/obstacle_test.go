package plan_test

import (
	"fmt"
	"math"
	"math/big"
	"slices"
	"testing"

	"delaybook/domain/plan"
)

// A bottleneck is true: relaxed alone, by what it says, every hard pair reaches the target, and one
// step less would not do. What is not named does not help. The conflict is one, and any member fewer
// is none.
func TestBottlenecksAreTrue(t *testing.T) {
	t.Parallel()
	kinds := map[plan.BottleneckKind]int{}
	failed := 0
	for seed := uint64(50_000); seed < 50_250 && failed < 5; seed++ {
		p := randomRigUpTo(seed, 150)
		got, err := plan.Solve(p, plan.Budget{})
		if err != nil {
			t.Fatal(err)
		}
		n := newNaive(p)
		hard := n.hardPairs()
		if n.possible(hard, n.atTarget) != (len(got.Conflict) == 0) {
			t.Fatalf("seed %d: conflict %v", seed, got.Conflict)
		}
		if len(got.Conflict) == 0 {
			if len(got.Bottlenecks) > 0 {
				t.Fatalf("seed %d: a bottleneck of a rig that reaches its target", seed)
			}
			continue
		}
		problem := wrongConflict(n, got)
		named := map[string]bool{}
		for _, b := range got.Bottlenecks {
			kinds[b.Kind]++
			named[string(b.Kind[:4])+b.Name] = true
			if problem == "" {
				problem = wrongBottleneck(p, n, b)
			}
		}
		if problem == "" {
			problem = missedBottleneck(p, n, named)
		}
		if problem != "" {
			failed++
			t.Errorf("seed %d: %s", seed, problem)
		}
	}
	for _, kind := range []plan.BottleneckKind{plan.ControlRange, plan.PairWindow, plan.FeedBound} {
		if kinds[kind] < 3 {
			t.Errorf("only %d bottlenecks of kind %s met: the rigs do not test it", kinds[kind], kind)
		}
	}
}

func wrongConflict(n *naive, got plan.Plan) string {
	if want := n.conflict(n.hardPairs(), n.atTarget); !slices.Equal(got.Conflict, want) {
		return fmt.Sprintf("conflict %v, want %v", got.Conflict, want)
	}
	for _, p := range got.Conflict {
		others := slices.DeleteFunc(slices.Clone(got.Conflict), func(q int) bool { return q == p })
		if n.possible(got.Conflict, n.atTarget) || !n.possible(others, n.atTarget) {
			return fmt.Sprintf("conflict %v is not irreducible", got.Conflict)
		}
	}
	return ""
}

// relaxed says whether every hard pair reaches the target after a change to the problem.
func relaxed(p plan.Problem, change func(p *plan.Problem)) bool {
	p.Controls, p.Feeds = slices.Clone(p.Controls), slices.Clone(p.Feeds)
	change(&p)
	n := newNaive(p)
	return n.possible(n.hardPairs(), n.atTarget)
}

func wrongBottleneck(p plan.Problem, n *naive, b plan.Bottleneck) string {
	ok, less := false, false
	switch b.Kind {
	case plan.ControlRange:
		i := slices.IndexFunc(p.Controls, func(c plan.Control) bool { return c.Name == b.Name })
		ok = relaxed(p, func(p *plan.Problem) { longer(p, i, b.MoreSteps) })
		less = relaxed(p, func(p *plan.Problem) { longer(p, i, b.MoreSteps-1) })
	case plan.FeedBound:
		i := slices.IndexFunc(p.Feeds, func(f plan.Feed) bool { return f.Slug == b.Name })
		ticks := int64(math.Round(b.NeedsMS * plan.TicksPerMS))
		ok = relaxed(p, func(p *plan.Problem) { p.Feeds[i].MaxAddedMS = big.NewRat(ticks, plan.TicksPerMS) })
		less = relaxed(p, func(p *plan.Problem) { p.Feeds[i].MaxAddedMS = big.NewRat(ticks-1, plan.TicksPerMS) })
	default:
		i := slices.IndexFunc(p.Pairs, func(q plan.Pair) bool { return q.Name() == b.Name })
		ticks := int64(math.Round(b.WidenMS * plan.TicksPerMS))
		ok, less = n.widened(i, ticks), n.widened(i, ticks-1)
	}
	if !ok || less {
		return fmt.Sprintf("%+v: enough %v, one step less enough %v", b, ok, less)
	}
	return ""
}

func longer(p *plan.Problem, i, steps int) {
	c := p.Controls[i]
	c.Max = new(big.Rat).Add(c.Max, new(big.Rat).Mul(c.Step, big.NewRat(int64(steps), 1)))
	p.Controls[i] = c
}

// widened says whether all hard pairs reach the target with the window of one widened both ways.
func (n *naive) widened(i int, by int64) bool {
	return slices.ContainsFunc(n.settings, func(s *setting) bool {
		return !slices.ContainsFunc(n.hardPairs(), func(p int) bool {
			if p == i {
				return n.levelAt(p, s.after[p], by) < n.target
			}
			return s.level[p] < n.target
		})
	})
}

// missedBottleneck looks for a thing that alone would do and was not named.
func missedBottleneck(p plan.Problem, n *naive, named map[string]bool) string {
	for i, f := range p.Feeds {
		free := relaxed(p, func(p *plan.Problem) { p.Feeds[i].MaxAddedMS = big.NewRat(100_000, 1) })
		if free && !named["feed"+f.Slug] {
			return "feed " + f.Slug + " would do and is not named"
		}
	}
	hard := n.hardPairs()
	for _, i := range hard {
		others := slices.DeleteFunc(slices.Clone(hard), func(q int) bool { return q == i })
		if n.possible(others, n.atTarget) && !named["pair"+p.Pairs[i].Name()] {
			return "pair " + p.Pairs[i].Name() + " would do and is not named"
		}
	}
	for i, c := range p.Controls {
		more := 6 // enough to meet some that are missed, few enough to try every setting
		if !c.Fixed && !named["cont"+c.Name] && relaxed(p, func(p *plan.Problem) { longer(p, i, more) }) {
			return fmt.Sprintf("control %s with %d steps more would do and is not named", c.Name, more)
		}
	}
	return ""
}
