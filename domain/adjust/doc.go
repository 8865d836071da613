// Package adjust estimates mixed linear models with known and estimated
// variances. It knows no unit and no device: package estimate puts the policy on
// top of it.
//
// # Model
//
// Rows stand in blocks. Inside block g
//
//	y = W x + L f + e,   e ~ (0, diag(d)),   f ~ (0, diag(Phi))
//	d_t = c_t (K_t + sum_i F_ti theta_i)
//
// where x holds fixed and random columns, f the levels that the rows of one
// block share with signs L, K a known variance, theta the estimated variances
// and c a robust weight. Levels are eliminated block by block:
//
//	R      = diag(d) + L Phi L'
//	R^-1   = D^-1 - D^-1 L (Phi^-1 + L'D^-1 L)^-1 L'D^-1
//	log|R| = sum log d + log|Phi| + log|Phi^-1 + L'D^-1 L|
//
// A random column has a variance of its own, theta_i or known. A prior is a
// pseudo-row of known variance. The mixed-model equations (C. R. Henderson,
// Biometrics 31 (1975) 423-447) are
//
//	C x = W'R^-1 y + priors,   C = W'R^-1 W + D^-1 + priors
//	P   = R^-1 - R^-1 W C^-1 W'R^-1,   Py = R^-1 (y - W x)
//
// # Variances
//
// Fit maximises the restricted likelihood with a scaled inverse chi-squared
// prior on every theta, that is nu pseudo-observations of a given mean square,
// by Fisher scoring in log theta.
//
// # Contrasts
//
// Contrast returns a wanted sum of columns; Uncertainty.Adjusted adjusts its
// variance for the estimation of theta and gives its degrees of freedom after
// M. G. Kenward and J. H. Roger, Biometrics 53 (1997) 983-997, for one contrast.
// The fourth cumulant of its known part makes intervals that are exact for one
// uniform error among normal ones: package law.
package adjust
