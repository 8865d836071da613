package service

import (
	"context"
	"strings"

	"delaybook/domain"
	"delaybook/domain/air"
	"delaybook/domain/book"
	"delaybook/domain/estimate"
	"delaybook/domain/ladder"
)

// Arrivals is when each chain of a rig arrives at a destination with the plan
// dialled in.
type Arrivals struct {
	Destination domain.Slug
	Ladder      ladder.Ladder // without the words of the gaps
	Gaps        []ArrivalGap  // one for each sound row that is known against a picture
}

// An ArrivalGap is what is left of the pair of a sound row that has least to spare.
type ArrivalGap struct {
	Row  int // of the ladder
	ToMS float64
	Pair DelayPair
}

// Arrivals returns the arrivals of a rig at each of its destinations.
//
// Mostly a book knows differences of latencies and not the latencies: what a
// camera and a switcher take together against a microphone. Stages that are
// known apart are shown apart. The others of a row are one length, so chosen that
// the ends of the rows are apart by what the plan leaves of their pair; when no
// row is known whole, the shortest of these lengths is left out of all.
func (s *Service) Arrivals(ctx context.Context, r Request, name string) ([]Arrivals, error) {
	b, err := s.bookFor(ctx, r)
	if err != nil {
		return nil, err
	}
	rig, err := r.Caller.rig(b, name)
	if err != nil {
		return nil, err
	}
	delays, err := s.delaysOf(ctx, b, rig, "")
	if err != nil {
		return nil, err
	}
	solution, err := s.solution(b)
	if err != nil {
		return nil, err
	}
	layout := &rig.Current().Layout
	var all []Arrivals
	for i := range layout.Destinations {
		w := waysTo{book: b, layout: layout, at: &layout.Destinations[i], solution: solution, names: deviceNames(b), delays: delays}
		if one, ok, err := w.arrivals(); err != nil {
			return nil, err
		} else if ok {
			all = append(all, one)
		}
	}
	return all, nil
}

// waysTo works out the ways of the chains to one destination.
type waysTo struct {
	book     *book.Book
	layout   *domain.Layout
	at       *domain.Destination
	solution *estimate.Solution
	names    map[domain.DeviceID]string
	delays   *Delays
	pairs    []DelayPair
}

// A way is one row under construction.
type way struct {
	chain    domain.Slug
	signal   domain.Signal
	known    []ladder.Length
	together []string // stages that are not known apart
	dialled  []ladder.Length
	placed   bool    // its end is known against the others
	endMS    float64 // against the first row that was placed
	halfMS   float64 // a picture: of the difference to the sound by which it was placed
}

func (w *waysTo) arrivals() (Arrivals, bool, error) {
	var ways []*way
	find := func(chain domain.Slug, signal domain.Signal) error {
		for _, x := range ways {
			if x.chain == chain && x.signal == signal {
				return nil
			}
		}
		x, err := w.way(chain, signal)
		ways = append(ways, x)
		return err
	}
	for _, p := range w.delays.Pairs {
		if p.Destination != w.at.Slug || p.Importance == domain.Ignore {
			continue
		}
		w.pairs = append(w.pairs, p)
		if err := find(p.Picture, domain.Picture); err != nil {
			return Arrivals{}, false, err
		}
	}
	for _, p := range w.pairs {
		if err := find(p.Sound, domain.Sound); err != nil {
			return Arrivals{}, false, err
		}
	}
	if len(ways) == 0 {
		return Arrivals{}, false, nil
	}
	w.place(ways)
	out := Arrivals{Destination: w.at.Slug}
	out.Ladder.LeftOut = align(ways)
	for _, x := range ways {
		out.Ladder.Rows = append(out.Ladder.Rows, x.row())
	}
	w.gaps(&out, ways)
	return out, true, nil
}

// way returns the stages of a chain and of the destination's tail.
func (w *waysTo) way(slug domain.Slug, signal domain.Signal) (*way, error) {
	x := &way{chain: slug, signal: signal}
	var stages []domain.Stage
	metres := 0.0
	if chain, ok := w.layout.Chain(slug); ok {
		stages, metres = append(stages, chain.Stages...), chain.AirM
	}
	if slug != domain.LiveChain {
		stages, metres = append(stages, w.at.Tail(signal)...), metres+w.at.AirM
	}
	if signal == domain.Sound && metres > 0 {
		room, err := air.At(air.DefaultCelsius)
		if err != nil {
			return nil, err
		}
		x.known = append(x.known, ladder.Length{Name: "air", Kind: ladder.Air, MS: metres * room.MSPerMetre()})
	}
	for _, stage := range stages {
		if err := w.stage(x, stage); err != nil {
			return nil, err
		}
	}
	for _, set := range w.delays.Settings {
		for _, name := range w.layout.ControlsOf(slug, signal, w.at) {
			if set.Placed.Use.Name == name && set.Placed.Signal == signal {
				x.dialled = append(x.dialled, ladder.Length{Name: string(name), Kind: ladder.Dialled, MS: set.MS})
			}
		}
	}
	return x, nil
}

func (w *waysTo) stage(x *way, stage domain.Stage) error {
	device, _ := w.book.Device(stage.Device)
	mode, _ := device.ModeByID(stage.Mode)
	l, err := w.solution.Latency(estimate.LatencyQuery{
		Device: w.names[stage.Device], Mode: string(mode.Slug), Signal: estimate.Signal(x.signal),
	})
	switch {
	case err != nil:
		return err
	case l.Direct:
	case l.Determined && l.Estimate.ValueMS >= 0 && stage.Timing != domain.Free:
		half := (l.Estimate.Interval[1] - l.Estimate.Interval[0]) / 2
		x.known = append(x.known, ladder.Length{Name: string(device.Slug), Kind: ladder.Stage, MS: l.Estimate.ValueMS, HalfMS: half})
	default:
		// A free source waits for the frames of the next stage, which no latency says.
		x.together = append(x.together, string(device.Slug))
	}
	return nil
}

func (x *way) row() ladder.Row {
	row := ladder.Row{Name: string(x.chain), Sound: x.signal == domain.Sound, Unknown: !x.placed}
	if row.Unknown {
		return row
	}
	row.Lengths = append(row.Lengths, x.known...)
	if rest := x.restMS(); len(x.together) > 0 || rest > 0 {
		name := strings.Join(x.together, " and ")
		if name == "" {
			name = "not explained by stages" // rounding, or readings that disagree
		}
		row.Lengths = append(row.Lengths, ladder.Length{Name: name, Kind: ladder.Together, MS: max(0, rest), HalfMS: x.halfMS})
	}
	row.Lengths = append(row.Lengths, x.dialled...)
	return row
}

// gaps finds, for each sound row, the pair of it that has least to spare.
func (w *waysTo) gaps(out *Arrivals, ways []*way) {
	for i, x := range ways {
		if x.signal != domain.Sound || !x.placed {
			continue
		}
		worst := -1
		for k, p := range w.pairs {
			if p.Sound == x.chain && p.Known && (worst < 0 || p.SpareMS() < w.pairs[worst].SpareMS()) {
				worst = k
			}
		}
		if worst < 0 {
			continue
		}
		for k, y := range ways {
			if y.signal == domain.Picture && y.chain == w.pairs[worst].Picture {
				out.Gaps = append(out.Gaps, ArrivalGap{Row: i, ToMS: out.Ladder.Rows[k].EndMS(), Pair: w.pairs[worst]})
			}
		}
	}
}
