package refdata

import (
	"slices"
	"sync"
)

// Fluid is a published Helmholtz-energy equation of state of one fluid, with
// the limits its authors give. Temperatures are in K, pressures in Pa, amount
// densities in mol/m³.
type Fluid struct {
	Designation string `json:"designation"`       // ASHRAE 34 designation such as R-22
	CAS         string `json:"cas,omitempty"`     // empty for a pseudo-pure fluid
	Formula     string `json:"formula,omitempty"` // empty for a pseudo-pure fluid
	// PseudoPure tells that the fluid is a blend treated as a single fluid.
	PseudoPure bool    `json:"pseudo_pure"`
	MolarMass  float64 `json:"molar_mass_kg_per_mol"` // kg/mol
	// GasConstant is the one this equation was fitted with, in J/(mol K).
	GasConstant    float64       `json:"gas_constant_j_per_mol_k"`
	AcentricFactor float64       `json:"acentric_factor"`
	Reducing       ReducingPoint `json:"reducing"`
	// Critical is the point the publication lists; the equation's own can differ a little.
	Critical CriticalPoint `json:"critical"`
	// TripleTemperature is the lower limit of use; for some fluids it is the
	// lower limit of the equation and not the triple point itself.
	TripleTemperature float64    `json:"triple_temperature_k"`
	MaxTemperature    float64    `json:"max_temperature_k"`
	MaxPressure       float64    `json:"max_pressure_pa"`
	Residual          []Term     `json:"residual"`
	Ideal             []Term     `json:"ideal"`
	Ancillary         *Ancillary `json:"ancillary,omitempty"` // pseudo-pure fluids only
	Source            string     `json:"-"`
}

// ReducingPoint makes temperature and density dimensionless:
// τ = Temperature/T and δ = ρ/Density.
type ReducingPoint struct {
	Temperature float64 `json:"temperature_k"`      // K
	Density     float64 `json:"density_mol_per_m3"` // mol/m³
}

// CriticalPoint is a critical point as listed.
type CriticalPoint struct {
	Temperature float64 `json:"temperature_k"`      // K
	Pressure    float64 `json:"pressure_pa"`        // Pa
	Density     float64 `json:"density_mol_per_m3"` // mol/m³
}

// Term is a group of terms of one form. Which fields are set follows from Form;
// all slices of one Term have the same length, and the group is the sum over
// their index i (not written below).
//
// Residual forms:
//
//	power               n τᵗ δᵈ, times exp(-δˡ) where l > 0
//	exponential         n τᵗ δᵈ exp(-g δˡ)
//	double_exponential  n τᵗ δᵈ exp(-δˡ) exp(-τᵐ), each factor only where its exponent > 0
//	gaussian            n τᵗ δᵈ exp(-η(δ-ε)² - β(τ-γ)²)
//	gao_b               n τᵗ δᵈ exp(η(δ-ε)² + 1/(β(τ-γ)² + b))
//	nonanalytic         n Δᵇ δ exp(-C(δ-1)² - D(τ-1)²), Δ = θ² + B((δ-1)²)ᵃ,
//	                    θ = (1-τ) + A((δ-1)²)^(1/(2β))
//
// Ideal forms (the gas constant divides cp0 throughout):
//
//	lead             ln δ + a1 + a2 τ
//	log_tau          LogTau · ln τ
//	power            n τᵗ
//	planck_einstein  n ln(1 - exp(-t τ))
//	offset           a1 + a2 τ
//	cp0_poly         cp0/R contribution c Tᵗ, integrated from T0
//	cp0_constant     cp0/R contribution CpOverR, integrated from T0
type Term struct {
	Form string `json:"form"`

	N       []float64 `json:"n,omitempty"`
	T       []float64 `json:"t,omitempty"`
	D       []float64 `json:"d,omitempty"`
	L       []float64 `json:"l,omitempty"`
	G       []float64 `json:"g,omitempty"`
	M       []float64 `json:"m,omitempty"`
	Eta     []float64 `json:"eta,omitempty"`
	Epsilon []float64 `json:"epsilon,omitempty"`
	Beta    []float64 `json:"beta,omitempty"`
	Gamma   []float64 `json:"gamma,omitempty"`
	// A and B are the lower-case a and b of nonanalytic; B is also the b of gao_b.
	A []float64 `json:"a,omitempty"`
	B []float64 `json:"b,omitempty"`
	// UpperA to UpperD are the capital A, B, C and D of nonanalytic.
	UpperA []float64 `json:"upper_a,omitempty"`
	UpperB []float64 `json:"upper_b,omitempty"`
	UpperC []float64 `json:"upper_c,omitempty"`
	UpperD []float64 `json:"upper_d,omitempty"`
	// C holds the coefficients of cp0_poly, whose exponents are T.
	C []float64 `json:"c,omitempty"`

	A1      float64 `json:"a1,omitempty"`
	A2      float64 `json:"a2,omitempty"`
	LogTau  float64 `json:"log_tau,omitempty"`
	CpOverR float64 `json:"cp_over_r,omitempty"`
	Tc      float64 `json:"reducing_temperature_k,omitempty"`  // K, of cp0_poly and cp0_constant
	T0      float64 `json:"reference_temperature_k,omitempty"` // K, of cp0_poly and cp0_constant
}

// Ancillary holds the explicit saturation curves of a pseudo-pure fluid.
type Ancillary struct {
	BubblePressure AncillaryCurve `json:"bubble_pressure"` // Pa
	DewPressure    AncillaryCurve `json:"dew_pressure"`    // Pa
	// LiquidDensity and VaporDensity were fitted afterwards by the manufacturers of a
	// property library and serve as starting values only; mol/m³.
	LiquidDensity AncillaryCurve `json:"liquid_density"`
	VaporDensity  AncillaryCurve `json:"vapor_density"`
}

// AncillaryCurve is y(T) with θ = 1 - T/ReducingTemperature and Σ = Σ N θᵀ:
// for the form "exponential" y = ReducingValue exp(Σ), or
// ReducingValue exp(Σ·ReducingTemperature/T) where TimesTau;
// for the form "linear" y = ReducingValue (1 + Σ).
type AncillaryCurve struct {
	Form                string    `json:"form"`
	TimesTau            bool      `json:"times_tau"`
	ReducingTemperature float64   `json:"reducing_temperature_k"` // K
	ReducingValue       float64   `json:"reducing_value"`         // in the unit of the curve
	N                   []float64 `json:"n"`
	T                   []float64 `json:"t"`
	MinTemperature      float64   `json:"min_temperature_k"` // K
	MaxTemperature      float64   `json:"max_temperature_k"` // K
	Source              string    `json:"source"`
}

// Fluids returns all fluids that have an equation of state here, grouped by
// publication. The caller may reorder the slice but must not write to the
// slices inside.
func Fluids() []Fluid { return slices.Clone(fluids()) }

var fluids = sync.OnceValue(func() (all []Fluid) {
	type file struct {
		Source string  `json:"source"`
		Fluids []Fluid `json:"fluids"`
	}
	for _, f := range mustReadAll[file]("fluids") {
		for _, fl := range f.Fluids {
			fl.Source = f.Source
			all = append(all, fl)
		}
	}
	return all
})
