package plan

import (
	"fmt"
	"math/big"

	"delaybook/domain/law"
)

// maxPoints bounds the grid of one control: a second in samples at 192 kHz fits five times.
const maxPoints = 1_000_000

// compile checks a problem and puts it into ticks. Its error is a *Refusal with all that is wrong.
func compile(p Problem) (*rig, error) {
	c := &compiler{
		problem:      p,
		rig:          &rig{levels: newLevelTable()},
		controls:     map[string]int{},
		chains:       map[string]Chain{},
		destinations: map[string]int{},
		grids:        map[string]*grid{},
		noValue:      map[int]bool{},
		paths:        map[pathKey]bool{},
		halves:       map[law.Law]float64{},
	}
	c.target()
	for i := range p.Controls {
		c.control(i)
	}
	for i := range p.Chains {
		c.chain(i)
	}
	for i := range p.Destinations {
		c.destination(i)
	}
	for i := range p.Feeds {
		c.feed(i)
	}
	for i := range p.Pairs {
		c.pair(i)
	}
	if len(c.fields) > 0 {
		return nil, &Refusal{Fields: c.fields}
	}
	return c.rig, nil
}

type compiler struct {
	problem      Problem
	rig          *rig
	fields       []Field
	controls     map[string]int
	chains       map[string]Chain
	destinations map[string]int
	grids        map[string]*grid
	noValue      map[int]bool // fixed controls without a value in force
	paths        map[pathKey]bool
	halves       map[law.Law]float64
}

// halfWidth is that of next95, worked out once per law.
func (c *compiler) halfWidth(l law.Law) float64 {
	half, ok := c.halves[l]
	if !ok {
		half = l.HalfWidth95()
		c.halves[l] = half
	}
	return half
}

func (c *compiler) refuse(pointer, detail, send string) {
	c.fields = append(c.fields, Field{Pointer: pointer, Detail: detail, Send: send})
}

func (c *compiler) target() {
	t := c.problem.Target
	if t == nil {
		t = DefaultTarget()
	}
	levels := new(big.Rat).Mul(t, big.NewRat(1000, 1))
	if !levels.IsInt() || levels.Cmp(big.NewRat(500, 1)) < 0 || levels.Cmp(big.NewRat(topLevel, 1)) > 0 {
		c.refuse("/target", fmt.Sprintf("%s is not a chance the planner can aim at", decimal(t)),
			`a whole number of thousandths from 0.5 to 0.999, such as "0.975"`)
		return
	}
	c.rig.target = int(levels.Num().Int64())
}

func (c *compiler) chain(i int) {
	chain := c.problem.Chains[i]
	at := fmt.Sprintf("/chains/%d", i)
	if _, taken := c.chains[chain.Slug]; taken || chain.Slug == "" {
		c.refuse(at+"/slug", fmt.Sprintf("%q is empty or taken by an earlier chain", chain.Slug), "a slug of its own")
	}
	if chain.Signal != Picture && chain.Signal != Sound {
		c.refuse(at+"/signal", fmt.Sprintf("%q is not a signal", chain.Signal), `"picture" or "sound"`)
	}
	c.listed(at+"/controls", chain.Controls, chain.Signal)
	c.chains[chain.Slug] = chain
}

// listed checks the names of controls on a path of one signal.
func (c *compiler) listed(at string, names []string, signal Signal) {
	for j, name := range names {
		k, ok := c.controls[name]
		if !ok {
			c.refuse(fmt.Sprintf("%s/%d", at, j), fmt.Sprintf("no control is called %q", name), "the name of one under /controls")
		} else if c.problem.Controls[k].Signal != signal {
			c.refuse(fmt.Sprintf("%s/%d", at, j), fmt.Sprintf("%q delays %s, not %s", name, c.problem.Controls[k].Signal, signal),
				"a control of the signal of this path")
		}
	}
	c.distinct(at, names)
}

// distinct refuses a control that a signal would pass twice.
func (c *compiler) distinct(at string, names []string) {
	seen := map[string]bool{}
	for _, name := range names {
		if seen[name] {
			c.refuse(at, fmt.Sprintf("the control %q stands twice on one path", name), "it once, where the signal passes it")
			return
		}
		seen[name] = true
	}
}

func (c *compiler) destination(i int) {
	d := c.problem.Destinations[i]
	at := fmt.Sprintf("/destinations/%d", i)
	if _, taken := c.destinations[d.Slug]; taken || d.Slug == "" {
		c.refuse(at+"/slug", fmt.Sprintf("%q is empty or taken by an earlier destination", d.Slug), "a slug of its own")
	}
	c.destinations[d.Slug] = i
	for _, bound := range []struct {
		name string
		ms   *big.Rat
	}{{"early_ms", d.EarlyMS}, {"late_ms", d.LateMS}} {
		if _, ok := toTicks(bound.ms); !ok || (bound.ms != nil && bound.ms.Sign() < 0) {
			c.refuse(at+"/"+bound.name, fmt.Sprintf("%s ms is not a bound", decimal(bound.ms)), "an unsigned number of ms, at most 100000000")
		}
	}
	c.listed(at+"/picture_tail_controls", d.PictureControls, Picture)
	c.listed(at+"/sound_tail_controls", d.SoundControls, Sound)
}

func (c *compiler) feed(i int) {
	f := c.problem.Feeds[i]
	at := fmt.Sprintf("/feeds/%d", i)
	chain, ok := c.chains[f.Chain]
	if !ok || chain.Signal != Sound {
		c.refuse(at+"/chain", fmt.Sprintf("%q is not a sound chain", f.Chain), "the slug of the sound chain that must stay live")
		return
	}
	most, ok := toTicks(f.MaxAddedMS)
	if !ok || f.MaxAddedMS == nil || most < 0 {
		c.refuse(at+"/max_added_ms", fmt.Sprintf("%s ms cannot be a bound", decimal(f.MaxAddedMS)), "0 or more, the most delay this feed may be given")
		return
	}
	out := feed{slug: f.Slug, max: most, allowed: most}
	unavoidable := int64(0)
	for _, name := range chain.Controls {
		if k, ok := c.controls[name]; ok {
			out.controls = append(out.controls, k)
			unavoidable += c.rig.controls[k].grid.vals[0] - c.rig.controls[k].base
		}
	}
	out.max = max(most, unavoidable)
	c.rig.feeds = append(c.rig.feeds, out)
}

func (c *compiler) pair(i int) {
	p := c.problem.Pairs[i]
	at := fmt.Sprintf("/pairs/%d", i)
	picture, okP := c.end(at+"/picture", p.Picture, Picture)
	sound, okS := c.end(at+"/sound", p.Sound, Sound)
	d, okD := c.destinations[p.Destination]
	if !okD {
		c.refuse(at+"/destination", fmt.Sprintf("no destination is called %q", p.Destination), "the slug of one under /destinations")
	}
	role, okR := map[Importance]Role{"": RoleHard, Hard: RoleHard, Soft: RoleSoft, Ignore: RoleIgnored}[p.Importance]
	if !okR {
		c.refuse(at+"/importance", fmt.Sprintf("%q is not an importance", p.Importance), `"hard", "soft" or "ignore"`)
	}
	loc, okL := toTicks(p.LocationMS)
	if !okL {
		c.refuse(at+"/location_ms", "beyond 100000000 ms", "an offset in ms, or null when it is not known")
	}
	q := p.Law.Q
	if q == 0 {
		q = 1
	}
	l, err := law.New(p.Law.A, p.Law.S, q)
	if err != nil {
		c.refuse(at, err.Error(), "half_width_ms and s_ms of 0 or more and a t_factor of 1 or more")
	}
	if !(okP && okS && okD && okR && okL) || err != nil {
		return
	}
	c.add(at, p, l, role, loc, picture, sound, c.problem.Destinations[d])
}

func (c *compiler) end(at, slug string, signal Signal) (Chain, bool) {
	chain, ok := c.chains[slug]
	if !ok || chain.Signal != signal {
		c.refuse(at, fmt.Sprintf("%q is not a %s chain", slug, signal), fmt.Sprintf("the slug of a %s chain under /chains", signal))
		return Chain{}, false
	}
	return chain, true
}

// add appends a pair whose parts are sound.
func (c *compiler) add(at string, p Pair, l law.Law, role Role, loc int64, picture, sound Chain, d Destination) {
	early, _ := toTicks(d.EarlyMS)
	late, _ := toTicks(d.LateMS)
	out := pair{
		name: p.Name(), role: role, loc: loc, early: early, late: late, law: l, half: c.halfWidth(l), limit: d.Limit,
		path: pathKey{p.Picture, p.Sound, p.Destination},
	}
	if c.paths[out.path] {
		c.refuse(at, fmt.Sprintf("the pair %s is listed twice", out.name), "each pair once")
		return
	}
	c.paths[out.path] = true
	out.class = c.rig.levels.class(levelClass{law: l, width: early + late})
	out.picture = c.onPath(at, picture.Controls, d.PictureControls)
	out.sound = c.onPath(at, sound.Controls, d.SoundControls)
	if p.LocationMS == nil || c.anyWithoutValue(out.picture) || c.anyWithoutValue(out.sound) {
		if role != RoleIgnored {
			out.role = RoleUnknown
		}
		out.unknown = true
	}
	c.rig.pairs = append(c.rig.pairs, out)
}

func (c *compiler) onPath(at string, chain, tail []string) []int {
	var out []int
	all := append(append([]string{}, chain...), tail...)
	c.distinct(at, all)
	for _, name := range all {
		if k, ok := c.controls[name]; ok {
			out = append(out, k)
		}
	}
	return out
}

func (c *compiler) anyWithoutValue(controls []int) bool {
	for _, k := range controls {
		if c.noValue[k] {
			return true
		}
	}
	return false
}
