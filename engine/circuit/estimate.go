package circuit

import "github.com/knurl-hvacr/knurl/engine/gum"

// Axis is that of the reading among the inputs of a [State]. For a gauge's
// gradient take [State.Reading], which knows of the site pressure too.
func (r Reading) Axis() int { return int(r) }

// SiteAxis is that of the site pressure.
const SiteAxis = int(readingCount)

// Covariance of two estimates made from the readings of s. Instrument errors
// count as independent; what gauges share through the site pressure, and
// quantities through a reading, is kept.
func (s *State) Covariance(a, b gum.Estimate) float64 { return s.inputs.Covariance(a, b) }

// Standard is the standard uncertainty of an estimate.
func (s *State) Standard(e gum.Estimate) float64 { return s.inputs.Standard(e) }

// CovarianceMatrix is that of several estimates, in the order given.
func (s *State) CovarianceMatrix(es ...gum.Estimate) [][]float64 {
	return s.inputs.CovarianceMatrix(es...)
}

// ProbabilityBelow is the chance that the true value lies below x. For superheat
// and subcooling with x = 0 it is the chance that two phases, or a wrong
// reading, stand behind the figure.
func (s *State) ProbabilityBelow(e gum.Estimate, x float64) float64 {
	return s.inputs.ProbabilityBelow(e, x)
}
