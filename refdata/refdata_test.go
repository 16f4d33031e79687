package refdata

import (
	"regexp"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestDecodeRefuses(t *testing.T) {
	for name, text := range map[string]string{
		"unknown member": `{"designation":"R-22","densty":1}`,
		"wrong type":     `{"designation":22}`,
		"truncated":      `{"designation":"R-22"`,
		"trailing":       `{"designation":"R-22"} {}`,
		"not a number":   `{"molar_mass_kg_per_mol":NaN}`,
	} {
		if err := decode([]byte(text), new(Fluid)); err == nil {
			t.Errorf("%s: %s decodes without error", name, text)
		}
	}
	require.NoError(t, decode([]byte(`{"designation":"R-22"} `), new(Fluid)), "a plain object does not decode")
}

func TestMissingFilePanics(t *testing.T) {
	defer func() {
		if recover() == nil {
			t.Error("reading a file that does not exist did not panic")
		}
	}()
	mustRead[Fluid]("fluids/none.json")
}

func TestRevision(t *testing.T) {
	if r := Revision(); !regexp.MustCompile(`^[0-9a-f]{12}$`).MatchString(r) || r != Revision() {
		t.Errorf("revision %q is not a stable hash of 12 hexadecimal digits", r)
	}
}
