package estimate

import (
	"cmp"
	"maps"
	"slices"
	"strings"
	"sync/atomic"

	"delaybook/domain/adjust"
	"delaybook/domain/exact"
)

// A component is the rows that are tied together by columns, units, levels or
// phases.
type component struct {
	rows   []*observation // by ID
	pseudo []pseudoRow
	names  []string       // fixed columns: latencies bytewise, then cards
	fixed  map[string]int // index in names
	system *exact.System  // of the fixed columns
	solved map[string]int // adjust column of the fixed columns with a pivot
	units  map[string]int // adjust column
	kinds  map[string]string
	levels map[string]int // adjust column of eye levels
	frames map[string]float64
	blocks [][]int // row indexes

	designs map[design][]adjust.Term // adjust columns of each design row
	classes []string                 // of variance, sorted

	last atomic.Pointer[solved] // what was solved last
}

// same reports whether two components rest on the same.
func (c *component) same(o *component) bool {
	return slices.Equal(c.rows, o.rows) && slices.EqualFunc(c.pseudo, o.pseudo, func(a, b pseudoRow) bool {
		return a.name == b.name && a.card == b.card && a.unnamed == b.unnamed && a.value == b.value && a.variance == b.variance &&
			slices.Equal(a.columns, b.columns) && slices.Equal(a.coef, b.coef)
	})
}

// A design is what tells design rows apart: columns and units of the pair, card
// and level.
type design struct {
	pair           *pair
	card, eyeLevel string
}

func (o *observation) design() design { return design{o.pair, o.card, o.eyeLevel} }

func isCard(column string) bool {
	return strings.HasPrefix(column, namedCard) || strings.HasPrefix(column, unnamedCard)
}

// arrange names the columns, finds those that the rows determine and forms the
// blocks.
func (c *component) arrange() error {
	c.nameColumns()
	if err := c.eliminate(); err != nil {
		return err
	}
	c.solved = map[string]int{}
	for i, name := range c.names {
		if c.system.IsPivot(i) {
			c.solved[name] = len(c.solved)
		}
	}
	next := len(c.solved)
	number := func(names map[string]int) {
		for _, name := range slices.Sorted(maps.Keys(names)) {
			names[name] = next
			next++
		}
	}
	number(c.units)
	number(c.levels)
	for _, o := range c.rows {
		if c.designs[o.design()] == nil {
			c.designs[o.design()] = c.terms(o)
		}
	}
	c.formBlocks()
	return nil
}

func (c *component) nameColumns() {
	c.fixed, c.units, c.kinds = map[string]int{}, map[string]int{}, map[string]string{}
	c.levels, c.frames = map[string]int{}, map[string]float64{}
	classes := map[string]bool{}
	c.designs = map[design][]adjust.Term{}
	for _, o := range c.rows {
		classes[o.take.name] = true
		if o.read != "" {
			classes[o.read] = true
		}
		if _, seen := c.designs[o.design()]; seen {
			continue
		}
		c.designs[o.design()] = nil
		for name := range o.columns() {
			c.fixed[name] = 0
		}
		coef, kinds := o.pair.units()
		for name := range coef {
			c.units[name], c.kinds[name] = 0, kinds[name]
			classes[unitClass+kinds[name]] = true
		}
		if o.eyeLevel != "" {
			c.levels[o.eyeLevel], c.frames[o.eyeLevel] = 0, o.frameMS
		}
	}
	c.classes = slices.Sorted(maps.Keys(classes))
	for _, p := range c.pseudo {
		for _, name := range p.columns {
			c.fixed[name] = 0
		}
	}
	c.names = slices.SortedFunc(maps.Keys(c.fixed), func(a, b string) int {
		if isCard(a) != isCard(b) {
			if isCard(a) {
				return 1
			}
			return -1
		}
		return cmp.Compare(a, b)
	})
	for i, name := range c.names {
		c.fixed[name] = i
	}
}

// eliminate brings the fixed columns of all rows to reduced row echelon form.
func (c *component) eliminate() error {
	var rows [][]exact.Term
	seen := map[[2]string]bool{}
	for _, o := range c.rows {
		if key := [2]string{o.pair.stages, o.card}; !seen[key] {
			seen[key] = true
			rows = append(rows, c.exactTerms(o.columns()))
		}
	}
	for _, p := range c.pseudo {
		row := make([]exact.Term, len(p.columns))
		for i, name := range p.columns {
			row[i] = exact.Term{Column: c.fixed[name], Coef: int64(p.coef[i])}
		}
		rows = append(rows, row)
	}
	system, err := exact.Eliminate(len(c.names), rows)
	c.system = system
	return err
}

func (c *component) exactTerms(columns map[string]int) []exact.Term {
	out := make([]exact.Term, 0, len(columns))
	for name, v := range columns {
		out = append(out, exact.Term{Column: c.fixed[name], Coef: int64(v)})
	}
	slices.SortFunc(out, func(a, b exact.Term) int { return cmp.Compare(a.Column, b.Column) })
	return out
}

// columns returns the fixed columns of an observation with their coefficients.
func (o *observation) columns() map[string]int {
	if o.card == "" {
		return o.pair.columns()
	}
	out := maps.Clone(o.pair.columns())
	out[o.card]++
	return out
}

// formBlocks joins the rows that share a phase.
func (c *component) formBlocks() {
	sets, holder := forest{}, map[phaseNode]int{}
	for i, o := range c.rows {
		sets.add()
		for _, ph := range o.phases {
			node := o.phaseNode(ph)
			if first, ok := holder[node]; ok {
				sets.join(first, i)
			} else {
				holder[node] = i
			}
		}
	}
	at := map[int]int{}
	for i := range c.rows {
		root := sets.root(i)
		b, ok := at[root]
		if !ok {
			b = len(c.blocks)
			at[root] = b
			c.blocks = append(c.blocks, nil)
		}
		c.blocks[b] = append(c.blocks[b], i)
	}
}

// model builds the adjustment. param gives the index of a variance class.
func (c *component) model(param func(class string) int) *adjust.Model {
	m := &adjust.Model{Columns: len(c.solved) + len(c.units) + len(c.levels)}
	for _, name := range slices.Sorted(maps.Keys(c.units)) {
		m.Random = append(m.Random, adjust.Random{Column: c.units[name], Param: param(unitClass + c.kinds[name])})
	}
	for _, name := range slices.Sorted(maps.Keys(c.levels)) {
		t := c.frames[name]
		m.Random = append(m.Random, adjust.Random{Column: c.levels[name], Param: -1, Known: uniformVariance(t), Kappa: uniformKappa(t)})
	}
	for _, p := range c.pseudo {
		prior := adjust.Prior{Value: p.value, Variance: p.variance}
		for i, name := range p.columns {
			if col, ok := c.solved[name]; ok {
				prior.Terms = append(prior.Terms, adjust.Term{Column: col, Coef: float64(p.coef[i])})
			}
		}
		m.Priors = append(m.Priors, prior)
	}
	m.Blocks = make([]adjust.Block, len(c.blocks))
	parts := partsOf{param: param, known: map[partsKey][]adjust.Part{}}
	for i, rows := range c.blocks {
		m.Blocks[i] = c.block(rows, parts)
	}
	return m
}

// partsOf gives rows of one kind one slice of parts.
type partsOf struct {
	param func(class string) int
	known map[partsKey][]adjust.Part
}

type partsKey struct {
	take, read string
	n          float64
}

func (p partsOf) of(o *observation) []adjust.Part {
	key := partsKey{o.take.name, o.read, o.n}
	parts, ok := p.known[key]
	if !ok {
		parts = []adjust.Part{{Param: p.param(o.take.name), Factor: 1}}
		if o.read != "" {
			parts = append(parts, adjust.Part{Param: p.param(o.read), Factor: 1 / o.n})
		}
		p.known[key] = parts
	}
	return parts
}

func (c *component) block(rows []int, parts partsOf) adjust.Block {
	b := adjust.Block{Rows: make([]adjust.Row, 0, len(rows))}
	index := map[string]int{}
	for _, i := range rows {
		for _, ph := range c.rows[i].phases {
			if _, ok := index[ph.clock]; !ok {
				index[ph.clock] = len(b.Levels)
				b.Levels = append(b.Levels, adjust.Level{Variance: uniformVariance(ph.frameMS), Kappa: uniformKappa(ph.frameMS)})
			}
		}
	}
	for _, i := range rows {
		o := c.rows[i]
		row := adjust.Row{Terms: c.designs[o.design()], Y: o.y, Known: o.knownVar(), Kappa: o.kappa, Weight: 1, Signs: make([]float64, len(b.Levels))}
		row.Parts = parts.of(o)
		if o.read != "" {
			row.Within = adjust.Within{Param: parts.param(o.read), DF: o.df, SS: o.ss}
		}
		for _, ph := range o.phases {
			row.Signs[index[ph.clock]] = float64(ph.sign)
		}
		b.Rows = append(b.Rows, row)
	}
	return b
}

// terms returns the adjust columns of a row, ascending.
func (c *component) terms(o *observation) []adjust.Term {
	out := make([]adjust.Term, 0, 4)
	for name, v := range o.columns() {
		if col, ok := c.solved[name]; ok {
			out = append(out, adjust.Term{Column: col, Coef: float64(v)})
		}
	}
	units, _ := o.pair.units()
	for name, v := range units {
		out = append(out, adjust.Term{Column: c.units[name], Coef: float64(v)})
	}
	if o.eyeLevel != "" {
		out = append(out, adjust.Term{Column: c.levels[o.eyeLevel], Coef: 1})
	}
	slices.SortFunc(out, func(a, b adjust.Term) int { return cmp.Compare(a.Column, b.Column) })
	return out
}
