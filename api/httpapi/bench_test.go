package httpapi

import (
	"encoding/json"
	"io"
	"math"
	"net/http"
	"net/http/httptest"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/gin-gonic/gin"

	"github.com/stretchr/testify/require"

	"github.com/knurl-hvacr/knurl/engine/query"
)

// discard is a response that costs nothing.
type discard struct{ header http.Header }

func (d discard) Header() http.Header         { return d.header }
func (d discard) Write(b []byte) (int, error) { return len(b), nil }
func (d discard) WriteHeader(int)             {}

func answer(b *testing.B, h http.Handler, r func() *http.Request) {
	b.ReportAllocs()
	for b.Loop() {
		h.ServeHTTP(discard{http.Header{}}, r())
	}
}

// What the service adds to a gin handler that returns the same bytes.
func BenchmarkSaturation(b *testing.B) {
	const target = "/v1/refrigerants/R-410A/saturation?pressure=118psig"
	r := request("GET", target, "")
	rec := httptest.NewRecorder()
	service().ServeHTTP(rec, r)
	if rec.Code != 200 {
		b.Fatalf("%d %s", rec.Code, rec.Body)
	}
	fixed := gin.New()
	fixed.GET("/v1/refrigerants/:designation/saturation", func(c *gin.Context) { c.Data(200, jsonType, rec.Body.Bytes()) })
	conditional := request("GET", target, "", "If-None-Match", rec.Header().Get("ETag"))

	b.Run("service", func(b *testing.B) { answer(b, service(), func() *http.Request { return r }) })
	b.Run("not modified", func(b *testing.B) { answer(b, service(), func() *http.Request { return conditional }) })
	b.Run("same bytes", func(b *testing.B) { answer(b, fixed, func() *http.Request { return r }) })
}

// What the service adds to a gin handler that decodes and encodes the same
// bodies and does nothing between.
func BenchmarkDiagnosis(b *testing.B) {
	question := `{"system":{"refrigerant":"R-410A","metering_device":"thermostatic_valve","mode":"cooling","target_subcooling":{"value":10,"unit":"delta_degF"}},
		"running_time":{"value":20,"unit":"min"},"readings":{"suction_pressure":{"value":118,"unit":"psig"},"liquid_pressure":{"value":340,"unit":"psig"},
		"suction_line_temperature":{"value":52,"unit":"degF"},"liquid_line_temperature":{"value":95,"unit":"degF"},"outdoor_dry_bulb":{"value":85,"unit":"degF"},
		"return_dry_bulb":{"value":76,"unit":"degF"},"return_wet_bulb":{"value":63,"unit":"degF"},"supply_dry_bulb":{"value":57,"unit":"degF"}}}`
	rec := httptest.NewRecorder()
	service().ServeHTTP(rec, request("POST", "/v1/diagnosis", question))
	if rec.Code != 200 {
		b.Fatalf("%d %s", rec.Code, rec.Body)
	}
	echo := decodeAndEncode(rec.Body.Bytes())
	r := func() *http.Request { return request("POST", "/v1/diagnosis", question) }

	b.Run("service", func(b *testing.B) { answer(b, service(), r) })
	b.Run("decode and encode", func(b *testing.B) { answer(b, echo, r) })
}

// endless is a body of n lines made of few.
type endless struct {
	lines []string
	n     int
	rest  string
}

func (e *endless) Read(p []byte) (int, error) {
	if e.rest == "" {
		if e.n == 0 {
			return 0, io.EOF
		}
		e.n--
		e.rest = e.lines[e.n%len(e.lines)]
	}
	n := copy(p, e.rest)
	e.rest = e.rest[n:]
	return n, nil
}

// What a line of a batch costs: with -cpu 1 on one core, beside what the same
// question costs in a request of its own.
func BenchmarkBatch(b *testing.B) {
	var lines []string
	for i := range 100 {
		lines = append(lines, visitLine(strconv.Itoa(i), 90+float64(i)/2)+"\n")
	}
	o := options()
	o.Batch.Lines, o.Batch.Timeout = math.MaxInt, time.Hour
	h := New(o)
	run := func(n int) {
		r := request("POST", batchPath, "", "Content-Type", ndjsonType)
		r.Body = io.NopCloser(&endless{lines: lines, n: n})
		h.ServeHTTP(discard{http.Header{}}, r)
	}
	run(1) // builds the curve
	b.Run("line", func(b *testing.B) {
		b.ReportAllocs()
		run(b.N)
		b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "lines/s")
	})
	b.Run("request", func(b *testing.B) {
		question := strings.Replace(lines[0], `"id":0,`, "", 1)
		answer(b, h, func() *http.Request { return request("POST", "/v1/diagnosis", question) })
	})
}

// decodeAndEncode reads a diagnosis question and writes the given answer.
func decodeAndEncode(answer []byte) http.Handler {
	var kept query.DiagnosisAnswer
	if err := json.Unmarshal(answer, &kept); err != nil {
		panic(err)
	}
	h := gin.New()
	h.POST("/v1/diagnosis", func(c *gin.Context) {
		var q query.DiagnosisQuestion
		data, err := io.ReadAll(c.Request.Body)
		if err != nil || json.Unmarshal(data, &q) != nil {
			c.Status(400)
			return
		}
		c.JSON(200, kept)
	})
	return h
}

// What each operation costs without anything kept, by the demo's questions.
// What is kept must cost more than a trip to Redis (BenchmarkTrip in api/redis).
func BenchmarkRoutes(b *testing.B) {
	const folder = "../../testdata/demo/"
	list, err := os.ReadFile(folder + "demo.json")
	require.NoError(b, err)
	var demo []struct{ Name, Method, Path, Body string }
	require.NoError(b, json.Unmarshal(list, &demo))
	for _, d := range demo {
		var question []byte
		if d.Body != "" {
			question, err = os.ReadFile(folder + d.Body)
			require.NoError(b, err)
		}
		b.Run(d.Name, func(b *testing.B) {
			r := func() *http.Request {
				return request(d.Method, d.Path, string(question), "Content-Type", posted(d.Body))
			}
			service().ServeHTTP(discard{http.Header{}}, r()) // builds the curve
			answer(b, service(), r)
		})
	}
	b.Run("refrigerants", func(b *testing.B) {
		answer(b, service(), func() *http.Request { return request("GET", "/v1/refrigerants", "") })
	})
}
