package service

import (
	"fmt"
	"slices"

	"delaybook/domain"
)

// NewChain is a chain as a caller describes it.
type NewChain struct {
	Slug    string
	Signal  string
	Subject string // empty: stage
	AirM    *float64
	Stages  []NewStage
}

// NewStage is a stage as a caller describes it.
type NewStage struct {
	Device   string
	Mode     string
	Unit     string // tag; empty: unnamed
	Timing   string // empty: unknown
	Controls []NewControlUse
}

// NewControlUse places a control in a stage.
type NewControlUse struct {
	Control string
	Name    string // empty: the control's slug
	Ours    *bool  // nil: as the control says
}

// NewDestination is a destination as a caller describes it.
type NewDestination struct {
	Slug    string
	Limit   string // empty: the default limit
	AirM    *float64
	Picture []NewStage
	Sound   []NewStage
	Seats   []NewSeat
}

// NewSeat is a seat as a caller describes it.
type NewSeat struct {
	Slug string
	AirM *float64
}

// NewFeed is a feed as a caller describes it.
type NewFeed struct {
	Slug       string
	Chain      string
	MaxAddedMS *float64
}

// NewPair is a pair as a caller describes it.
type NewPair struct {
	Picture     string
	Sound       string
	Destination string // empty: every one
	Importance  string // empty: hard
}

// DefaultLimit is the limit of a destination that names none.
const DefaultLimit = "ebu-r37"

// Bounds on the size of a rig, far above any that is built.
const (
	maxChains       = 200
	maxStages       = 50
	maxDestinations = 20
	maxPairs        = 5000
	maxAirM         = 1000
)

// resolveLayout finds what the description of a rig names, and notes all that
// is wrong with it.
func resolveLayout(bad *domain.Fields, b offer, in NewRig) *domain.Layout {
	l := &domain.Layout{FrameRate: checkRate(bad, "/frame_rate", in.FrameRate)}
	bad.Check(in.FrameRate != "", "/frame_rate", "it is missing", `the frame rate of the job, such as "29.97"`)
	bad.Check(len(in.Chains) > 0, "/chains", "the rig has no chains", "at least one chain")
	if len(in.Chains) > maxChains || len(in.Destinations) > maxDestinations || len(in.Pairs) > maxPairs || len(in.Feeds) > maxChains {
		bad.Add("", "the rig is larger than any that is built",
			fmt.Sprintf("at most %d chains, %d feeds, %d destinations and %d pairs", maxChains, maxChains, maxDestinations, maxPairs))
		return l
	}
	for i, c := range in.Chains {
		l.Chains = append(l.Chains, resolveChain(bad, b, l, fmt.Sprintf("/chains/%d", i), c))
	}
	if len(in.Destinations) == 0 {
		in.Destinations = []NewDestination{{Slug: string(domain.DefaultDestination)}}
	}
	for i, d := range in.Destinations {
		l.Destinations = append(l.Destinations, resolveDestination(bad, b, l, fmt.Sprintf("/destinations/%d", i), d))
	}
	for i, f := range in.Feeds {
		l.Feeds = append(l.Feeds, resolveFeed(bad, l, fmt.Sprintf("/feeds/%d", i), f))
	}
	for i, p := range in.Pairs {
		l.Pairs = append(l.Pairs, resolvePair(bad, l, fmt.Sprintf("/pairs/%d", i), p))
	}
	checkShared(bad, l)
	return l
}

func resolveChain(bad *domain.Fields, b offer, l *domain.Layout, at string, in NewChain) domain.Chain {
	c := domain.Chain{
		Slug: checkSlug(bad, at+"/slug", in.Slug), Signal: domain.Signal(in.Signal),
		Subject: checkText(bad, at+"/subject", in.Subject, optional), AirM: metres(bad, at+"/air_m", in.AirM),
	}
	if c.Subject == "" {
		c.Subject = domain.DefaultSubject
	}
	bad.Check(c.Slug != domain.LiveChain, at+"/slug", "live is the event itself; it has no stages and is always there", "another slug")
	bad.Check(c.Signal.Valid(), at+"/signal", fmt.Sprintf("%q is not a signal", short(in.Signal)), "picture or sound")
	bad.Check(c.AirM == 0 || c.Signal == domain.Sound, at+"/air_m", "only sound travels through air slowly enough to count", "no air_m on a picture chain")
	bad.Check(len(in.Stages) > 0, at+"/stages", "the chain has no stages", "at least one stage, or use the chain live")
	if _, taken := l.Chain(c.Slug); taken {
		bad.Add(at+"/slug", "another chain has it", "another slug")
	}
	c.Stages = resolveStages(bad, b, at+"/stages", c.Signal, in.Stages)
	return c
}

func metres(bad *domain.Fields, pointer string, x *float64) float64 {
	checkNumber(bad, pointer, x, 0, maxAirM, "a distance in metres")
	if x == nil {
		return 0
	}
	return *x
}

func resolveStages(bad *domain.Fields, b offer, at string, signal domain.Signal, in []NewStage) []domain.Stage {
	if len(in) > maxStages {
		bad.Add(at, "the chain is longer than any that is built", fmt.Sprintf("at most %d stages", maxStages))
		return nil
	}
	var stages []domain.Stage
	for i, s := range in {
		stages = append(stages, resolveStage(bad, b, fmt.Sprintf("%s/%d", at, i), signal, s))
	}
	return stages
}

func resolveStage(bad *domain.Fields, b offer, at string, signal domain.Signal, in NewStage) domain.Stage {
	st := domain.Stage{Timing: domain.Timing(in.Timing)}
	if st.Timing == "" {
		st.Timing = domain.UnknownTiming
	}
	bad.Check(st.Timing.Valid(), at+"/timing", fmt.Sprintf("%q is not a timing", short(in.Timing)), "house, free or unknown")
	d, ok := b.DeviceBySlug(domain.Slug(in.Device))
	if !ok {
		bad.Add(at+"/device", fmt.Sprintf("there is no device %q", short(in.Device)), "the slug of a device of the catalogue")
		return st
	}
	st.Device = d.ID
	if m, ok := d.Mode(domain.Slug(in.Mode)); ok && b.has(m.ID.UUID, m.Retired) {
		st.Mode = m.ID
	} else {
		bad.Add(at+"/mode", fmt.Sprintf("%s has no mode %q", d.Slug, short(in.Mode)), "one of "+modeList(d))
	}
	if in.Unit != "" {
		if u, ok := d.Unit(in.Unit); ok && b.has(u.ID.UUID, u.Retired) {
			st.Unit = u.ID
		} else {
			bad.Add(at+"/unit", fmt.Sprintf("%s has no unit %q", d.Slug, short(in.Unit)), "the tag of one of its units, or nothing")
		}
	}
	for i, use := range in.Controls {
		st.Controls = append(st.Controls, resolveUse(bad, b, d, fmt.Sprintf("%s/controls/%d", at, i), signal, use))
	}
	return st
}

func modeList(d *domain.Device) string {
	list := ""
	for _, m := range d.Modes {
		if !m.Retired {
			list += ", " + string(m.Slug)
		}
	}
	if list == "" {
		return "its modes: it has none yet"
	}
	return list[2:]
}

func resolveUse(bad *domain.Fields, b offer, d *domain.Device, at string, signal domain.Signal, in NewControlUse) domain.ControlUse {
	use := domain.ControlUse{Name: domain.Slug(in.Name), Ours: in.Ours}
	if in.Name == "" {
		use.Name = domain.Slug(in.Control)
	} else {
		checkSlug(bad, at+"/name", in.Name)
	}
	c, ok := d.Control(domain.Slug(in.Control))
	if !ok || !b.has(c.ID.UUID, c.Retired) {
		bad.Add(at+"/control", fmt.Sprintf("%s has no control %q", d.Slug, short(in.Control)), "the slug of one of its controls")
		return use
	}
	bad.Check(c.Signal == signal, at+"/control", fmt.Sprintf("it delays %s, the chain carries %s", c.Signal, signal), "a control of the chain's signal")
	use.Control = c.ID
	return use
}

func resolveDestination(bad *domain.Fields, b offer, l *domain.Layout, at string, in NewDestination) domain.Destination {
	if in.Limit == "" {
		in.Limit = DefaultLimit
	}
	checkLimit(bad, b.Book, at+"/limit", in.Limit)
	d := domain.Destination{
		Slug: checkSlug(bad, at+"/slug", in.Slug), Limit: domain.Slug(in.Limit), AirM: metres(bad, at+"/air_m", in.AirM),
		Picture: resolveStages(bad, b, at+"/picture", domain.Picture, in.Picture),
		Sound:   resolveStages(bad, b, at+"/sound", domain.Sound, in.Sound),
	}
	for i, seat := range in.Seats {
		d.Seats = append(d.Seats, resolveSeat(bad, &d, fmt.Sprintf("%s/seats/%d", at, i), seat))
	}
	if _, taken := l.Destination(d.Slug); taken {
		bad.Add(at+"/slug", "another destination has it", "another slug")
	}
	return d
}

func resolveSeat(bad *domain.Fields, d *domain.Destination, at string, in NewSeat) domain.Seat {
	seat := domain.Seat{Slug: checkSlug(bad, at+"/slug", in.Slug), AirM: metres(bad, at+"/air_m", in.AirM)}
	bad.Check(in.AirM != nil, at+"/air_m", "it is missing", "the metres of air between loudspeaker and seat")
	taken := slices.ContainsFunc(d.Seats, func(o domain.Seat) bool { return o.Slug == seat.Slug })
	bad.Check(!taken, at+"/slug", "another seat has it", "another slug")
	return seat
}

func resolveFeed(bad *domain.Fields, l *domain.Layout, at string, in NewFeed) domain.Feed {
	f := domain.Feed{Slug: checkSlug(bad, at+"/slug", in.Slug), Chain: domain.Slug(in.Chain)}
	c, ok := l.Chain(f.Chain)
	bad.Check(ok && c.Signal == domain.Sound, at+"/chain", fmt.Sprintf("there is no sound chain %q", short(in.Chain)), "the slug of a sound chain of the rig")
	bad.Check(in.MaxAddedMS != nil, at+"/max_added_ms", "it is missing", "the most delay in ms that the feed may be given")
	checkNumber(bad, at+"/max_added_ms", in.MaxAddedMS, 0, maxOffsetMS, "a delay in ms")
	if in.MaxAddedMS != nil {
		f.MaxAddedMS = *in.MaxAddedMS
	}
	taken := slices.ContainsFunc(l.Feeds, func(o domain.Feed) bool { return o.Slug == f.Slug })
	bad.Check(!taken, at+"/slug", "another feed has it", "another slug")
	return f
}

func resolvePair(bad *domain.Fields, l *domain.Layout, at string, in NewPair) domain.Pair {
	p := domain.Pair{
		Picture: domain.Slug(in.Picture), Sound: domain.Slug(in.Sound), Destination: domain.Slug(in.Destination),
		Importance: domain.Importance(in.Importance),
	}
	if p.Importance == "" {
		p.Importance = domain.Hard
	}
	bad.Check(p.Importance.Valid(), at+"/importance", fmt.Sprintf("%q is not an importance", short(in.Importance)), "hard, soft or ignore")
	bad.Check(carries(l, p.Picture, domain.Picture), at+"/picture", fmt.Sprintf("there is no picture chain %q", short(in.Picture)), "the slug of a picture chain of the rig, or live")
	bad.Check(carries(l, p.Sound, domain.Sound), at+"/sound", fmt.Sprintf("there is no sound chain %q", short(in.Sound)), "the slug of a sound chain of the rig, or live")
	if p.Destination != "" {
		_, ok := l.Destination(p.Destination)
		bad.Check(ok, at+"/destination", fmt.Sprintf("there is no destination %q", short(in.Destination)), "the slug of a destination of the rig, or nothing for all")
	}
	same := func(o domain.Pair) bool {
		return o.Picture == p.Picture && o.Sound == p.Sound && o.Destination == p.Destination
	}
	bad.Check(!slices.ContainsFunc(l.Pairs, same), at, "the pair is listed twice", "each pair once per destination")
	return p
}

func carries(l *domain.Layout, chain domain.Slug, signal domain.Signal) bool {
	if chain == domain.LiveChain {
		return true
	}
	c, ok := l.Chain(chain)
	return ok && c.Signal == signal
}

// checkShared makes sure that one name means one control: the same stage
// (device, mode and unit) and the same control wherever it stands.
func checkShared(bad *domain.Fields, l *domain.Layout) {
	type identity struct {
		stage   domain.Equipment
		control domain.ControlID
		tail    bool // in a chain and in a tail it would delay twice
	}
	seen := map[domain.Slug]identity{}
	check := func(at string, tail bool, stages []domain.Stage) {
		within := map[domain.Slug]bool{}
		for i, s := range stages {
			for j, u := range s.Controls {
				here := identity{s.Equipment(), u.Control, tail}
				here.stage.Timing = ""
				before, named := seen[u.Name]
				pointer := fmt.Sprintf("%s/%d/controls/%d/name", at, i, j)
				switch {
				case named && before != here:
					bad.Add(pointer, fmt.Sprintf("%q is the name of another control", u.Name), "one name for one control of one stage")
				case within[u.Name]:
					bad.Add(pointer, fmt.Sprintf("%q stands twice in one chain", u.Name), "each control once in a chain")
				}
				seen[u.Name], within[u.Name] = here, true
			}
		}
	}
	for i, c := range l.Chains {
		check(fmt.Sprintf("/chains/%d/stages", i), false, c.Stages)
	}
	for i, d := range l.Destinations {
		check(fmt.Sprintf("/destinations/%d/picture", i), true, d.Picture)
		check(fmt.Sprintf("/destinations/%d/sound", i), true, d.Sound)
	}
}
