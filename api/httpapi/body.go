package httpapi

import (
	"errors"
	"io"
	"mime"
	"net/http"
	"strings"

	"github.com/knurl-hvacr/knurl/api/problem"
	"github.com/knurl-hvacr/knurl/engine/query"
	"github.com/knurl-hvacr/knurl/engine/strictjson"
)

// body makes the reader of a question that comes as a JSON body; presentation
// says where the question keeps how it is to be answered.
func body[Q any](presentation func(*Q) *query.Presentation) func(*input) (Q, error) {
	decoder := strictjson.For[Q]()
	return func(in *input) (Q, error) {
		var q Q
		data, err := readBody(in.c.Request)
		if err != nil {
			return q, err
		}
		q, err = decoder.Decode(data)
		in.partial = true
		if faults, ok := errors.AsType[*strictjson.Faults](err); ok {
			for _, f := range problem.Fields(faults) {
				in.unreadable(f)
				in.partial = in.partial && f.Code != query.CodeSyntax
			}
		}
		*presentation(&q) = in.as
		return q, nil
	}
}

func readBody(r *http.Request) ([]byte, error) {
	media, parameters, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	if err != nil || media != jsonType {
		return nil, problem.UnsupportedMediaType.Because("Content-Type must be %s", jsonType)
	}
	if charset, ok := parameters["charset"]; ok && !strings.EqualFold(charset, "utf-8") {
		return nil, problem.UnsupportedMediaType.Because("JSON is read in UTF-8 only")
	}
	if coding := r.Header.Get("Content-Encoding"); coding != "" && !strings.EqualFold(coding, "identity") {
		return nil, problem.UnsupportedMediaType.Because("the body must come without a content coding")
	}
	data, err := io.ReadAll(r.Body)
	if tooLarge, ok := errors.AsType[*http.MaxBytesError](err); ok {
		return nil, problem.BodyTooLarge.Because("at most %d bytes are read", tooLarge.Limit)
	}
	if err != nil {
		return nil, problem.RequestTimeout.Because("the body broke off or came too slowly")
	}
	return data, nil
}
