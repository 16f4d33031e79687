package httpapi

import (
	"errors"
	"io"
	"mime"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	raise "github.com/knurl-hvacr/knurl/api/problem"
	"github.com/knurl-hvacr/knurl/engine/problem"
)

// plain refuses a body that is not of a media type as it stands.
func plain(r *http.Request, wanted string) error {
	media, parameters, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	if err != nil || media != wanted {
		return raise.Because(problem.UnsupportedMediaType, "Content-Type must be %s", wanted)
	}
	if charset, ok := parameters["charset"]; ok && !strings.EqualFold(charset, "utf-8") {
		return raise.Because(problem.UnsupportedMediaType, "JSON is read in UTF-8 only")
	}
	if coding := r.Header.Get("Content-Encoding"); coding != "" && !strings.EqualFold(coding, "identity") {
		return raise.Because(problem.UnsupportedMediaType, "the body must come without a content coding")
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
		return nil, raise.Because(problem.BodyTooLarge, "at most %d bytes are read", tooLarge.Limit)
	}
	if err != nil {
		return nil, raise.Because(problem.RequestTimeout, "the body broke off or came too slowly")
	}
	return data, nil
}
