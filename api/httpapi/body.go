package httpapi

import (
	"errors"
	"io"
	"mime"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"github.com/knurl-hvacr/knurl/api/problem"
	"github.com/knurl-hvacr/knurl/engine/query"
	"github.com/knurl-hvacr/knurl/engine/question"
)

// input is one request while its question is read.
type input struct {
	*question.Input
	request *http.Request
}

// newInput begins to read a request.
func newInput(c *gin.Context) *input {
	return &input{question.New(c.Param, c.Request.URL.RawQuery), c.Request}
}

// address makes the reader of a question that path and query string hold.
func address[Q any](read func(*question.Input) Q) func(*input) (Q, error) {
	return func(in *input) (Q, error) { return read(in.Input), nil }
}

// body makes the reader of a question that comes as a JSON body; presentation
// says where the question keeps how it is to be answered.
func body[Q any](presentation func(*Q) *query.Presentation) func(*input) (Q, error) {
	read := question.Body(presentation)
	return func(in *input) (q Q, err error) {
		data, err := readBody(in.request)
		if err != nil {
			return q, err
		}
		return read(in.Input, data), nil
	}
}

// plain refuses a body that is not of a media type as it stands.
func plain(r *http.Request, wanted string) error {
	media, parameters, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	if err != nil || media != wanted {
		return problem.UnsupportedMediaType.Because("Content-Type must be %s", wanted)
	}
	if charset, ok := parameters["charset"]; ok && !strings.EqualFold(charset, "utf-8") {
		return problem.UnsupportedMediaType.Because("JSON is read in UTF-8 only")
	}
	if coding := r.Header.Get("Content-Encoding"); coding != "" && !strings.EqualFold(coding, "identity") {
		return problem.UnsupportedMediaType.Because("the body must come without a content coding")
	}
	return nil
}

// takes is the media type of the questions of a route.
func takes(c *gin.Context) string {
	if c.FullPath() == batchPath {
		return ndjsonType
	}
	return jsonType
}

func readBody(r *http.Request) ([]byte, error) {
	if err := plain(r, jsonType); err != nil {
		return nil, err
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
