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
}

// NewUncertainty inverts the information of a whole project. Params without any
// information or prior take no part.
func NewUncertainty(params []Param, info *mat.SymDense) (*Uncertainty, error) {
	u := &Uncertainty{}
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
		m.SetSym(a, a, m.At(a, a)+params[i].Nu/2)
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
// on them.
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
	df = 2 * c.Variance * c.Variance / spread
	if !(spread > 0) || df > unlimitedDF {
		df = math.Inf(1)
	}
	return variance, df
}
