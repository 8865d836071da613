package estimate

import "math"

// scatter splits the variance of a found sum by where it comes from.
func (f *found) scatter(s *Solution) *Scatter {
	var v Scatter
	for _, fp := range f.parts {
		f.rowScatter(&v, fp)
		for i, r := range fp.part.model.Random {
			w := fp.contrast.Random[i] * fp.contrast.Random[i]
			if r.Param < 0 {
				v.QuantisationMS += w * r.Known
			} else {
				v.UnitMS += w * s.params[fp.part.params[r.Param]].Value
			}
		}
		for i, p := range fp.component.pseudo {
			w := fp.contrast.Priors[i] * fp.contrast.Priors[i] * p.variance
			if p.card {
				v.CardSourceMS += w
			} else {
				v.StatedMS += w
			}
		}
	}
	for class, factor := range f.fresh {
		v.UnitMS += factor * s.network.registry.variance(classByName(class)).MS2
	}
	for _, x := range []*float64{&v.ReadingMS, &v.QuantisationMS, &v.PhaseMS, &v.OtherMS, &v.UnitMS, &v.CardSourceMS, &v.StatedMS} {
		*x = math.Sqrt(*x)
	}
	return &v
}

func (f *found) rowScatter(v *Scatter, fp foundPart) {
	theta := fp.part.state.Theta()
	for b, rows := range fp.component.blocks {
		for t, i := range rows {
			o, row := fp.component.rows[i], &fp.part.model.Blocks[b].Rows[t]
			a := fp.contrast.Weights[b][t]
			w := a * a * row.Weight
			v.ReadingMS += w * o.reading
			v.QuantisationMS += w * o.rounding
			v.PhaseMS += w * o.walked
			for k, part := range row.Parts {
				if k == 0 {
					v.OtherMS += w * part.Factor * theta[part.Param]
				} else {
					v.ReadingMS += w * part.Factor * theta[part.Param]
				}
			}
		}
		for l, a := range fp.contrast.Levels[b] {
			v.PhaseMS += a * a * fp.part.model.Blocks[b].Levels[l].Variance
		}
	}
}
