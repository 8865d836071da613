package plan

// pictures is rule 2: among the settings that hold the needs, the least picture delay, then fewest
// changed, fewest off their minimum, list order. Sound follows as far as the needs ask.
func (pl *planner) pictures(v *view) {
	isPicture := func(g *group) bool { return g.signal == Picture }
	any := false
	for i, g := range v.groups {
		for k := range g.vars {
			v.counted[int(v.first[i])+k] = isPicture(g)
			any = any || isPicture(g)
		}
	}
	if any {
		if f := v.weighted(pl.picturePaths(v)); f >= 0 {
			v.lessen(f)
		}
		v.fewestChanged()
		v.fewestOffMin()
		v.listOrder(isPicture)
	}
	v.controls(pl.at, v.inc)
}

// picturePaths is how many (picture chain, destination) paths each variable delays.
func (pl *planner) picturePaths(v *view) []int64 {
	weights := make([]int64, len(v.vars))
	for _, p := range pl.distinctPaths(func(k pathKey) pathKey { return pathKey{picture: k.picture, destination: k.destination} }) {
		for _, c := range pl.rig.pairs[p].picture {
			if x := v.of[c]; x >= 0 && v.vars[x].members[0] == c {
				weights[x]++
			}
		}
	}
	return weights
}

// distinctPaths is one counted pair for each distinct value of a part of its path.
func (pl *planner) distinctPaths(of func(pathKey) pathKey) []int {
	seen := map[pathKey]bool{}
	var out []int
	for i := range pl.rig.pairs {
		p := &pl.rig.pairs[i]
		if key := of(p.path); p.counts() && !seen[key] {
			seen[key] = true
			out = append(out, i)
		}
	}
	return out
}

// pictureSum is the picture delay over the (picture chain, destination) paths, ticks.
func (pl *planner) pictureSum() int64 {
	sum := int64(0)
	for _, p := range pl.distinctPaths(func(k pathKey) pathKey { return pathKey{picture: k.picture, destination: k.destination} }) {
		for _, c := range pl.rig.pairs[p].picture {
			sum += pl.rig.controls[c].grid.vals[pl.at[c]]
		}
	}
	return sum
}
