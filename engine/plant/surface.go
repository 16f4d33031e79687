package plant

import (
	"fmt"
	"math"

	"github.com/knurl-hvacr/knurl/engine/equilibrium"
	"github.com/knurl-hvacr/knurl/engine/numeric"
)

// order is the number of coefficients of a patch along each axis.
const order = 8

// quantity is what a surface carries.
type quantity int

const (
	compressibility quantity = iota // compressibility p/(ρRT)
	enthalpy                        // J/kg from the equation's own zero
	entropy                         // J/(kg K)
	quantities
)

// patch is a polynomial over u and v in [-1, 1]: c[q][j][i] belongs to v^j u^i.
type patch struct {
	c [quantities][order][order]float64
}

// surface are properties of one phase as polynomials fitted to the equation of
// state. The axes are x = sqrt(origin - T_sat), T_sat the dew point for vapour
// and the bubble point for liquid, over which properties are smooth up to the
// critical point, and the distance from T_sat in kelvins.
type surface struct {
	origin, cold, hot float64   // cold and hot bound x
	edges             []float64 // of the distance
	patches           [][]patch // [piece of x][piece of distance]
	sign              float64   // of the distance: +1 vapour, -1 liquid
}

// Pieces of the axes: accuracy against the equation is held by a test.
const pieces = 4

var (
	vaporEdges  = []float64{0, 12, 45, 150}
	liquidEdges = []float64{0, 6, 20, 60}
)

// interpolation[i][j] takes the value at Chebyshev node j to the coefficient
// of the i-th power.
func interpolation() (m [order][order]float64) {
	transform, powers := numeric.Transform(order), numeric.Powers(order)
	for k := range order {
		for j := range order {
			for i := range order {
				m[i][j] += transform[k][j] * powers[k][i]
			}
		}
	}
	return m
}

// fitSurface solves the equation of state at the nodes. The saturation
// temperature that belongs to a node is from + (origin - from) along x.
func fitSurface(f *Fluid, side equilibrium.Side, stop func() bool) (surface, error) {
	s := surface{origin: f.origin, cold: math.Sqrt(f.origin - f.coldest), hot: math.Sqrt(f.origin - f.hottest), edges: vaporEdges, sign: 1}
	if side == equilibrium.Liquid {
		s.edges, s.sign = liquidEdges, -1
	}
	node, inter := numeric.Nodes(order), interpolation()
	width := (s.cold - s.hot) / pieces
	for i := range pieces {
		row := make([]patch, len(s.edges)-1)
		for k := range row {
			if stop != nil && stop() {
				return surface{}, ErrStopped
			}
			var values [quantities][order][order]float64 // at v node, u node
			for a := range order {
				x := s.hot + width*(float64(i)+0.5*(1+node[a]))
				t0 := s.origin - x*x
				p, ok := f.saturationPressure(side, t0)
				if !ok {
					return surface{}, fmt.Errorf("%w: no saturation pressure at %.5g K", ErrFluid, t0)
				}
				for b := range order {
					t := t0 + s.sign*(s.edges[k]+0.5*(s.edges[k+1]-s.edges[k])*(1+node[b]))
					rho, err := f.system.Density(t, p, side)
					if err != nil {
						return surface{}, fmt.Errorf("%w: %w", ErrFluid, err)
					}
					c := f.system.Caloric(t, rho)
					values[compressibility][b][a] = p / (rho * f.gas * f.molar * t)
					values[enthalpy][b][a] = c.Enthalpy / f.molar
					values[entropy][b][a] = c.Entropy / f.molar
				}
			}
			for q := range quantities {
				row[k].c[q] = coefficients(&values[q], &inter)
			}
		}
		s.patches = append(s.patches, row)
	}
	return s, nil
}

func coefficients(values, inter *[order][order]float64) (c [order][order]float64) {
	var half [order][order]float64
	for j := range order {
		for a := range order {
			for b := range order {
				half[j][a] += inter[j][b] * values[b][a]
			}
		}
	}
	for j := range order {
		for i := range order {
			for a := range order {
				c[j][i] += inter[i][a] * half[j][a]
			}
		}
	}
	return c
}

// isobar is a surface at one pressure.
type isobar struct {
	s    *surface
	row  []patch
	u    float64
	tSat float64
}

// at cuts the surface where saturation lies at tSat; beyond the ends of the
// axis it keeps to the end.
func (s *surface) at(tSat float64) isobar {
	x := math.Sqrt(max(s.origin-tSat, 0))
	x = min(max(x, s.hot), s.cold)
	w := (s.cold - s.hot) / pieces
	i := min(int((x-s.hot)/w), pieces-1)
	return isobar{s, s.patches[i], 2*(x-s.hot)/w - float64(2*i+1), tSat}
}

// cut are the coefficients over v of one quantity.
func (b *isobar) cut(k int, q quantity) (c [order]float64) {
	rows := &b.row[k].c[q]
	u := b.u
	u2 := u * u
	u4 := u2 * u2
	for j := range rows {
		r := &rows[j]
		c[j] = (r[0] + r[1]*u + (r[2]+r[3]*u)*u2) + ((r[4]+r[5]*u)+(r[6]+r[7]*u)*u2)*u4
	}
	return c
}

func value(c *[order]float64, v float64) float64 {
	v2 := v * v
	v4 := v2 * v2
	return (c[0] + c[1]*v + (c[2]+c[3]*v)*v2) + ((c[4]+c[5]*v)+(c[6]+c[7]*v)*v2)*v4
}

// extended is the polynomial inside [-1, 1] and its tangent outside.
func extended(c *[order]float64, v float64) float64 {
	e := min(max(v, -1), 1)
	y := value(c, e)
	if e != v {
		y += numeric.Slope(c[:], e) * (v - e)
	}
	return y
}

// place finds the piece of a distance and the local variable there.
func (b *isobar) place(d float64) (k int, v float64) {
	e := b.s.edges
	for k < len(e)-2 && d > e[k+1] {
		k++
	}
	return k, 2*(d-e[k])/(e[k+1]-e[k]) - 1
}

// of gives a quantity at a temperature in K.
func (b *isobar) of(q quantity, t float64) float64 {
	k, v := b.place(b.s.sign * (t - b.tSat))
	c := b.cut(k, q)
	return extended(&c, v)
}

// temperature is where the quantity, which rises with temperature, has a value.
func (b *isobar) temperature(q quantity, target float64) float64 {
	e := b.s.edges
	for k := 0; ; k++ {
		c := b.cut(k, q)
		far := value(&c, 1)
		if k < len(e)-2 && b.s.sign*(target-far) > 0 {
			continue
		}
		near := value(&c, -1)
		v := 2*(target-near)/(far-near) - 1
		for range 12 {
			in := min(max(v, -1), 1)
			next := in + (target-value(&c, in))/numeric.Slope(c[:], in)
			if math.Abs(next-v) < 1e-13 {
				v = next
				break
			}
			v = next
		}
		return b.tSat + b.s.sign*(e[k]+0.5*(e[k+1]-e[k])*(1+v))
	}
}
