package service

import "delaybook/domain"

// place finds where the ends of the rows lie against each other, along the pairs
// that are known.
func (w *waysTo) place(ways []*way) {
	of := func(chain domain.Slug, signal domain.Signal) *way {
		for _, x := range ways {
			if x.chain == chain && x.signal == signal {
				return x
			}
		}
		return nil
	}
	for changed := true; changed; {
		changed = false
		for _, p := range w.pairs {
			picture, sound := of(p.Picture, domain.Picture), of(p.Sound, domain.Sound)
			if !p.Known || picture.placed && sound.placed {
				continue
			}
			switch {
			case sound.placed:
				picture.endMS, picture.halfMS = sound.endMS+p.AfterMS, p.HalfWidthMS
			case picture.placed:
				sound.endMS = picture.endMS - p.AfterMS
			case anyPlaced(ways):
				continue // its turn may come, or it has no tie to the first
			default:
				picture.endMS, picture.halfMS = p.AfterMS, p.HalfWidthMS
			}
			picture.placed, sound.placed, changed = true, true, true
		}
	}
}

func anyPlaced(ways []*way) bool {
	for _, x := range ways {
		if x.placed {
			return true
		}
	}
	return false
}

// restMS is what the stages of a placed row take that are not known apart, but
// for a length that all rows share.
func (x *way) restMS() float64 {
	rest := x.endMS
	for _, l := range x.known {
		rest -= l.MS
	}
	for _, l := range x.dialled {
		rest -= l.MS
	}
	return rest
}

// align moves all ends so that no length is negative: by a row that is known
// whole if there is one, else so that the shortest rest is left out. It reports
// whether something was left out.
func align(ways []*way) bool {
	least, whole, wholeRest := 0.0, false, 0.0
	first := true
	for _, x := range ways {
		if !x.placed {
			continue
		}
		rest := x.restMS()
		if len(x.together) == 0 && (!whole || rest < wholeRest) {
			whole, wholeRest = true, rest
		}
		if first || rest < least {
			first, least = false, rest
		}
	}
	shift, leftOut := least, true
	if whole && wholeRest <= least {
		shift, leftOut = wholeRest, false
	}
	for _, x := range ways {
		x.endMS -= shift
	}
	return leftOut
}
