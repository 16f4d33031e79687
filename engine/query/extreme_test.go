package query_test

import (
	"errors"
	"math"
	"math/rand"
	"reflect"
	"strings"
	"testing"

	"github.com/knurl-hvacr/knurl/engine/query"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// Numbers at the edges of what a float64 and a gauge can hold.
var extremes = []float64{0, math.Copysign(0, -1), 1e-320, 1e-12, 0.5, 1, 14.696, 29.9213, 40, 118, 400, 715, 721, 1e4, 1e12, 1e154, 1e200, math.MaxFloat64, math.NaN(), math.Inf(1), math.Inf(-1)}

// draw sets about half of the quantities of readings, mostly to a plausible
// figure of the kind and now and then to an extreme one.
func draw(r *rand.Rand, readings *query.Readings) {
	v := reflect.ValueOf(readings).Elem()
	for i := range v.NumField() {
		if r.Intn(2) == 0 {
			continue
		}
		name := v.Type().Field(i).Name
		spelled, si := []string{"degF", "degC", "K"}[r.Intn(3)], 260+70*r.Float64()
		switch {
		case strings.HasSuffix(name, "Pressure"):
			spelled, si = []string{"psig", "psia", "inHgv", "barg"}[r.Intn(4)], 2e5+3e6*r.Float64()
		case name == "ReturnRelativeHumidity":
			spelled, si = "percent", r.Float64()
		case name == "IndoorAirflow":
			spelled, si = "cfm", r.Float64()
		}
		u, _ := unit.Lookup(spelled)
		value := u.FromSI(si)
		if spelled == "inHgv" {
			value = 30 * r.Float64()
		}
		if r.Intn(12) == 0 {
			value = extremes[r.Intn(len(extremes))]
		}
		q := query.Quantity{Value: &value, Unit: spelled}
		if r.Intn(8) == 0 {
			a := extremes[r.Intn(len(extremes))]
			q.Accuracy = &a
		}
		v.Field(i).Set(reflect.ValueOf(&q))
	}
}

// Whatever the numbers, an answer can be written or the question is refused.
func TestExtremeNumbers(t *testing.T) {
	r := rand.New(rand.NewSource(2))
	refrigerants := []string{"R-22", "R-410A", "R-454B", "R-744", "R-718", "R-11"}
	answered, refused := 0, 0
	for range visits(1000, 3000) {
		var q query.DiagnosisQuestion
		q.System.Refrigerant = refrigerants[r.Intn(len(refrigerants))]
		q.System.MeteringDevice = []string{"fixed_orifice", "capillary_tube", "thermostatic_valve", "electronic_valve", ""}[r.Intn(5)]
		as := query.Presentation{Explain: r.Intn(2) == 0}
		draw(r, &q.Readings)
		if r.Intn(3) == 0 {
			q.System.NominalCapacity = quantity(extremes[r.Intn(len(extremes))], "ton")
		}
		if r.Intn(8) == 0 {
			q.Site.Altitude = quantity(extremes[r.Intn(len(extremes))], "ft")
		}
		if r.Intn(8) == 0 {
			q.Prior = map[string]float64{"undercharge": extremes[r.Intn(len(extremes))], "no_fault": extremes[r.Intn(len(extremes))]}
		}
		a, err := engine.Diagnosis(q, as)
		var refusal *query.Refusal
		switch {
		case err == nil:
			answered++
			text(t, a)
		case !errors.As(err, &refusal) || len(refusal.Errors) == 0:
			t.Fatalf("%v of %+v", err, q)
		default:
			refused++
		}
	}
	t.Logf("%d answered, %d refused", answered, refused)
	if answered < 200 || refused < 200 {
		t.Errorf("%d answered, %d refused: the draw says little", answered, refused)
	}
}
