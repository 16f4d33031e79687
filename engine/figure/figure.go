// Package figure gives figures of the reference data in coherent SI units. It
// must not know what any of them is for.
package figure

import (
	"github.com/knurl-hvacr/knurl/engine/unit"
	"github.com/knurl-hvacr/knurl/refdata"
)

// SI is the value of a figure: a fraction of 1 for percent and ratio, m3/J for
// cfm/ton, 1/Pa for percent/MPa, 1/K for percent/K. The data's own tests hold
// that every figure with a value has a unit; where this one has neither, the
// program is wrong and SI panics.
func SI(f refdata.Figure) float64 { return si(f, f.Value) }

// Low and High are a figure's ends, as SI gives its value.
func Low(f refdata.Figure) float64 { return si(f, f.Low) }

// High is the upper end of a figure.
func High(f refdata.Figure) float64 { return si(f, f.High) }

func si(f refdata.Figure, number *float64) float64 {
	if number == nil {
		panic("figure: " + f.Code + " has no such number")
	}
	v := *number
	switch f.Unit {
	case "ratio":
		return v
	case "percent/MPa":
		return v * 1e-8
	case "percent/K":
		return v * 1e-2
	case "cfm/ton":
		flow, _ := unit.Lookup("cfm")
		ton, _ := unit.Lookup("ton")
		return flow.ToSI(v) / ton.ToSI(1)
	}
	u, ok := unit.Lookup(f.Unit)
	if !ok {
		panic("figure: " + f.Code + " has an unknown unit " + f.Unit)
	}
	return u.ToSI(v)
}

// Allowance is one of [refdata.Allowances] by its code.
func Allowance(code string) refdata.Figure {
	f, ok := refdata.Allowance(code)
	if !ok {
		panic("figure: no allowance " + code)
	}
	return f
}
