package estimate

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"delaybook/domain/adjust"
	"delaybook/domain/timebase"
)

// A registry holds the variances of a solution: those of the book in its order,
// then the classes that it lacks.
type registry struct {
	list  []Variance
	index map[string]int
}

func newRegistry(given []Variance) (*registry, error) {
	r := &registry{index: map[string]int{}}
	for i, v := range given {
		at := fmt.Sprintf("Variances[%d]", i)
		if err := checkVariance(v, at); err != nil {
			return nil, err
		}
		if _, twice := r.index[v.Class]; twice {
			return nil, fault(at, "each class once", "the class %q is given twice", v.Class)
		}
		r.index[v.Class] = len(r.list)
		r.list = append(r.list, v)
	}
	return r, nil
}

// The variances between which squares of milliseconds keep their digits.
const (
	leastVariance = 1e-12
	mostVariance  = 1e12
)

func checkVariance(v Variance, at string) error {
	switch {
	case !knownClass(v.Class):
		return fault(at+".Class", "take.locked, take.free, take.unknown.RATE, take.varies.DEVICE/MODE, take.own.ID, read.METHOD or unit.KIND",
			"%q is no variance class", v.Class)
	case !(v.MS2 >= leastVariance && v.MS2 <= mostVariance):
		return fault(at+".MS2", "a variance in ms^2 above 0", "%v is no variance", v.MS2)
	case !(v.PriorMS2 >= leastVariance && v.PriorMS2 <= mostVariance):
		return fault(at+".PriorMS2", "the mean square of the prior in ms^2, above 0", "%v is no variance", v.PriorMS2)
	case !(v.NuPrior > 0 && v.NuPrior <= mostVariance):
		return fault(at+".NuPrior", "how many measurements the prior counts for, above 0", "%v is no number of measurements", v.NuPrior)
	case v.Phase != PhaseKnown && (v.Class != freeClass || v.Phase != PhaseRejected && v.Phase != PhaseAbsent):
		return fault(at+".Phase", `nothing, or for take.free "rejected-high" or "looks-locked"`, "%q is no phase rule of %s", v.Phase, v.Class)
	}
	return nil
}

func knownClass(name string) bool {
	switch name {
	case lockedClass, freeClass:
		return true
	}
	if rate, ok := strings.CutPrefix(name, unknownClass); ok {
		_, err := timebase.ParseRate(rate)
		return err == nil
	}
	for _, prefix := range []string{variesClass, ownClass, readClass, unitClass} {
		if rest, ok := strings.CutPrefix(name, prefix); ok && rest != "" {
			return true
		}
	}
	return false
}

// add returns the index of a class, at its prior when it is new.
func (r *registry) add(c class) int {
	if i, ok := r.index[c.name]; ok {
		return i
	}
	i := len(r.list)
	r.index[c.name] = i
	r.list = append(r.list, Variance{Class: c.name, MS2: c.prior, PriorMS2: c.prior, NuPrior: c.nu})
	return i
}

func unitClassOf(kind string) class { return class{unitClass + kind, usualPrior, usualNu} }
func readClassOf(name string) class { return class{name, usualPrior, usualNu} }
func (r *registry) params() []adjust.Param {
	out := make([]adjust.Param, len(r.list))
	for i, v := range r.list {
		out[i] = adjust.Param{Value: v.MS2, Scale: v.PriorMS2, Nu: v.NuPrior}
	}
	return out
}

// addAll registers the classes of observations and units in a fixed order.
func (r *registry) addAll(all []*observation) {
	classes := map[string]class{}
	seen := map[*pair]bool{}
	for _, o := range all {
		classes[o.take.name] = o.take
		if o.read != "" {
			classes[o.read] = readClassOf(o.read)
		}
		if seen[o.pair] {
			continue
		}
		seen[o.pair] = true
		_, kinds := o.pair.units()
		for _, kind := range kinds {
			c := unitClassOf(kind)
			classes[c.name] = c
		}
	}
	names := make([]string, 0, len(classes))
	for name := range classes {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range names {
		r.add(classes[name])
	}
}

// variance returns a class as it is in use: of the book, else its prior.
func (r *registry) variance(c class) Variance {
	if i, ok := r.index[c.name]; ok {
		return r.list[i]
	}
	return Variance{Class: c.name, MS2: c.prior, PriorMS2: c.prior, NuPrior: c.nu}
}

// twins returns the scatter of power-ups and that of readings, by class, where no
// measurement of a method has two readings to tell them apart.
func (n *network) twins() []adjust.Twins {
	told := map[string]bool{}
	seen := map[adjust.Twins]bool{}
	for _, o := range n.all {
		told[o.read] = told[o.read] || o.df > 0
	}
	var out []adjust.Twins
	for _, o := range n.all {
		if o.read == "" || told[o.read] {
			continue
		}
		t := adjust.Twins{First: n.registry.index[o.take.name], Second: n.registry.index[o.read]}
		if !seen[t] {
			seen[t] = true
			out = append(out, t)
		}
	}
	return out
}

// phase returns what the class test made of the free phase.
func (r *registry) phase() PhaseRule {
	if i, ok := r.index[freeClass]; ok {
		return r.list[i].Phase
	}
	return PhaseKnown
}

// pooledDF counts what is behind the variances: 2 theta^2 times their
// information, priors included.
func pooledDF(params []adjust.Param, info func(i int) float64) float64 {
	sum := 0.0
	for i, p := range params {
		sum += 2*p.Value*p.Value*info(i) + p.Nu
	}
	if math.IsNaN(sum) {
		return 0
	}
	return sum
}
