package estimate

import (
	"cmp"
	"slices"
)

// A network is a book read: its observations and pseudo-rows in components that
// share nothing but their variances.
type network struct {
	catalogue  *catalogue
	registry   *registry
	all        []*observation // by ID
	ofPair     map[string][]*observation
	components []*component
	of         map[string]*component // by fixed column
	ofUnit     map[string]*component // by unit
}

// split makes the components, not arranged yet, in the order of their first row.
func (n *network) split(pseudo []pseudoRow) {
	slices.SortFunc(pseudo, func(a, b pseudoRow) int { return cmp.Compare(a.order, b.order) })
	t := ties{sets: &forest{}, names: map[string]int{}, phases: map[phaseNode]int{}, pairs: map[*pair]int{}}
	rows := make([]int, len(n.all))
	for i, o := range n.all {
		rows[i] = t.row(o)
	}
	for _, p := range pseudo {
		for _, c := range p.columns {
			t.sets.join(t.name("column ", p.columns[0]), t.name("column ", c))
		}
	}
	byRoot := map[int]*component{}
	at := func(node int) *component {
		root := t.sets.root(node)
		c := byRoot[root]
		if c == nil {
			c = &component{}
			byRoot[root] = c
			n.components = append(n.components, c)
		}
		return c
	}
	for i, o := range n.all {
		c := at(rows[i])
		c.rows = append(c.rows, o)
	}
	for _, p := range pseudo {
		c := at(t.name("column ", p.columns[0]))
		c.pseudo = append(c.pseudo, p)
	}
}

// enter notes what an arranged component holds.
func (n *network) enter(c *component) {
	for name := range c.fixed {
		n.of[name] = c
	}
	for name := range c.units {
		n.ofUnit[name] = c
	}
}

// ties joins what observations have in common.
type ties struct {
	sets   *forest
	names  map[string]int // columns, units and levels
	phases map[phaseNode]int
	pairs  map[*pair]int // a node of each
}

func (t *ties) name(kind, name string) int {
	key := kind + name
	node, known := t.names[key]
	if !known {
		node = t.sets.add()
		t.names[key] = node
	}
	return node
}

// row joins everything that ties an observation to others and returns one node
// of it. The latencies and units of a pair are joined once.
func (t *ties) row(o *observation) int {
	node, known := t.pairs[o.pair]
	if !known {
		units, _ := o.pair.units()
		node = -1
		join := func(other int) {
			if node < 0 {
				node = other
			}
			t.sets.join(node, other)
		}
		for c := range o.pair.columns() {
			join(t.name("column ", c))
		}
		for u := range units {
			join(t.name("unit ", u))
		}
		t.pairs[o.pair] = node
	}
	if node < 0 { // all that was passed is direct, or passed by both chains
		node = t.sets.add()
	}
	if o.card != "" {
		t.sets.join(node, t.name("column ", o.card))
	}
	if o.eyeLevel != "" {
		t.sets.join(node, t.name("level ", o.eyeLevel))
	}
	for _, ph := range o.phases {
		key := o.phaseNode(ph)
		other, known := t.phases[key]
		if !known {
			other = t.sets.add()
			t.phases[key] = other
		}
		t.sets.join(node, other)
	}
	return node
}

// A forest joins nodes, numbered from 0, into sets.
type forest struct{ up []int }

// add adds a set of one node.
func (f *forest) add() int {
	f.up = append(f.up, len(f.up))
	return len(f.up) - 1
}

func (f *forest) root(node int) int {
	for f.up[node] != node {
		f.up[node] = f.up[f.up[node]] // halve the way for the next search
		node = f.up[node]
	}
	return node
}

func (f *forest) join(a, b int) {
	if a, b = f.root(a), f.root(b); a != b {
		f.up[b] = a
	}
}
