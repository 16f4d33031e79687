package query

import (
	"errors"
	"fmt"
	"strings"

	"github.com/knurl-hvacr/knurl/engine/equilibrium"
	"github.com/knurl-hvacr/knurl/engine/instrument"
	"github.com/knurl-hvacr/knurl/engine/intake"
	"github.com/knurl-hvacr/knurl/engine/phrase"
	"github.com/knurl-hvacr/knurl/engine/refrigerant"
	"github.com/knurl-hvacr/knurl/engine/unit"
	"github.com/knurl-hvacr/knurl/refdata"
)

// commonPractice is the source key of figures that the trade uses and nobody
// in particular published.
const commonPractice = "common-practice"

// visit notes what a case rests on: the air, and the accuracies of instruments.
func (t *trail) visit(c intake.Case) {
	t.air(c.Air)
	t.instruments(c.Taken)
}

// air notes where the pressure of the air comes from.
func (t *trail) air(a intake.Air) {
	switch a.Basis {
	case intake.MeasuredWithoutAccuracy:
		t.assume("barometer_accuracy", "The air's pressure is given without an accuracy: 0.1 kPa is assumed (one standard deviation, from memory, unverified).")
		t.source(commonPractice, refdata.FromMemory)
	case intake.FromAltitude:
		t.assume("standard_atmosphere", fmt.Sprintf("The air's pressure is taken from the altitude as %.2f kPa (%.3f psia); the weather moves it by about 0.8 kPa either way (one standard deviation, from memory, unverified).", a.Site.Pascal()/1e3, a.Site.PSIA()))
		t.source("ashrae-handbook-2017", "")
		t.source(commonPractice, refdata.FromMemory)
	case intake.SeaLevel:
		t.assume("sea_level", "Neither altitude nor air pressure is given: 101.325 kPa (14.696 psia) is assumed, with 0.8 kPa for the weather (one standard deviation, from memory, unverified). At 5000 ft the air has 2.5 psi less.")
		t.source(commonPractice, refdata.FromMemory)
	}
	if a.GaugesCountFromSeaLevel {
		t.assume("gauge_zero_sea_level", "The gauges are said to show zero at 101.325 kPa whatever the site.")
	}
}

// instruments notes which accuracies were assumed, and where the others come
// from.
func (t *trail) instruments(taken intake.Taken) {
	for _, l := range taken.Limits {
		t.source(l.Source, l.Status)
	}
	if len(taken.ByDefault) == 0 {
		return
	}
	names := make([]string, len(taken.ByDefault))
	for i, n := range taken.ByDefault {
		names[i] = n.String()
	}
	t.assume("default_instruments", "No accuracy is given for "+strings.Join(names, ", ")+": customary limits of error are assumed, as rectangular distributions: "+t.defaultLimits()+".")
}

// defaultLimits words the limits of error that are assumed.
func (t *trail) defaultLimits() string {
	psi := func(high bool) string {
		return fmt.Sprintf("%.3g psi", unit.Pascal(instrument.Default(unit.KindPressure, high, 1e6).SI).PSIA())
	}
	at := unit.Fahrenheit(70)
	return psi(false) + " for suction pressure, " + psi(true) + " for liquid and discharge pressure, " +
		fmt.Sprintf("%.2g degF at 70 degF for thermometers, ", unit.KelvinDiff(instrument.Default(unit.KindTemperature, false, at.Kelvin()).SI).Fahrenheit()) +
		fmt.Sprintf("%.2g %% relative humidity, %.2g %% of an airflow", 100*instrument.Default(unit.KindRatio, false, 0.5).SI, 100*instrument.Default(unit.KindAirFlow, false, 1).SI)
}

// saturationFault words a solver's error for the reader; what is the quantity
// that was asked at.
func saturationFault(f *refrigerant.Refrigerant, err error) (code phrase.Code, detail string) {
	critical := ""
	if c, cErr := f.System().Critical(); cErr == nil {
		t, p := unit.Kelvin(c.Temperature), unit.Pascal(c.Pressure)
		critical = fmt.Sprintf(": its critical point is %.1f degF and %.0f psia (%.1f degC, %.0f kPa)", t.Fahrenheit(), p.PSIA(), t.Celsius(), p.Pascal()/1e3)
	}
	switch {
	case errors.Is(err, equilibrium.ErrAboveCritical):
		return CodeAboveCritical, f.Designation + " does not boil or condense here" + critical
	case errors.Is(err, equilibrium.ErrNearCritical):
		return CodeNearCritical, f.Designation + " is too near its critical point for liquid and vapor to be told apart" + critical
	case errors.Is(err, equilibrium.ErrBelowRange):
		return CodeBelowRange, "this is below what the equation of " + f.Designation + " covers"
	case errors.Is(err, equilibrium.ErrTwoLiquids):
		return CodeTwoLiquids, "by the model, liquid " + f.Designation + " splits in two here"
	}
	return CodeNotConverged, "the equations of " + f.Designation + " gave no answer here"
}
