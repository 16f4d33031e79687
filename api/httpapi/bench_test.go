package httpapi

import (
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"testing"

	"github.com/gin-gonic/gin"

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
	if err != nil {
		b.Fatal(err)
	}
	var demo []struct{ Name, Method, Path, Body string }
	if err := json.Unmarshal(list, &demo); err != nil {
		b.Fatal(err)
	}
	for _, d := range demo {
		var question []byte
		if d.Body != "" {
			if question, err = os.ReadFile(folder + d.Body); err != nil {
				b.Fatal(err)
			}
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
