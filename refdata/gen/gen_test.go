//go:build !js

package main

import (
	"fmt"
	"math"
	"os"
	"runtime"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/equipment"
	"github.com/knurl-hvacr/knurl/engine/plant"
	"github.com/knurl-hvacr/knurl/engine/signature"
)

// conditionsGrid are the airs at which means are compared: mild and dry, usual, hot and humid.
func conditionsGrid() []signature.Conditions {
	t := signature.Traits{Dry: 1, Lift: 1}
	return []signature.Conditions{
		signature.ConditionsAt(signature.Air{Outdoor: 298, ReturnDry: 296, ReturnWet: 286, SitePressure: 95e3}, t),
		signature.ConditionsAt(signature.Air{Outdoor: 305, ReturnDry: 298, ReturnWet: 291, SitePressure: 100e3}, t),
		signature.ConditionsAt(signature.Air{Outdoor: 313, ReturnDry: 300, ReturnWet: 294, SitePressure: 100e3}, t),
	}
}

// apart compares two components: root mean square of the differences of means in
// standard deviations, and of those as a share.
func apart(a, b *signature.Component) (mean, spread float64) {
	n := 0.0
	for _, s := range conditionsGrid() {
		for c := range signature.Readable {
			sd := math.Sqrt(a.Covariance(c, c))
			m, v := (a.Mean(&s, c)-b.Mean(&s, c))/sd, math.Sqrt(b.Covariance(c, c))/sd-1
			mean, spread, n = mean+m*m, spread+v*v, n+1
		}
	}
	return math.Sqrt(mean / n), math.Sqrt(spread / n)
}

// The embedded model is that of the plant as it stands: other systems give the
// same means and spreads, as far as so few can tell: a mean of 21 terms over n
// samples of equal weight strays by about sqrt(21/n) standard deviations, those by
// sqrt(1/2n) where samples are normal.
func TestEmbeddedModelIsThatOfThePlant(t *testing.T) {
	const systems = 600
	p := plant.NewPriors()
	all, err := fluids()
	require.NoError(t, err)
	every := 3 // one band in three of those of a single fault
	if os.Getenv("KNURL_FULL") != "" {
		every = 1
	}
	var list []explanation
	var at []int // where the embedded components have them
	for i, e := range explanations(p) {
		if len(e.faults) <= 1 && i%every == 0 {
			list, at = append(list, e), append(at, i)
		}
	}
	d := equipment.ThermostaticValve
	samples := solve(p, all, d, list, systems, seed+100, runtime.GOMAXPROCS(0))
	got, err := fit(list, samples, systems)
	require.NoError(t, err)
	embedded, ok := signature.Embedded().Device(d)
	if !ok {
		t.Fatal("no embedded components")
	}
	for i := range got {
		was := embedded[at[i]]
		if fmt.Sprint(was.Faults) != fmt.Sprint(got[i].Faults) {
			t.Fatalf("component %d is %v, embedded %v", i, got[i].Faults, was.Faults)
		}
		sum, squares := 0.0, 0.0
		for _, x := range samples[i] {
			sum += x.Weight
			squares += x.Weight * x.Weight
		}
		n := sum * sum / squares
		mean, spread := apart(&was, &got[i])
		if !(mean < 2*math.Sqrt(21/n) && spread < 0.05+3*math.Sqrt(1/(2*n))) || !(math.Abs(got[i].Kept-was.Kept) <= 0.08) {
			t.Errorf("%v %v: means off by %.2f standard deviations over %.0f samples, those by %.0f %%, kept %.2f and %.2f: has the plant changed? go run ./refdata/gen",
				got[i].Faults, got[i].Bands, mean, n, 100*spread, got[i].Kept, was.Kept)
		}
	}
}

// Made again in full it is the same but for what processors round differently.
func TestModelMadeAgain(t *testing.T) {
	if os.Getenv("KNURL_FULL") == "" || runtime.GOARCH == "386" {
		t.Skip("minutes: KNURL_FULL=1, on a processor of 64 bits")
	}
	m, err := Distil(ensemble, seed, runtime.GOMAXPROCS(0))
	require.NoError(t, err)
	for _, d := range equipment.MeteringDevices() {
		again, _ := m.Device(d)
		embedded, _ := signature.Embedded().Device(d)
		if len(again) != len(embedded) {
			t.Fatalf("%v: %d components, embedded %d", d, len(again), len(embedded))
		}
		for i := range again {
			if mean, spread := apart(&embedded[i], &again[i]); !(mean < 0.02 && spread < 0.02) {
				t.Errorf("%v %v %v: means off by %.3f standard deviations, those by %.1f %%: go run ./refdata/gen", d, again[i].Faults, again[i].Bands, mean, 100*spread)
			}
		}
	}
}
