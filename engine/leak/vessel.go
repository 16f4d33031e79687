package leak

import (
	"math"
	"slices"

	"github.com/knurl-hvacr/knurl/engine/equilibrium"
	"github.com/knurl-hvacr/knurl/engine/helmholtz"
	"github.com/knurl-hvacr/knurl/engine/input"
)

// blend is a Vessel of a real mixture. It remembers the last split as the
// start of the next, and the last vapour alone; it is for one goroutine.
type blend struct {
	m    *helmholtz.Mixture
	t    float64
	last equilibrium.Isochore
	// thin is a vapour that was found to stand alone: thinner vapour of the
	// same composition does as well.
	thin        []float64
	thinDensity float64
}

// Filled is a vessel at t (K) filled with the system so that liquid takes the
// given share of its volume (above 0, below 1), and the amounts in it. It returns
// *InputError with the error of [equilibrium.System.Filled] inside.
func Filled(s *equilibrium.System, t, liquidVolume float64) (Vessel, []float64, error) {
	at, err := s.Filled(t, liquidVolume)
	if err != nil {
		if !(liquidVolume > 0 && liquidVolume < 1) {
			return nil, nil, &InputError{Input: LiquidVolume, Index: -1, Reason: input.OutOfRange, Limits: liquidVolumes, Err: err}
		}
		return nil, nil, &InputError{Input: Temperature, Index: -1, Reason: input.Unsolved, Err: err}
	}
	return vessel(s, t, at)
}

// Charged is a vessel at t (K) that holds rho (mol/m3) of the system. It returns
// *InputError: of equilibrium.ErrNoPhase where that is liquid or vapour alone,
// since a single phase leaks without changing, or of the solver's error.
func Charged(s *equilibrium.System, t, rho float64) (Vessel, []float64, error) {
	st, err := s.AtTemperatureDensity(t, rho)
	if err != nil {
		return nil, nil, &InputError{Input: Temperature, Index: -1, Reason: input.Unsolved, Err: err}
	}
	at, ok := st.Isochore()
	if !ok {
		return nil, nil, &InputError{Input: Density, Index: -1, Reason: OnePhase, Err: equilibrium.ErrNoPhase}
	}
	return vessel(s, t, at)
}

func vessel(s *equilibrium.System, t float64, at equilibrium.Isochore) (Vessel, []float64, error) {
	rho := (1-at.VaporVolume)*at.Liquid.Density + at.VaporVolume*at.Vapor.Density
	amounts := s.Composition()
	for i := range amounts {
		amounts[i] *= rho
	}
	return &blend{m: s.Mixture(), t: t, last: at}, amounts, nil
}

// Content implements Vessel.
func (b *blend) Content(amounts []float64) (Content, error) {
	var rho float64
	for _, n := range amounts {
		rho += n
	}
	x := slices.Clone(amounts)
	for i := range x {
		x[i] /= rho
	}
	if b.thinner(x, rho) {
		return b.alone(amounts, x, rho), nil
	}
	at, err := equilibrium.Split(b.m, b.t, amounts, b.last)
	if err != nil {
		// Far from the last split, or in one phase: found afresh.
		s, err := equilibrium.New(b.m, x)
		if err != nil {
			return Content{}, err
		}
		st, err := s.AtTemperatureDensity(b.t, rho)
		if err != nil {
			return Content{}, err
		}
		two, ok := st.Isochore()
		if !ok {
			b.thin, b.thinDensity = x, rho
			return b.alone(amounts, x, rho), nil
		}
		at = two
	}
	b.last = at
	return Content{
		Amounts: slices.Clone(amounts), Liquid: at.Liquid.X, Vapor: at.Vapor.X,
		LiquidVolume: 1 - at.VaporVolume, Pressure: at.Pressure,
	}, nil
}

func (b *blend) thinner(x []float64, rho float64) bool {
	if b.thin == nil || rho > b.thinDensity {
		return false
	}
	for i := range x {
		if !(math.Abs(x[i]-b.thin[i]) < 1e-9) {
			return false
		}
	}
	return true
}

// alone is a content of vapour only.
func (b *blend) alone(amounts, x []float64, rho float64) Content {
	p, _, _ := b.m.Pressure(b.t, rho, x)
	return Content{Amounts: slices.Clone(amounts), Vapor: x, Pressure: p}
}
