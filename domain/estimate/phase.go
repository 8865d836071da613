package estimate

import (
	"math"
	"slices"
	"time"

	"delaybook/domain/timebase"
)

// A phase is what a free-running stage adds to an offset: uniform over the frame
// that it is re-timed to, one value for a whole power-up.
type phase struct {
	clock   string
	frameMS float64
	sign    int
}

// variance of a uniform law of a given width, and its fourth cumulant.
func uniformVariance(width float64) float64 { return width * width / 12 }
func uniformKappa(width float64) float64    { return -math.Pow(width, 4) / 120 }

// phases returns the free picture stages of a pair, sorted; a stage that both
// paths pass cancels, one that a path passes twice counts once.
func (p *pair) phases() []phase {
	at := map[string]phase{}
	collect := func(path *path, sign int) {
		seen := map[string]bool{}
		for i := range path.links {
			l := &path.links[i]
			if l.timing != FreeTiming || l.direct || seen[l.clock] {
				continue
			}
			seen[l.clock] = true
			ph := at[l.clock]
			at[l.clock] = phase{clock: l.clock, frameMS: l.into.FrameMS(), sign: ph.sign + sign}
		}
	}
	collect(&p.first, 1)
	collect(&p.second, -1)
	var out []phase
	for _, ph := range at {
		if ph.sign != 0 {
			out = append(out, ph)
		}
	}
	slices.SortFunc(out, func(a, b phase) int {
		if a.clock < b.clock {
			return -1
		}
		return 1
	})
	return out
}

// meanPhase is the known mean of the phases, half a frame each.
func meanPhase(phases []phase) float64 {
	sum := 0.0
	for _, ph := range phases {
		sum += float64(ph.sign) * ph.frameMS / 2
	}
	return sum
}

// A class is a variance class of measurements.
type class struct {
	name  string
	prior float64 // s0, ms^2
	nu    float64
}

// The priors of the variances of one measurement and of units.
const (
	usualPrior   = 1 // (1 ms)^2
	usualNu      = 4
	frameNu      = 2 // of variances that a frame period bounds
	lockedClass  = "take.locked"
	freeClass    = "take.free"
	unknownClass = "take.unknown."
	variesClass  = "take.varies."
	ownClass     = "take.own."
	readClass    = "read."
	unitClass    = "unit."
)

// class returns the highest class of the stages: varies, unknown, free, locked.
func (p *pair) class() class {
	var varies, unknown *link
	free := false
	p.sides(func(l *link, _ int) {
		switch {
		case l.direct:
		case l.varies && varies == nil:
			varies = l
		case l.timing == UnknownTiming && unknown == nil:
			unknown = l
		case l.timing == FreeTiming:
			free = true
		}
	})
	switch {
	case varies != nil:
		return class{variesClass + varies.device + "/" + varies.mode, uniformVariance(varies.into.FrameMS()), frameNu}
	case unknown != nil:
		return class{unknownClass + unknown.into.String(), uniformVariance(unknown.into.FrameMS()), frameNu}
	case free:
		return class{freeClass, usualPrior, usualNu}
	}
	return class{lockedClass, usualPrior, usualNu}
}

// timings reports whether a picture stage of unknown and of free timing is in
// the pair.
func (p *pair) timings() (unknown, free bool) {
	p.sides(func(l *link, _ int) {
		unknown = unknown || !l.direct && l.timing == UnknownTiming
		free = free || !l.direct && l.timing == FreeTiming
	})
	return unknown, free
}

// clockDrift is how far two clocks of ordinary equipment walk apart, as a ratio:
// ten parts per million, common practice. Coverage was tested from 1 to 30.
const clockDrift = 10e-6

// walk returns the variance by which a phase has moved from where it was after a
// time: 2 (T^2/12)(1 - rho), with rho the correlation of a uniform phase that
// walks by a normal amount of standard deviation x = clockDrift dt/T frames,
//
//	rho = (6/pi^2) sum_{k>=1} exp(-2 pi^2 k^2 x^2)/k^2
func walk(frameMS float64, after time.Duration) float64 {
	x := clockDrift * float64(after) / float64(time.Millisecond) / frameMS
	return 2 * uniformVariance(frameMS) * walked(x)
}

// walked returns 1 - rho. Below 0.1 the sum becomes, by Poisson's formula,
// 6 sqrt(2/pi) x - 6 x^2 up to exp(-1/(2 x^2)) < 1e-21.
func walked(x float64) float64 {
	switch {
	case !(x > 0):
		return 0
	case x < 0.1:
		return 6*math.Sqrt(2/math.Pi)*x - 6*x*x
	}
	sum := 0.0
	for k := 1.0; ; k++ {
		term := math.Exp(-2*math.Pi*math.Pi*k*k*x*x) / (k * k)
		sum += term
		if term < 1e-18 {
			return 1 - 6/(math.Pi*math.Pi)*sum
		}
	}
}

func rateOf(r, otherwise timebase.Rate) timebase.Rate {
	if r.IsZero() {
		return otherwise
	}
	return r
}
