package plan

import (
	"fmt"
	"math/big"
)

func (c *compiler) control(i int) {
	in := c.problem.Controls[i]
	at := fmt.Sprintf("/controls/%d", i)
	if _, taken := c.controls[in.Name]; taken || in.Name == "" {
		c.refuse(at+"/control", fmt.Sprintf("%q is empty or taken by an earlier control", in.Name), "a name of its own")
	}
	c.controls[in.Name] = len(c.rig.controls)
	if in.Signal != Picture && in.Signal != Sound {
		c.refuse(at+"/signal", fmt.Sprintf("%q is not a signal", in.Signal), `"picture" or "sound"`)
	}
	out := control{name: in.Name, signal: in.Signal, unit: in.Unit, fixed: in.Fixed, now: -1, recorded: in.Now != nil}
	if r, ok := c.ruler(at, in); ok {
		c.lay(&out, in, r, i)
	} else {
		out.grid, out.min, out.inc = newGrid([]int64{0}), new(big.Rat), new(big.Rat)
	}
	c.rig.controls = append(c.rig.controls, out)
}

// lay puts the grid under a control.
func (c *compiler) lay(out *control, in Control, r ruler, i int) {
	out.base = r.delay(r.min)
	if in.Fixed {
		value := in.Now
		if value == nil {
			value = r.min
			c.noValue[i] = true
		}
		out.min, out.inc, out.grid = value, new(big.Rat), newGrid([]int64{r.delay(value)})
		if out.recorded {
			out.now = 0
		}
		return
	}
	out.min, out.inc, out.ruler = r.min, r.step, r
	key := fmt.Sprintf("%s %d", r.key(), r.count)
	if c.grids[key] == nil {
		c.grids[key] = newGrid(r.delays(r.count))
	}
	out.grid = c.grids[key]
	if in.Now == nil {
		return
	}
	k := new(big.Rat).Quo(new(big.Rat).Sub(in.Now, r.min), r.step)
	if k.IsInt() && k.Sign() >= 0 && k.Cmp(big.NewRat(int64(r.count), 1)) < 0 {
		out.now = int(k.Num().Int64())
	}
}

// ruler checks the numbers of a control; ok is false when one was refused.
func (c *compiler) ruler(at string, in Control) (r ruler, ok bool) {
	before := len(c.fields)
	r = ruler{unit: in.UnitMS, min: orZero(in.Min), step: in.Step, engaged: orZero(in.EngagedMS)}
	if r.step == nil {
		r.step = big.NewRat(1, 1)
	}
	if r.unit == nil || r.unit.Sign() <= 0 {
		c.refuse(at+"/unit_ms", "a unit needs a length", `the ms of one unit, above 0: "1", or "1001/30" for a frame at 29.97`)
	}
	if r.step.Sign() <= 0 {
		c.refuse(at+"/step", fmt.Sprintf("%s is not a step", decimal(r.step)), "a number of units above 0")
	}
	if r.engaged.Sign() < 0 {
		c.refuse(at+"/engaged_ms", fmt.Sprintf("%s ms would make the signal earlier", decimal(r.engaged)), "0 or more")
	}
	if r.min.Sign() < 0 {
		c.refuse(at+"/min", fmt.Sprintf("%s would make the signal earlier", decimal(r.min)), "0 or more")
	}
	if in.Now != nil && in.Now.Sign() < 0 {
		c.refuse(at+"/now", fmt.Sprintf("%s cannot be dialled in", decimal(in.Now)), "0 or more, or null when nothing is recorded")
	}
	if in.Max == nil || in.Max.Cmp(r.min) < 0 {
		c.refuse(at+"/max", "the largest value must not be below the smallest", "a number of units, at least min")
	}
	if len(c.fields) > before {
		return r, false
	}
	c.extent(at, in, &r)
	return r, len(c.fields) == before
}

// extent counts the points of the grid and refuses what is too long or too fine.
func (c *compiler) extent(at string, in Control, r *ruler) {
	for _, end := range []struct {
		name  string
		value *big.Rat
	}{{"max", in.Max}, {"now", orZero(in.Now)}} {
		longest := new(big.Rat).Add(new(big.Rat).Mul(r.unit, end.value), r.engaged)
		if _, ok := toTicks(longest); !ok {
			c.refuse(at+"/"+end.name, "a delay beyond 100000000 ms", "the largest value the device really has")
			return
		}
	}
	steps := new(big.Rat).Quo(new(big.Rat).Sub(in.Max, r.min), r.step)
	whole := new(big.Int).Quo(steps.Num(), steps.Denom())
	if whole.Cmp(big.NewInt(maxPoints)) >= 0 {
		c.refuse(at+"/step", fmt.Sprintf("the control would have more than %d values", maxPoints), "a coarser step or a smaller max")
		return
	}
	r.count = int(whole.Int64()) + 1
	inc := new(big.Rat).Mul(new(big.Rat).Mul(r.unit, r.step), big.NewRat(TicksPerMS, 1))
	if inc.Cmp(big.NewRat(2, 1)) < 0 {
		c.refuse(at+"/step", "a step shorter than 3 nanoseconds", "a coarser step")
	}
}

func orZero(r *big.Rat) *big.Rat {
	if r == nil {
		return new(big.Rat)
	}
	return r
}
