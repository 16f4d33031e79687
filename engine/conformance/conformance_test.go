package conformance

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestJudge(t *testing.T) {
	pairs, err := Read([]byte(`[{"name":"a","method":"GET","path":"/","status":200,"expect":[
		{"pointer":"/list/1/text","text":"x"},{"pointer":"/number","number":2,"within":0.5,"source":"arithmetic"}]}]`))
	require.NoError(t, err)
	for answer, faults := range map[string]int{
		`{"list":[0,{"text":"x"}],"number":2.5}`: 0,
		`{"list":[0,{"text":"x"}],"number":2.6}`: 1,
		`{"list":[0,{"text":"y"}],"number":"2"}`: 2,
		`{"list":[0],"number":null}`:             2,
		`{`:                                      1,
	} {
		if got, _ := pairs[0].Judge(200, []byte(answer)); len(got) != faults {
			t.Errorf("%s: %q", answer, got)
		}
	}
	if got, _ := pairs[0].Judge(400, []byte(`{"list":[0,{"text":"x"}],"number":2}`)); len(got) != 1 {
		t.Errorf("another status: %q", got)
	}
	if _, share := pairs[0].Judge(200, []byte(`{"list":[0,{"text":"x"}],"number":2.25}`)); share != 0.5 {
		t.Errorf("half of what is allowed is %g", share)
	}
	if _, err := Read([]byte(`[{"nam":"a"}]`)); err == nil {
		t.Error("an unknown member is taken")
	}
}

func TestCompare(t *testing.T) {
	for _, tt := range []struct {
		got, want string
		faults    int
	}{
		{`{"a":[1,"x",null,true]}`, `{"a":[1,"x",null,true]}`, 0},
		{`41.9063`, `41.9064`, 0},
		{`41.9063`, `41.9065`, 1},
		{`132.0954`, `132.095401`, 0}, // a last zero is not written
		{`1.676e-06`, `1.677e-06`, 0},
		{`1.676e-06`, `1.678e-06`, 1},
		{`7`, `8`, 1},
		{`7`, `"7"`, 1},
		{`"a"`, `"b"`, 1},
		{`{"a":1}`, `{"b":1}`, 1},
		{`{"a":1}`, `{"a":1,"b":2}`, 1},
		{`[1]`, `[1,2]`, 1},
	} {
		var a Agreement
		err := a.Compare("", []byte(tt.got), []byte(tt.want))
		require.NoError(t, err, "%s and %s", tt.got, tt.want)
		if len(a.Faults) != tt.faults {
			t.Errorf("%s and %s: %v", tt.got, tt.want, a)
		}
	}
	var a Agreement
	err := a.Compare("q", []byte(`{"a":2.5,"b":"x","c":[1.5]}`), []byte(`{"a":2.4,"b":"x","c":[1.5]}`))
	require.NoError(t, err)
	require.Equal(t, 2, a.Numbers)
	require.Equal(t, 1, a.Texts)
	require.True(t, strings.HasSuffix(a.At, "/a"), "%+v", a)
	require.Greater(t, a.Worst, 0.0416)
	require.Less(t, a.Worst, 0.0417)
	if err := a.Compare("q", []byte(`{`), []byte(`{}`)); err == nil {
		t.Error("what is no JSON is taken")
	}
}
