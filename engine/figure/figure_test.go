package figure

import (
	"testing"

	"github.com/knurl-hvacr/knurl/refdata"
)

func TestSI(t *testing.T) {
	of := func(v float64, unit string) refdata.Figure {
		return refdata.Figure{Code: "of_test", Value: &v, Low: &v, High: &v, Unit: unit}
	}
	for _, tt := range []struct {
		f    refdata.Figure
		want float64
	}{
		{of(9, "delta_degF"), 5}, {of(0.8, "delta_kPa"), 800}, {of(2, "percent"), 0.02}, {of(0.03, "ratio"), 0.03}, {of(30, "min"), 1800},
	} {
		low, high := Low(tt.f), High(tt.f)
		if got := SI(tt.f); got != tt.want || low != tt.want || high != tt.want {
			t.Errorf("%g %s is %g, between %g and %g; want %g", *tt.f.Value, tt.f.Unit, got, low, high, tt.want)
		}
	}
	// 400 cfm a ton of 12000 Btu/h: 0.18878 m3/s over 3516.85 W.
	if got := SI(of(400, "cfm/ton")); !(got > 5.3678e-5 && got < 5.3680e-5) {
		t.Errorf("400 cfm/ton are %g m3/J", got)
	}
}

// Every allowance is one that has a value in SI.
func TestAllowances(t *testing.T) {
	for _, f := range refdata.Allowances() {
		if got := SI(Allowance(f.Code)); !(got > 0) {
			t.Errorf("%s: %g", f.Code, got)
		}
	}
}

func TestPanicsOnDataThatIsWrong(t *testing.T) {
	one := 1.0
	for name, f := range map[string]func(){
		"no value": func() { SI(refdata.Figure{Unit: "K"}) }, "no band": func() { High(refdata.Figure{Value: &one, Unit: "K"}) },
		"no unit": func() { SI(refdata.Figure{Value: &one, Unit: "furlong"}) }, "no code": func() { Allowance("gremlins") },
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s: no panic", name)
				}
			}()
			f()
		}()
	}
}
