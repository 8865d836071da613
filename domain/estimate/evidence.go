package estimate

import (
	"cmp"
	"maps"
	"math"
	"slices"
	"strings"
)

// evidence lists what an offset rests on, the weightiest first, and says on what
// basis that is.
func (s *Solution) evidence(o *Offset, f *found, p *pair) {
	var direct, other, stated float64
	powerUps := map[string]bool{}
	for _, fp := range f.parts {
		for b, rows := range fp.component.blocks {
			for t, i := range rows {
				obs, a := fp.component.rows[i], fp.contrast.Weights[b][t]
				if math.Abs(a) <= negligibleWeight && !fp.doubtful(b, t) {
					continue
				}
				if sameColumns(obs.pair, p) {
					direct += math.Abs(a)
				} else {
					other += math.Abs(a)
				}
				for k, taking := range obs.takings {
					o.Evidence = append(o.Evidence, Evidence{Measurement: taking.m.ID, Weight: a * obs.share[k], Doubtful: fp.doubtful(b, t)})
				}
				if !fp.doubtful(b, t) {
					powerUps[obs.powerUp()] = true
				}
			}
		}
		stated += o.addPseudo(fp)
	}
	o.PowerUps = len(powerUps)
	for _, e := range o.Evidence {
		if e.Measurement != "" && !e.Doubtful {
			o.Measurements++
		}
	}
	o.Basis = basis(direct, other, stated)
	total := 0.0
	for _, e := range o.Evidence {
		total += math.Abs(e.Weight)
	}
	for i := range o.Evidence {
		o.Evidence[i].Share = math.Abs(o.Evidence[i].Weight) / max(total, math.SmallestNonzeroFloat64)
	}
	slices.SortFunc(o.Evidence, func(a, b Evidence) int {
		if c := cmp.Compare(b.Share, a.Share); c != 0 {
			return c
		}
		return strings.Compare(a.Measurement+a.Stated+a.CardSource, b.Measurement+b.Stated+b.CardSource)
	})
}

func (fp *foundPart) doubtful(b, t int) bool { return fp.part.model.Blocks[b].Rows[t].Outside }

// addPseudo lists stated values and card sources and returns the weight of the
// stated ones.
func (o *Offset) addPseudo(fp foundPart) float64 {
	stated := 0.0
	for i, p := range fp.component.pseudo {
		w := fp.contrast.Priors[i]
		switch {
		case math.Abs(w) <= negligibleWeight:
		case p.card:
			name := strings.TrimPrefix(p.name, namedCard)
			o.Evidence = append(o.Evidence, Evidence{CardSource: name, Weight: w})
		default:
			stated += math.Abs(w)
			o.Evidence = append(o.Evidence, Evidence{Stated: p.name, Weight: w})
		}
	}
	return stated
}

// sameColumns reports whether two pairs have the same latencies, so that the
// measurement of one measures the other.
func sameColumns(a, b *pair) bool {
	return maps.Equal(a.columns(), b.columns())
}

func basis(direct, other, stated float64) Basis {
	switch {
	case direct+other <= negligibleWeight && stated > negligibleWeight:
		return BasisStated
	case direct+other <= negligibleWeight:
		return BasisMeasured // every latency cancels: nothing to measure
	case stated > negligibleWeight:
		return BasisMixed
	case other <= negligibleWeight:
		return BasisMeasured
	case direct <= negligibleWeight:
		return BasisPredicted
	}
	return BasisMixed
}
