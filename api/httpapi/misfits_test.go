//go:build !race && !nocontract

package httpapi

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"sync"
	"testing"

	"github.com/pb33f/libopenapi"
	validator "github.com/pb33f/libopenapi-validator"

	"github.com/knurl-hvacr/knurl/engine/problem"
	"github.com/knurl-hvacr/knurl/openapi"
)

// misfits says where a response does not fit the published document; of one by
// lines, where any line does not.
func misfits(r *http.Request, res *http.Response) []string {
	if res.Header.Get("Content-Type") != ndjsonType {
		return misfitsOf(r, res)
	}
	body, err := io.ReadAll(res.Body)
	if err != nil {
		return []string{err.Error()}
	}
	var all []string
	for line := range bytes.Lines(body) {
		one := *res
		one.Body = io.NopCloser(bytes.NewReader(line))
		all = append(all, misfitsOf(r, &one)...)
	}
	return all
}

func misfitsOf(r *http.Request, res *http.Response) []string {
	var all []string
	_, errs := contract().ValidateHttpResponse(r, res)
	for _, err := range errs {
		all = append(all, fmt.Sprintf("%s: %s %v", err.Message, err.Reason, err.SchemaValidationErrors))
	}
	return all
}

// unpromised says where a request does not fit the published document.
func unpromised(r *http.Request) []string {
	var all []string
	_, errs := contract().ValidateHttpRequest(r)
	for _, err := range errs {
		all = append(all, fmt.Sprintf("%s: %s %v", err.Message, err.Reason, err.SchemaValidationErrors))
	}
	return all
}

// contract is the published document with every object and every list of
// values closed: answers may grow, but not past what is published.
var contract = sync.OnceValue(func() validator.Validator {
	var whole any
	if err := json.Unmarshal(openapi.JSON, &whole); err != nil {
		panic(err)
	}
	closeAll(whole)
	strict, err := json.Marshal(whole)
	if err != nil {
		panic(err)
	}
	doc, err := libopenapi.NewDocument(strict)
	if err != nil {
		panic(err)
	}
	v, errs := validator.NewValidator(doc)
	if len(errs) > 0 {
		panic(errs)
	}
	return v
})

func closeAll(value any) {
	switch v := value.(type) {
	case map[string]any:
		_, hasMembers := v["properties"].(map[string]any)
		if _, said := v["additionalProperties"]; hasMembers && v["type"] == "object" && !said {
			v["additionalProperties"] = false
		}
		if values, ok := v["x-extensible-enum"]; ok {
			v["enum"] = values
		}
		for _, inner := range v {
			closeAll(inner)
		}
	case []any:
		for _, inner := range v {
			closeAll(inner)
		}
	}
}

// The check itself is held to answers that do not fit.
func TestContractRefuses(t *testing.T) {
	for name, answer := range map[string]struct {
		status      int
		media, body string
	}{
		"unpublished member": {200, jsonType, `{"units":[],"more":1}`},
		"missing member":     {200, jsonType, `{}`},
		"wrong type":         {200, jsonType, `{"units":[{"name":1,"kind":"","factor":1,"offset":0,"si_unit":"","ucum":null}]}`},
		"null":               {200, jsonType, `{"units":null}`},
		"status":             {201, jsonType, `{"units":[]}`},
		"media type":         {200, "text/plain", `{"units":[]}`},
		"problem":            {400, problem.MediaType, `{"type":"x"}`},
	} {
		r := request("GET", "/v1/units", "")
		rec := httptest.NewRecorder()
		rec.Header().Set("Content-Type", answer.media)
		rec.WriteHeader(answer.status)
		rec.Body.WriteString(answer.body)
		if len(misfits(r, rec.Result())) == 0 {
			t.Errorf("%s: taken", name)
		}
	}
	for name, line := range map[string]string{
		"neither answer nor problem": `{"line":1}`,
		"a problem without a line":   `{"type":"/problems/x","title":"x","status":400}`,
		"an id that is no scalar":    `{"line":1,"id":[],"type":"/problems/x","title":"x","status":400}`,
		"not closed":                 `{"summary":{"lines":1,"answers":1,"problems":0},"more":1}`,
	} {
		const fits = `{"line":1,"id":1.5,"type":"/problems/x","title":"x","status":400}` + "\n" + `{"summary":{"lines":1,"answers":0,"problems":1}}` + "\n"
		for body, fit := range map[string]bool{fits: true, fits + line + "\n": false} {
			rec := httptest.NewRecorder()
			rec.Header().Set("Content-Type", ndjsonType)
			rec.Body.WriteString(body)
			if found := misfits(request("POST", batchPath, ""), rec.Result()); (len(found) == 0) != fit {
				t.Errorf("%s: %q", name, found)
			}
		}
	}
	r := request("GET", "/v1/refrigerants", "")
	rec := httptest.NewRecorder()
	service().ServeHTTP(rec, r)
	odd := httptest.NewRecorder()
	odd.Header().Set("Content-Type", jsonType)
	odd.Body.Write(bytes.Replace(rec.Body.Bytes(), []byte(`"zeotrope"`), []byte(`"zootrope"`), 1))
	if len(misfits(r, odd.Result())) == 0 {
		t.Error("unpublished value: taken")
	}
}
