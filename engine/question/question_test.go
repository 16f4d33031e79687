package question

import (
	"errors"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/query"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

func TestQuantitiesInText(t *testing.T) {
	kinds := []unit.Kind{unit.KindPressure, unit.KindGaugePressure}
	for text, want := range map[string]string{
		"118psig": "", "-2.5e1kPag": "", "10inHgv": "", "0.5micron": "",
		"NaNpsig": "wrong_type", "Infpsig": "wrong_type", "0x10psig": "wrong_type", "1,5psig": "wrong_type", "1_0psig": "wrong_type",
		"psig": "wrong_type", "": "wrong_type", "1e999psig": "wrong_type", " 1psig": "wrong_type", "--1psig": "wrong_type",
		"118": "missing_unit", "118psi": "unknown_unit", "118 psig": "unknown_unit", "118PSIG": "unknown_unit",
		"40degF": "wrong_kind_of_unit", "-1psia": "out_of_range", "-1inHgv": "out_of_range",
	} {
		t.Run(text, func(t *testing.T) {
			q, wrong := readQuantity(text, kinds)
			if want != "" {
				require.NotNil(t, wrong)
				require.EqualValues(t, want, wrong.Code)
				return
			}
			require.Nil(t, wrong)
			require.NotNil(t, q.Value)
			require.NotEmpty(t, q.Unit)
		})
	}
}

func TestFaultsOfTheQueryString(t *testing.T) {
	for values, want := range map[string][]string{
		"":                                 nil,
		"units=si&explain=true":            nil,
		"pressure=118psig&altitude=1150ft": nil,
		"units=metric&explain=1":           {"units unknown_name", "explain unknown_name"},
		"pressure=118psi&presure=1psig":    {"pressure unknown_unit", "presure unknown_member"},
		"altitude=1ft&altitude=2ft":        {"altitude repeated_member"},
		"temperature=-600degF":             {"temperature out_of_range"},
		"a=%zz":                            {" syntax"},
	} {
		in := New(func(string) string { return "R-22" }, values)
		Saturation(in)
		var got []string
		if refusal, ok := errors.AsType[*query.Refusal](in.Finish()); ok {
			for _, f := range refusal.Errors {
				got = append(got, f.Parameter+" "+string(f.Code))
			}
		}
		if !slices.Equal(got, want) {
			t.Errorf("%q: %q, want %q", values, got, want)
		}
	}
}

// Equal questions mean the same in whatever unit they are put, others do not.
func TestMeaning(t *testing.T) {
	meant := func(values string) []string {
		in := New(func(string) string { return "R-22" }, values)
		Saturation(in)
		return in.Meant()
	}
	if a, b := meant("temperature=26.85degC"), meant("temperature=300K"); !slices.Equal(a, b) {
		t.Errorf("%q and %q", a, b)
	}
	if a, b := meant("temperature=26.85degC"), meant("temperature=26.86degC"); slices.Equal(a, b) {
		t.Errorf("both %q", a)
	}
}

// What only follows from a fault of reading is not listed beside it.
func TestJoin(t *testing.T) {
	read := Body[query.SaturationPointsQuestion]()
	in := New(nil, "")
	q := read(in, []byte(`{"refrigerant":7,"points":[{"temperature":{"value":40,"unit":"degX"}}]}`))
	require.NoError(t, in.Finish())
	_, err := query.New().SaturationPoints(q, query.Presentation{})
	refusal, ok := errors.AsType[*query.Refusal](in.Join(err))
	if !ok || !refusal.Unreadable {
		t.Fatalf("%v", err)
	}
	var got []string
	for _, f := range refusal.Errors {
		got = append(got, f.Pointer+" "+string(f.Code))
	}
	if want := []string{"/refrigerant wrong_type", "/points/0/temperature/unit unknown_unit"}; !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
}
