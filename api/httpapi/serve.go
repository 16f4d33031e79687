package httpapi

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"github.com/knurl-hvacr/knurl/api/ask"
	"github.com/knurl-hvacr/knurl/api/cache"
	"github.com/knurl-hvacr/knurl/engine/operation"
	"github.com/knurl-hvacr/knurl/engine/query"
	"github.com/knurl-hvacr/knurl/engine/question"
)

const jsonType = "application/json"

// form is a media type and how an answer is written in it; what a browser
// draws brings the content security policy that lets it be drawn.
type form struct {
	media, policy string
	write         func(io.Writer, any) error
}

// in is a form of answers of type A.
func in[A any](media string, write func(io.Writer, A) error, policy string) form {
	return form{media, policy, func(w io.Writer, answer any) error { return write(w, answer.(A)) }}
}

// asked is a question with how it is to be answered and what path and query
// string said, which together decide every byte of the answer: a question's
// JSON may leave out what does not come in a body.
type asked struct {
	Question any
	As       query.Presentation
	Spelled  []string
}

// rendering answers in one media type.
type rendering struct {
	media, policy string
	answer        ask.Func[asked, []byte]
}

// renderings of an operation, JSON first.
func (s *server) renderings(o operation.Operation, p policy) []rendering {
	answer := ask.Func[asked, any](func(ctx context.Context, q asked) (any, error) {
		return o.Ask(s.engineFor(ctx), q.Question, q.As)
	})
	if p.costly {
		answer = costly(s, answer)
	}
	var all []rendering
	for _, f := range append([]form{{media: jsonType, write: writeJSON}}, p.forms...) {
		written := ask.Func[asked, []byte](func(ctx context.Context, q asked) ([]byte, error) {
			a, err := answer(ctx, q)
			if err != nil {
				return nil, err
			}
			var body bytes.Buffer
			err = f.write(&body, a)
			return body.Bytes(), err
		})
		if p.kept && s.Answers != nil {
			scope := strings.Join([]string{o.Name, f.media, s.Revision}, "\n")
			written = keptWhere(p.worth, cache.Remember(written, s.Answers, scope), written)
		}
		all = append(all, rendering{f.media, f.policy, written})
	}
	return all
}

// keptWhere is kept for the questions that are worth it, else next.
func keptWhere(worth func(context.Context, any) bool, kept, next ask.Func[asked, []byte]) ask.Func[asked, []byte] {
	if worth == nil {
		return kept
	}
	return func(ctx context.Context, q asked) ([]byte, error) {
		if worth(ctx, q.Question) {
			return kept(ctx, q)
		}
		return next(ctx, q)
	}
}

// serve is the one adaptor between HTTP and every operation: read the
// question, ask, write the answer, as JSON or in another form. A question that
// came with errors is asked all the same where enough of it was read, so that
// one problem lists them all.
func (s *server) serve(o operation.Operation, p policy) gin.HandlerFunc {
	forms := s.renderings(o, p)
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
		var body []byte
		if o.HasBody() {
			if body, err = readBody(c.Request); err != nil {
				fail(c, err)
				return
			}
		}
		in := question.New(c.Param, c.Request.URL.RawQuery)
		q := o.Read(in, body)
		if err := in.Finish(); err != nil {
			fail(c, err)
			return
		}
		kept := s.freshness(c, media, in.Meant()...)
		if kept.unchanged(c) {
			return
		}
		as := forms[slices.Index(offered, media)]
		answer, err := as.answer(c.Request.Context(), asked{q, in.As(), in.Spelled()})
		if err = in.Join(err); err != nil {
			fail(c, err)
			return
		}
		kept.announce(c)
		sendAs(c, media, as.policy, answer)
	}
}

// write sends an answer. What cannot be encoded is the server's fault.
func write(c *gin.Context, as form, answer any) {
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

func writeJSON(w io.Writer, answer any) error {
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
