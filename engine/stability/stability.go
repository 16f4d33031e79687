// Package stability judges whether a series of readings has settled, and when
// it will. It knows times, numbers and how far a kind of reading may drift, and
// must not know what a reading means for a system.
package stability

import (
	"fmt"
	"math"
	"slices"

	"github.com/knurl-hvacr/knurl/engine/input"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// Given names what Judge is told.
type Given int

// What is told of a series.
const (
	// Samples are times and values together.
	Samples Given = iota
	// Times and Values are one sample's, by its index.
	Times
	Values
	Tolerance
	givenCount
)

// String is what it is called in an error.
func (g Given) String() string {
	if g < 0 || g >= givenCount {
		return fmt.Sprintf("stability.Given(%d)", int(g))
	}
	return [givenCount]string{"samples", "time of sample", "value of sample", "tolerance"}[g]
}

// AllGiven lists all that Judge is told.
func AllGiven() []Given { return []Given{Samples, Times, Values, Tolerance} }

// ErrSeries is wrapped by every [InputError].
var ErrSeries = input.Err

// InputError says which input is at fault; its Index is that of a sample.
type InputError = input.Error[Given]

const (
	// NotRising: a time is not after the one before.
	NotRising input.Reason = "does not rise"
	// UnequalLengths: there are more times than values, or fewer.
	UnequalLengths input.Reason = "are not as many times as values"
)

// Series is one quantity over time.
type Series struct {
	// Times in seconds, rising; they need not be even.
	Times []float64
	// Values in any unit.
	Values []float64
	// Tolerance is how far the value may still move, in the unit of Values.
	Tolerance float64
}

// Status is the stable code of what a series looks like.
type Status string

// The statuses.
const (
	// TooShort: too few samples, or over too short a time, to tell.
	TooShort Status = "too_short"
	// Settling: still on its way by more than the tolerance.
	Settling Status = "settling"
	// Cycling: up and down by more than the tolerance, as with a thermostat or
	// a hunting valve.
	Cycling Status = "cycling"
	// Steady: what is left to go, and the drift over the horizon, lie within
	// the tolerance.
	Steady Status = "steady"
)

const (
	// Horizon is how far ahead a steady reading must hold, s: as long as the
	// published procedure waits before it reads again.
	Horizon = 900.
	// minSpan and minSamples are what a judgement needs at least.
	minSpan    = 180.
	minSamples = 12
)

// Judgement is what is known of one series.
type Judgement struct {
	Status Status
	// Value now, as fitted, and its standard uncertainty.
	Value, ValueStandard float64
	// Trend is the rate now in units of Values a second, with its standard
	// uncertainty.
	Trend, TrendStandard float64
	// Drift is the expected change over the horizon, with its standard
	// uncertainty.
	Drift, DriftStandard float64
	// Final is what the value tends to, NaN where no approach is seen.
	Final float64
	// TimeConstant of the approach in s, NaN where none is seen.
	TimeConstant float64
	// Remaining is the time in s until the series will be steady, where it is
	// settling along an approach; NaN elsewhere.
	Remaining float64
	// Noise is the standard deviation of single samples.
	Noise float64
	// Outliers are the indices of samples left out.
	Outliers []int
	// Amplitude of cycling, half of peak to peak; 0 elsewhere.
	Amplitude float64
}

// Judge looks at one series. It returns joined *InputError.
//
// Samples far from their neighbours are left out (Hampel's median filter). The
// rest is fitted by v = f + a exp(-(t-t_end)/τ): linear in f and a for each τ, the
// best τ found along a grid from a quarter of a minute to two hours, at whose
// end the fit is as good as a straight line. What the fit leaves over the
// horizon is judged against the tolerance with its uncertainty.
func Judge(s Series) (Judgement, error) {
	if err := s.check(); err != nil {
		return Judgement{}, err
	}
	j := Judgement{Status: TooShort, Final: math.NaN(), TimeConstant: math.NaN(), Remaining: math.NaN()}
	t, v, outliers := clean(s)
	j.Outliers = outliers
	n := len(t)
	if n > 0 {
		j.Value = v[n-1]
	}
	if n < minSamples || t[n-1]-t[0] < minSpan {
		return j, nil
	}
	j.Noise = noise(v)
	if swing := cycles(v, max(2*s.Tolerance, 6*j.Noise)); swing > 0 {
		j.Status, j.Amplitude = Cycling, swing/2
		return j, nil
	}
	f := approach(t, v, j.Noise)
	j.Value, j.ValueStandard = f.final+f.left, f.valueStandard
	j.Trend, j.TrendStandard = -f.left/f.tau, f.leftStandard/f.tau
	share := -math.Expm1(-Horizon / f.tau)
	j.Drift, j.DriftStandard = -f.left*share, f.driftStandard
	if f.tau < slowest {
		j.Final, j.TimeConstant = f.final, f.tau
	}
	// Steady where the drift is small beyond doubt; the bound is a little
	// above the tolerance, so that the doubt alone does not delay it.
	if math.Abs(j.Drift)+doubt*j.DriftStandard <= slack*s.Tolerance {
		j.Status = Steady
		return j, nil
	}
	j.Status = Settling
	if f.tau < slowest {
		if wait := f.tau * math.Log(math.Abs(f.left)/s.Tolerance); wait > 0 {
			j.Remaining = wait
		}
	}
	return j, nil
}

const (
	doubt = 1.645 // one-sided 95 %
	slack = 1.2
)

// Ranges of inputs; what the numbers measure is not known here.
var (
	anyNumber  = input.Limits{Kind: unit.KindRatio, Min: -math.MaxFloat64, Max: math.MaxFloat64}
	tolerances = input.Limits{Kind: unit.KindRatio, Max: math.MaxFloat64, Above: true}
)

func (s Series) check() error {
	var bad input.Errors[Given]
	if len(s.Times) != len(s.Values) {
		bad.Add(Samples, -1, UnequalLengths)
	}
	bad.Within(Tolerance, -1, s.Tolerance, tolerances)
	for i, t := range s.Times {
		bad.Within(Times, i, t, anyNumber)
		if i > 0 && !(t > s.Times[i-1]) {
			bad.Add(Times, i, NotRising)
			break
		}
	}
	for i, v := range s.Values {
		bad.Within(Values, i, v, anyNumber)
	}
	return bad.Join()
}

// clean leaves out samples that lie further from the median of their
// neighbourhood than chance allows.
func clean(s Series) (t, v []float64, outliers []int) {
	const half, far = 4, 6
	spread := noise(s.Values)
	for i := range s.Values {
		lo, hi := max(0, i-half), min(len(s.Values), i+half+1)
		near := slices.Clone(s.Values[lo:hi])
		m := median(near)
		for k := range near {
			near[k] = math.Abs(s.Values[lo+k] - m)
		}
		// The local spread holds a steep stretch together.
		limit := max(far*spread, far*1.4826*median(near), s.Tolerance)
		if len(near) > half && math.Abs(s.Values[i]-m) > limit {
			outliers = append(outliers, i)
			continue
		}
		t = append(t, s.Times[i])
		v = append(v, s.Values[i])
	}
	return t, v, outliers
}

func median(x []float64) float64 {
	if len(x) == 0 {
		return 0
	}
	slices.Sort(x)
	return 0.5 * (x[(len(x)-1)/2] + x[len(x)/2])
}

// noise is the standard deviation of samples about a smooth course, from the
// second differences, robustly; display rounding can make it zero.
func noise(v []float64) float64 {
	if len(v) < 5 {
		return 0
	}
	d := make([]float64, 0, len(v)-2)
	for i := 2; i < len(v); i++ {
		d = append(d, math.Abs(v[i]-2*v[i-1]+v[i-2]))
	}
	slices.Sort(d)
	if middle := d[len(d)/2]; middle > 0 {
		return 1.4826 * middle / math.Sqrt(6)
	}
	// Most samples repeat the one before: the upper quarter tells how often
	// the display steps. 0.8694 is the normal distribution's third quartile of
	// absolute values over its standard deviation, inverted.
	return 0.8694 * d[len(d)*3/4] / math.Sqrt(6)
}

// cycles looks for turns of at least the given height: the largest swing where
// the course turns three times or more, else 0. One turn is an overshoot, two
// an overshoot that came back.
func cycles(v []float64, height float64) float64 {
	turns, largest := 0, 0.0
	low, high := v[0], v[0]
	direction := 0
	for _, x := range v {
		low, high = min(low, x), max(high, x)
		switch {
		case direction >= 0 && high-x > height:
			if direction > 0 {
				turns++
			}
			largest = max(largest, high-x)
			direction, low, high = -1, x, x
		case direction <= 0 && x-low > height:
			if direction < 0 {
				turns++
			}
			largest = max(largest, x-low)
			direction, low, high = 1, x, x
		}
	}
	if turns < 2 {
		return 0
	}
	return largest
}

// fit is v = final + left exp(-(t-t_end)/tau).
type fit struct {
	tau, final, left                           float64
	valueStandard, leftStandard, driftStandard float64
	chi                                        float64
}

const (
	fastest = 15.
	slowest = 7200.
	grid    = 60
)

// approach finds the time constant with the least squares, refined between the
// neighbours of the best on the grid, and carries the uncertainty of the time
// constant into that of the drift by the spread of the fits that do as well.
func approach(t, v []float64, noise float64) fit {
	at := func(i float64) float64 { return fastest * math.Pow(slowest/fastest, i/grid) }
	var best fit
	fits := make([]fit, grid+1)
	k := 0
	for i := range fits {
		fits[i] = along(t, v, at(float64(i)))
		if i == 0 || fits[i].chi < best.chi {
			best, k = fits[i], i
		}
	}
	for lo, hi := max(0, float64(k)-1), min(grid, float64(k)+1); hi-lo > 1e-3; {
		a, b := lo+(hi-lo)/3, hi-(hi-lo)/3
		fa, fb := along(t, v, at(a)), along(t, v, at(b))
		if fa.chi < fb.chi {
			hi = b
		} else {
			lo = a
		}
		for _, f := range []fit{fa, fb} {
			if f.chi < best.chi {
				best = f
			}
		}
	}
	n := float64(len(t))
	sigma := max(noise, math.Sqrt(best.chi/max(1, n-3)))
	best.scale(sigma)
	// Time constants within one standard deviation of the best.
	drift := func(f fit) float64 { return f.left * math.Expm1(-Horizon/f.tau) }
	var spread float64
	for _, f := range fits {
		if f.chi <= best.chi+sigma*sigma {
			spread = max(spread, math.Abs(drift(f)-drift(best)))
		}
	}
	best.driftStandard = math.Hypot(best.driftStandard, spread)
	return best
}

// along fits final and left by least squares at a given time constant. Its
// standards are still those of unit noise.
func along(t, v []float64, tau float64) fit {
	end := t[len(t)-1]
	var s0, s1, s2, y0, y1 float64
	// exp(-(t-end)/tau) is large at the start: counted over its own size there.
	start := math.Exp(math.Min((end-t[0])/tau, 600))
	for i := range t {
		e := math.Exp(math.Min((end-t[i])/tau, 600)) / start
		s0++
		s1 += e
		s2 += e * e
		y0 += v[i]
		y1 += v[i] * e
	}
	d := s0*s2 - s1*s1
	f := fit{tau: tau}
	if !(d > 1e-12*s0*s2) {
		f.final = y0 / s0
		f.valueStandard = 1 / math.Sqrt(s0)
	} else {
		a := (s0*y1 - s1*y0) / d
		f.final = (y0 - a*s1) / s0
		f.left = a / start
		f.leftStandard = math.Sqrt(s0/d) / start
		// Value at the end is final + left: the covariance of the two counts.
		g := 1 / start
		f.valueStandard = math.Sqrt(max(0, (s2-2*g*s1+g*g*s0)/d))
	}
	f.driftStandard = f.leftStandard * -math.Expm1(-Horizon/tau)
	for i := range t {
		r := v[i] - f.final - f.left*math.Exp(math.Min((end-t[i])/tau, 600))
		f.chi += r * r
	}
	return f
}

func (f *fit) scale(sigma float64) {
	f.valueStandard *= sigma
	f.leftStandard *= sigma
	f.driftStandard *= sigma
}

// Together judges several series as one: as bad as the worst, and settling as
// long as the slowest.
func Together(list []Judgement) (Status, float64) {
	rank := map[Status]int{Steady: 0, Settling: 1, Cycling: 2, TooShort: 3}
	status, remaining := Steady, math.NaN()
	unknown := false
	for _, j := range list {
		if rank[j.Status] > rank[status] {
			status = j.Status
		}
		if j.Status == Settling {
			if math.IsNaN(j.Remaining) {
				unknown = true
			} else if !(remaining > j.Remaining) {
				remaining = j.Remaining
			}
		}
	}
	if status != Settling || unknown {
		remaining = math.NaN()
	}
	if len(list) == 0 {
		status = TooShort
	}
	return status, remaining
}
