package estimate

import (
	"cmp"
	"errors"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"delaybook/domain/timebase"
)

// mergeWithin is the longest time from the first measurement of a merged group.
const mergeWithin = 15 * time.Minute

// A taking is one measurement, read: its values with dials and air taken out.
type taking struct {
	m        *Measurement
	pair     *pair
	values   []float64 // as read, ms
	us       []float64
	style    style
	known    float64 // dials and air, ms: added to the values
	airK     float64 // variance of an unknown temperature
	recorded timebase.Rate
	drift    drift
	key      mergeKey
	kept     bool // the measurement is one that a reader remembers
}

// read resolves and reads a measurement. What it makes of it rests on the
// catalogue alone.
func (c *catalogue) read(m *Measurement, at string) (*taking, error) {
	if err := m.check(at); err != nil {
		return nil, err
	}
	p, err := c.pairOnce(m, at)
	if err != nil {
		return nil, readAt(err)
	}
	if m.Method == Tracks && p.first.signal != Sound {
		return nil, fault(at+".Method", "two sound chains, or another method", "tracks compares two sound chains")
	}
	if m.DistanceM != nil && *m.DistanceM != 0 && p.second.signal == Picture {
		return nil, fault(at+".DistanceM", "no distance", "two picture chains have no way through air")
	}
	t := &taking{m: m, pair: p, recorded: rateOf(m.FrameRate, p.rig.FrameRate)}
	if t.values, t.us, t.style, err = m.values(p.rig, at); err != nil {
		return nil, err
	}
	set, err := p.settings(m.Settings, at+".")
	if err != nil {
		return nil, err
	}
	dialled, missing := p.dialled(set)
	if len(missing) > 0 {
		return nil, fault(at+".Settings", "what was dialled in on "+strings.Join(missing, ", "),
			"measurement %s does not say where control %s stood", m.ID, missing[0])
	}
	celsius := usualAirC
	if m.AirC != nil {
		celsius = *m.AirC
	}
	air := airMS(p.air(m.DistanceM), celsius)
	if m.AirC == nil {
		t.airK = unknownAirVariance(air)
	}
	t.known = air - dialled
	t.drift = t.findDrift()
	t.key = t.mergeKey(set)
	return t, nil
}

// readAt renames the field of a query to that of a measurement.
func readAt(err error) error {
	var input *InputError
	if errors.As(err, &input) {
		if at, ok := strings.CutSuffix(input.Path, ".Destination"); ok {
			return &InputError{Path: at + ".ReadAt", Detail: input.Detail, Send: input.Send}
		}
	}
	return err
}

// pairNames name a pair as measurements do.
type pairNames struct {
	rig                        *Rig
	first, second, destination string
}

// pairOnce resolves the pair of a measurement, once for all measurements of it.
// It is for reading a book, which one goroutine does.
func (c *catalogue) pairOnce(m *Measurement, at string) (*pair, error) {
	names := pairNames{c.rigs[m.Rig], m.First, m.Second, cmp.Or(m.ReadAt, defaultDestination)}
	pairs := c.pairs
	if c.kept[names.rig] {
		pairs = c.lasting
	}
	if p, ok := pairs[names]; ok {
		return p, nil
	}
	p, err := c.pair(m.Rig, m.First, m.Second, m.ReadAt, at+".")
	if err == nil {
		pairs[names] = p
	}
	return p, err
}

// A mergeKey is equal for measurements that may merge, classes of their own apart.
type mergeKey struct {
	pair          *pair
	powerUp, card string
	method        Method
	eye           EyeRule
	recorded      timebase.Rate
	style         style
	hasDistance   bool
	distanceM     float64
	dials         string // where each stood
	drifts        string // ID of a measurement that drifts: it stays alone
}

func (t *taking) mergeKey(set map[string]float64) mergeKey {
	m := t.m
	k := mergeKey{
		pair: t.pair, powerUp: m.PowerUp, card: m.CardSource, method: m.Method, eye: cmp.Or(m.Eye, EyeUnknown),
		recorded: t.recorded, style: t.style,
	}
	if m.DistanceM != nil {
		k.hasDistance, k.distanceM = true, *m.DistanceM
	}
	if t.drift.found {
		k.drifts = m.ID
	}
	if len(set) == 0 {
		return k
	}
	var dials []string
	t.pair.sides(func(l *link, _ int) {
		for _, d := range l.dials {
			dials = append(dials, d.name+"="+strconv.FormatFloat(set[d.name], 'g', -1, 64))
		}
	})
	slices.Sort(dials)
	k.dials = strings.Join(slices.Compact(dials), "\x00")
	return k
}

// merge groups takings, greedily in order of time and ID. Those with a class of
// their own stay alone.
func merge(all []*taking, own map[string]Variance) [][]*taking {
	slices.SortFunc(all, func(a, b *taking) int {
		return cmp.Or(a.m.TakenAt.Compare(b.m.TakenAt), cmp.Compare(a.m.ID, b.m.ID))
	})
	groups := make([][]*taking, 0, len(all))
	open := make(map[mergeKey]int, len(all))
	for k, t := range all {
		if len(own) > 0 && own[ownClass+t.m.ID].Class != "" {
			groups = append(groups, all[k:k+1:k+1])
			continue
		}
		i, ok := open[t.key]
		if ok && t.m.TakenAt.Sub(groups[i][0].m.TakenAt) <= mergeWithin {
			groups[i] = append(groups[i], t)
			continue
		}
		open[t.key] = len(groups)
		groups = append(groups, all[k:k+1:k+1])
	}
	return groups
}

// spread returns mean, sum of squares about it and range.
func spread(values []float64) (mean, ss, width float64) {
	lo, hi := math.Inf(1), math.Inf(-1)
	for i, v := range values {
		delta := v - mean
		mean += delta / float64(i+1)
		ss += delta * (v - mean)
		lo, hi = min(lo, v), max(hi, v)
	}
	return mean, ss, hi - lo
}
