// Package query is the one wire model: the questions and answers of every
// operation, and an Engine with one method for each. It assembles what the
// physics packages compute and must not compute any physics of its own.
package query

import (
	"github.com/knurl-hvacr/knurl/engine/refrigerant"
	"github.com/knurl-hvacr/knurl/engine/saturation"
	"github.com/knurl-hvacr/knurl/engine/unit"
	"github.com/knurl-hvacr/knurl/refdata"
)

// Engine answers questions. It is safe for concurrent use; beside the curves
// of compositions asked for it keeps nothing of what it was asked.
type Engine struct {
	catalogue *refrigerant.Catalogue
	curves    *saturation.Curves
	stop      func() bool
	admit     Admission
}

// CurveStore keeps the bytes of saturation curves by key, where other processes
// or the next start find them. Both methods may be called from several
// goroutines at once. What Load gives is checked before it is used: a miss is no
// error, and neither is what Store could not keep.
type CurveStore interface {
	Load(key string) (data []byte, ok bool)
	Store(key string, data []byte)
}

// Options of an Engine; the zero value is the default.
type Options struct {
	// CurveStore shares saturation curves with other processes; nil means none.
	CurveStore CurveStore
	// MaxCurves bounds the curves kept in the process; 0 means 512, some 8 MB.
	MaxCurves int
}

// New makes an Engine from the embedded data with the default options.
func New() *Engine { return NewWith(Options{}) }

// NewWith makes an Engine from the embedded data.
func NewWith(o Options) *Engine {
	if o.MaxCurves == 0 {
		o.MaxCurves = 512
	}
	scope := "curves@" + EngineRevision + "." + refdata.Revision()
	return &Engine{catalogue: refrigerant.NewCatalogue(), curves: saturation.NewCurves(o.CurveStore, scope, o.MaxCurves)}
}

// Until is the same engine for a caller who may lose interest: long
// computations ask stop now and then, and return ErrStopped when it reports
// true.
func (e *Engine) Until(stop func() bool) *Engine {
	until := *e
	until.stop = stop
	return &until
}

// Admission is asked before the curve of a composition is built, which costs
// a hundred times what a known one does. typed says that the composition is
// the caller's own and none of the catalogue's. done, when it is not nil, is
// called when it stands; the error ends the question and is given back as it is.
type Admission func(typed bool) (done func(), err error)

// Admitting is the same engine for a caller whose new compositions have to be
// admitted.
func (e *Engine) Admitting(a Admission) *Engine {
	admitting := *e
	admitting.admit = a
	return &admitting
}

// ErrStopped is the error of a computation that Until's stop ended.
var ErrStopped = saturation.ErrStopped

// Warm builds the curves of the named refrigerants, so that the first question
// about them is answered at once. It returns ErrStopped or the first
// *UnknownRefrigerantError.
func (e *Engine) Warm(designations ...string) error {
	for _, d := range designations {
		r, err := e.catalogue.Find(d)
		if err != nil {
			return err
		}
		if _, err := e.lines(r); err != nil {
			return err
		}
	}
	return nil
}

// lines are the saturation lines of a refrigerant.
func (e *Engine) lines(r *refrigerant.Refrigerant) (saturation.Lines, error) {
	s := r.System()
	if e.admit != nil && !e.curves.Known(s) {
		done, err := e.admit(!r.Catalogued)
		if err != nil {
			return saturation.Lines{}, err
		}
		if done != nil {
			defer done()
		}
	}
	return e.curves.Of(s, e.stop)
}

// UnitsQuestion asks for the unit table.
type UnitsQuestion struct{}

// UnitsAnswer lists every unit of the wire.
type UnitsAnswer struct {
	Units []UnitEntry `json:"units"`
} //@name UnitsAnswer

// UnitEntry is one unit: SI value = (value + offset) * factor.
type UnitEntry struct {
	Name   string  `json:"name" example:"psig"`
	Kind   string  `json:"kind" example:"gauge_pressure"`
	Factor float64 `json:"factor" example:"6894.757293168"`
	Offset float64 `json:"offset"`
	// SIUnit is the coherent SI unit that the factor leads to.
	SIUnit string `json:"si_unit" example:"Pa"`
	// UCUM is the code of the Unified Code for Units of Measure; null where it has none.
	UCUM *string `json:"ucum" extensions:"x-nullable"`
	Note string  `json:"note,omitempty"`
} //@name UnitEntry

var coherent = map[unit.Kind]string{
	unit.KindTemperature: "K", unit.KindTemperatureDiff: "K", unit.KindPressure: "Pa", unit.KindGaugePressure: "Pa",
	unit.KindLength: "m", unit.KindMass: "kg", unit.KindVolume: "m3", unit.KindTime: "s", unit.KindAirFlow: "m3/s",
	unit.KindPower: "W", unit.KindDensity: "kg/m3", unit.KindSpecificVolume: "m3/kg", unit.KindSpecificEnergy: "J/kg",
	unit.KindSpecificEntropy: "J/(kg.K)", unit.KindHumidityRatio: "kg/kg", unit.KindRatio: "1", unit.KindMassPerLength: "kg/m",
	unit.KindPressureDiff: "Pa", unit.KindArea: "m2", unit.KindLeakRate: "kg/s", unit.KindThroughput: "Pa.m3/s", unit.KindRiseRate: "Pa/s",
}

// Units answers GET /v1/units.
func (e *Engine) Units(UnitsQuestion, Presentation) (UnitsAnswer, error) {
	all := unit.All()
	a := UnitsAnswer{Units: make([]UnitEntry, len(all))}
	for i, u := range all {
		entry := UnitEntry{Name: u.Name, Kind: string(u.Kind), Factor: u.Factor, Offset: u.Offset, SIUnit: coherent[u.Kind], Note: u.Note}
		if u.UCUM != "" {
			entry.UCUM = &u.UCUM
		}
		a.Units[i] = entry
	}
	return a, nil
}
