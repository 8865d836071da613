package plan

// A linker joins groups that a path or a feed passes.
type linker struct {
	owner  []int // group of a control, -1 when it is in none
	parent []int // union-find over the groups
}

func (l *linker) find(i int) int {
	for l.parent[i] != i {
		l.parent[i] = l.parent[l.parent[i]]
		i = l.parent[i]
	}
	return i
}

// link joins the groups of the controls on one path.
func (l *linker) link(path []int) {
	first := -1
	for _, c := range path {
		if l.owner[c] < 0 {
			continue
		}
		if first >= 0 {
			l.parent[l.find(l.owner[c])] = l.find(first)
		}
		first = l.owner[c]
	}
}

// parts splits groups into those linked by a common path or feed, each in list order.
func (pl *planner) parts(free []*group) [][]*group {
	l := &linker{owner: make([]int, len(pl.rig.controls)), parent: make([]int, len(free))}
	for c := range l.owner {
		l.owner[c] = -1
	}
	for i, g := range free {
		l.parent[i] = i
		for _, c := range g.members {
			l.owner[c] = i
		}
	}
	for i := range pl.rig.pairs {
		if pl.rig.pairs[i].counts() {
			l.link(pl.rig.pairs[i].sound)
		}
	}
	for i := range pl.rig.feeds {
		l.link(pl.rig.feeds[i].controls)
	}
	place := map[int]int{}
	var out [][]*group
	for i, g := range free {
		k, ok := place[l.find(i)]
		if !ok {
			k = len(out)
			place[l.find(i)] = k
			out = append(out, nil)
		}
		out[k] = append(out[k], g)
	}
	return out
}
