package plan_test

import (
	"fmt"
	"slices"
	"strings"

	"delaybook/domain/plan"
)

// best is the setting the objective asks for.
func (n *naive) best() *setting {
	n.safe()
	left := n.keep(n.settings, func(s *setting) bool {
		for p, want := range n.need {
			if s.level[p] < want {
				return false
			}
		}
		return true
	})
	left = n.restPictures(left)
	return n.restSounds(left)
}

func (n *naive) keep(from []*setting, ok func(s *setting) bool) []*setting {
	var out []*setting
	for _, s := range from {
		if ok(s) {
			out = append(out, s)
		}
	}
	return out
}

// least keeps the settings with the least cost.
func (n *naive) least(from []*setting, cost func(s *setting) int64) []*setting {
	var out []*setting
	best := int64(0)
	for _, s := range from {
		switch c := cost(s); {
		case len(out) == 0 || c < best:
			out, best = []*setting{s}, c
		case c == best:
			out = append(out, s)
		}
	}
	return out
}

func (n *naive) possible(pairs []int, want func(p int) int) bool {
	return slices.ContainsFunc(n.settings, func(s *setting) bool {
		return !slices.ContainsFunc(pairs, func(p int) bool { return s.level[p] < want(p) })
	})
}

func (n *naive) hardPairs() []int {
	var out []int
	for p := range n.p.Pairs {
		if n.kept(p) {
			out = append(out, p)
		}
	}
	return out
}

func (n *naive) atTarget(int) int { return n.target }

// conflict deletes from the front of the list whatever is not needed to stay impossible.
func (n *naive) conflict(pairs []int, want func(p int) int) []int {
	left := slices.Clone(pairs)
	for _, p := range pairs {
		without := slices.DeleteFunc(slices.Clone(left), func(q int) bool { return q == p })
		if !n.possible(without, want) {
			left = without
		}
	}
	return left
}

func (n *naive) safe() {
	n.joint = n.target
	hard := n.hardPairs()
	if n.possible(hard, n.atTarget) {
		for _, p := range hard {
			n.need[p] = n.target
		}
		return
	}
	solo, floor := map[int]int{}, map[int]int{}
	for _, p := range hard {
		early, late := n.window(p)
		middle := n.levelAt(p, floorHalf(early-late), 0)
		floor[p] = min(500, (middle+1)/2)
		solo[p] = -1 << 40
		for _, s := range n.settings {
			solo[p] = max(solo[p], min(n.target, s.level[p]))
		}
		n.given[p] = solo[p] < floor[p]
	}
	want := func(p int) int { return floor[p] }
	for !n.possible(n.hardPairs(), want) {
		drop, most := -1, -1
		for _, p := range n.conflict(n.hardPairs(), want) {
			clashes := 0
			for _, q := range n.hardPairs() {
				if q != p && !n.possible([]int{p, q}, want) {
					clashes++
				}
			}
			if clashes >= most {
				drop, most = p, clashes
			}
		}
		n.given[drop] = true
	}
	hard = n.hardPairs()
	at := func(l int) func(int) int { return func(p int) int { return max(floor[p], min(l, solo[p])) } }
	for n.joint = n.target; !n.possible(hard, at(n.joint)); {
		n.joint--
	}
	for _, p := range hard {
		n.need[p] = at(n.joint)(p)
	}
}

func floorHalf(x int64) int64 {
	if x < 0 {
		return -((1 - x) / 2)
	}
	return x / 2
}

func (n *naive) changed(c int, s *setting) int64 {
	if n.now[c] != -2 && n.now[c] != s.at[c] {
		return 1
	}
	return 0
}

// sum adds a cost over the controls that satisfy a condition.
func (n *naive) sum(s *setting, which func(c int) bool, cost func(c int) int64) int64 {
	total := int64(0)
	for c := range n.delays {
		if which(c) {
			total += cost(c)
		}
	}
	return total
}

func (n *naive) restPictures(left []*setting) []*setting {
	isPicture := func(c int) bool { return n.p.Controls[c].Signal == plan.Picture }
	left = n.least(left, n.pictureSum)
	left = n.least(left, func(s *setting) int64 { return n.sum(s, isPicture, func(c int) int64 { return n.changed(c, s) }) })
	left = n.least(left, func(s *setting) int64 {
		return n.sum(s, isPicture, func(c int) int64 { return int64(min(s.at[c], 1)) })
	})
	return n.listOrder(left, isPicture)
}

func (n *naive) pictureSum(s *setting) int64 {
	seen, total := map[string]bool{}, int64(0)
	for p, pr := range n.p.Pairs {
		key := pr.Picture + "|" + pr.Destination
		if n.counts(p) && !seen[key] {
			seen[key] = true
			for _, c := range n.pictures[p] {
				total += n.delays[c][s.at[c]]
			}
		}
	}
	return total
}

// listOrder is rule 4 over the controls that satisfy a condition.
func (n *naive) listOrder(left []*setting, which func(c int) bool) []*setting {
	members := map[string][]int{}
	var order []string
	for c := range n.delays {
		if which(c) {
			key := n.incidence(c)
			if members[key] == nil {
				order = append(order, key)
			}
			members[key] = append(members[key], c)
		}
	}
	for _, key := range order {
		left = n.least(left, func(s *setting) int64 {
			return -n.sum(s, func(c int) bool { return slices.Contains(members[key], c) }, func(c int) int64 { return n.delays[c][s.at[c]] })
		})
	}
	for _, key := range order {
		for _, c := range members[key] {
			left = n.least(left, func(s *setting) int64 { return -n.delays[c][s.at[c]] })
		}
	}
	return left
}

func (n *naive) incidence(c int) string {
	var b strings.Builder
	b.WriteString(string(n.p.Controls[c].Signal))
	for p := range n.p.Pairs {
		if n.counts(p) && (slices.Contains(n.pictures[p], c) || slices.Contains(n.sounds[p], c)) {
			fmt.Fprintf(&b, " pair %d", p)
		}
	}
	for f := range n.p.Feeds {
		if slices.Contains(n.feedControls(f), c) {
			fmt.Fprintf(&b, " feed %d", f)
		}
	}
	return b.String()
}

func (n *naive) restSounds(left []*setting) *setting {
	var free []int
	for c := range n.delays {
		if n.p.Controls[c].Signal == plan.Sound && len(n.delays[c]) > 1 {
			free = append(free, c)
		}
	}
	for len(free) > 0 {
		part := n.partOf(free[0], free)
		best := n.bestPart(left, part)
		most := 0
		for _, c := range part {
			most = max(most, n.soundPaths(c))
		}
		for _, c := range part {
			if n.soundPaths(c) == most {
				left = n.keep(left, func(s *setting) bool { return s.at[c] == best.at[c] })
				free = slices.DeleteFunc(free, func(x int) bool { return x == c })
			}
		}
	}
	return left[0]
}

func (n *naive) soundPaths(c int) int {
	seen := map[string]bool{}
	for p, pr := range n.p.Pairs {
		if n.counts(p) && slices.Contains(n.sounds[p], c) {
			seen[pr.Sound+"|"+pr.Destination] = true
		}
	}
	return len(seen)
}

// partOf is the free controls linked with one by paths and feeds.
func (n *naive) partOf(c int, free []int) []int {
	var sets [][]int
	for p := range n.p.Pairs {
		if n.counts(p) {
			sets = append(sets, n.sounds[p])
		}
	}
	for f := range n.p.Feeds {
		sets = append(sets, n.feedControls(f))
	}
	part := []int{c}
	for i := 0; i < len(part); i++ {
		for _, set := range sets {
			if !slices.Contains(set, part[i]) {
				continue
			}
			for _, x := range set {
				if slices.Contains(free, x) && !slices.Contains(part, x) {
					part = append(part, x)
				}
			}
		}
	}
	slices.Sort(part)
	return part
}

// bestPart takes the criteria of rule 3 for one part, the rest as it may.
func (n *naive) bestPart(left []*setting, part []int) *setting {
	in := func(c int) bool { return slices.Contains(part, c) }
	var hard, soft, given, all []int
	for p := range n.p.Pairs {
		if !n.counts(p) || !slices.ContainsFunc(n.sounds[p], in) {
			continue
		}
		all = append(all, p)
		switch {
		case n.kept(p):
			hard = append(hard, p)
		case n.given[p]:
			given = append(given, p)
		default:
			soft = append(soft, p)
		}
	}
	left = n.least(left, func(s *setting) int64 {
		worst := 999
		for _, p := range hard {
			worst = min(worst, s.level[p])
		}
		return -int64(worst)
	})
	for _, p := range append(slices.Clone(soft), given...) {
		left = n.least(left, func(s *setting) int64 {
			level := min(999, s.level[p])
			if len(hard) > 0 {
				level = max(0, level)
			}
			return -int64(level)
		})
	}
	left = n.least(left, func(s *setting) int64 {
		total := int64(0)
		for f := range n.p.Feeds {
			for _, c := range n.feedControls(f) {
				if in(c) {
					total += n.delays[c][s.at[c]]
				}
			}
		}
		return total
	})
	left = n.least(left, func(s *setting) int64 { return n.sum(s, in, func(c int) int64 { return n.changed(c, s) }) })
	near := hard
	if len(hard) == 0 {
		near = all
	}
	left = n.least(left, func(s *setting) int64 {
		worst := int64(0)
		for _, p := range near {
			worst = max(worst, s.after[p], -s.after[p])
		}
		return worst
	})
	left = n.least(left, func(s *setting) int64 {
		total := int64(0)
		for _, p := range all {
			total += s.after[p]
		}
		return total
	})
	left = n.least(left, func(s *setting) int64 { return n.sum(s, in, func(c int) int64 { return int64(min(s.at[c], 1)) }) })
	return n.listOrder(left, in)[0]
}
