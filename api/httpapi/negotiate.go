package httpapi

import (
	"net/http"
	"strings"

	"github.com/elnormous/contenttype"

	raise "github.com/knurl-hvacr/knurl/api/problem"
	"github.com/knurl-hvacr/knurl/engine/problem"
)

// negotiate chooses among the media types on offer, the first being preferred
// (RFC 9110 section 12.5.1).
func negotiate(r *http.Request, offered ...string) (string, error) {
	accept := strings.Join(r.Header.Values("Accept"), ",")
	if strings.TrimSpace(accept) == "" {
		return offered[0], nil
	}
	types := make([]contenttype.MediaType, len(offered))
	for i, o := range offered {
		types[i] = contenttype.NewMediaType(o)
	}
	chosen, _, err := contenttype.GetAcceptableMediaTypeFromHeader(accept, types)
	if err != nil {
		return "", raise.Because(problem.NotAcceptable, "this answer can be sent as %s", strings.Join(offered, " or "))
	}
	return chosen.MIME(), nil
}
