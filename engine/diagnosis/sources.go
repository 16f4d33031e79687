package diagnosis

import "github.com/knurl-hvacr/knurl/refdata"

// Source is a key of the bibliography with how far its figures were checked.
type Source struct{ Key, Status string }

// Sources lists what the inference itself rests on, beside the targets' own
// sources: the procedure, the published signs of faults, and what is assumed.
func Sources() []Source {
	list := []Source{{refdata.Diagnosis().Source, refdata.Diagnosis().Status}}
	for _, c := range refdata.FaultSigns().Charts {
		list = append(list, Source{c.Source, c.Status})
		if c.QuotedIn != "" {
			list = append(list, Source{c.QuotedIn, refdata.Seen})
		}
	}
	for _, f := range refdata.ChargeVerification() {
		list = append(list, Source{f.Source, f.Status})
	}
	return list
}
