// Package target reads the published target tables: superheat of a system with
// a fixed metering device, and temperature split over the indoor coil. It must
// not know what was measured on the system, nor what a difference means.
package target

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"sync"

	"github.com/knurl-hvacr/knurl/engine/unit"
	"github.com/knurl-hvacr/knurl/refdata"
)

// Target is a figure of a table with what is known of its quality.
type Target struct {
	Value unit.TemperatureDiff
	// DryBulbSlope and WetBulbSlope are the partial derivatives, K/K.
	DryBulbSlope, WetBulbSlope float64
	// Standard is the standard uncertainty of the table itself, without the
	// part that its two inputs bring.
	Standard unit.TemperatureDiff
	// Tolerance is the half-width within which the procedure passes a reading.
	Tolerance unit.TemperatureDiff
	// Source is a key of the bibliography, Status how far the figures were
	// checked against it.
	Source, Status string
}

// Within combines the table's standard uncertainty with those of independent
// dry bulb and wet bulb, all in K.
func (t Target) Within(dryBulb, wetBulb unit.TemperatureDiff) unit.TemperatureDiff {
	return unit.KelvinDiff(math.Sqrt(square(t.Standard.Kelvin()) +
		square(t.DryBulbSlope*dryBulb.Kelvin()) + square(t.WetBulbSlope*wetBulb.Kelvin())))
}

func square(x float64) float64 { return x * x }

// Reason is the stable code of why there is no target.
type Reason string

// The reasons.
const (
	BelowMethodRange Reason = "below_method_range"
	AboveMethodRange Reason = "above_method_range"
	// TargetTooLow: the table prints a dash, because the target would be less
	// than 5 degF and no valid test is possible.
	TargetTooLow Reason = "target_too_low"
	// TableGap: the table of temperature splits has no figure for so dry a
	// return air.
	TableGap Reason = "no_figure_in_table"
)

// Alternative is the stable code of what to do without a target.
type Alternative string

// The alternatives.
const (
	RaiseIndoorLoad    Alternative = "raise_indoor_load"
	RetestLater        Alternative = "retest_under_other_conditions"
	WeighIn            Alternative = "weigh_in_charge"
	ManufacturerData   Alternative = "use_manufacturer_data"
	SubcoolingForValve Alternative = "use_subcooling_if_valve_installed"
	MeasureAirflow     Alternative = "measure_airflow"
)

// Given names what a table is read by.
type Given int

// What tables are read by.
const (
	OutdoorDryBulb Given = iota
	ReturnDryBulb
	ReturnWetBulb
)

// String is what it is called in an error.
func (g Given) String() string {
	if g < OutdoorDryBulb || g > ReturnWetBulb {
		return fmt.Sprintf("target.Given(%d)", int(g))
	}
	return [...]string{"outdoor dry bulb", "return dry bulb", "return wet bulb"}[g]
}

// Limit says which input lies outside the table and where its range ends.
type Limit struct {
	Input        Given
	Value, Limit unit.Temperature
}

// UnavailableError says why a table has no target for two inputs. It is an
// answer in itself: nothing is ever extrapolated.
type UnavailableError struct {
	Reason       Reason
	Limits       []Limit // every input outside; empty at a dash
	Alternatives []Alternative
}

func (e *UnavailableError) Error() string {
	s := "target: no figure: " + string(e.Reason)
	for _, l := range e.Limits {
		s += fmt.Sprintf(", %s %.4g degF against a limit of %.4g degF", l.Input, l.Value.Fahrenheit(), l.Limit.Fahrenheit())
	}
	return s
}

// ErrNotATemperature reports an input that is no finite temperature.
var ErrNotATemperature = errors.New("target: not a finite temperature")

// Standard uncertainty of the tables in degF. The superheat table was compared
// with 230 cells of two manufacturers' charts: rms 0.41, worst 1.5, of which rounding
// the charts to whole degrees explains 0.29. No figure exists for the split
// table: as much again is taken, an assumption.
const (
	superheatStandard = 0.41
	splitStandard     = 0.82
)

// Superheat is the target superheat at the suction service port of a system
// with fixed orifice or capillary tube, bilinear between the printed cells: CEC
// Reference Residential Appendices (2008) table RA3.2-2, 55 to 115 degF outdoor
// (dry bulb of the air entering the condenser), 50 to 76 degF return wet bulb.
// It returns *UnavailableError outside and beside a dash, ErrNotATemperature.
func Superheat(outdoorDryBulb, returnWetBulb unit.Temperature) (Target, error) {
	return look(table{
		grid: refdata.TargetSuperheat(), row: OutdoorDryBulb, column: ReturnWetBulb,
		standard: superheatStandard, tolerance: "superheat_tolerance_installer",
		dash: TargetTooLow, atDash: []Alternative{RaiseIndoorLoad, RetestLater, SubcoolingForValve, ManufacturerData, WeighIn},
		outside: []Alternative{ManufacturerData, WeighIn, SubcoolingForValve, RetestLater},
	}, outdoorDryBulb, returnWetBulb)
}

// TemperatureSplit is the target of return minus supply dry bulb at nominal
// airflow: CEC Reference Residential Appendices (2008) table RA3.2-3, 70 to 84
// degF return dry bulb, 50 to 76 degF return wet bulb. Later editions dropped
// the method and want airflow measured. It returns *UnavailableError outside
// and beside a gap, ErrNotATemperature.
func TemperatureSplit(returnDryBulb, returnWetBulb unit.Temperature) (Target, error) {
	return look(table{
		grid: refdata.TargetTemperatureSplit(), row: ReturnDryBulb, column: ReturnWetBulb,
		standard: splitStandard, tolerance: "temperature_split_tolerance_installer",
		dash: TableGap, atDash: []Alternative{MeasureAirflow},
		outside: []Alternative{MeasureAirflow},
	}, returnDryBulb, returnWetBulb)
}

type table struct {
	grid            refdata.Grid
	row, column     Given
	standard        float64 // degF
	tolerance       string  // code of the procedure's figure
	dash            Reason
	atDash, outside []Alternative
}

func look(t table, dry, wet unit.Temperature) (Target, error) {
	x, y := dry.Fahrenheit(), wet.Fahrenheit()
	if !(math.Abs(x) < 1e6 && math.Abs(y) < 1e6) {
		return Target{}, ErrNotATemperature
	}
	g := t.grid
	rows, below, above := cells(g.Rows, x)
	columns, belowWet, aboveWet := cells(g.Columns, y)
	if below || above || belowWet || aboveWet {
		e := &UnavailableError{Reason: BelowMethodRange, Alternatives: slices.Clone(t.outside)}
		if !below && !belowWet {
			e.Reason = AboveMethodRange
		}
		for _, in := range []struct {
			name    Given
			value   unit.Temperature
			axis    []float64
			outside bool
			below   bool
		}{{t.row, dry, g.Rows, below || above, below}, {t.column, wet, g.Columns, belowWet || aboveWet, belowWet}} {
			limit := in.axis[len(in.axis)-1]
			if in.below {
				limit = in.axis[0]
			}
			if in.outside {
				e.Limits = append(e.Limits, Limit{in.name, in.value, unit.Fahrenheit(limit)})
			}
		}
		return Target{}, e
	}
	for _, i := range rows {
		for _, j := range columns {
			c := [4]float64{g.Cells[i][j], g.Cells[i][j+1], g.Cells[i+1][j], g.Cells[i+1][j+1]}
			if math.IsNaN(c[0] + c[1] + c[2] + c[3]) { // a dash
				continue
			}
			dx, dy := g.Rows[i+1]-g.Rows[i], g.Columns[j+1]-g.Columns[j]
			u, v := (x-g.Rows[i])/dx, (y-g.Columns[j])/dy
			return Target{
				Value:        unit.FahrenheitDiff((1-u)*((1-v)*c[0]+v*c[1]) + u*((1-v)*c[2]+v*c[3])),
				DryBulbSlope: ((1-v)*(c[2]-c[0]) + v*(c[3]-c[1])) / dx,
				WetBulbSlope: ((1-u)*(c[1]-c[0]) + u*(c[3]-c[2])) / dy,
				Standard:     unit.FahrenheitDiff(t.standard),
				Tolerance:    unit.FahrenheitDiff(figure(t.tolerance)),
				Source:       g.Source,
				Status:       g.Status,
			}, nil
		}
	}
	return Target{}, &UnavailableError{Reason: t.dash, Alternatives: slices.Clone(t.atDash)}
}

// figures are the values of the procedure by code, in the unit they were
// published in.
var figures = sync.OnceValue(func() map[string]float64 {
	all := map[string]float64{}
	for _, f := range refdata.ChargeVerification() {
		if f.Value != nil {
			all[f.Code] = *f.Value
		}
	}
	return all
})

// figure finds a value that the data's own tests hold to be there.
func figure(code string) float64 {
	v, ok := figures()[code]
	if !ok {
		panic("target: the procedure has no figure " + code)
	}
	return v
}

// onLine is how near, in degF, counts as on a printed line: far less than any
// instrument resolves, more than converting units costs.
const onLine = 1e-9

// cells lists the cells of an axis that x lies in: one, or two where it lies on
// the line between them.
func cells(axis []float64, x float64) (in []int, below, above bool) {
	last := len(axis) - 1
	if x < axis[0]-onLine {
		return nil, true, false
	}
	if x > axis[last]+onLine {
		return nil, false, true
	}
	for i := range last {
		if x >= axis[i]-onLine && x <= axis[i+1]+onLine {
			in = append(in, i)
		}
	}
	return in, false, false
}

// SuperheatTolerance is the half-width within which the procedure passes the
// superheat of a fixed metering device, with its source and status.
func SuperheatTolerance() (tolerance unit.TemperatureDiff, source, status string) {
	f, _ := refdata.ChargeVerification().Get("superheat_tolerance_installer")
	return unit.FahrenheitDiff(figure(f.Code)), f.Source, f.Status
}
