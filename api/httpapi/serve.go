package httpapi

import (
	"bytes"
	"encoding/json"
	"io"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"github.com/knurl-hvacr/knurl/api/ask"
)

const jsonType = "application/json"

// form is a media type and how an answer is written in it.
type form[A any] struct {
	media string
	write func(io.Writer, A) error
}

// serve is the one adaptor between HTTP and every operation: read the
// question, ask, write the answer, as JSON or in another form. A question that
// came with faults is asked all the same where enough of it was read, so that
// one problem lists them all.
func serve[Q, A any](s *server, read func(*input) (Q, error), answer ask.Func[Q, A], others ...form[A]) gin.HandlerFunc {
	forms := append([]form[A]{{jsonType, writeJSON[A]}}, others...)
	offered := make([]string, len(forms))
	for i, f := range forms {
		offered[i] = f.media
	}
	return func(c *gin.Context) {
		media, err := negotiate(c.Request, offered...)
		if err != nil {
			fail(c, err)
			return
		}
		in := newInput(c)
		q, err := read(in)
		if err == nil {
			err = in.finish()
		}
		if err != nil {
			fail(c, err)
			return
		}
		kept := s.freshness(c, media, in.spelled...)
		if kept.unchanged(c) {
			return
		}
		a, err := answer(c.Request.Context(), q)
		if err = in.join(err); err != nil {
			fail(c, err)
			return
		}
		kept.announce(c)
		write(c, forms[slices.Index(offered, media)], a)
	}
}

// write sends an answer. What cannot be encoded is the server's fault.
func write[A any](c *gin.Context, as form[A], answer A) {
	var body bytes.Buffer
	if err := as.write(&body, answer); err != nil {
		fail(c, err)
		return
	}
	media := as.media
	if strings.HasPrefix(media, "text/") {
		media += "; charset=utf-8"
	}
	send(c, http.StatusOK, media, body.Bytes())
}

func writeJSON[A any](w io.Writer, answer A) error {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	return enc.Encode(answer)
}

// send writes a body and its length, which HEAD must tell too.
func send(c *gin.Context, status int, media string, body []byte) {
	c.Header("Content-Length", strconv.Itoa(len(body)))
	c.Data(status, media, body)
}

// fail leaves the error to the middleware that writes problems.
func fail(c *gin.Context, err error) {
	_ = c.Error(err)
	c.Abort()
}
