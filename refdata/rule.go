package refdata

import (
	"slices"
	"sync"
)

// Figure is one published rule or rule of thumb. It has a Value, or a band from
// Low to High of which one end may be open, or both (a typical value with its
// band), or no number at all where the rule is a statement.
type Figure struct {
	Code  string   `json:"code"` // stable, snake_case
	Text  string   `json:"text"` // what the figure is
	Value *float64 `json:"value,omitempty"`
	Low   *float64 `json:"low,omitempty"`
	High  *float64 `json:"high,omitempty"`
	Unit  string   `json:"unit,omitempty"` // degF is a temperature, delta_degF a difference
	// Section of the source; SectionInferred tells that its number was
	// concluded from the order of pages.
	Section         string `json:"section,omitempty"`
	SectionInferred bool   `json:"section_inferred,omitempty"`
	Source          string `json:"source"`
	Detail          string `json:"detail,omitempty"`
	Status          string `json:"status"`
}

// Figures is a list of figures with different codes.
type Figures []Figure

// Get returns the figure with the given code.
func (fs Figures) Get(code string) (Figure, bool) {
	i := slices.IndexFunc(fs, func(f Figure) bool { return f.Code == code })
	if i < 0 {
		return Figure{}, false
	}
	return fs[i], true
}

// ChargeVerification returns the figures of the charge-verification procedure
// of the California Energy Commission, RA3.2. The caller must not write through
// the pointers inside.
func ChargeVerification() Figures { return slices.Clone(chargeVerification()) }

// TradeFacts returns published and customary figures of the trade. Figures that
// [ChargeVerification] or [Instruments] have are not repeated. The caller must
// not write through the pointers inside.
func TradeFacts() Figures { return slices.Clone(tradeFacts()) }

// NoFault returns how superheat, subcooling and coil temperatures of a fault-free
// unit moved in a laboratory. The caller must not write through the pointers inside.
func NoFault() Figures { return slices.Clone(noFault()) }

var (
	chargeVerification = sync.OnceValue(func() Figures { return mustReadFigures("rules/charge-verification.json") })
	tradeFacts         = sync.OnceValue(func() Figures { return mustReadFigures("rules/trade-facts.json") })
	noFault            = sync.OnceValue(func() Figures { return mustReadFigures("rules/no-fault.json") })
)

func mustReadFigures(name string) Figures {
	type file struct {
		Figures Figures `json:"figures"`
	}
	return mustRead[file](name).Figures
}

// Instrument is the accuracy of a class of instruments: either bands of the
// span, or an absolute limit of error with an optional part of the reading.
type Instrument struct {
	Code  string         `json:"code"` // stable, snake_case
	Kind  string         `json:"kind"` // pressure or temperature
	Bands []AccuracyBand `json:"bands,omitempty"`
	Limit float64        `json:"limit,omitempty"` // in Unit
	Unit  string         `json:"unit,omitempty"`  // psi, delta_degF or delta_degC
	// PercentOfReading is of the reading on the scale of Unit, taken without
	// regard to sign. Combination tells how it joins Limit: sum, or larger.
	PercentOfReading float64 `json:"percent_of_reading,omitempty"`
	Combination      string  `json:"combination,omitempty"`
	Source           string  `json:"source"`
	Detail           string  `json:"detail,omitempty"`
	Status           string  `json:"status"`
}

// AccuracyBand is the limit of error within a part of an instrument's span.
type AccuracyBand struct {
	From    float64 `json:"from_percent_of_span"`
	To      float64 `json:"to_percent_of_span"`
	Percent float64 `json:"percent_of_span"` // limit of error, plus or minus
}

// Instruments returns the accuracy classes. The caller must not write to the
// bands inside.
func Instruments() []Instrument { return slices.Clone(instruments()) }

var instruments = sync.OnceValue(func() []Instrument {
	type file struct {
		Instruments []Instrument `json:"instruments"`
	}
	return mustRead[file]("rules/instruments.json").Instruments
})

// Caution is a warning for the technician under a stable code: what it rests
// on. Its words stand among [Texts].
type Caution struct {
	Code   string `json:"code"`
	Source string `json:"source"`
	Detail string `json:"detail,omitempty"`
	Status string `json:"status"`
}

// Cautions returns all cautions.
func Cautions() []Caution { return slices.Clone(cautions()) }

var cautions = sync.OnceValue(func() []Caution {
	type file struct {
		Cautions []Caution `json:"cautions"`
	}
	return mustRead[file]("cautions/cautions.json").Cautions
})
