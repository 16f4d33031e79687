package query_test

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/canonicaljson"
	"github.com/knurl-hvacr/knurl/engine/query"
)

func visitRecord(t *testing.T) query.VisitRecordQuestion {
	t.Helper()
	data, err := os.ReadFile(demo + "/museum-visit-record.json")
	require.NoError(t, err)
	return read[query.VisitRecordQuestion](t, string(data))
}

// The office can tell from the document alone whether it was altered.
func TestRecordHash(t *testing.T) {
	a := answer(t, engine.VisitRecord, visitRecord(t))
	if b := answer(t, engine.VisitRecord, visitRecord(t)); a.DocumentHash != b.DocumentHash {
		t.Errorf("the same visit gives %s and %s", a.DocumentHash.Value, b.DocumentHash.Value)
	}
	data, err := json.MarshalIndent(a, "", "\t") // however it is spaced
	require.NoError(t, err)
	hash := func(data []byte) string {
		var document map[string]json.RawMessage
		require.NoError(t, json.Unmarshal(data, &document))
		delete(document, "document_hash")
		canonical, err := canonicaljson.Marshal(document)
		require.NoError(t, err)
		sum := sha256.Sum256(canonical)
		return hex.EncodeToString(sum[:])
	}
	if got := hash(data); got != a.DocumentHash.Value {
		t.Errorf("hash of the document %s, it says %s", got, a.DocumentHash.Value)
	}
	if got := hash([]byte(strings.Replace(string(data), "QW-2031", "QW-2032", 1))); got == a.DocumentHash.Value {
		t.Error("an altered document has the same hash")
	}
	other := visitRecord(t)
	other.Remarks = append(other.Remarks, "Another remark.")
	if b := answer(t, engine.VisitRecord, other); a.DocumentHash == b.DocumentHash {
		t.Error("another document has the same hash")
	}
}

// Cautions, assumptions and sources stand once, whatever parts there are.
func TestRecordSaysThingsOnce(t *testing.T) {
	a := answer(t, engine.VisitRecord, visitRecord(t))
	codes := map[string]int{}
	for _, n := range a.Cautions {
		codes[string(n.Code)]++
	}
	for code, n := range codes {
		if n > 1 {
			t.Errorf("the caution %s stands %d times", code, n)
		}
	}
	if len(a.Cautions) < 5 || len(a.Provenance.Sources) < 10 {
		t.Errorf("%d cautions, %d sources", len(a.Cautions), len(a.Provenance.Sources))
	}
	for name, c := range map[string]query.Common{"before_start": a.BeforeStart.Common, "steadiness": a.Steadiness.Common, "running": a.Running.Common, "after_change": a.AfterChange.Common, "gauges_off": a.GaugesOff.Common} {
		if len(c.Cautions)+len(c.Assumptions)+len(c.Provenance.Sources) > 0 {
			t.Errorf("%s still says what the whole says", name)
		}
	}
	// The parts are the operations' own answers.
	q := visitRecord(t)
	alone := answer(t, engine.Diagnosis, query.DiagnosisQuestion{Visit: query.Visit{System: q.System, Site: q.Site, Readings: q.Running.Readings, Instruments: q.Instruments}, RunningTime: q.Running.RunningTime})
	if alone.Assessment != a.Running.Assessment || alone.Faults[0].Probability != a.Running.Faults[0].Probability {
		t.Error("the record's diagnosis is not the operation's")
	}
}

func TestRecordFaults(t *testing.T) {
	for _, tt := range []struct {
		name  string
		spoil func(*query.VisitRecordQuestion)
		want  []string
	}{
		{"no time", func(q *query.VisitRecordQuestion) { q.IssuedAt = "" }, []string{"/issued_at missing"}},
		{"no such day", func(q *query.VisitRecordQuestion) { q.IssuedAt = "2026-02-29" }, []string{"/issued_at out_of_range"}},
		{"no date", func(q *query.VisitRecordQuestion) { q.IssuedAt = "yesterday" }, []string{"/issued_at out_of_range"}},
		{"more ports than there are", func(q *query.VisitRecordQuestion) { q.Ports = slices.Repeat(q.Ports[:1], 51) }, []string{"/ports too_many"}},
		{"a calibration without a date", func(q *query.VisitRecordQuestion) { q.InstrumentList[0].CalibratedOn = "spring" }, []string{"/instrument_list/0/calibrated_on out_of_range"}},
		{"a port unknown", func(q *query.VisitRecordQuestion) { q.Ports[1].Port = "liqid" }, []string{"/ports/1/port unknown_name"}},
		{"a fault in the shared block stands once", func(q *query.VisitRecordQuestion) { q.System.Refrigerant = "R-410" }, []string{"/system/refrigerant unknown_refrigerant"}},
		{"a fault in a part points there", func(q *query.VisitRecordQuestion) { q.Running.Readings.SuctionPressure.Unit = "psi" }, []string{"/running/readings/suction_pressure/unit unknown_unit"}},
		{"readings that the hoses go by stand where they were typed", func(q *query.VisitRecordQuestion) { q.AfterChange.Readings.LiquidPressure.Unit = "psi" }, []string{"/after_change/readings/liquid_pressure/unit unknown_unit"}},
		{"what a calculation refuses points into its part", func(q *query.VisitRecordQuestion) {
			q.GaugesOff.AmbientTemperature = &query.Quantity{Value: new(4000.0), Unit: "degF"}
		}, []string{"/gauges_off/ambient_temperature out_of_range"}},
		{"a hose without length", func(q *query.VisitRecordQuestion) { q.GaugesOff.Hoses[0].Length = nil }, []string{"/gauges_off/hoses/0/length missing"}},
	} {
		q := visitRecord(t)
		tt.spoil(&q)
		if got := faults(t, engine.VisitRecord, q); !slices.Equal(got, tt.want) {
			t.Errorf("%s: %v, want %v", tt.name, got, tt.want)
		}
	}
}

// What no part uses is judged all the same: it stands in the document.
func TestRecordJudgesSharedBlocksWithoutParts(t *testing.T) {
	q := read[query.VisitRecordQuestion](t, `{"issued_at":"2026-07-14","system":{"refrigerant":"R-410A","rated_efficiency":{"metric":null,"value":null}},
		"site":{"altitude":{"value":3,"unit":"psig"}},"instruments":{"suction_pressure":{"accuracy_class":"fair"}}}`)
	want := []string{"/system/rated_efficiency/metric missing", "/system/rated_efficiency/value missing_value", "/site/altitude/unit wrong_kind_of_unit", "/instruments/suction_pressure/accuracy_class unknown_name"}
	if got := faults(t, engine.VisitRecord, q); !slices.Equal(got, want) {
		t.Errorf("%q", got)
	}
}
