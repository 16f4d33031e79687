package httpapi

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"net/http"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"github.com/knurl-hvacr/knurl/api/ask"
	"github.com/knurl-hvacr/knurl/api/cache"
	"github.com/knurl-hvacr/knurl/engine/query"
)

const jsonType = "application/json"

// form is a media type and how an answer is written in it; what a browser
// draws brings the content security policy that lets it be drawn.
type form[A any] struct {
	media  string
	write  func(io.Writer, A) error
	policy string
}

// serve is the one adaptor between HTTP and every operation: read the
// question, ask, write the answer, as JSON or in another form. A question that
// came with faults is asked all the same where enough of it was read, so that
// one problem lists them all.
func serve[Q, A any](s *server, read func(*input) (Q, error), answer ask.Func[Q, A], others ...form[A]) gin.HandlerFunc {
	return adapt(s, read, renderings(answer, others))
}

// kept is serve for what costs more than fetching it: the bytes of its answers
// are remembered.
func kept[Q, A any](s *server, read func(*input) (Q, error), answer ask.Func[Q, A], others ...form[A]) gin.HandlerFunc {
	return keptWhere(s, func(context.Context, Q) bool { return true }, read, answer, others...)
}

// keptWhere is kept for an operation of which only some questions are worth
// it.
func keptWhere[Q, A any](s *server, worth func(context.Context, Q) bool, read func(*input) (Q, error), answer ask.Func[Q, A], others ...form[A]) gin.HandlerFunc {
	all := renderings(answer, others)
	if s.Answers == nil {
		return adapt(s, read, all)
	}
	for i, r := range all {
		scope := strings.Join([]string{reflect.TypeFor[Q]().Name(), r.media, s.Revision}, "\n")
		remembered := cache.Remember(r.answer, s.Answers, scope)
		all[i].answer = func(ctx context.Context, q asked[Q]) ([]byte, error) {
			if worth(ctx, q.Question) {
				return remembered(ctx, q)
			}
			return r.answer(ctx, q)
		}
	}
	return adapt(s, read, all)
}

// asked is a question with how it is to be answered and what path and query
// string said, which together decide every byte of the answer: a question's
// JSON may leave out what does not come in a body.
type asked[Q any] struct {
	Question Q
	As       query.Presentation
	Spelled  []string
}

// rendering answers in one media type.
type rendering[Q any] struct {
	media, policy string
	answer        ask.Func[asked[Q], []byte]
}

func renderings[Q, A any](answer ask.Func[Q, A], others []form[A]) []rendering[Q] {
	var all []rendering[Q]
	for _, f := range append([]form[A]{{media: jsonType, write: writeJSON[A]}}, others...) {
		all = append(all, rendering[Q]{f.media, f.policy, func(ctx context.Context, q asked[Q]) ([]byte, error) {
			a, err := answer(ctx, q.Question)
			if err != nil {
				return nil, err
			}
			var body bytes.Buffer
			err = f.write(&body, a)
			return body.Bytes(), err
		}})
	}
	return all
}

func adapt[Q any](s *server, read func(*input) (Q, error), forms []rendering[Q]) gin.HandlerFunc {
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
			err = in.Finish()
		}
		if err != nil {
			fail(c, err)
			return
		}
		kept := s.freshness(c, media, in.Meant()...)
		if kept.unchanged(c) {
			return
		}
		as := forms[slices.Index(offered, media)]
		answer, err := as.answer(c.Request.Context(), asked[Q]{q, in.As(), in.Spelled()})
		if err = in.Join(err); err != nil {
			fail(c, err)
			return
		}
		kept.announce(c)
		sendAs(c, media, as.policy, answer)
	}
}

// write sends an answer. What cannot be encoded is the server's fault.
func write[A any](c *gin.Context, as form[A], answer A) {
	var body bytes.Buffer
	if err := as.write(&body, answer); err != nil {
		fail(c, err)
		return
	}
	sendAs(c, as.media, as.policy, body.Bytes())
}

// sendAs sends the bytes of an answer.
func sendAs(c *gin.Context, media, policy string, answer []byte) {
	if policy != "" {
		c.Header("Content-Security-Policy", policy)
	}
	if strings.HasPrefix(media, "text/") {
		media += "; charset=utf-8"
	}
	send(c, http.StatusOK, media, answer)
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
