package adjust

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// An Uncertainty is the covariance of the estimated variances: the inverse of
// their information plus priors, in log theta.
type Uncertainty struct {
	theta []float64
	inv   *mat.Dense // of the params that have information
	index []int
	prior []float64 // by index: the part of a param's own information that is its prior
	twins []Twins
}

// Twins are two params that stand side by side in every row with the second and
// that no scatter inside a row tells apart, such as the scatter of power-ups and
// that of readings while each measurement is one reading.
type Twins struct{ First, Second int }

// NewUncertainty inverts the information of a whole project. Params without any
// information or prior take no part. Twins have a prior each.
func NewUncertainty(params []Param, info *mat.SymDense, twins ...Twins) (*Uncertainty, error) {
	u := &Uncertainty{twins: twins}
	for i, p := range params {
		u.theta = append(u.theta, p.Value)
		if info.At(i, i)*p.Value*p.Value+p.Nu/2 > 0 {
			u.index = append(u.index, i)
		}
	}
	n := len(u.index)
	if n == 0 {
		return u, nil
	}
	m := mat.NewSymDense(n, nil)
	for a, i := range u.index {
		for b, j := range u.index {
			m.SetSym(a, b, info.At(i, j)*u.theta[i]*u.theta[j])
		}
		own := m.At(a, a) + params[i].Nu/2
		m.SetSym(a, a, own)
		u.prior = append(u.prior, params[i].Nu/2/own)
	}
	var chol mat.Cholesky
	if !chol.Factorize(m) {
		return nil, ErrSingular
	}
	var inv mat.SymDense
	if err := chol.InverseTo(&inv); err != nil {
		return nil, ErrSingular
	}
	u.inv = mat.DenseCopyOf(&inv)
	return u, nil
}

// unlimitedDF is the number of degrees of freedom above which no estimated
// variance takes part: what is left is rounding.
const unlimitedDF = 1e12

// Adjusted returns the variance of a contrast adjusted for the estimation of
// the variances and its degrees of freedom,
//
//	M_adj = M + 2 sum_ij W_ij f_i'P f_j,   df = 2 M^2 / (dM'W dM)
//
// where W is the covariance of the variances. df is +Inf when M does not depend
// on them. What twins add to dM'W dM says [Uncertainty.overlap].
func (u *Uncertainty) Adjusted(c *Contrast) (variance, df float64) {
	variance = c.Variance
	spread := c.outside
	for a, i := range u.index {
		for b, j := range u.index {
			w := u.inv.At(a, b) * u.theta[i] * u.theta[j]
			variance += 2 * w * c.Cross.At(i, j)
			spread += w * c.Slopes[i] * c.Slopes[j]
		}
	}
	spread += u.overlap(c)
	df = 2 * c.Variance * c.Variance / spread
	if !(spread > 0) || df > unlimitedDF {
		df = math.Inf(1)
	}
	return variance, df
}

// overlapUntil is the share of known variance in M from which twins add nothing.
const overlapUntil = 0.05

// overlap is what twins add to dM'W dM. Without it their priors would count
// twice: two variances that only priors of 4 know would give 8 degrees of
// freedom. Yet a sum of errors whose variances come from such priors has the
// tails of its heaviest term (the law of Behrens and Fisher): its 95 % range is
// that of Student's t with 4 to 1 %, and the one with 8 covers 91.2 %. So as far
// as the information p_i on a variance is its prior, the two are one ignorance,
//
//	2 lambda p_i p_j |dM_i dM_j| sqrt(W_ii W_jj)
//
// with lambda falling from 1 where M has no known variance to 0 where a
// twentieth of it is known.
func (u *Uncertainty) overlap(c *Contrast) float64 {
	if len(u.twins) == 0 {
		return 0
	}
	known := c.Variance - c.outsideVariance
	deviation := map[int]float64{}
	for a, i := range u.index {
		known -= u.theta[i] * c.Slopes[i] // M is a sum of variances times what it has of them
		deviation[i] = u.prior[a] * u.theta[i] * math.Abs(c.Slopes[i]) * math.Sqrt(u.inv.At(a, a))
	}
	lambda := 1 - max(0, known/c.Variance)/overlapUntil
	if !(lambda > 0) {
		return 0
	}
	sum := 0.0
	for _, t := range u.twins {
		sum += 2 * lambda * deviation[t.First] * deviation[t.Second]
	}
	return sum
}
