package domain

import "slices"

// Chain returns the chain with slug s. The live chain is not listed and not found.
func (l *Layout) Chain(s Slug) (*Chain, bool) {
	for i := range l.Chains {
		if l.Chains[i].Slug == s {
			return &l.Chains[i], true
		}
	}
	return nil, false
}

// Destination returns the destination with slug s.
func (l *Layout) Destination(s Slug) (*Destination, bool) {
	for i := range l.Destinations {
		if l.Destinations[i].Slug == s {
			return &l.Destinations[i], true
		}
	}
	return nil, false
}

// Tail returns the stages that the destination adds to a chain of signal s.
func (d *Destination) Tail(s Signal) []Stage {
	if s == Picture {
		return d.Picture
	}
	return d.Sound
}

// A JudgedPair is a pair at one destination with its importance.
type JudgedPair struct {
	Picture     Slug
	Sound       Slug
	Destination Slug
	Importance  Importance
}

// JudgedPairs returns every pair of the layout at every destination where it
// is compared, in the order in which the crew wrote them. Without listed
// pairs these are all picture and sound chains of one subject, hard. A pair
// listed for one destination takes precedence there over the same pair listed
// for every destination. A sound chain that is only a feed has no picture and
// forms no pair of its own; that is for the crew to say with importance ignore.
func (l *Layout) JudgedPairs() []JudgedPair {
	var judged []JudgedPair
	for _, p := range l.listedOrAll() {
		for _, d := range l.Destinations {
			if p.Destination != "" && p.Destination != d.Slug {
				continue
			}
			j := JudgedPair{p.Picture, p.Sound, d.Slug, p.Importance}
			at := slices.IndexFunc(judged, func(k JudgedPair) bool {
				return k.Picture == j.Picture && k.Sound == j.Sound && k.Destination == j.Destination
			})
			switch {
			case at < 0:
				judged = append(judged, j)
			case p.Destination != "":
				judged[at] = j
			}
		}
	}
	return judged
}

func (l *Layout) listedOrAll() []Pair {
	if len(l.Pairs) > 0 {
		return l.Pairs
	}
	var all []Pair
	for _, p := range l.Chains {
		for _, s := range l.Chains {
			if p.Signal == Picture && s.Signal == Sound && p.Subject == s.Subject {
				all = append(all, Pair{Picture: p.Slug, Sound: s.Slug, Importance: Hard})
			}
		}
	}
	return all
}

// A PlacedControl is a control of a layout with every chain and tail that it delays.
type PlacedControl struct {
	Use    ControlUse
	Device DeviceID
	Signal Signal
	Chains []Slug // chains that pass it, in order
	Tails  []Slug // destinations whose tail of its signal passes it, in order
}

// Controls returns every control of the layout by its name in the rig, in the
// order of first mention.
func (l *Layout) Controls() []PlacedControl {
	var placed []PlacedControl
	place := func(signal Signal, stages []Stage, chain, tail Slug) {
		for _, s := range stages {
			for _, u := range s.Controls {
				i := slices.IndexFunc(placed, func(p PlacedControl) bool { return p.Use.Name == u.Name })
				if i < 0 {
					i = len(placed)
					placed = append(placed, PlacedControl{Use: u, Device: s.Device, Signal: signal})
				}
				if chain != "" {
					placed[i].Chains = append(placed[i].Chains, chain)
				} else {
					placed[i].Tails = append(placed[i].Tails, tail)
				}
			}
		}
	}
	for _, c := range l.Chains {
		place(c.Signal, c.Stages, c.Slug, "")
	}
	for _, d := range l.Destinations {
		place(Picture, d.Picture, "", d.Slug)
		place(Sound, d.Sound, "", d.Slug)
	}
	return placed
}

// ControlsOf returns the names of the controls that a chain of the given slug
// and signal passes on its way to destination d, in order; the live chain
// passes those of the tail alone.
func (l *Layout) ControlsOf(chain Slug, signal Signal, d *Destination) []Slug {
	var names []Slug
	add := func(stages []Stage) {
		for _, s := range stages {
			for _, u := range s.Controls {
				if !slices.Contains(names, u.Name) {
					names = append(names, u.Name)
				}
			}
		}
	}
	if c, ok := l.Chain(chain); ok {
		add(c.Stages)
	}
	if chain != LiveChain {
		add(d.Tail(signal))
	}
	return names
}

// Uses reports whether any stage of the layout is the device.
func (l *Layout) Uses(id DeviceID) bool {
	of := func(s Stage) bool { return s.Device == id }
	for _, c := range l.Chains {
		if slices.ContainsFunc(c.Stages, of) {
			return true
		}
	}
	for _, d := range l.Destinations {
		if slices.ContainsFunc(d.Picture, of) || slices.ContainsFunc(d.Sound, of) {
			return true
		}
	}
	return false
}
