package plan_test

import (
	"flag"
	"fmt"
	"math/big"
	"slices"
	"testing"

	"delaybook/domain/plan"
)

var longRigs = flag.Int("plan.rigs", 0, "random rigs of TestLongEqualsBruteForce")

// value is the dialled value of a grid index, in units.
func value(c plan.Control, k int) *big.Rat {
	if c.Fixed {
		return c.Now
	}
	return new(big.Rat).Add(c.Min, new(big.Rat).Mul(c.Step, big.NewRat(int64(k), 1)))
}

// The planner's answer is the one found by trying every setting: the same settings, the same pairs
// given up, the same level reached, the same sums.
func TestEqualsBruteForce(t *testing.T) {
	t.Parallel()
	compareRigs(t, 1, 600)
}

// The same over more rigs, for whoever changes the planner: go test -run Long -plan.rigs=5000.
func TestLongEqualsBruteForce(t *testing.T) {
	t.Parallel()
	compareRigs(t, 10_000, *longRigs)
}

func compareRigs(t *testing.T, from uint64, count int) {
	t.Helper()
	seen := map[plan.State]int{}
	failed := 0
	for seed := from; seed < from+uint64(count) && failed < 5; seed++ {
		p := randomRig(seed)
		got, err := plan.Solve(p, plan.Budget{})
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		n := newNaive(p)
		want := n.best()
		seen[got.State]++
		if problem := differs(p, n, want, got); problem != "" {
			failed++
			t.Errorf("seed %d: %s", seed, problem)
		}
	}
	if count > 0 {
		t.Logf("%d rigs: %v", count, seen)
	}
}

// differs says what is not as it should be.
func differs(p plan.Problem, n *naive, want *setting, got plan.Plan) string {
	if !got.Proven {
		return "not proven"
	}
	for c, s := range got.Settings {
		if s.Value.Cmp(value(p.Controls[c], want.at[c])) != 0 {
			return fmt.Sprintf("%s = %s, want %v", s.Control, s.ValueText(), value(p.Controls[c], want.at[c]))
		}
	}
	if got.Vector.HardLevel != n.joint {
		return fmt.Sprintf("level %d together, want %d", got.Vector.HardLevel, n.joint)
	}
	sum := int64(0)
	for i, r := range got.Pairs {
		if n.given[i] != (r.Role == plan.RoleGivenUp) {
			return fmt.Sprintf("%s is %s, want given up %v", r.Name, r.Role, n.given[i])
		}
		if n.kept(i) && r.Need != n.need[i] {
			return fmt.Sprintf("%s has need %d, want %d", r.Name, r.Need, n.need[i])
		}
		if r.Known && r.Level != want.level[i] {
			return fmt.Sprintf("%s has level %d, want %d", r.Name, r.Level, want.level[i])
		}
		if n.counts(i) {
			sum += want.after[i]
		}
	}
	if got.Vector.SumOfAfterMS != float64(sum)/plan.TicksPerMS {
		return fmt.Sprintf("sum of after %v, want %v", got.Vector.SumOfAfterMS, float64(sum)/plan.TicksPerMS)
	}
	if picture := float64(n.pictureSum(want)) / plan.TicksPerMS; got.Vector.PictureMS != picture {
		return fmt.Sprintf("picture delay %v, want %v", got.Vector.PictureMS, picture)
	}
	return ""
}

// A plan that is dialled in is the plan: nothing moves when it is worked out again.
func TestPlanInForceIsItself(t *testing.T) {
	t.Parallel()
	for seed := uint64(1); seed <= 1500; seed++ {
		p := randomRigUpTo(seed, 800)
		first, err := plan.Solve(p, plan.Budget{})
		if err != nil {
			t.Fatal(err)
		}
		p.Controls = slices.Clone(p.Controls)
		for c := range p.Controls {
			p.Controls[c].Now = first.Settings[c].Value
		}
		again, err := plan.Solve(p, plan.Budget{})
		if err != nil {
			t.Fatal(err)
		}
		for c, s := range again.Settings {
			if !s.Kept || s.Changed || s.Value.Cmp(first.Settings[c].Value) != 0 {
				t.Errorf("seed %d: %s moves from %s to %s", seed, s.Control, first.Settings[c].ValueText(), s.ValueText())
			}
		}
	}
}

// Merging controls of equal incidence is only a shorter way: apart they give the same plan.
func TestApartIsTheSame(t *testing.T) {
	t.Parallel()
	for seed := uint64(200_000); seed < 202_000; seed++ {
		p := randomRigUpTo(seed, 3000)
		merged, err := plan.Solve(p, plan.Budget{})
		if err != nil {
			t.Fatal(err)
		}
		apart, err := plan.SolveApart(p, plan.Budget{})
		if err != nil {
			t.Fatal(err)
		}
		for c, s := range apart.Settings {
			if s.Value.Cmp(merged.Settings[c].Value) != 0 {
				t.Errorf("seed %d: %s is %s apart, %s merged", seed, s.Control, s.ValueText(), merged.Settings[c].ValueText())
			}
		}
	}
}
