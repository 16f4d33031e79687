package equilibrium

import (
	"fmt"
	"math"

	"github.com/knurl-hvacr/knurl/engine/helmholtz"
)

// Isochore is a closed volume at a temperature with given amounts of each
// component in it, split into liquid and vapour.
type Isochore struct {
	Liquid, Vapor Phase
	// VaporVolume is the share of the volume that vapour fills, 0 to 1.
	VaporVolume float64
	// Pressure in Pa.
	Pressure float64
}

// Split finds how a volume at t (K) divides that holds amounts mol/m3 of each
// component of m, from a state nearby (as of the same volume a moment before).
// It returns ErrNoPhase where only one phase is left, ErrNotConverged.
func Split(m *helmholtz.Mixture, t float64, amounts []float64, near Isochore) (Isochore, error) {
	c := m.Len()
	size := 2*c + 1
	var w vector
	for i := range c {
		w[i] = math.Log(near.Liquid.Density * near.Liquid.X[i])
		w[c+i] = math.Log(near.Vapor.Density * near.Vapor.X[i])
	}
	w[2*c] = near.VaporVolume
	var liquid, vapor helmholtz.Potentials
	var rho [2][helmholtz.MaxComponents]float64
	for range maxNewton {
		var sum [2]float64
		for i := range c {
			rho[0][i], rho[1][i] = math.Exp(w[i]), math.Exp(w[c+i])
			sum[0] += rho[0][i]
			sum[1] += rho[1][i]
		}
		m.PotentialsAt(&liquid, t, rho[0][:c])
		m.PotentialsAt(&vapor, t, rho[1][:c])
		phi := w[2*c]
		var a square
		var step vector
		pressures := a.row(c)
		for i := range c {
			equal := a.row(i)
			step[i] = -(w[i] + liquid.Grad[i] - w[c+i] - vapor.Grad[i])
			for k := range c {
				equal[k] = rho[0][k] * liquid.Hess[i][k]
				equal[c+k] = -rho[1][k] * vapor.Hess[i][k]
			}
			equal[i]++
			equal[c+i]--

			row := c + 1 + i
			amount := a.row(row)
			l, v := rho[0][i]/amounts[i], rho[1][i]/amounts[i]
			step[row] = 1 - (1-phi)*l - phi*v
			amount[i] = (1 - phi) * l
			amount[c+i] = phi * v
			amount[2*c] = v - l

			pressures[i] = rho[0][i] * liquid.ZRho[i] / sum[0]
			pressures[c+i] = -rho[1][i] * vapor.ZRho[i] / sum[0]
		}
		step[c] = -(liquid.Z - vapor.Z) / sum[0]
		if !a.solve(step[:size]) {
			break
		}
		worst, ok := advance(&w, &step, size)
		if !ok {
			break
		}
		if worst >= tolNewton {
			continue
		}
		if phi = w[2*c]; !(phi > 0 && phi < 1) {
			return Isochore{}, fmt.Errorf("%w: one phase only at %.6g K", ErrNoPhase, t)
		}
		if !(sum[0] > sum[1]*(1+trivialRatio)) {
			break
		}
		out := Isochore{VaporVolume: phi, Pressure: vapor.Z * m.GasConstant() * t}
		out.Liquid = Phase{Density: sum[0], X: make([]float64, c)}
		out.Vapor = Phase{Density: sum[1], X: make([]float64, c)}
		for i := range c {
			out.Liquid.X[i] = rho[0][i] / sum[0]
			out.Vapor.X[i] = rho[1][i] / sum[1]
		}
		return out, nil
	}
	return Isochore{}, fmt.Errorf("%w: closed volume at %.6g K", ErrNotConverged, t)
}

// Filled is the system in a closed volume at t (K) of which the given share is
// liquid, above 0 and below 1. It returns the errors of AtTemperature,
// ErrOutside for another share.
func (s *System) Filled(t, liquidVolume float64) (Isochore, error) {
	if !(liquidVolume > 0 && liquidVolume < 1) {
		return Isochore{}, fmt.Errorf("%w: a liquid share of the volume of %v", ErrOutside, liquidVolume)
	}
	bubble, err := s.AtTemperature(BubbleLine, t)
	if err != nil {
		return Isochore{}, err
	}
	dew, err := s.AtTemperature(DewLine, t)
	if err != nil {
		return Isochore{}, err
	}
	share := func(st State) float64 {
		l, v := (1-st.VaporFraction)/st.Liquid.Density, st.VaporFraction/st.Vapor.Density
		return v / (l + v)
	}
	st, err := s.inside(bubble, dew, specT, math.Log(t), share, 1-liquidVolume, 0, 1)
	if err != nil {
		return Isochore{}, err
	}
	return isochoreOf(st), nil
}

func isochoreOf(st State) Isochore {
	l, v := (1-st.VaporFraction)/st.Liquid.Density, st.VaporFraction/st.Vapor.Density
	return Isochore{Liquid: st.Liquid, Vapor: st.Vapor, VaporVolume: v / (l + v), Pressure: st.Pressure}
}

// Isochore gives a two-phase state as a closed volume; false for one phase.
func (st State) Isochore() (Isochore, bool) {
	if !st.TwoPhase {
		return Isochore{}, false
	}
	return isochoreOf(st), true
}
