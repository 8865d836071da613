package estimate

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// A pseudoRow is a stated value or the prior of a card source: a row of known
// variance.
type pseudoRow struct {
	name     string // for evidence
	card     bool
	unnamed  bool // an unnamed card source
	columns  []string
	coef     []int
	value    float64
	variance float64
	order    string // sorts rows
}

// statedRows reads the stated values of a book.
func (c *catalogue) statedRows(b *Book) ([]pseudoRow, error) {
	var out []pseudoRow
	for i := range b.Stated {
		row, err := c.statedRow(&b.Stated[i], fmt.Sprintf("Stated[%d]", i))
		if err != nil {
			return nil, err
		}
		out = append(out, row)
	}
	return out, nil
}

func (c *catalogue) statedRow(s *Stated, at string) (pseudoRow, error) {
	row := pseudoRow{name: s.ID, value: s.ValueMS}
	mode := c.modes[[2]string{s.Device, s.Mode}]
	if mode == nil {
		return row, fault(at, "a device and mode of the book", "there is no device %q in mode %q", s.Device, s.Mode)
	}
	signals, coef := []Signal{s.Signal}, []int{1}
	if s.Difference != nil {
		if s.Signal != "" {
			return row, fault(at, "a signal or a difference of signals", "a stated value is of one signal or of a difference")
		}
		signals, coef = s.Difference[:], []int{1, -1}
		if signals[0] == signals[1] {
			return row, fault(at+".Difference", "two different signals", "%q minus itself says nothing", signals[0])
		}
	}
	for i, signal := range signals {
		if signal != Picture && signal != Sound {
			return row, fault(at, `"picture" or "sound"`, "%q is no signal", signal)
		}
		if slices.Contains(mode.Direct, signal) {
			if len(signals) == 1 {
				return row, fault(at, "no stated value: the signal is direct, exactly 0 ms", "device %s passes %s directly", s.Device, signal)
			}
			continue
		}
		row.columns = append(row.columns, columnName(s.Device, s.Mode, signal))
		row.coef = append(row.coef, coef[i])
	}
	if len(row.columns) == 0 {
		return row, fault(at, "no stated value: both signals are direct", "device %s passes both signals directly", s.Device)
	}
	row.name = cmp.Or(s.ID, columnName(s.Device, s.Mode, cmp.Or(s.Signal, "difference")))
	row.order = fmt.Sprintf("%s\x00%d\x00%v\x00%v\x00%v", row.name, len(row.columns), s.ValueMS, s.UMS, s.HalfWidthMS)
	return row, row.setVariance(s, at)
}

func (r *pseudoRow) setVariance(s *Stated, at string) error {
	u := s.UMS
	if s.HalfWidthMS != 0 {
		if s.UMS != 0 {
			return fault(at, "u_ms or half_width_ms", "a stated value has two uncertainties")
		}
		u = s.HalfWidthMS / math.Sqrt(3)
	}
	if !(u > 1e-6 && u < largest) {
		return fault(at, "u_ms (standard uncertainty) or half_width_ms (rectangular), above 0", "a stated value without an uncertainty would be exact")
	}
	if !(math.Abs(s.ValueMS) < largest) {
		return fault(at+".ValueMS", "milliseconds", "%v is no latency", s.ValueMS)
	}
	r.variance = u * u
	return nil
}

// The standard uncertainties of a card source that nobody measured, ms. They
// widen once a measurement without a card shares its pair: then the data narrow
// them.
const (
	cardSD        = 15
	cardSDChecked = 20
)

// cardRows returns the prior of every card column in use.
func cardRows(b *Book, all []*observation) ([]pseudoRow, error) {
	listed := map[string]CardSource{}
	for i, s := range b.CardSources {
		at := fmt.Sprintf("CardSources[%d]", i)
		if _, twice := listed[namedCard+s.Slug]; twice || s.Slug == "" {
			return nil, fault(at, "a slug that no other card source has", "the card source slug %q is empty or taken", s.Slug)
		}
		if !(s.UMS == 0 || s.UMS > 1e-6 && s.UMS < largest) || !(math.Abs(s.ValueMS) < largest) {
			return nil, fault(at, "u_ms above 0, or nothing", "%v +- %v is no card offset", s.ValueMS, s.UMS)
		}
		listed[namedCard+s.Slug] = s
	}
	bare := map[string]bool{}
	for _, o := range all {
		if o.card == "" {
			bare[o.pairKey()] = true
		}
	}
	sds, unnamed := map[string]float64{}, map[string]bool{}
	for _, o := range all {
		if o.card == "" {
			continue
		}
		named := o.first().m.CardSource != ""
		unnamed[o.card] = !named
		sd := float64(cardSD)
		if named && bare[o.pairKey()] {
			sd = cardSDChecked
		}
		sds[o.card] = max(sds[o.card], sd)
	}
	var out []pseudoRow
	for column, sd := range sds {
		s := listed[column]
		sd = cmp.Or(s.UMS, sd)
		out = append(out, pseudoRow{
			name: column, card: true, unnamed: unnamed[column], columns: []string{column}, coef: []int{1},
			value: s.ValueMS, variance: sd * sd, order: column,
		})
	}
	slices.SortFunc(out, func(a, b pseudoRow) int { return cmp.Compare(a.order, b.order) })
	return out, nil
}

// pairKey identifies the pair of an observation, for card sources and clips.
func (o *observation) pairKey() string { return o.pair.key() }

func (p *pair) key() string {
	return p.rig.slug() + "\x00" + p.first.chain + "\x00" + p.second.chain + "\x00" + p.destination
}
