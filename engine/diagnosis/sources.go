package diagnosis

import (
	"slices"
	"sync"

	"github.com/knurl-hvacr/knurl/refdata"
)

// Source is a key of the bibliography with how far its figures were checked.
type Source struct{ Key, Status string }

// Sources lists what the inference itself rests on, beside the targets' own
// sources and those of the model of systems: the procedure, what is assumed, and
// the heavy-tailed distribution. A source stands once for each status that its
// figures have.
func Sources() []Source { return slices.Clone(sources()) }

var sources = sync.OnceValue(func() []Source {
	list := []Source{{refdata.Diagnosis().Source, refdata.Diagnosis().Status}, {Tails, refdata.FromMemory}}
	for _, f := range refdata.ChargeVerification() {
		if s := (Source{f.Source, f.Status}); !slices.Contains(list, s) {
			list = append(list, s)
		}
	}
	return list
})

// Tails is the source of using Student's distribution against outlying readings.
const Tails = "lange-1989"
