package refdata

import (
	"slices"
	"sync"
)

// Pair holds the published parameters of a binary mixture in the multi-fluid
// form of [Kunz and Wagner 2012]. They are not symmetric: swapping First and
// Second inverts BetaT and BetaV.
//
// [Kunz and Wagner 2012]: https://doi.org/10.1021/je300655b
type Pair struct {
	First  string  `json:"first"`  // designation
	Second string  `json:"second"` // designation
	BetaT  float64 `json:"beta_t"`
	GammaT float64 `json:"gamma_t"`
	BetaV  float64 `json:"beta_v"`
	GammaV float64 `json:"gamma_v"`
	// F scales the departure function; it is 0 where there is none.
	F         float64 `json:"f"`
	Departure string  `json:"departure,omitempty"` // name of a [Departure], or empty
	// Published holds the parameters as printed, where the publication uses
	// another form of the reducing functions.
	Published *PublishedReducing `json:"published_as,omitempty"`
	Source    string             `json:"-"`
}

// PublishedReducing holds the excess reducing parameters of [Lemmon and Jacobsen 2004].
//
// [Lemmon and Jacobsen 2004]: https://doi.org/10.1063/1.1649997
type PublishedReducing struct {
	Xi   float64 `json:"xi_k"`            // K
	Zeta float64 `json:"zeta_m3_per_mol"` // m³/mol
}

// Departure is a departure function of binary mixtures, in τ and δ of the mixture.
//
//	exponential  n δᵈ τᵗ, times exp(-δˡ) where l > 0
//	gerg_2008    the first PowerTerms: n δᵈ τᵗ; the others:
//	             n δᵈ τᵗ exp(-η(δ-ε)² - β(δ-γ)), where the second difference
//	             too is in δ and stands in the first power
//
// L is set for exponential alone, PowerTerms and the Greek letters for gerg_2008 alone.
type Departure struct {
	Name       string    `json:"name"`
	Form       string    `json:"form"`
	PowerTerms int       `json:"power_terms,omitempty"`
	N          []float64 `json:"n"`
	D          []float64 `json:"d"`
	T          []float64 `json:"t"`
	L          []float64 `json:"l,omitempty"`
	Eta        []float64 `json:"eta,omitempty"`
	Epsilon    []float64 `json:"epsilon,omitempty"`
	Beta       []float64 `json:"beta,omitempty"`
	Gamma      []float64 `json:"gamma,omitempty"`
	Source     string    `json:"-"`
}

// Pairs returns all pairs with published mixing parameters, grouped by
// publication. A pair that is absent has no published fit here.
func Pairs() []Pair { return slices.Clone(pairs()) }

var pairs = sync.OnceValue(func() (all []Pair) {
	type file struct {
		Source string `json:"source"`
		Pairs  []Pair `json:"pairs"`
	}
	for _, f := range mustReadAll[file]("pairs") {
		for _, p := range f.Pairs {
			p.Source = f.Source
			all = append(all, p)
		}
	}
	return all
})

// Departures returns all departure functions, grouped by publication. The
// caller must not write to the slices inside.
func Departures() []Departure { return slices.Clone(departures()) }

var departures = sync.OnceValue(func() (all []Departure) {
	type file struct {
		Source     string      `json:"source"`
		Departures []Departure `json:"departures"`
	}
	for _, f := range mustReadAll[file]("departures") {
		for _, d := range f.Departures {
			d.Source = f.Source
			all = append(all, d)
		}
	}
	return all
})
