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

// newNetwork reads a book. It does not change it.
func newNetwork(b *Book) (*network, error) {
	n := &network{ofPair: map[string][]*observation{}, of: map[string]*component{}, ofUnit: map[string]*component{}}
	var err error
	if n.registry, err = newRegistry(b.Variances); err != nil {
		return nil, err
	}
	if n.catalogue, err = newCatalogue(b); err != nil {
		return nil, err
	}
	takings, err := n.catalogue.readAll(b)
	if err != nil {
		return nil, err
	}
	own := map[string]Variance{}
	for _, v := range b.Variances {
		own[v.Class] = v
	}
	for _, group := range merge(takings) {
		n.all = append(n.all, observe(group, own, n.registry.phase()))
	}
	walkPhases(n.all)
	slices.SortFunc(n.all, func(a, b *observation) int { return cmp.Compare(a.id(), b.id()) })
	for _, o := range n.all {
		n.ofPair[o.pairKey()] = append(n.ofPair[o.pairKey()], o)
	}
	n.registry.addAll(n.all)
	stated, err := n.catalogue.statedRows(b)
	if err != nil {
		return nil, err
	}
	cards, err := cardRows(b, n.all)
	if err != nil {
		return nil, err
	}
	return n, n.split(append(stated, cards...))
}

// tie joins everything that ties an observation to others and returns one node
// of it. The latencies and units of a pair are joined once, in nodes.
func (o *observation) tie(sets forest, nodes map[*pair]string) string {
	node, known := nodes[o.pair]
	if !known {
		units, _ := o.pair.units()
		var all []string
		for c := range o.pair.columns() {
			all = append(all, "column "+c)
		}
		for u := range units {
			all = append(all, "unit "+u)
		}
		for _, other := range all {
			node = all[0]
			sets.join(node, other)
		}
		nodes[o.pair] = node
	}
	if node == "" { // all that was passed is direct, or passed by both chains
		node = "row " + o.id()
	}
	if o.card != "" {
		sets.join(node, "column "+o.card)
	}
	if o.eyeLevel != "" {
		sets.join(node, "level "+o.eyeLevel)
	}
	for _, ph := range o.phases {
		sets.join(node, o.phaseNode(ph))
	}
	return node
}

// phaseNode names what observations of one phase have in common: the power-up
// and the clock.
func (o *observation) phaseNode(ph phase) string {
	return "phase " + o.powerUp() + "\x00" + ph.clock
}

// split makes the components, in the order of their first row.
func (n *network) split(pseudo []pseudoRow) error {
	slices.SortFunc(pseudo, func(a, b pseudoRow) int { return cmp.Compare(a.order, b.order) })
	sets := forest{}
	nodes := map[*pair]string{}
	rows := make([]string, len(n.all))
	for i, o := range n.all {
		rows[i] = o.tie(sets, nodes)
	}
	for _, p := range pseudo {
		for _, c := range p.columns {
			sets.join("column "+p.columns[0], "column "+c)
		}
	}
	byRoot := map[string]*component{}
	at := func(node string) *component {
		root := sets.root(node)
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
		c := at("column " + p.columns[0])
		c.pseudo = append(c.pseudo, p)
	}
	for _, c := range n.components {
		if err := c.arrange(); err != nil {
			return err
		}
		for name := range c.fixed {
			n.of[name] = c
		}
		for name := range c.units {
			n.ofUnit[name] = c
		}
	}
	return nil
}

// A forest joins names into sets.
type forest map[string]string

func (f forest) root(name string) string {
	for {
		up, ok := f[name]
		if !ok {
			return name
		}
		if above, ok := f[up]; ok {
			f[name] = above // halve the way for the next search
		}
		name = up
	}
}

func (f forest) join(a, b string) {
	if a, b = f.root(a), f.root(b); a != b {
		f[b] = a
	}
}
