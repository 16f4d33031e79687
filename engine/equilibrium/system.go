// Package equilibrium solves the equations of state: density at temperature
// and pressure, bubble and dew points, two-phase states and critical points
// of pure fluids and mixtures. It works in floats (K, Pa, mol/m3, J/mol) and
// must not know designations, units of the trade, or the wire; every result
// is converged, or an error says what stood in the way and where.
package equilibrium

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"

	"github.com/knurl-hvacr/knurl/engine/helmholtz"
)

// The ways in which a question to an equation of state can fail.
var (
	// ErrComposition reports mole fractions that are not positive or do not
	// sum to 1.
	ErrComposition = errors.New("equilibrium: malformed composition")
	// ErrAboveCritical reports a saturation question beyond the end of the
	// saturation line.
	ErrAboveCritical = errors.New("equilibrium: beyond the critical point, no saturation there")
	// ErrNearCritical reports a saturation question so near the critical point
	// that liquid and vapour are hardly told apart.
	ErrNearCritical = errors.New("equilibrium: too near the critical point")
	// ErrBelowRange reports a temperature or pressure below where the equation
	// still gives an answer.
	ErrBelowRange = errors.New("equilibrium: below the range of the equation")
	// ErrNoPhase reports that the named side (liquid, vapour) does not exist
	// at the temperature and pressure asked for.
	ErrNoPhase = errors.New("equilibrium: no such phase at this temperature and pressure")
	// ErrTwoLiquids reports a saturation question at which the phase of the
	// given composition would split in two (the model predicts liquids that do
	// not mix).
	ErrTwoLiquids = errors.New("equilibrium: the phase splits, two liquids")
	// ErrOutside reports a state outside what a flash covers.
	ErrOutside = errors.New("equilibrium: state outside the range of the flash")
	// ErrNotConverged reports an iteration that did not settle.
	ErrNotConverged = errors.New("equilibrium: not converged")
)

// System is a mixture at a fixed composition. It is safe for concurrent use;
// ends and the critical point are computed once, when first needed.
type System struct {
	m     *helmholtz.Mixture
	x     []float64
	molar float64
	key   string

	critical func() (CriticalPoint, error)
	ends     [2]func() (End, error) // by side of the given phase
}

// Side names a phase by its density.
type Side int

// The two sides.
const (
	Liquid Side = iota
	Vapor
)

func (s Side) String() string {
	if s == Liquid {
		return "liquid"
	}
	return "vapor"
}

func (s Side) other() Side { return 1 - s }

// New fixes the composition x (mole fractions, each positive, sum 1 within
// 1e-9; it is normalized). It returns ErrComposition.
func New(m *helmholtz.Mixture, x []float64) (*System, error) {
	if len(x) != m.Len() {
		return nil, fmt.Errorf("%w: %d fractions for %d components", ErrComposition, len(x), m.Len())
	}
	var sum float64
	for _, v := range x {
		if !(v > 0) {
			return nil, fmt.Errorf("%w: fraction %v", ErrComposition, v)
		}
		sum += v
	}
	if !(math.Abs(sum-1) < 1e-9) {
		return nil, fmt.Errorf("%w: fractions sum to %v", ErrComposition, sum)
	}
	s := &System{m: m, x: slices.Clone(x)}
	for i := range s.x {
		s.x[i] /= sum
	}
	s.molar = m.MolarMass(s.x)
	s.key = s.spell()
	s.critical = sync.OnceValues(s.findCritical)
	for side := range s.ends {
		s.ends[side] = sync.OnceValues(func() (End, error) { return s.findEnd(Side(side)) })
	}
	return s, nil
}

// Key spells the composition, components in alphabetical order, so that equal
// systems have equal keys: mole fractions to ten digits.
func (s *System) Key() string { return s.key }

func (s *System) spell() string {
	parts := make([]string, len(s.x))
	for i, x := range s.x {
		parts[i] = fmt.Sprintf("%s=%.10f", s.m.Fluid(i).Name, x)
	}
	slices.Sort(parts)
	return strings.Join(parts, ";")
}

// Mixture is the model behind the system.
func (s *System) Mixture() *helmholtz.Mixture { return s.m }

// Composition in mole fractions.
func (s *System) Composition() []float64 { return slices.Clone(s.x) }

// MolarMass in kg/mol.
func (s *System) MolarMass() float64 { return s.molar }

// Pure reports whether there is one component only.
func (s *System) Pure() bool { return len(s.x) == 1 }

// MinTemperature is the highest triple-point temperature of the components,
// in K: below it saturation is extrapolated.
func (s *System) MinTemperature() float64 {
	var t float64
	for i := range s.x {
		t = max(t, s.m.Fluid(i).TripleTemperature)
	}
	return t
}

// MaxTemperature is the least upper limit of the components' equations, in K.
func (s *System) MaxTemperature() float64 {
	t := math.Inf(1)
	for i := range s.x {
		t = min(t, s.m.Fluid(i).MaxTemperature)
	}
	return t
}

// MaxPressure is the least upper limit of the components' equations, in Pa.
func (s *System) MaxPressure() float64 {
	p := math.Inf(1)
	for i := range s.x {
		p = min(p, s.m.Fluid(i).MaxPressure)
	}
	return p
}

// Caloric properties of a single phase of the system's composition at t (K)
// and rho (mol/m3).
func (s *System) Caloric(t, rho float64) helmholtz.Caloric { return s.m.Caloric(t, rho, s.x) }

// Pressure of a single phase in Pa at t (K) and rho (mol/m3).
func (s *System) Pressure(t, rho float64) float64 {
	p, _, _ := s.m.Pressure(t, rho, s.x)
	return p
}
