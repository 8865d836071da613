package estimate

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"delaybook/domain/timebase"
)

// A link is a stage of a path, resolved.
type link struct {
	device, mode string
	signal       Signal
	kind         string // of the device
	direct       bool   // no latency, no unit, no timing
	varies       bool
	unit         string // identity of the physical item
	timing       Timing // of picture, "" for sound
	clock        string // identity of the re-timing stage
	into         timebase.Rate
	dials        []dial
}

// A dial is a control at its place in a path.
type dial struct {
	name    string
	control *Control
	rate    timebase.Rate // of FrameUnit
}

// column names the latency of a link: columns sort by it bytewise.
func (l *link) column() string { return columnName(l.device, l.mode, l.signal) }

func columnName(device, mode string, signal Signal) string {
	return device + "/" + mode + "/" + string(signal)
}

// A path is one side of a comparison: a chain with the tail of a destination.
type path struct {
	chain  string
	signal Signal
	links  []link
	airM   float64 // of the chain, sound only
	tailM  float64 // of the destination, sound only
}

// A pair is two paths to one destination: the offset is the arrival of first
// minus the arrival of second.
type pair struct {
	rig           *Rig
	first, second path
	destination   string

	latencies, items map[string]int // coefficients
	kinds            map[string]string
	stages           string // see stageList
}

// defaultDestination is where chains end when nothing is said.
const defaultDestination = "programme"

func (r *Rig) slug() string { return cmp.Or(r.Slug, r.ID) }

// pair resolves two chains of a rig.
func (c *catalogue) pair(rig, first, second, destination, at string) (*pair, error) {
	r := c.rigs[rig]
	if r == nil {
		return nil, fault(at+"Rig", "a rig of the book", "there is no rig %q", rig)
	}
	dest, err := r.destination(cmp.Or(destination, defaultDestination), at)
	if err != nil {
		return nil, err
	}
	a, err := r.chain(first, at+"First")
	if err != nil {
		return nil, err
	}
	b, err := r.chain(second, at+"Second")
	if err != nil {
		return nil, err
	}
	switch {
	case first == second:
		return nil, fault(at+"Second", "two different chains", "chain %q is compared with itself", first)
	case a == nil:
		a = &Chain{Slug: Live, Signal: b.Signal}
	case b == nil:
		b = &Chain{Slug: Live, Signal: a.Signal}
	case a.Signal == Sound && b.Signal == Picture:
		return nil, fault(at+"First", fmt.Sprintf("first %q and second %q", second, first), "a picture chain comes before a sound chain")
	}
	p := &pair{rig: r, first: c.path(r, a, dest), second: c.path(r, b, dest), destination: dest.Slug}
	p.count()
	return p, nil
}

func (r *Rig) destination(slug, at string) (*Destination, error) {
	for i := range r.Destinations {
		if r.Destinations[i].Slug == slug {
			return &r.Destinations[i], nil
		}
	}
	if len(r.Destinations) == 0 && slug == defaultDestination {
		return &Destination{Slug: slug}, nil
	}
	return nil, fault(at+"Destination", "a destination of rig "+r.ID, "rig %s has no destination %q", r.ID, slug)
}

// chain returns nil for Live.
func (r *Rig) chain(slug, at string) (*Chain, error) {
	if slug == Live {
		return nil, nil
	}
	for i := range r.Chains {
		if r.Chains[i].Slug == slug {
			return &r.Chains[i], nil
		}
	}
	return nil, fault(at, "a chain of rig "+r.ID, "rig %s has no chain %q", r.ID, slug)
}

func (c *catalogue) path(r *Rig, ch *Chain, d *Destination) path {
	p := path{chain: ch.Slug, signal: ch.Signal}
	if ch.Slug == Live {
		return p
	}
	tail := d.Picture
	if ch.Signal == Sound {
		tail = d.Sound
		p.airM, p.tailM = ch.AirM, d.AirM
	}
	for i, s := range ch.Stages {
		p.links = append(p.links, c.link(r, s, ch.Signal, ch.Slug+"#"+strconv.Itoa(i)))
	}
	for i, s := range tail {
		p.links = append(p.links, c.link(r, s, ch.Signal, d.Slug+"#tail#"+strconv.Itoa(i)))
	}
	for i := range p.links {
		p.links[i].into = r.FrameRate
		if i+1 < len(p.links) {
			if next := c.modes[[2]string{p.links[i+1].device, p.links[i+1].mode}]; !next.FrameRate.IsZero() {
				p.links[i].into = next.FrameRate
			}
		}
	}
	return p
}

func (c *catalogue) link(r *Rig, s Stage, signal Signal, place string) link {
	device, mode := c.devices[s.Device], c.modes[[2]string{s.Device, s.Mode}]
	l := link{
		device: s.Device, mode: s.Mode, signal: signal, kind: device.Kind,
		direct: slices.Contains(mode.Direct, signal), varies: mode.Varies,
	}
	tag := s.Unit
	if tag == "" {
		tag = "rig " + r.slug() // anonymous: one per rig, device and signal
	} else {
		tag = "unit " + tag
		place = s.Device + " " + tag
	}
	l.unit = strings.Join([]string{s.Device, string(signal), tag}, "/")
	if signal == Picture {
		l.timing, l.clock = cmp.Or(s.Timing, UnknownTiming), place
	}
	for _, k := range s.Controls {
		control := c.control(s.Device, k.Control)
		rate := control.Rate
		if rate.IsZero() {
			rate = r.FrameRate
		}
		l.dials = append(l.dials, dial{name: cmp.Or(k.Name, k.Control), control: control, rate: rate})
	}
	return l
}

// sides visits the links of both paths with their sign.
func (p *pair) sides(visit func(l *link, sign int)) {
	for i := range p.first.links {
		visit(&p.first.links[i], 1)
	}
	for i := range p.second.links {
		visit(&p.second.links[i], -1)
	}
}

// columns returns the coefficient of every latency in the offset; it is not to
// be changed.
func (p *pair) columns() map[string]int { return p.latencies }

// units returns the coefficient of every physical item's own deviation, and the
// kinds of the items; neither is to be changed.
func (p *pair) units() (coef map[string]int, kind map[string]string) { return p.items, p.kinds }

// count fills in the coefficients and the stage list.
func (p *pair) count() {
	p.latencies, p.items, p.kinds = map[string]int{}, map[string]int{}, map[string]string{}
	p.sides(func(l *link, sign int) {
		if !l.direct {
			p.latencies[l.column()] += sign
			p.items[l.unit] += sign
			p.kinds[l.unit] = l.kind
		}
	})
	dropZero(p.latencies)
	dropZero(p.items)
	p.stages = p.stageList()
}

func dropZero(m map[string]int) {
	for k, v := range m {
		if v == 0 {
			delete(m, k)
		}
	}
}

// stageList identifies the two ways a pair goes, for errors that stay the same
// as long as nothing in them changes.
func (p *pair) stageList() string {
	var b strings.Builder
	side := func(p *path) {
		if p.chain == Live {
			b.WriteString("live")
		}
		for i := range p.links {
			l := &p.links[i]
			for _, text := range []string{l.device, "/", l.mode, "/", l.unit, "/", string(l.timing), ";"} {
				b.WriteString(text)
			}
		}
	}
	side(&p.first)
	b.WriteString("|")
	side(&p.second)
	return b.String()
}
