// Package intake turns what a question says of a visit into one resolved case:
// the refrigerant, the equipment, the air, and the readings in SI with their
// uncertainty. Everything is judged once and every error is collected, at its
// place in the question. It must not know what is computed from a case, nor in
// which words or units an answer is given.
package intake

import "github.com/knurl-hvacr/knurl/engine/refrigerant"

// Case is a visit resolved. With errors noted only what is free of them can be
// relied on.
type Case struct {
	// At is where what a question brings beside the visit stands.
	At          Place
	Refrigerant *refrigerant.Refrigerant
	Equipment
	Air Air
	Taken
}

// Take resolves a visit, noting every error in r.
func Take(v Visit, catalogue *refrigerant.Catalogue, r *Refusal) Case {
	c := Case{
		Equipment:   TakeSystem(v.System, At("/system"), r),
		Refrigerant: TakeRefrigerant(catalogue, v.System.Refrigerant, v.System.Composition, At("/system"), r),
		Air:         TakeSite(v.Site, At("/site"), r),
	}
	return c.With(v.Readings, v.Instruments, At(""), r)
}

// With is the same visit with readings that are a member of what stands at a
// place, taken with the instruments of the visit.
func (c Case) With(readings Readings, instruments Instruments, at Place, r *Refusal) Case {
	c.At, c.Taken = at, TakeReadings(readings, instruments, c.Air, at.Member("readings"), At("/instruments"), r)
	return c
}
