package query_test

import (
	"math"
	"reflect"
	"slices"
	"testing"

	"github.com/knurl-hvacr/knurl/engine/near"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/query"
	"github.com/knurl-hvacr/knurl/engine/refrigerant"
)

const diagramVisit = `{"system":{"refrigerant":"R-410A"},"site":{"altitude":{"value":1150,"unit":"ft"}},"readings":{
	"suction_pressure":{"value":121,"unit":"psig","accuracy":2},"suction_line_temperature":{"value":53,"unit":"degF","accuracy":1},
	"liquid_pressure":{"value":340,"unit":"psig","accuracy":4},"liquid_line_temperature":{"value":95.5,"unit":"degF","accuracy":1},
	"discharge_line_temperature":{"value":165,"unit":"degF","accuracy":2}}}`

func TestDiagramOfAVisit(t *testing.T) {
	q := read[query.PressureEnthalpyDiagramQuestion](t, diagramVisit)
	a := answerAs(t, engine.PressureEnthalpyDiagram, q, query.Presentation{Explain: true})
	var states, legs []string
	for _, s := range a.States {
		states = append(states, s.State)
		require.NotNil(t, s.Enthalpy, "%s", s.State)
		require.NotNil(t, s.Enthalpy.Uncertainty, "%s", s.State)
		require.NotNil(t, s.Region, "%s", s.State)
		require.Nil(t, s.PhaseNotResolved, "%s", s.State)
		require.Nil(t, s.Reason, "%s", s.State)
	}
	for _, l := range a.Legs {
		legs = append(legs, l.Process)
	}
	if !slices.Equal(states, []string{"suction_line", "discharge_line", "liquid_line", "after_expansion"}) || !slices.Equal(legs, []string{"compression", "heat_rejection", "expansion", "evaporation"}) {
		t.Errorf("states %q, legs %q", states, legs)
	}
	// A gauge shows what was read, with its own uncertainty: 2/sqrt 3 psi
	// (GUM 4.3.7) times 1.96, without the air's.
	if g := a.States[0].GaugePressure; !near.Abs(g.Value, 121, 1e-6) || !near.Abs(*g.Uncertainty, 1.96*2/math.Sqrt(3), 0.01) {
		t.Errorf("gauge pressure %s", text(t, g))
	}
	if a.States[0].Pressure.Unit != "psia" || *a.States[0].Pressure.Uncertainty <= *a.States[0].GaugePressure.Uncertainty {
		t.Errorf("pressure %s", text(t, a.States[0].Pressure))
	}
	// The dew temperature of the level is that of superheat.
	s := answer(t, engine.SuperheatSubcooling, query.SuperheatSubcoolingQuestion{Visit: q.Visit})
	if len(a.Levels) != 2 || !near.Abs(a.Levels[0].Dew.Temperature.Value, s.State.EvaporatorDewTemperature.Value, 1e-3) || !near.Abs(a.Levels[1].Bubble.Temperature.Value, s.State.CondenserBubbleTemperature.Value, 1e-3) {
		t.Errorf("levels %s", text(t, a.Levels))
	}
	if len(a.Steps) != 4 || len(a.Cautions) == 0 {
		t.Errorf("%d steps, %d cautions", len(a.Steps), len(a.Cautions))
	}
	for _, code := range []string{"liquid_pressure_for_discharge_pressure", "region_coverage", "legs_straight", "expansion_keeps_enthalpy", "iir_reference"} {
		if !slices.ContainsFunc(a.Assumptions, func(n query.Note) bool { return string(n.Code) == code }) {
			t.Errorf("%s is not among the assumptions", code)
		}
	}
	if w := a.Window; !(w.LowestPressure.Value < a.States[0].Pressure.Value && w.HighestPressure.Value > a.Dome.Critical.Pressure.Value && w.LowestEnthalpy.Value < w.HighestEnthalpy.Value) {
		t.Errorf("window %s", text(t, w))
	}
}

// Readings that contradict the place of a state say so instead of an enthalpy.
func TestDiagramWithoutSuperheat(t *testing.T) {
	q := read[query.PressureEnthalpyDiagramQuestion](t, diagramVisit)
	*q.Readings.SuctionLineTemperature.Value = 40
	a := answer(t, engine.PressureEnthalpyDiagram, q)
	s := a.States[0]
	require.Equal(t, "suction_line", s.State)
	require.Nil(t, s.Enthalpy)
	require.NotNil(t, s.Reason)
	require.Equal(t, "two_phases_no_enthalpy", string(s.Reason.Code))
	require.NotNil(t, s.PhaseNotResolved)
	require.Equal(t, "two_phase", s.Phase)
	if len(a.Legs) != 2 {
		t.Errorf("legs %s", text(t, a.Legs))
	}
	q = read[query.PressureEnthalpyDiagramQuestion](t, diagramVisit)
	// Superheat within the instruments' uncertainty.
	*q.Readings.SuctionLineTemperature.Value = a.Levels[0].Dew.Temperature.Value + 0.5
	if s := answer(t, engine.PressureEnthalpyDiagram, q).States[0]; s.Enthalpy == nil || s.PhaseNotResolved == nil {
		t.Errorf("%s", text(t, s))
	}
}

func TestDiagramOfARefrigerant(t *testing.T) {
	for _, units := range []string{"ip", "si"} {
		as := query.Presentation{Units: units}
		got := answerAs(t, engine.RefrigerantDiagram, query.RefrigerantDiagramQuestion{Designation: "r407c"}, as)
		posted := answerAs(t, engine.PressureEnthalpyDiagram, query.PressureEnthalpyDiagramQuestion{Visit: query.Visit{System: query.System{Refrigerant: "R-407C"}}}, as)
		require.Equal(t, posted, got, "%s", units)
		require.Empty(t, got.States, "%s", units)
		require.GreaterOrEqual(t, len(got.Isotherms), 4, "%s", units)
		for _, i := range got.Isotherms {
			step := map[string]float64{"ip": 40, "si": 20}[units]
			if r := math.Mod(i.Temperature.Value, step); !near.Abs(r, 0, 1e-3) {
				t.Errorf("%s: isotherm at %g", units, i.Temperature.Value)
			}
			// R-407C glides by some 10 degF: its two-phase isotherms fall.
			if p := i.TwoPhase; p != nil && !(p.Pressure.Values[0] > 1.03*p.Pressure.Values[len(p.Pressure.Values)-1]) {
				t.Errorf("%s: %s", units, text(t, p))
			}
		}
	}
	if _, err := engine.RefrigerantDiagram(query.RefrigerantDiagramQuestion{Designation: "R-999"}, query.Presentation{}); !reflect.DeepEqual(reflect.TypeOf(err), reflect.TypeFor[*refrigerant.UnknownError]()) {
		t.Errorf("%v", err)
	}
}

func TestDiagramRefusals(t *testing.T) {
	for _, tt := range []struct {
		body string
		want []string
	}{
		{`{}`, []string{"/system/refrigerant missing"}},
		{`{"system":{"refrigerant":"R-999","mode":"warming"},"site":{"altitude":{"value":1,"unit":"psig"}}}`, []string{"/system/mode unknown_name", "/system/refrigerant unknown_refrigerant", "/site/altitude/unit wrong_kind_of_unit"}},
		{`{"system":{"refrigerant":"R-22"},"readings":{"suction_pressure":{"value":-20,"unit":"psig"}}}`, []string{"/readings/suction_pressure/value out_of_range"}},
	} {
		if got := faults(t, engine.PressureEnthalpyDiagram, read[query.PressureEnthalpyDiagramQuestion](t, tt.body)); !slices.Equal(got, tt.want) {
			t.Errorf("%s: %q, want %q", tt.body, got, tt.want)
		}
	}
	stopped := engine.Until(func() bool { return true })
	if _, err := stopped.RefrigerantDiagram(query.RefrigerantDiagramQuestion{Designation: "R-410A"}, query.Presentation{}); err != query.ErrStopped {
		t.Errorf("%v", err)
	}
}
