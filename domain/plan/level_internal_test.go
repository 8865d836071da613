package plan

import (
	"math/rand/v2"
	"testing"

	"delaybook/domain/law"
)

// A band is exact to the tick: its ends have the level, one tick beyond has not. The internals are the
// point: a tick is far below what any published limit shows.
func TestBandIsExactToTheTick(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(8, 8))
	for round := range 4000 {
		p := pair{
			early: rng.Int64N(60 * TicksPerMS), late: rng.Int64N(120 * TicksPerMS), loc: rng.Int64N(300*TicksPerMS) - 50*TicksPerMS,
			law: law.Law{A: 20 * rng.Float64(), S: 0.5 + 12*rng.Float64(), Q: 1 + rng.Float64()},
		}
		if round%5 == 0 {
			p.law = law.Law{}
		}
		r := &rig{levels: newLevelTable()}
		p.class = r.levels.class(levelClass{law: p.law, width: p.early + p.late})
		level := func(delay int64) int { return r.levels.at(p.class, 2*(p.loc+delay)-(p.early-p.late)) }
		want := rng.IntN(1060) - 60
		a, b := r.band(&p, want)
		if a > b {
			middle := floorDiv(p.early-p.late, 2) - p.loc
			if level(middle) >= want || level(middle+1) >= want {
				t.Fatalf("round %d: no band for level %d, %+v has it", round, want, p)
			}
			continue
		}
		if level(a) < want || level(b) < want || level(a-1) >= want || level(b+1) >= want {
			t.Fatalf("round %d: band of level %d is [%d, %d], levels there and beyond %d %d %d %d", round, want, a, b,
				level(a), level(b), level(a-1), level(b+1))
		}
	}
}
