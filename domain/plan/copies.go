package plan

import (
	"fmt"
	"math"
	"math/big"
	"slices"
	"strings"
)

// A Copy is one of two sound chains that carry the same sound to one place.
type Copy struct {
	Name     string
	Controls []Control
}

// Copies is what two copies of one sound do to each other, and how to bring them together.
type Copies struct {
	// ApartMS is how far the copies are apart as they are heard now, ms, unsigned.
	ApartMS float64
	// NotchesHz are the three lowest frequencies that equal copies cancel at: odd multiples of
	// 1/(2 dt). All 0 when the copies are together.
	NotchesHz [3]float64
	// Settings are those of the copy that is early; the other's stay at their minimum.
	Settings []Setting
	// LeftMS is what then remains, first minus second, ms.
	LeftMS float64
	// Text sums it up.
	Text string
}

const (
	// hearingHz is the top of what people hear (common practice, no source).
	hearingHz = 20_000
	// echoMS is where a second copy is heard as an echo rather than as colour (common practice, no
	// source; it depends on the sound).
	echoMS = 30
)

// Notches are the three lowest frequencies (Hz) at which two equal copies dt ms apart cancel. The sum
// of a sound and its copy dt later has the gain 2 |cos(pi f dt)|, zero at f = (2k+1)/(2 dt).
func Notches(apartMS float64) [3]float64 {
	dt := math.Abs(apartMS) / 1000
	if dt == 0 || math.IsNaN(dt) {
		return [3]float64{}
	}
	return [3]float64{1 / (2 * dt), 3 / (2 * dt), 5 / (2 * dt)}
}

// AlignCopies brings two copies together by delaying the one that is early. locationMS is the arrival
// of the first minus that of the second with every control at zero delay. Values in force that are
// recorded say how far apart the copies are now. The error is a *Refusal.
func AlignCopies(first, second Copy, locationMS *big.Rat, b Budget) (Copies, error) {
	if locationMS == nil {
		return Copies{}, &Refusal{[]Field{{"/location_ms", "is not known", "the offset of the two copies in ms"}}}
	}
	late, early, location := first, second, locationMS
	if atLeast(first, second, location).Sign() < 0 {
		late, early, location = second, first, new(big.Rat).Neg(location)
	}
	p := alignment(late, early, location)
	got, err := Solve(p, b)
	if err != nil {
		return Copies{}, err
	}
	if !got.Pairs[0].Known {
		return Copies{}, &Refusal{[]Field{{"/controls", "a control that is not ours has no value in force", "what is dialled in on it"}}}
	}
	out := Copies{ApartMS: math.Abs(apart(p)), Settings: got.Settings[len(late.Controls):], LeftMS: got.Pairs[0].AfterMS}
	if late.Name != first.Name {
		out.LeftMS = -out.LeftMS
	}
	out.NotchesHz = Notches(out.ApartMS)
	out.Text = out.sentence(early, p)
	return out, nil
}

// atLeast is the offset with every control at its minimum.
func atLeast(first, second Copy, location *big.Rat) *big.Rat {
	sum := new(big.Rat).Set(location)
	for _, c := range first.Controls {
		sum.Add(sum, startMS(c))
	}
	for _, c := range second.Controls {
		sum.Sub(sum, startMS(c))
	}
	return sum
}

// startMS is the delay of a control where alignment starts: its minimum, or its value when fixed.
func startMS(c Control) *big.Rat {
	value := c.Min
	if c.Fixed {
		value = c.Now
	}
	return delayMS(c, orZero(value))
}

func delayMS(c Control, value *big.Rat) *big.Rat {
	ms := new(big.Rat).Mul(orZero(c.UnitMS), value)
	if value.Sign() != 0 {
		ms.Add(ms, orZero(c.EngagedMS))
	}
	return ms
}

// alignment is the problem of bringing the early copy to the late one: the late one takes the place of
// a picture and stays at its minimum, the window has no width, so nothing but nearness counts.
func alignment(late, early Copy, location *big.Rat) Problem {
	p := Problem{
		Destinations: []Destination{{Slug: "ear"}},
		Chains:       []Chain{{Slug: "late", Signal: Picture}, {Slug: "early", Signal: Sound}},
		Pairs:        []Pair{{Picture: "late", Sound: "early", Destination: "ear", Importance: Soft, LocationMS: location}},
	}
	for _, c := range late.Controls {
		c.Signal = Picture
		if !c.Fixed {
			c.Max = orZero(c.Min)
		}
		p.Controls = append(p.Controls, c)
		p.Chains[0].Controls = append(p.Chains[0].Controls, c.Name)
	}
	for _, c := range early.Controls {
		c.Signal = Sound
		p.Controls = append(p.Controls, c)
		p.Chains[1].Controls = append(p.Chains[1].Controls, c.Name)
	}
	return p
}

// apart is the offset as heard now: values in force where they are recorded, else the minimum.
func apart(p Problem) float64 {
	sum := new(big.Rat).Set(p.Pairs[0].LocationMS)
	for _, c := range p.Controls {
		value := orZero(c.Min)
		if c.Now != nil {
			value = c.Now
		}
		if ms := delayMS(c, value); c.Signal == Picture {
			sum.Add(sum, ms)
		} else {
			sum.Sub(sum, ms)
		}
	}
	f, _ := sum.Float64()
	return f
}

// onlyOne comes before any alignment: one open microphone cannot cancel.
const onlyOne = "Open only one of them if you can. "

func (c *Copies) sentence(early Copy, p Problem) string {
	var heard string
	switch {
	case c.NotchesHz[0] == 0 || c.NotchesHz[0] > hearingHz:
		heard = "The two copies are together: no notch that can be heard."
	case c.ApartMS > echoMS:
		heard = onlyOne + fmt.Sprintf("The two copies are %s ms apart: heard as an echo.", shortMS(c.ApartMS))
	default:
		heard = onlyOne + fmt.Sprintf("The two copies are %.3g ms apart and cancel at %.0f, %.0f and %.0f Hz.", c.ApartMS, c.NotchesHz[0], c.NotchesHz[1], c.NotchesHz[2])
	}
	var sets []string
	for _, s := range c.Settings {
		i := slices.IndexFunc(p.Controls, func(x Control) bool { return x.Name == s.Control })
		say := control{unit: p.Controls[i].Unit, min: s.Value, inc: new(big.Rat)}
		sets = append(sets, s.Control+" "+say.sayValue(0))
	}
	if len(sets) == 0 {
		return heard + " " + early.Name + " is early and has no delay to set."
	}
	if !slices.ContainsFunc(c.Settings, func(s Setting) bool { return s.Value.Sign() != 0 }) {
		return fmt.Sprintf("%s No delay brings them nearer: %.2g ms remain.", heard, math.Abs(c.LeftMS))
	}
	return fmt.Sprintf("%s Set %s: %.2g ms remain.", heard, strings.Join(sets, ", "), math.Abs(c.LeftMS))
}
