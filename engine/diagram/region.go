package diagram

import (
	"math"

	"github.com/knurl-hvacr/knurl/engine/circuit"
	"github.com/knurl-hvacr/knurl/engine/equilibrium"
	"github.com/knurl-hvacr/knurl/engine/gum"
)

const (
	regionPoints = 40
	borderPoints = 5
	bisections   = 40
)

// coverage is the radius, in standard deviations, of the ellipse that holds
// 95 % of a bivariate normal distribution: the root of the chi-squared
// quantile for two degrees of freedom, -2 ln 0.05.
var coverage = math.Sqrt(-2 * math.Log(0.05))

// around gives the ellipse of two estimates as a function of the angle.
func around(s *circuit.State, x, y gum.Estimate) (at func(angle float64) (float64, float64), some bool) {
	// Cholesky's factor of the covariance.
	xx, xy, yy := s.Covariance(x, x), s.Covariance(x, y), s.Covariance(y, y)
	a := math.Sqrt(xx)
	var b float64
	if a > 0 {
		b = xy / a
	}
	c := math.Sqrt(max(0, yy-b*b))
	return func(angle float64) (float64, float64) {
		sin, cos := math.Sincos(angle)
		return x.Value + coverage*a*cos, y.Value + coverage*(b*cos+c*sin)
	}, xx > 0 || yy > 0
}

func angle(i int) float64 { return 2 * math.Pi * float64(i) / regionPoints }

// ellipse is the region of a state whose enthalpy and pressure are known
// themselves.
func ellipse(s *circuit.State, h, p gum.Estimate) []Point {
	at, some := around(s, h, p)
	if !some {
		return nil
	}
	list := make([]Point, regionPoints)
	for i := range list {
		list[i].Enthalpy, list[i].Pressure = at(angle(i))
		if !(list[i].Pressure > 0) {
			return nil // too wide for a logarithm
		}
	}
	return list
}

// region maps the ellipse of pressure and temperature to enthalpy and
// pressure. Where it reaches over the dome it is cut along the dome, and cut
// is true.
func (f *fluid) region(s *circuit.State, p, t gum.Estimate, side equilibrium.Side) (outline []Point, cut bool, err error) {
	at, some := around(s, p, t)
	if !some {
		return nil, false, nil
	}
	margin := func(angle float64) (float64, error) {
		p, t := at(angle)
		if !(p > 0 && t > 0) {
			return 0, equilibrium.ErrOutside
		}
		return f.margin(p, t, side)
	}
	var inside [regionPoints]bool
	count, first := 0, -1
	for i := range inside {
		m, err := margin(angle(i))
		if err != nil {
			return nil, false, err
		}
		if inside[i] = m > 0; inside[i] {
			count++
		}
	}
	for i := range inside {
		if inside[i] && !inside[(i+regionPoints-1)%regionPoints] {
			first = i
		}
	}
	switch {
	case count == 0:
		return nil, true, nil
	case first < 0:
		first = 0
	}
	var list []Point
	for k := range regionPoints {
		i := first + k
		if !inside[i%regionPoints] {
			break // where the rest lies beyond the dome
		}
		p, t := at(angle(i))
		point, err := f.mapped(p, t, side)
		if err != nil {
			return nil, false, err
		}
		list = append(list, point)
	}
	if count == regionPoints {
		return list, false, nil
	}
	enter, err := crossing(margin, angle(first-1), angle(first))
	if err != nil {
		return nil, false, err
	}
	leave, err := crossing(margin, angle(first+len(list)), angle(first+len(list)-1))
	if err != nil {
		return nil, false, err
	}
	// Back along the dome, from where the ellipse leaves to where it enters.
	from, _ := at(leave)
	to, _ := at(enter)
	for k := range borderPoints {
		p := from * math.Pow(to/from, float64(k)/(borderPoints-1))
		b, err := f.lines.AtPressure(side, p)
		if err != nil {
			return nil, false, err
		}
		list = append(list, f.onLine(b).Point)
	}
	return list, true, nil
}

// crossing is the angle between outside and inside at which the ellipse meets
// the dome, from the inside by less than rounding.
func crossing(margin func(float64) (float64, error), outside, inside float64) (float64, error) {
	for range bisections {
		middle := 0.5 * (outside + inside)
		m, err := margin(middle)
		if err != nil {
			return 0, err
		}
		if m > 0 {
			inside = middle
		} else {
			outside = middle
		}
	}
	return inside, nil
}

// mapped is where a pressure and a temperature of one phase lie.
func (f *fluid) mapped(p, t float64, side equilibrium.Side) (Point, error) {
	rho, err := f.density(t, p, side)
	if err != nil {
		return Point{}, err
	}
	return Point{f.shown(f.s.Caloric(t, rho).Enthalpy), p}, nil
}
