// Package refrigerant is the catalogue: designations in every usual spelling,
// compositions, facts with their sources, and the equations of state behind
// them. It joins the published data to the solvers and must not know the wire
// or what a reading is.
package refrigerant

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"

	"github.com/knurl-hvacr/knurl/engine/equilibrium"
	"github.com/knurl-hvacr/knurl/engine/helmholtz"
	"github.com/knurl-hvacr/knurl/engine/unit"
	"github.com/knurl-hvacr/knurl/refdata"
)

// Errors of looking up or composing a refrigerant.
var (
	// ErrUnknown is inside every UnknownError.
	ErrUnknown = errors.New("refrigerant: not in the catalogue")
	// ErrComposition reports a composition that cannot be taken: no or too
	// many components, a share that is not positive, a component named twice,
	// a blend as a component, shares that do not sum to 100 percent.
	ErrComposition = errors.New("refrigerant: malformed composition")
)

// UnknownError reports a spelling that names no catalogued refrigerant.
type UnknownError struct {
	Spelling string
	// Nearest are catalogued designations most like it, possibly none.
	Nearest []string
}

func (e *UnknownError) Error() string {
	if len(e.Nearest) == 0 {
		return fmt.Sprintf("refrigerant: %q is not in the catalogue", e.Spelling)
	}
	return fmt.Sprintf("refrigerant: %q is not in the catalogue, did you mean %s?", e.Spelling, strings.Join(e.Nearest, " or "))
}

func (e *UnknownError) Unwrap() error { return ErrUnknown }

// Component is one component of a refrigerant.
type Component struct {
	Designation string
	// MassFraction of 1.
	MassFraction float64
}

// Refrigerant is a pure fluid or a blend of a fixed composition. It is
// immutable and safe for concurrent use.
type Refrigerant struct {
	// Designation by ASHRAE 34; for a composed blend, its components and shares.
	Designation string
	// Catalogued is false for a composition that a caller typed.
	Catalogued bool
	Components []Component
	// CompositionStatus is refdata.Seen or refdata.FromMemory, empty for a
	// composition that a caller typed.
	CompositionStatus string
	// CompositionSource is the key of what a blend's composition rests on.
	CompositionSource string
	// Facts are nil where none are given.
	Facts *refdata.Facts
	// Sources are the keys of what the properties rest on.
	Sources []string

	system    *equilibrium.System
	reference func() (Reference, error)
}

// System is the refrigerant as the solvers see it.
func (r *Refrigerant) System() *equilibrium.System { return r.system }

// Pure reports whether there is only one component.
func (r *Refrigerant) Pure() bool { return len(r.Components) == 1 }

// Kind is how a refrigerant boils by its designation.
type Kind string

// The kinds.
const (
	Pure      Kind = "pure"
	Azeotrope Kind = "azeotrope"
	Zeotrope  Kind = "zeotrope"
)

// Kind is Azeotrope for the 500 series only: azeotropes by ASHRAE 34.
func (r *Refrigerant) Kind() Kind {
	switch {
	case r.Pure():
		return Pure
	case r.Catalogued && strings.HasPrefix(r.Designation, "R-5"):
		return Azeotrope
	}
	return Zeotrope
}

// Boiling is what happens at one standard atmosphere.
type Boiling struct {
	// Bubble and Dew temperature, K.
	Bubble, Dew float64
	// BelowTriplePoint: a pure fluid is solid there and sublimes, a blend's lines
	// are extrapolated.
	BelowTriplePoint bool
}

// Boiling returns the solver's error where there is none.
func (r *Refrigerant) Boiling() (Boiling, error) {
	sea := unit.StandardAtmosphere().Pascal()
	bubble, err := r.system.AtPressure(equilibrium.BubbleLine, sea)
	if err != nil {
		return Boiling{}, err
	}
	dew, err := r.system.AtPressure(equilibrium.DewLine, sea)
	if err != nil {
		return Boiling{}, err
	}
	return Boiling{bubble.Temperature, dew.Temperature, bubble.Temperature < r.system.MinTemperature()}, nil
}

// EstimatedPairs are the pairs of components for which no mixing parameters
// are published; they are combined linearly.
func (r *Refrigerant) EstimatedPairs() [][2]string { return r.system.Mixture().Estimated() }

// MolarMass in kg/mol.
func (r *Refrigerant) MolarMass() float64 { return r.system.MolarMass() }

// Reference is the zero from which enthalpy and entropy are shown: add the
// shifts to the equation's own values.
type Reference struct {
	// Enthalpy in J/kg and Entropy in J/(kg K) to add.
	Enthalpy, Entropy float64
	// Basis is IIR or BoilingPoint.
	Basis string
}

// The two reference states in use.
const (
	// IIR: h = 200 kJ/kg and s = 1 kJ/(kg K) for bubble liquid at 0 degC
	// (International Institute of Refrigeration).
	IIR = "iir"
	// BoilingPoint: h = 0 and s = 0 for bubble liquid at 101.325 kPa, used
	// where there is no liquid at 0 degC.
	BoilingPoint = "normal_boiling_point"
)

// Reference computes the shifts once; it returns the solver's error where
// neither state exists.
func (r *Refrigerant) Reference() (Reference, error) { return r.reference() }

func (r *Refrigerant) findReference() (Reference, error) {
	const iirTemperature, iirEnthalpy, iirEntropy = 273.15, 200e3, 1e3
	ref := Reference{Basis: IIR, Enthalpy: iirEnthalpy, Entropy: iirEntropy}
	p, err := r.system.AtTemperature(equilibrium.BubbleLine, iirTemperature)
	if err != nil {
		ref = Reference{Basis: BoilingPoint}
		p, err = r.system.AtPressure(equilibrium.BubbleLine, unit.StandardAtmosphere().Pascal())
		if err != nil {
			return Reference{}, err
		}
	}
	c := r.system.Caloric(p.Temperature, p.Liquid.Density)
	ref.Enthalpy -= c.Enthalpy / r.MolarMass()
	ref.Entropy -= c.Entropy / r.MolarMass()
	return ref, nil
}

// Catalogue holds all refrigerants. It is immutable and safe for concurrent
// use.
type Catalogue struct {
	equations *equations
	all       []*Refrigerant
	byKey     map[string]*Refrigerant
}

// NewCatalogue compiles the embedded data.
func NewCatalogue() *Catalogue {
	c := &Catalogue{equations: loadEquations(), byKey: map[string]*Refrigerant{}}
	facts := map[string]*refdata.Facts{}
	for _, f := range refdata.AllFacts() {
		facts[f.Designation] = &f
	}
	for _, f := range refdata.Fluids() {
		if f.PseudoPure {
			continue // answered by the mixture model like every other blend
		}
		c.add(must(c.make(f.Designation, []Component{{f.Designation, 1}})), refdata.Seen, facts)
	}
	for _, b := range refdata.Blends() {
		components := make([]Component, len(b.Components))
		for i, k := range b.Components {
			components[i] = Component{k.Designation, k.MassPercent / 100}
		}
		r := must(c.make(b.Designation, components))
		r.Sources = append(r.Sources, b.Source)
		r.CompositionSource = b.Source
		c.add(r, b.Status, facts)
	}
	slices.SortFunc(c.all, func(a, b *Refrigerant) int { return compareDesignations(a.Designation, b.Designation) })
	for name, designation := range commonNames {
		c.byKey[key(name)] = c.byKey[key(designation)]
	}
	return c
}

func (c *Catalogue) add(r *Refrigerant, status string, facts map[string]*refdata.Facts) {
	r.Catalogued = true
	r.CompositionStatus = status
	r.Facts = facts[r.Designation]
	c.all = append(c.all, r)
	c.byKey[key(r.Designation)] = r
}

// make joins components whose mass fractions sum to 1 within rounding.
func (c *Catalogue) make(designation string, components []Component) (*Refrigerant, error) {
	n := len(components)
	fluids := make([]*helmholtz.Fluid, n)
	mass := make([]float64, n)
	r := &Refrigerant{Designation: designation}
	for i, k := range components {
		fluids[i] = c.equations.fluids[k.Designation]
		mass[i] = k.MassFraction
		r.Sources = append(r.Sources, c.equations.data[k.Designation].Source)
		for _, other := range components[:i] {
			if p, ok := c.equations.pairs[[2]string{other.Designation, k.Designation}]; ok {
				r.Sources = append(r.Sources, p.source)
			}
		}
	}
	slices.Sort(r.Sources)
	r.Sources = slices.Compact(r.Sources)
	m, err := helmholtz.NewMixture(fluids, c.equations.binary)
	if err != nil {
		return nil, err
	}
	var sum float64
	for _, w := range mass {
		sum += w
	}
	for i, k := range components {
		mass[i] /= sum
		r.Components = append(r.Components, Component{k.Designation, mass[i]})
	}
	if r.system, err = equilibrium.New(m, moleFractions(mass, fluids)); err != nil {
		return nil, err
	}
	r.reference = sync.OnceValues(r.findReference)
	return r, nil
}

// All lists every refrigerant, pure fluids and blends in numerical order.
func (c *Catalogue) All() []*Refrigerant { return slices.Clone(c.all) }

// Find looks a refrigerant up by any usual spelling of its designation:
// R-410A, r410a, 410A, HFC-134a, R1234ze(E), or by the common name of a
// natural refrigerant. It returns *UnknownError.
func (c *Catalogue) Find(spelling string) (*Refrigerant, error) {
	k := key(spelling)
	if r, ok := c.byKey[k]; ok && k != "" {
		return r, nil
	}
	return nil, &UnknownError{Spelling: spelling, Nearest: c.nearest(k)}
}

// sumTolerance is how far the shares of a typed composition may miss 100
// percent before they are refused instead of normalized.
const sumTolerance = 0.001

// Compose makes a blend of a typed composition (mass fractions of 1).
// Components are pure fluids in any usual spelling. It returns *UnknownError
// or ErrComposition.
func (c *Catalogue) Compose(components []Component) (*Refrigerant, error) {
	if len(components) == 0 || len(components) > helmholtz.MaxComponents {
		return nil, fmt.Errorf("%w: %d components, allowed are 1 to %d", ErrComposition, len(components), helmholtz.MaxComponents)
	}
	var sum float64
	var names []string
	resolved := make([]Component, len(components))
	for i, k := range components {
		r, err := c.Find(k.Designation)
		if err != nil {
			return nil, err
		}
		switch {
		case !r.Pure():
			return nil, fmt.Errorf("%w: %s is a blend, give its components", ErrComposition, r.Designation)
		case !(k.MassFraction > 0 && k.MassFraction <= 1):
			return nil, fmt.Errorf("%w: share of %s is %v percent", ErrComposition, r.Designation, roundPercent(k.MassFraction))
		case slices.ContainsFunc(resolved[:i], func(o Component) bool { return o.Designation == r.Designation }):
			return nil, fmt.Errorf("%w: %s stands twice", ErrComposition, r.Designation)
		}
		resolved[i] = Component{r.Designation, k.MassFraction}
		names = append(names, fmt.Sprintf("%v%% %s", roundPercent(k.MassFraction), r.Designation))
		sum += k.MassFraction
	}
	if !(math.Abs(sum-1) <= sumTolerance) {
		return nil, fmt.Errorf("%w: shares sum to %v percent", ErrComposition, roundPercent(sum))
	}
	if len(resolved) == 1 {
		return c.Find(resolved[0].Designation)
	}
	return c.make(strings.Join(names, " / "), resolved)
}

// MassFractions of the refrigerant's components.
func (r *Refrigerant) MassFractions() []float64 {
	w := make([]float64, len(r.Components))
	for i, c := range r.Components {
		w[i] = c.MassFraction
	}
	return w
}

// MolarMasses of the refrigerant's components in kg/mol.
func (r *Refrigerant) MolarMasses() []float64 {
	m := make([]float64, len(r.Components))
	for i := range m {
		m[i] = r.system.Mixture().Fluid(i).MolarMass
	}
	return m
}

// MoleFractions of the refrigerant's components for mass fractions in their
// order.
func (r *Refrigerant) MoleFractions(mass []float64) []float64 {
	fluids := make([]*helmholtz.Fluid, len(mass))
	for i := range fluids {
		fluids[i] = r.system.Mixture().Fluid(i)
	}
	return moleFractions(mass, fluids)
}

// WithinTolerance tells whether mass fractions of the components, in their
// order, lie within the published tolerances of the designation; published is
// false where there are none. A pure refrigerant is always what it is.
func (r *Refrigerant) WithinTolerance(mass []float64) (within, published bool) {
	if r.Pure() {
		return true, true
	}
	if r.Facts == nil || len(r.Facts.Tolerances) == 0 {
		return false, false
	}
	within = true
	for i, c := range r.Components {
		k := slices.IndexFunc(r.Facts.Tolerances, func(t refdata.Tolerance) bool { return t.Designation == c.Designation })
		if k < 0 {
			return false, false
		}
		const slack = 1e-6 // of a percent, for rounding
		d := 100 * (mass[i] - c.MassFraction)
		within = within && d <= r.Facts.Tolerances[k].Plus+slack && -d <= r.Facts.Tolerances[k].Minus+slack
	}
	return within, true
}
