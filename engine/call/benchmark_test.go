package call

import (
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/query"
)

func BenchmarkAsk(b *testing.B) {
	visit, err := os.ReadFile("../../testdata/demo/museum-second-visit.json")
	require.NoError(b, err)
	e := New(query.New())
	for _, of := range []struct {
		name, method, target string
		body                 []byte
	}{
		{"saturation", "GET", "/v1/refrigerants/R-410A/saturation?pressure=118psig", nil},
		{"diagnosis", "POST", "/v1/diagnosis", visit},
	} {
		b.Run(of.name, func(b *testing.B) {
			for b.Loop() {
				if status, answer := e.Ask(of.method, of.target, of.body); status != 200 {
					b.Fatalf("%s", answer)
				}
			}
		})
	}
}
