package strictjson_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"reflect"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/strictjson"
)

type quantity struct {
	Value    *float64 `json:"value"`
	Unit     string   `json:"unit"`
	Accuracy *float64 `json:"accuracy,omitempty"`
}

type Shared struct {
	Note string `json:"note,omitempty"`
}

type question struct {
	Shared
	Internal int                  `json:"-"`
	System   *system              `json:"system"`
	Readings map[string]*quantity `json:"readings,omitempty"`
	Prior    map[string]float64   `json:"prior,omitempty"`
	Points   []quantity           `json:"points,omitempty"`
	Count    int8                 `json:"count,omitempty"`
	Flag     bool                 `json:"flag,omitempty"`
	ID       any                  `json:"id,omitempty"`
	Nested   *question            `json:"nested,omitempty"`
	Slash    string               `json:"a/b~c,omitempty"`
}

type system struct {
	Refrigerant string  `json:"refrigerant"`
	Size        float32 `json:"size"`
}

var decoder = strictjson.For[question]()

// misfits decodes and spells what is found as "pointer code".
func misfits(t *testing.T, text string) []string {
	t.Helper()
	_, err := decoder.Decode([]byte(text))
	if err == nil {
		return nil
	}
	var f *strictjson.Misfits
	if !errors.As(err, &f) {
		t.Fatalf("%s: %v is no *Misfits", text, err)
	}
	var all []string
	for _, misfit := range f.List {
		if misfit.Detail == "" {
			t.Errorf("%s: a misfit at %q without detail", text, misfit.Pointer)
		}
		all = append(all, misfit.Pointer+" "+misfit.Code)
	}
	return all
}

func TestFaults(t *testing.T) {
	for _, tt := range []struct {
		name, text string
		want       []string
	}{
		{"nothing wrong", `{"system":{"refrigerant":"R-22","size":1.5e0},"readings":{"x":{"value":1,"unit":"psig"}},"note":"n","count":-128,"flag":true,"id":[1,{"a":null}]}`, nil},
		{"null is not given", `{"system":null,"readings":null,"points":null,"count":null,"flag":null,"note":null,"readings2":null}`, []string{"/readings2 unknown_member"}},
		{"null in a map of pointers", `{"readings":{"x":null}}`, nil},
		{"null in a map of numbers", `{"prior":{"x":null}}`, []string{"/prior/x wrong_type"}},
		{"null in a list", `{"points":[{"value":1},null]}`, []string{"/points/1 wrong_type"}},
		{"null alone", `null`, []string{" wrong_type"}},
		{"list alone", `[]`, []string{" wrong_type"}},
		{"every misfit at once", `{"sytem":{},"system":{"refrigerant":22,"size":"1","x":1},"points":[{"value":"118"},{"unit":1,"unit":2}],"points":[]}`, []string{
			"/sytem unknown_member", "/system/refrigerant wrong_type", "/system/size wrong_type", "/system/x unknown_member",
			"/points/0/value wrong_type", "/points/1/unit wrong_type", "/points/1/unit repeated_member", "/points repeated_member",
		}},
		{"upper case", `{"SYSTEM":{},"points":[{"VALUE":1}]}`, []string{"/SYSTEM unknown_member", "/points/0/VALUE unknown_member"}},
		{"a member the wire does not have", `{"Internal":1,"Shared":{}}`, []string{"/Internal unknown_member", "/Shared unknown_member"}},
		{"escaped name", `{"s\u0079stem":{"refriger\u0061nt":"R-22"}}`, nil},
		{"escaped repeat", `{"note":"a","n\u006fte":"b"}`, []string{"/note repeated_member"}},
		{"repeat in a map", `{"prior":{"a":1,"b":1,"a":2}}`, []string{"/prior/a repeated_member"}},
		{"repeat in anything", `{"id":{"a":1,"a":2}}`, []string{"/id/a repeated_member"}},
		{"pointer escapes", `{"a/b~c":1}`, []string{"/a~1b~0c wrong_type"}},
		{"deeper", `{"nested":{"nested":{"system":{"size":true}}}}`, []string{"/nested/nested/system/size wrong_type"}},
		{"too large", `{"system":{"size":1e39},"prior":{"a":-1e999},"count":128,"id":1e400}`, []string{
			"/system/size out_of_range", "/prior/a out_of_range", "/count out_of_range", "/id out_of_range"}},
		{"no whole number", `{"count":1.5}`, []string{"/count wrong_type"}},
		{"list for object", `{"system":[{"x":1}],"points":{"a":1},"note":{},"flag":0}`, []string{
			"/system wrong_type", "/points wrong_type", "/note wrong_type", "/flag wrong_type"}},
		{"empty", ``, []string{" syntax"}},
		{"blank", " \r\n\t", []string{" syntax"}},
		{"NaN", `{"count":NaN}`, []string{" syntax"}},
		{"Infinity", `{"count":-Infinity}`, []string{" syntax"}},
		{"hex", `{"count":0x10}`, []string{" syntax"}},
		{"comma decimal", `{"count":1,5}`, []string{" syntax"}},
		{"leading zero", `{"count":01}`, []string{" syntax"}},
		{"trailing garbage", `{} x`, []string{" syntax"}},
		{"two texts", `{}{}`, []string{" syntax"}},
		{"cut off", `{"system":{"refrigerant":"R-`, []string{" syntax"}},
		{"byte order mark", "\ufeff{}", []string{" syntax"}},
		{"bad UTF-8", "{\"note\":\"\xff\"}", []string{" syntax"}},
		{"comment", "{/* */}", []string{" syntax"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if got := misfits(t, tt.text); !reflect.DeepEqual(got, tt.want) {
				t.Errorf("%s\n got %q\nwant %q", tt.text, got, tt.want)
			}
		})
	}
}

func TestDetails(t *testing.T) {
	for _, tt := range []struct{ text, want string }{
		{`{"sytem":{}}`, `did you mean "system"?`},
		{`{"SYSTEM":{}}`, `did you mean "system"?`},
		{`{"quite something else":{}}`, `expected an object of note, system, readings, prior, points, count, …`},
		{`{"points":[118]}`, `expected an object of value, unit, accuracy, got a number`},
		{`{"points":[{"value":"118"}]}`, `expected a number, got a string`},
		{"{\n  \"note\": \"é\", x}", `line 2, column 16`},
		{`{"count": NaN}`, `line 1, column 11`},
		{"{\"note\":\n\"é\xff\"}", `line 2, column 3: the byte 0xff is not UTF-8`},
		{``, `the text is empty, expected an object of note,`},
	} {
		_, err := decoder.Decode([]byte(tt.text))
		if err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: %v\nwant %s", tt.text, err, tt.want)
		}
	}
}

func TestNearest(t *testing.T) {
	known := []string{"suction_pressure", "suction_line_temperature", "liquid_line_temperature", "units"}
	for name, want := range map[string]string{
		"suction_presure": "suction_pressure", "SuctionPressure": "suction_pressure", "suction_line_temp": "suction_line_temperature",
		"unit": "units", "UNITS": "units", "un": "", "": "", "elsewhere": "", "suction": "suction_pressure",
		strings.Repeat("suction_pressure", 5): "",
	} {
		if got := strictjson.Nearest(name, known); got != want {
			t.Errorf("Nearest(%q) = %q, want %q", name, got, want)
		}
	}
}

// What did fit is there to be judged further.
func TestTheRestIsRead(t *testing.T) {
	q, err := decoder.Decode([]byte(`{"sytem":1,"system":{"refrigerant":"R-22","size":"big"},"points":[{"value":118,"unit":"psig"}]}`))
	require.Error(t, err)
	require.NotNil(t, q.System)
	require.Equal(t, "R-22", q.System.Refrigerant)
	require.Len(t, q.Points, 1)
	require.Equal(t, 118.0, *q.Points[0].Value)
}

func TestBounds(t *testing.T) {
	deep := func(n int) string { return `{"id":` + strings.Repeat("[", n) + strings.Repeat("]", n) + `}` }
	if got := misfits(t, deep(strictjson.MaxDepth-1)); got != nil {
		t.Errorf("at the greatest depth: %q", got)
	}
	for _, n := range []int{strictjson.MaxDepth, 9_000, 100_000} {
		if got := misfits(t, deep(n)); len(got) != 1 || !strings.HasSuffix(got[0], " syntax") {
			t.Errorf("%d deep: %q", n, got)
		}
	}
	if got := misfits(t, `{"note2":`+strings.Repeat(`{"a":`, 300)+`1`+strings.Repeat(`}`, 300)+`}`); len(got) != 1 || !strings.HasSuffix(got[0], " syntax") {
		t.Errorf("deep inside an unknown member: %q", got)
	}

	var many strings.Builder
	for i := range 1000 {
		fmt.Fprintf(&many, `"u%d":1,`, i)
	}
	if got := misfits(t, `{`+many.String()+`"note":1}`); len(got) != strictjson.MaxMisfits {
		t.Errorf("%d misfits listed, want %d", len(got), strictjson.MaxMisfits)
	}
	if got := misfits(t, `{"`+strings.Repeat("n", 1<<20)+`":1}`); len(got) != 1 {
		t.Errorf("a very long name: %d misfits", len(got))
	}
}

// 100,000 different names, then one repeated: a search through a list would
// take minutes.
func TestRepeatsAreFoundInLinearTime(t *testing.T) {
	var b strings.Builder
	b.WriteString(`{"prior":{`)
	for i := range 100_000 {
		fmt.Fprintf(&b, `"n%d":1,`, i)
	}
	b.WriteString(`"n7":2}}`)
	start := time.Now()
	if got := misfits(t, b.String()); !reflect.DeepEqual(got, []string{"/prior/n7 repeated_member"}) {
		t.Errorf("%q", got)
	}
	if took := time.Since(start); took > 5*time.Second && os.Getenv("KNURL_LOAD") != "" {
		t.Errorf("took %v", took)
	}
}

type Twin struct{ X int }

type Other struct{ X int }

func TestTypesThatCannotBeReadStrictly(t *testing.T) {
	for name, build := range map[string]func(){
		"array":   func() { strictjson.For[struct{ A [2]float64 }]() },
		"channel": func() { strictjson.For[struct{ A chan int }]() },
		"keys":    func() { strictjson.For[map[int]string]() },
		"string option": func() {
			strictjson.For[struct {
				A int `json:"a,string"`
			}]()
		},
		"same name twice": func() {
			strictjson.For[struct {
				Twin
				Other
			}]()
		},
	} {
		t.Run(name, func(t *testing.T) {
			defer func() {
				if recover() == nil {
					t.Error("taken")
				}
			}()
			build()
		})
	}
}

type own struct{ text string }

func (o *own) UnmarshalText(b []byte) error {
	if string(b) == "bad" {
		return errors.New("bad text")
	}
	o.text = string(b)
	return nil
}

func TestTypesThatReadThemselves(t *testing.T) {
	d := strictjson.For[struct {
		Own  own             `json:"own"`
		Raw  json.RawMessage `json:"raw"`
		When time.Time       `json:"when"`
	}]()
	got, err := d.Decode([]byte(`{"own":"x","raw":{"a":[1]},"when":"2026-05-04T03:02:01Z"}`))
	require.NoError(t, err)
	require.Equal(t, "x", got.Own.text)
	if want := `{"a":[1]}`; string(got.Raw) != want { // every byte
		t.Errorf("raw: %s, want %s", got.Raw, want)
	}
	require.Equal(t, 2026, got.When.Year())
	for _, text := range []string{`{"own":"bad"}`, `{"own":1}`, `{"when":"yesterday"}`} {
		if _, err := d.Decode([]byte(text)); err == nil {
			t.Errorf("%s was taken", text)
		}
	}
}

// FuzzDecode holds the decoder to encoding/json: what it takes, the standard
// decoder takes too and reads the same; what it refuses, it points at.
func FuzzDecode(f *testing.F) {
	for _, s := range []string{
		`{"system":{"refrigerant":"R-22","size":1.5},"points":[{"value":1,"unit":"psig"}]}`,
		`{"prior":{"a":1,"a":2},"id":[null,{"b":[]}],"count":1e2,"n\u006fte":"\ud83d\ude00\\"}`,
		`{"nested":{"nested":{"x":1}},"a/b~c":1}`, `[]`, `null`, ` `, `{"count":128}`, `{"":1}`,
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		got, err := decoder.Decode(data)
		if err == nil {
			var want question
			reference := json.NewDecoder(strings.NewReader(string(data)))
			reference.DisallowUnknownFields()
			require.NoError(t, reference.Decode(&want), "%q is taken, encoding/json says", data)
			if !reflect.DeepEqual(got, want) {
				t.Fatalf("%q reads as %+v, encoding/json reads %+v", data, got, want)
			}
			return
		}
		var f *strictjson.Misfits
		require.ErrorAs(t, err, &f, "%q", data)
		require.NotEmpty(t, f.List, "%q", data)
		require.LessOrEqual(t, len(f.List), strictjson.MaxMisfits, "%q", data)
		var whole any
		if json.Unmarshal(data, &whole) != nil {
			return
		}
		for _, misfit := range f.List {
			if misfit.Code != strictjson.CodeSyntax && !leads(whole, misfit.Pointer) {
				t.Fatalf("%q: %+v points at nothing", data, misfit)
			}
		}
	})
}

// leads resolves an RFC 6901 pointer.
func leads(value any, pointer string) bool {
	if pointer == "" {
		return true
	}
	for token := range strings.SplitSeq(pointer[1:], "/") {
		token = strings.NewReplacer("~1", "/", "~0", "~").Replace(token)
		switch v := value.(type) {
		case map[string]any:
			inner, ok := v[token]
			if !ok {
				return false
			}
			value = inner
		case []any:
			var i int
			if _, err := fmt.Sscan(token, &i); err != nil || i >= len(v) {
				return false
			}
			value = v[i]
		default:
			return false
		}
	}
	return true
}

func BenchmarkDecode(b *testing.B) {
	text := []byte(`{"system":{"refrigerant":"R-410A","size":3},"readings":{"suction_pressure":{"value":118,"unit":"psig"},"liquid_pressure":{"value":340,"unit":"psig"},"suction_line_temperature":{"value":52,"unit":"degF"},"liquid_line_temperature":{"value":95,"unit":"degF"}},"points":[{"value":1,"unit":"psig","accuracy":1}],"note":"n"}`)
	b.Run("strict", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if _, err := decoder.Decode(text); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("encoding/json alone", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			var q question
			if err := json.Unmarshal(text, &q); err != nil {
				b.Fatal(err)
			}
		}
	})
}
