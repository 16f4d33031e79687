package diagnosis

import (
	"slices"
	"sync"

	"github.com/knurl-hvacr/knurl/refdata"
)

// Source is a key of the bibliography with how far its figures were checked.
type Source struct{ Key, Status string }

// Sources lists what the inference itself rests on, beside the targets' own
// sources: the procedure, the published signs of faults, and what is assumed.
// A source stands once for each status that its figures have.
func Sources() []Source { return slices.Clone(sources()) }

var sources = sync.OnceValue(func() []Source {
	list := []Source{{refdata.Diagnosis().Source, refdata.Diagnosis().Status}}
	add := func(key, status string) {
		if s := (Source{key, status}); !slices.Contains(list, s) {
			list = append(list, s)
		}
	}
	for _, c := range refdata.FaultSigns().Charts {
		add(c.Source, c.Status)
		if c.QuotedIn != "" {
			add(c.QuotedIn, refdata.Seen)
		}
	}
	for _, f := range refdata.ChargeVerification() {
		add(f.Source, f.Status)
	}
	return list
})
