package canonicaljson_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/canonicaljson"
)

func TestExamples(t *testing.T) {
	for _, tt := range []struct{ in, want, src string }{
		{
			"{\n  \"numbers\": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],\n  \"string\": \"\\u20ac$\\u000F\\u000aA'\\u0042\\u0022\\u005c\\\\\\\"\\/\",\n  \"literals\": [null, true, false]\n}",
			"{\"literals\":[null,true,false],\"numbers\":[333333333.3333333,1e+30,4.5,0.002,1e-27],\"string\":\"€$\\u000f\\nA'B\\\"\\\\\\\\\\\"/\"}",
			"RFC 8785 section 3.2.2 and 3.2.3",
		},
		{
			`{"\u20ac": "Euro Sign", "\r": "Carriage Return", "\ufb33": "Hebrew Letter Dalet With Dagesh", "1": "One", "\ud83d\ude00": "Emoji: Grinning Face", "\u0080": "Control", "\u00f6": "Latin Small Letter O With Diaeresis"}`,
			"{\"\\r\":\"Carriage Return\",\"1\":\"One\",\"\u0080\":\"Control\",\"ö\":\"Latin Small Letter O With Diaeresis\",\"€\":\"Euro Sign\",\"😀\":\"Emoji: Grinning Face\",\"\ufb33\":\"Hebrew Letter Dalet With Dagesh\"}",
			"RFC 8785 section 3.2.3, sorting",
		},
	} {
		got, err := canonicaljson.Transform([]byte(tt.in))
		require.NoError(t, err)
		if string(got) != tt.want {
			t.Errorf("got %s; want %s (%s)", got, tt.want, tt.src)
		}
	}
}

// Numbers of RFC 8785 appendix B, given by their bits.
func TestNumbers(t *testing.T) {
	for bits, want := range map[uint64]string{
		0x0000000000000000: "0", 0x8000000000000000: "0",
		0x0000000000000001: "5e-324", 0x8000000000000001: "-5e-324",
		0x7fefffffffffffff: "1.7976931348623157e+308", 0xffefffffffffffff: "-1.7976931348623157e+308",
		0x4340000000000000: "9007199254740992", 0xc340000000000000: "-9007199254740992",
		0x4430000000000000: "295147905179352830000", 0x44b52d02c7e14af5: "9.999999999999997e+22",
		0x44b52d02c7e14af6: "1e+23", 0x44b52d02c7e14af7: "1.0000000000000001e+23",
		0x444b1ae4d6e2ef4e: "999999999999999700000", 0x444b1ae4d6e2ef4f: "999999999999999900000",
		0x444b1ae4d6e2ef50: "1e+21", 0x3eb0c6f7a0b5ed8c: "9.999999999999997e-7",
		0x3eb0c6f7a0b5ed8d: "0.000001", 0x41b3de4355555553: "333333333.3333332",
		0x41b3de4355555554: "333333333.33333325", 0x41b3de4355555555: "333333333.3333333",
		0x41b3de4355555556: "333333333.3333334", 0x41b3de4355555557: "333333333.33333343",
		0xbecbf647612f3696: "-0.0000033333333333333333", 0x43143ff3c1cb0959: "1424953923781206.2",
	} {
		got, err := canonicaljson.Marshal(math.Float64frombits(bits))
		require.NoError(t, err, "%#x", bits)
		if string(got) != want {
			t.Errorf("%#x: %s; want %s", bits, got, want)
		}
	}
}

func TestRefusals(t *testing.T) {
	for _, in := range []string{"", "{", "1 2", "[1e400]", "\"\xff\"", "nul"} {
		if got, err := canonicaljson.Transform([]byte(in)); !errors.Is(err, canonicaljson.ErrJSON) {
			t.Errorf("%q: %s, %v", in, got, err)
		}
	}
	if _, err := canonicaljson.Marshal(math.NaN()); !errors.Is(err, canonicaljson.ErrJSON) {
		t.Errorf("NaN: %v", err)
	}
}

func FuzzTransform(f *testing.F) {
	f.Add([]byte(`{"b":[1,2.50,-0],"a":"x\u0000","":null}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		once, err := canonicaljson.Transform(data)
		if err != nil {
			return
		}
		twice, err := canonicaljson.Transform(once)
		require.NoError(t, err)
		if !bytes.Equal(once, twice) {
			t.Fatalf("%q becomes %q becomes %q", data, once, twice)
		}
		var a, b any
		require.NoError(t, json.Unmarshal(data, &a))
		require.NoError(t, json.Unmarshal(once, &b))
		require.Equal(t, b, a)
	})
}
