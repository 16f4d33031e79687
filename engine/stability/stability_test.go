package stability_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/stability"
)

func judge(t *testing.T, times, values []float64, tolerance float64) stability.Judgement {
	t.Helper()
	j, err := stability.Judge(stability.Series{Times: times, Values: values, Tolerance: tolerance})
	require.NoError(t, err)
	return j
}

// Start-ups that approach exponentially: when is the first time at which a
// record that grows by a sample every 10 s is called steady, against the time
// at which what is left really falls to the tolerance?
func TestStartUpsAreCalledInTime(t *testing.T) {
	const tolerance = 1.0
	runs := 100
	if os.Getenv("KNURL_FULL") != "" {
		runs = 1000
	}
	rng := rand.New(rand.NewPCG(7, 11))
	inTime, early, late := 0, 0, 0
	for range runs {
		tau := 120 + 240*rng.Float64()
		size := (5 + 25*rng.Float64()) * tolerance
		if rng.IntN(2) == 0 {
			size = -size
		}
		noise := (0.05 + 0.15*rng.Float64()) * tolerance
		truth := tau * math.Log(math.Abs(size)/tolerance)
		var times, values []float64
		called := math.NaN()
		for at := 0.0; at < 3600 && math.IsNaN(called); at += 10 {
			times = append(times, at)
			values = append(values, 50+size*math.Exp(-at/tau)+noise*rng.NormFloat64())
			if at < truth-600 {
				continue // far too early to be worth a look, and long before it counts as early
			}
			if judge(t, times, values, tolerance).Status == stability.Steady {
				called = at
			}
		}
		switch d := called - truth; {
		case math.Abs(d) <= 120:
			inTime++
		case d < 0:
			early++
		default:
			late++
		}
	}
	t.Logf("%d of %d within 2 minutes, %d early, %d late", inTime, runs, early, late)
	if inTime < runs*95/100 {
		t.Errorf("only %d of %d within 2 minutes of the true time (%d early, %d late)", inTime, runs, early, late)
	}
}

// Ramps of at least twice the tolerance in 15 minutes, and cycling, are hardly
// ever called steady, whenever one looks.
func TestRampsAndCyclesAreNotSteady(t *testing.T) {
	const runs, tolerance = 1000, 1.0
	rng := rand.New(rand.NewPCG(3, 5))
	ramps, rampsWrong, waves, wavesWrong := 0, 0, 0, 0
	for range runs {
		noise := (0.05 + 0.15*rng.Float64()) * tolerance
		span := 240 + 1200*rng.Float64()
		slope := (2 + 4*rng.Float64()) * tolerance / 900
		var times, values []float64
		for at := 0.0; at <= span; at += 10 {
			times = append(times, at)
			values = append(values, 50+slope*at+noise*rng.NormFloat64())
		}
		ramps++
		if judge(t, times, values, tolerance).Status == stability.Steady {
			rampsWrong++
		}

		period := 240 + 480*rng.Float64()
		amplitude := (2 + 6*rng.Float64()) * tolerance
		phase := rng.Float64()
		times, values = nil, nil
		for at := 0.0; at <= 2.2*period; at += 10 {
			x := math.Mod(at/period+phase, 1)
			wave := math.Sin(2 * math.Pi * x)
			if rng.IntN(2) == 0 {
				wave = math.Copysign(1-math.Exp(-6*math.Mod(2*x, 1)), wave)
			}
			times = append(times, at)
			values = append(values, 50+amplitude*wave+noise*rng.NormFloat64())
		}
		waves++
		if judge(t, times, values, tolerance).Status == stability.Steady {
			wavesWrong++
		}
	}
	t.Logf("ramps called steady %d of %d, cycles %d of %d", rampsWrong, ramps, wavesWrong, waves)
	if rampsWrong > ramps/100 {
		t.Errorf("%d of %d ramps were called steady", rampsWrong, ramps)
	}
	if wavesWrong > waves/100 {
		t.Errorf("%d of %d cycles were called steady", wavesWrong, waves)
	}
}

func TestWhatIsSaid(t *testing.T) {
	// An exact exponential: its parameters come back.
	var times, values []float64
	for at := 0.0; at <= 300; at += 10 {
		times = append(times, at)
		values = append(values, 40+20*math.Exp(-at/200))
	}
	j := judge(t, times, values, 1)
	require.Equal(t, stability.Settling, j.Status, "exponential")
	require.Less(t, math.Abs(j.Final-40), 0.05, "exponential: %+v", j)
	require.Less(t, math.Abs(j.TimeConstant-200), 2.0, "exponential: %+v", j)
	if want := 200*math.Log(20) - 300; !(math.Abs(j.Remaining-want) < 5) {
		t.Errorf("remaining %g s, want %g s", j.Remaining, want)
	}
	if want := -20 * math.Exp(-1.5) / 200; !(math.Abs(j.Trend/want-1) < 0.02) {
		t.Errorf("trend %g, want %g", j.Trend, want)
	}

	// A display that does not move.
	times, values = nil, nil
	for at := 0.0; at <= 600; at += 20 {
		times = append(times, at)
		values = append(values, 118)
	}
	still := judge(t, times, values, 2)
	require.Equal(t, stability.Steady, still.Status, "constant")
	require.Equal(t, 118.0, still.Value, "constant")
	require.Equal(t, 0.0, still.Drift, "constant")
	// One wild sample changes nothing but is named.
	values[12] = 480
	wild := judge(t, times, values, 2)
	require.Equal(t, stability.Steady, wild.Status, "an outlier")
	require.Equal(t, []int{12}, wild.Outliers, "an outlier")
	// Too few, too short.
	if j := judge(t, times[:8], values[:8], 2); j.Status != stability.TooShort {
		t.Errorf("eight samples: %+v", j)
	}
	if j := judge(t, nil, nil, 2); j.Status != stability.TooShort {
		t.Errorf("no samples: %+v", j)
	}
	// A gap and uneven times do no harm.
	times, values = nil, nil
	for _, at := range []float64{0, 7, 15, 31, 44, 60, 75, 400, 405, 421, 433, 450, 460, 475, 500} {
		times = append(times, at)
		values = append(values, 70+0.1*math.Sin(at))
	}
	if j := judge(t, times, values, 1); j.Status != stability.Steady {
		t.Errorf("a gap: %+v", j)
	}
}

func TestTogether(t *testing.T) {
	steady := stability.Judgement{Status: stability.Steady, Remaining: math.NaN()}
	slow := stability.Judgement{Status: stability.Settling, Remaining: 300}
	slower := stability.Judgement{Status: stability.Settling, Remaining: 500}
	unknown := stability.Judgement{Status: stability.Settling, Remaining: math.NaN()}
	cycling := stability.Judgement{Status: stability.Cycling, Remaining: math.NaN()}
	for _, tt := range []struct {
		list   []stability.Judgement
		status stability.Status
		wait   float64
	}{
		{nil, stability.TooShort, math.NaN()},
		{[]stability.Judgement{steady, steady}, stability.Steady, math.NaN()},
		{[]stability.Judgement{slow, steady, slower}, stability.Settling, 500},
		{[]stability.Judgement{slow, unknown}, stability.Settling, math.NaN()},
		{[]stability.Judgement{slow, cycling}, stability.Cycling, math.NaN()},
	} {
		status, wait := stability.Together(tt.list)
		require.Equal(t, tt.status, status, "%v", tt.list)
		require.True(t, wait == tt.wait || math.IsNaN(wait) && math.IsNaN(tt.wait), "%v: %s, %g", tt.list, status, wait)
	}
}

func TestRefusals(t *testing.T) {
	for name, s := range map[string]stability.Series{
		"lengths":   {Times: []float64{0, 1}, Values: []float64{1}, Tolerance: 1},
		"order":     {Times: []float64{0, 2, 1}, Values: []float64{1, 1, 1}, Tolerance: 1},
		"twice":     {Times: []float64{0, 0}, Values: []float64{1, 1}, Tolerance: 1},
		"NaN":       {Times: []float64{0, 1}, Values: []float64{1, math.NaN()}, Tolerance: 1},
		"Inf":       {Times: []float64{0, math.Inf(1)}, Values: []float64{1, 1}, Tolerance: 1},
		"tolerance": {Times: []float64{0, 1}, Values: []float64{1, 1}, Tolerance: 0},
		"no bound":  {Times: []float64{0, 1}, Values: []float64{1, 1}, Tolerance: math.NaN()},
	} {
		if _, err := stability.Judge(s); !errors.Is(err, stability.ErrSeries) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func BenchmarkJudge(b *testing.B) {
	rng := rand.New(rand.NewPCG(1, 2))
	s := stability.Series{Tolerance: 1}
	for at := 0.0; at < 1200; at += 10 {
		s.Times = append(s.Times, at)
		s.Values = append(s.Values, 40+20*math.Exp(-at/200)+0.1*rng.NormFloat64())
	}
	for b.Loop() {
		if _, err := stability.Judge(s); err != nil {
			b.Fatal(err)
		}
	}
}
