package score

import (
	"cmp"
	"errors"
	"math"
	"slices"

	"github.com/knurl-hvacr/knurl/engine/query"
	"github.com/knurl-hvacr/knurl/engine/target"
	"github.com/knurl-hvacr/knurl/engine/unit"
	"github.com/knurl-hvacr/knurl/refdata"
)

// column of the usual decision table.
type column int

const (
	superheat column = iota
	subcooling
	split
	overAmbient
	columns
)

// row of the usual decision table: below tolerance (-1), within (0), above (1).
type row struct {
	fault        string
	fixed, valve [columns]int
}

// usual is the table as trade schools draw it (common practice, from memory).
// Three readings of it were scored, and the one that fares best is kept: to call
// everything off that lies off any figure gives 55 % false alarms; to draw
// overcharge with a hot condenser, as some do, leaves it no different from
// non-condensable gas with a valve and gets 42 % right.
// Of rows that fit equally well the first is said: they stand in the order of how
// often a fault is met.
var usual = []row{
	{"undercharge", [columns]int{1, -1, 0, 0}, [columns]int{0, -1, 0, 0}},
	{"low_indoor_airflow", [columns]int{-1, 0, 1, 0}, [columns]int{0, 0, 1, 0}},
	{"overcharge", [columns]int{-1, 1, 0, 0}, [columns]int{0, 1, 0, 0}},
	{"low_outdoor_airflow", [columns]int{0, 0, 0, 1}, [columns]int{0, 0, 0, 1}},
	{"non_condensables", [columns]int{0, 1, 0, 1}, [columns]int{0, 1, 0, 1}},
	{"liquid_line_restriction", [columns]int{1, 1, -1, 0}, [columns]int{1, 1, -1, 0}},
	{"compressor_valve_leakage", [columns]int{-1, 0, -1, -1}, [columns]int{0, 0, -1, -1}},
}

// claimed is the flat probability that a reader of the table would give what
// it says.
const claimed = 0.7

// usualTable decides as a technician with the usual table does: air first, then
// the row whose signs are least apart.
func usualTable(e *query.Engine) Decider {
	return func(q query.DiagnosisQuestion) (Decision, error) {
		cells, err := cellsOf(e, q)
		if err != nil {
			return Decision{}, err
		}
		fixed := q.System.MeteringDevice == "fixed_orifice" || q.System.MeteringDevice == "capillary_tube"
		apart := func(r row) int {
			want, n := r.valve, 0
			if fixed {
				want = r.fixed
			}
			for c, is := range cells {
				if is != unread {
					n += max(is-want[c], want[c]-is)
				}
			}
			if r.fault == "low_indoor_airflow" && cells[split] > 0 {
				return -1 // the published procedure: nothing else until the air is right
			}
			return n
		}
		ranked := slices.Clone(usual)
		slices.SortStableFunc(ranked, func(a, b row) int { return cmp.Compare(apart(a), apart(b)) })
		d := Decision{Assessment: "no_fault_indicated", Weighed: true, NoFault: claimed}
		first := (1 - claimed) / float64(len(usual))
		if complaint(fixed, cells) {
			d.Assessment, d.NoFault, first = "fault_indicated", first, claimed
		}
		for i, r := range ranked {
			p := (1 - claimed) / float64(len(usual))
			if i == 0 {
				p = first
			}
			d.Faults = append(d.Faults, Likelihood{r.fault, p})
		}
		return d, nil
	}
}

// complaint tells whether anything is wrong at all: the charge fails by what
// the published procedure judges it by (superheat with a fixed device,
// subcooling with a valve, whose superheat has a band), the split is high (a low
// one passes that procedure), or the condenser runs hot.
func complaint(fixed bool, cells [columns]int) bool {
	off := func(c column) bool { return cells[c] == -1 || cells[c] == 1 }
	return off(superheat) || !fixed && off(subcooling) || cells[split] == 1 || cells[overAmbient] == 1
}

// unread is a cell without a reading or a target; it is passed over.
const unread = math.MinInt

// cellsOf compares readings with targets as the published procedure does, by
// the installer's tolerances, all in degF.
func cellsOf(e *query.Engine, q query.DiagnosisQuestion) ([columns]int, error) {
	cells := [columns]int{unread, unread, unread, unread}
	a, err := e.SuperheatSubcooling(query.SuperheatSubcoolingQuestion{Visit: q.Visit}, query.Presentation{})
	if err != nil {
		return cells, err
	}
	judge := func(c column, is, low, high float64) {
		switch {
		case is < low:
			cells[c] = -1
		case is > high:
			cells[c] = 1
		default:
			cells[c] = 0
		}
	}
	wet, known, err := wetBulb(e, q)
	if err != nil {
		return cells, err
	}
	fixed := q.System.MeteringDevice == "fixed_orifice" || q.System.MeteringDevice == "capillary_tube"
	switch s := a.State.Superheat; {
	case s == nil:
	case !fixed:
		band := figure(refdata.ChargeVerification(), "metering_device_superheat_installer")
		judge(superheat, s.Value, *band.Low, *band.High)
	case known && q.Readings.OutdoorDryBulb != nil:
		if err := within(judge, superheat, s.Value, target.Superheat, temperature(q.Readings.OutdoorDryBulb), wet); err != nil {
			return cells, err
		}
	}
	if s := a.State.Subcooling; s != nil {
		band := figure(refdata.TradeFacts(), "subcooling_typical_valve")
		low, high := *band.Low, *band.High
		if want := q.System.TargetSubcooling; want != nil {
			at := si(want) * 9 / 5
			tolerance := *figure(refdata.ChargeVerification(), "subcooling_tolerance_installer").Value
			low, high = at-tolerance, at+tolerance
		}
		judge(subcooling, s.Value, low, high)
	}
	if s := a.State.TemperatureSplit; s != nil && known {
		if err := within(judge, split, s.Value, target.TemperatureSplit, temperature(q.Readings.ReturnDryBulb), wet); err != nil {
			return cells, err
		}
	}
	if s := a.State.CondensingOverAmbient; s != nil {
		at := usualOverAmbient(q.System.RatedEfficiency)
		judge(overAmbient, s.Value, at-overAmbientTolerance, at+overAmbientTolerance)
	}
	return cells, nil
}

// overAmbientTolerance in degF: no published one is known; the customary
// figures themselves stand 5 apart.
const overAmbientTolerance = 5

// usualOverAmbient in degF, by the efficiency on the plate.
func usualOverAmbient(f *query.Efficiency) float64 {
	code := "condensing_over_ambient_seer_13_to_15"
	if f != nil {
		switch seer := *f.Value; {
		case seer < 10:
			code = "condensing_over_ambient_seer_6_to_10"
		case seer < 13:
			code = "condensing_over_ambient_seer_10_to_12"
		case seer >= 16:
			return *figure(refdata.TradeFacts(), "condensing_over_ambient_seer_16_up").High
		}
	}
	return *figure(refdata.TradeFacts(), code).Value
}

// within judges by a published table; where that has no figure the cell stays unread.
func within(judge func(column, float64, float64, float64), c column, is float64,
	look func(dry, wet unit.Temperature) (target.Target, error), dry, wet unit.Temperature) error {
	t, err := look(dry, wet)
	if none := (*target.UnavailableError)(nil); errors.As(err, &none) {
		return nil
	} else if err != nil {
		return err
	}
	at, tolerance := t.Value.Fahrenheit(), t.Tolerance.Fahrenheit()
	judge(c, is, at-tolerance, at+tolerance)
	return nil
}

// wetBulb of the return air, as read or by its humidity.
func wetBulb(e *query.Engine, q query.DiagnosisQuestion) (unit.Temperature, bool, error) {
	r := q.Readings
	if r.ReturnWetBulb != nil {
		return temperature(r.ReturnWetBulb), true, nil
	}
	if r.ReturnRelativeHumidity == nil || r.ReturnDryBulb == nil {
		return unit.Temperature{}, false, nil
	}
	a, err := e.MoistAir(query.MoistAirQuestion{Site: q.Site, DryBulb: r.ReturnDryBulb, RelativeHumidity: r.ReturnRelativeHumidity}, query.Presentation{})
	return unit.Fahrenheit(a.WetBulb.Value), err == nil, err
}

func temperature(q *query.Quantity) unit.Temperature { return unit.Kelvin(si(q)) }

// si is the value of a quantity that the engine has accepted.
func si(q *query.Quantity) float64 {
	u, ok := unit.Lookup(q.Unit)
	if !ok {
		panic("score: unit " + q.Unit)
	}
	return u.ToSI(*q.Value)
}

func figure(of refdata.Figures, code string) refdata.Figure {
	f, ok := of.Get(code)
	if !ok {
		panic("score: no figure " + code)
	}
	return f
}
