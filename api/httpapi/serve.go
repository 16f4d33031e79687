package httpapi

import (
	"bytes"
	"encoding/json"
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"

	"github.com/knurl-hvacr/knurl/api/ask"
)

const jsonType = "application/json"

// serve is the one adaptor between HTTP and every operation: read the
// question, ask, write the answer. A question that came with faults is asked
// all the same where enough of it was read, so that one problem lists them all.
func serve[Q, A any](s *server, read func(*input) (Q, error), answer ask.Func[Q, A]) gin.HandlerFunc {
	return func(c *gin.Context) {
		media, err := negotiate(c.Request, jsonType)
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
		write(c, media, a)
	}
}

// write sends an answer. What cannot be encoded is the server's fault.
func write(c *gin.Context, media string, answer any) {
	var body bytes.Buffer
	enc := json.NewEncoder(&body)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(answer); err != nil {
		fail(c, err)
		return
	}
	send(c, http.StatusOK, media, body.Bytes())
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
