package httpapi

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"github.com/knurl-hvacr/knurl/engine/problem"
	"github.com/knurl-hvacr/knurl/openapi"
)

// misfits says where a response does not fit the published document; of one by
// lines, where any line does not.
func misfits(r *http.Request, res *http.Response) []string {
	o, _, err := contract().operation(r)
	if err != nil {
		return []string{err.Error()}
	}
	answer, ok := o.Responses[strconv.Itoa(res.StatusCode)]
	if !ok {
		return []string{fmt.Sprintf("%s %s: status %d is not published", r.Method, o.path, res.StatusCode)}
	}
	body, err := io.ReadAll(res.Body)
	if err != nil {
		return []string{err.Error()}
	}
	where := o.at("responses", strconv.Itoa(res.StatusCode), "content")
	if answer.Ref != "" {
		where = strings.TrimPrefix(answer.Ref, "#") + "/content"
	}
	return contract().body(where, res.Header.Get("Content-Type"), body)
}

// unpromised says where a request does not fit the published document.
func unpromised(r *http.Request) []string {
	o, inPath, err := contract().operation(r)
	if err != nil {
		return []string{err.Error()}
	}
	var all []string
	asked := r.URL.Query()
	for i, p := range o.Parameters {
		where := o.at("parameters", strconv.Itoa(i), "schema")
		if p.Ref != "" {
			where = strings.TrimPrefix(p.Ref, "#") + "/schema"
			p = contract().parameter(p.Ref)
		}
		values := asked[p.Name]
		switch p.In {
		case "path":
			values = []string{inPath[p.Name]}
		case "query":
			delete(asked, p.Name)
		default:
			values = r.Header.Values(p.Name)
		}
		if p.Required && len(values) == 0 {
			all = append(all, fmt.Sprintf("%s is required", p.Name))
		}
		for _, text := range values {
			all = append(all, contract().value(where, text)...)
		}
	}
	for name := range asked {
		all = append(all, fmt.Sprintf("%s is not published", name))
	}
	if r.Body == nil || r.Body == http.NoBody {
		if o.RequestBody.Required {
			all = append(all, "a body is required")
		}
		return all
	}
	body, err := io.ReadAll(r.Body)
	if err != nil {
		return append(all, err.Error())
	}
	r.Body = io.NopCloser(bytes.NewReader(body))
	if len(body) == 0 && !o.RequestBody.Required {
		return all
	}
	return append(all, contract().body(o.at("requestBody", "content"), r.Header.Get("Content-Type"), body)...)
}

// published is the document with every object and every list of values closed:
// answers may grow, but not past what is published.
type published struct {
	Paths      map[string]map[string]json.RawMessage
	Components struct{ Parameters map[string]parameter }
	whole      any
	schemas    *jsonschema.Compiler

	mu       sync.Mutex
	compiled map[string]*jsonschema.Schema // by place
}

// promise is one operation of the document, as far as it is looked at here.
type promise struct {
	path, method string
	Parameters   []parameter
	RequestBody  struct{ Required bool }
	Responses    map[string]struct {
		Ref string `json:"$ref"`
	}
}

type parameter struct {
	Ref      string `json:"$ref"`
	Name, In string
	Required bool
}

const documentURL = "https://knurl.invalid/openapi.json"

var contract = sync.OnceValue(func() *published {
	var p published
	if err := json.Unmarshal(openapi.JSON, &p); err != nil {
		panic(err)
	}
	whole, err := jsonschema.UnmarshalJSON(bytes.NewReader(openapi.JSON))
	if err != nil {
		panic(err)
	}
	closeAll(whole)
	p.whole, p.schemas, p.compiled = whole, jsonschema.NewCompiler(), map[string]*jsonschema.Schema{}
	p.schemas.DefaultDraft(jsonschema.Draft2020)
	p.schemas.AssertFormat()
	if err := p.schemas.AddResource(documentURL, whole); err != nil {
		panic(err)
	}
	return &p
})

// at is the place of something in an operation, as a pointer.
func (o promise) at(members ...string) string {
	all := ""
	for _, m := range append([]string{"paths", o.path, o.method}, members...) {
		all += "/" + escaped(m)
	}
	return all
}

func escaped(member string) string {
	return strings.NewReplacer("~", "~0", "/", "~1").Replace(member)
}

// operation finds what answers a request, and what stands for the names in its
// path.
func (p *published) operation(r *http.Request) (o promise, inPath map[string]string, err error) {
	got := strings.Split(r.URL.EscapedPath(), "/")
	for path, methods := range p.Paths {
		inPath, ok := matched(strings.Split(path, "/"), got)
		if !ok {
			continue
		}
		text, ok := methods[strings.ToLower(r.Method)]
		if !ok {
			return o, nil, fmt.Errorf("%s %s is not published", r.Method, path)
		}
		o.path, o.method = path, strings.ToLower(r.Method)
		return o, inPath, json.Unmarshal(text, &o)
	}
	return o, nil, fmt.Errorf("%s is not published", r.URL.Path)
}

func matched(want, got []string) (map[string]string, bool) {
	if len(want) != len(got) {
		return nil, false
	}
	names := map[string]string{}
	for i, w := range want {
		if name, ok := strings.CutPrefix(w, "{"); ok && got[i] != "" {
			value, err := url.PathUnescape(got[i])
			if err != nil {
				return nil, false
			}
			names[strings.TrimSuffix(name, "}")] = value
		} else if w != got[i] {
			return nil, false
		}
	}
	return names, true
}

func (p *published) parameter(ref string) parameter {
	found, ok := p.Components.Parameters[ref[strings.LastIndexByte(ref, '/')+1:]]
	if !ok {
		panic("no parameter " + ref)
	}
	return found
}

// body holds a body to what is published for its media type at a place; of one
// by lines every line.
func (p *published) body(where, contentType string, body []byte) []string {
	content, _ := p.find(where).(map[string]any)
	media, _, err := mime.ParseMediaType(contentType)
	if len(content) == 0 && len(body) == 0 {
		return nil
	}
	if _, ok := content[media]; err != nil || !ok {
		return []string{fmt.Sprintf("media type %q is not published at %s", contentType, where)}
	}
	if !strings.HasSuffix(media, "json") {
		return nil // a table or a page
	}
	lines := [][]byte{body}
	if media == ndjsonType {
		lines = slices.Collect(bytes.Lines(body))
	}
	var all []string
	for _, line := range lines {
		value, err := jsonschema.UnmarshalJSON(bytes.NewReader(line))
		if err != nil {
			all = append(all, err.Error())
			continue
		}
		all = append(all, p.held(where+"/"+escaped(media)+"/schema", value)...)
	}
	return all
}

// value holds the text of a parameter to its schema: as text, or as the number
// or truth that it spells.
func (p *published) value(where, text string) []string {
	all := p.held(where, text)
	if len(all) == 0 {
		return nil
	}
	if value, err := jsonschema.UnmarshalJSON(strings.NewReader(text)); err == nil {
		return p.held(where, value)
	}
	return all
}

func (p *published) held(where string, value any) []string {
	err := p.schema(where).Validate(value)
	if invalid, ok := errors.AsType[*jsonschema.ValidationError](err); ok {
		return []string{invalid.Error()}
	}
	return nil
}

func (p *published) schema(where string) *jsonschema.Schema {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.compiled[where] == nil {
		p.compiled[where] = p.schemas.MustCompile(documentURL + "#" + (&url.URL{Path: where}).EscapedPath())
	}
	return p.compiled[where]
}

// find gives what stands at a place of the document.
func (p *published) find(where string) any {
	at := p.whole
	for member := range strings.SplitSeq(strings.TrimPrefix(where, "/"), "/") {
		inner, _ := at.(map[string]any)
		at = inner[strings.NewReplacer("~1", "/", "~0", "~").Replace(member)]
	}
	return at
}

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
