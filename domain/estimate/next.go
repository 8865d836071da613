package estimate

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
)

// A CandidateKind says what a candidate measurement is.
type CandidateKind string

// The kinds of candidates.
const (
	CandidateSamePair  CandidateKind = "same-pair"  // the pair itself, never measured before, with the card
	CandidatePowerUp   CandidateKind = "power-up"   // the pair once more, as before, after a new power-up
	CandidateClap      CandidateKind = "clap"       // the pair itself, with a hand clap: no card source
	CandidateOtherPair CandidateKind = "other-pair" // another pair of the rig
	CandidateLive      CandidateKind = "live"       // one of its chains against the event itself
)

// A Candidate is a measurement that would narrow an offset.
type Candidate struct {
	Kind            CandidateKind
	Rig             string // Rig.ID
	First, Second   string
	Destination     string
	Method          Method
	NewPowerUp      bool
	SEMS            float64 // of the offset afterwards
	NextHalfWidthMS float64 // of the next power-up afterwards
	GainPercent     float64 // by how much that half-width shrinks
	Why             string
}

// leastGain is how much the half-width for the next power-up must shrink for a
// measurement to be worth the way, percent.
const leastGain = 5

// minutes is what a measurement costs: a clap needs no card set up.
var minutes = map[CandidateKind]float64{CandidateSamePair: 4, CandidatePowerUp: 4, CandidateClap: 2, CandidateOtherPair: 5, CandidateLive: 5}

// NextMeasurements returns the measurements that would narrow an offset most
// per minute of work, best first; none when nothing would help. For an offset
// that is not determined it is a measurement of the pair itself.
//
// A measurement with design row x and variance r takes
// (c'C^-1 x)^2 / (r + x'C^-1 x) off the variance of a contrast c.
func (s *Solution) NextMeasurements(q OffsetQuery) ([]Candidate, error) {
	p, err := s.network.catalogue.pair(q.Rig, q.First, q.Second, q.Destination, "")
	if err != nil {
		return nil, err
	}
	w := wantedOf(p)
	if len(s.missing(w)) > 0 {
		return []Candidate{{
			Kind: CandidateClap, Rig: q.Rig, First: q.First, Second: q.Second, Destination: p.destination, Method: Clap,
			NewPowerUp: true, GainPercent: 100, Why: "Nothing determines this offset yet: one clap at this very pair does.",
		}}, nil
	}
	base, err := s.baseline(p, w)
	if err != nil {
		return nil, err
	}
	var out []Candidate
	for _, c := range s.candidates(p) {
		if base.score(s, &c.Candidate, c.pair, c.card); c.GainPercent >= leastGain {
			out = append(out, c.Candidate)
		}
	}
	slices.SortStableFunc(out, func(a, b Candidate) int {
		return cmp.Compare(b.GainPercent/minutes[b.Kind], a.GainPercent/minutes[a.Kind])
	})
	return out, nil
}

// A baseline is an offset as it is known now.
type baseline struct {
	wanted   wanted
	variance float64
	added    float64 // by the next power-up
	half     float64 // of the next power-up
}

func (s *Solution) baseline(p *pair, w wanted) (baseline, error) {
	f := s.find(w)
	next := f.sum.Clone()
	s.addPowerUp(next, p)
	e, err := s.estimate(next, 0)
	if err != nil {
		return baseline{}, err
	}
	return baseline{wanted: w, variance: f.sum.Variance, added: next.Variance - f.sum.Variance, half: e.Law.HalfWidth95()}, nil
}

// score fills in what a candidate would leave.
func (b baseline) score(s *Solution, c *Candidate, p *pair, card string) {
	x, r := wantedOf(p), s.freshVariance(p)
	switch {
	case c.Method == Clap:
		r += 2 * uniformVariance(p.rig.FrameRate.FrameMS())
	default:
		r += usualPrior
	}
	if s.network.of[card] != nil {
		x.columns[card]++
	} else if card != "" {
		r += cardSD * cardSD
	}
	if len(s.missing(x)) > 0 {
		return
	}
	v := s.find(x).sum.Variance
	covariance := (s.find(plus(b.wanted, x)).sum.Variance - b.variance - v) / 2
	after := max(0, b.variance-covariance*covariance/(r+v))
	c.SEMS = math.Sqrt(after)
	c.NextHalfWidthMS = b.half * math.Sqrt((after+b.added)/(b.variance+b.added))
	c.GainPercent = 100 * (1 - c.NextHalfWidthMS/b.half)
	c.Why = fmt.Sprintf("It would bring the next power-up from %.0f to %.0f ms either way.", b.half, c.NextHalfWidthMS)
}

// plus adds two wanted sums.
func plus(a, b wanted) wanted {
	out := wanted{columns: maps.Clone(a.columns), units: maps.Clone(a.units), kinds: maps.Clone(a.kinds)}
	for name, v := range b.columns {
		out.columns[name] += v
	}
	for name, v := range b.units {
		out.units[name] += v
	}
	maps.Copy(out.kinds, b.kinds)
	dropZero(out.columns)
	dropZero(out.units)
	return out
}

type candidate struct {
	Candidate
	pair *pair
	card string
}

// candidates lists what could be measured on the rig of a pair.
func (s *Solution) candidates(p *pair) []candidate {
	var out []candidate
	add := func(kind CandidateKind, q *pair, method Method, card string) {
		out = append(out, candidate{Candidate{
			Kind: kind, Rig: q.rig.ID, First: q.first.chain, Second: q.second.chain, Destination: q.destination,
			Method: method, NewPowerUp: true,
		}, q, card})
	}
	add(CandidateClap, p, Clap, "")
	mixed := p.first.signal != p.second.signal
	again := CandidateSamePair
	if s.measured(p) {
		again = CandidatePowerUp
	}
	switch {
	case mixed:
		add(again, p, Clip, s.usualCard(p))
	case p.first.signal == Sound:
		add(again, p, Tracks, "")
	}
	for _, chain := range p.rig.Chains {
		for _, other := range s.otherPairs(p, chain.Slug) {
			if mixed {
				add(CandidateOtherPair, other, Clap, "")
			}
		}
	}
	for _, chain := range []string{p.first.chain, p.second.chain} {
		live, err := s.network.catalogue.pair(p.rig.ID, chain, Live, p.destination, "")
		if err == nil && chain != Live {
			add(CandidateLive, live, Clap, "")
		}
	}
	return out
}

// measured reports whether a measurement of the very pair is in the book.
func (s *Solution) measured(p *pair) bool {
	return len(s.network.ofPair[p.key()]) > 0
}

// otherPairs returns the pairs that share one chain with p and have chain as the other.
func (s *Solution) otherPairs(p *pair, chain string) []*pair {
	var out []*pair
	if chain == p.first.chain || chain == p.second.chain {
		return nil
	}
	for _, names := range [][2]string{{p.first.chain, chain}, {chain, p.second.chain}} {
		q, err := s.network.catalogue.pair(p.rig.ID, names[0], names[1], p.destination, "")
		if err == nil && q.first.signal != q.second.signal {
			out = append(out, q)
		}
	}
	return out
}

// usualCard returns the card column of the latest measurement with a card on the
// rig of a pair, else that of the rig's unnamed source if it has one.
func (s *Solution) usualCard(p *pair) string {
	card, at := "", int64(math.MinInt64)
	for _, o := range s.network.all {
		if o.card != "" && o.pair.rig.slug() == p.rig.slug() && o.takenAt().UnixNano() >= at {
			card, at = o.card, o.takenAt().UnixNano()
		}
	}
	if card == "" || strings.HasPrefix(card, unnamedCard) {
		return unnamedCard + p.rig.slug()
	}
	return card
}
