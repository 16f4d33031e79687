package httpapi

import (
	"crypto/sha256"
	"fmt"
	"net/http"
	"sync"

	"github.com/gin-gonic/gin"

	"github.com/knurl-hvacr/knurl/api/page"
	raise "github.com/knurl-hvacr/knurl/api/problem"
	"github.com/knurl-hvacr/knurl/engine/problem"
	"github.com/knurl-hvacr/knurl/openapi"
)

const (
	htmlType = "text/html"
	svgType  = "image/svg+xml"
	yamlType = "application/yaml" // RFC 9512
)

// Health says that a probe succeeded.
type Health struct {
	Status string `json:"status" binding:"required" example:"ok"`
	// Redis says how the shared cache is, where there is one: ok, or unavailable, which costs time and changes no answer.
	Redis string `json:"redis,omitempty" example:"ok"`
} //@name Health

// meta registers what stands beside the operations.
func (s *server) meta(r gin.IRoutes) {
	get(r, "/livez", s.data(func(*gin.Context) (any, error) { return Health{Status: "ok"}, nil }))
	get(r, "/readyz", s.data(func(c *gin.Context) (any, error) {
		if !s.Ready() {
			return nil, raise.Because(problem.NotReady, "starting or stopping")
		}
		h := Health{Status: "ok"}
		if s.Redis != nil {
			h.Redis = s.Redis(c.Request.Context())
		}
		return h, nil
	}))
	get(r, "/version", s.data(func(*gin.Context) (any, error) { return s.Build, nil }))
	get(r, "/openapi.json", s.file(jsonType, openapi.JSON))
	get(r, "/openapi.yaml", s.file(yamlType, openapi.YAML))
	get(r, "/docs", s.docs)
	get(r, "/problems/:name", s.problem)
	get(r, "/metrics", s.authenticate, s.metrics)
}

// data serves what is small and never kept.
func (s *server) data(answer func(*gin.Context) (any, error)) gin.HandlerFunc {
	return func(c *gin.Context) {
		if _, err := negotiate(c.Request, jsonType); err != nil {
			fail(c, err)
			return
		}
		a, err := answer(c)
		if err != nil {
			fail(c, err)
			return
		}
		write(c, form{media: jsonType, write: writeJSON}, a)
	}
}

// file serves bytes that change with the build only.
func (s *server) file(media string, content []byte) gin.HandlerFunc {
	sum := fmt.Sprintf("%x", sha256.Sum256(content))
	return func(c *gin.Context) {
		if _, err := negotiate(c.Request, media); err != nil {
			fail(c, err)
			return
		}
		kept := s.freshness(c, media, sum)
		if kept.unchanged(c) {
			return
		}
		kept.announce(c)
		send(c, http.StatusOK, media, content)
	}
}

// contractPage is the published document as people read it.
var contractPage = sync.OnceValues(page.Docs)

func (s *server) docs(c *gin.Context) {
	if _, err := negotiate(c.Request, htmlType); err != nil {
		fail(c, err)
		return
	}
	kept := s.freshness(c, htmlType)
	if kept.unchanged(c) {
		return
	}
	content, err := contractPage()
	if err != nil {
		fail(c, err)
		return
	}
	kept.announce(c)
	sendAs(c, htmlType, page.DocsPolicy, content)
}

// metrics serves what is counted, unless another listener does.
func (s *server) metrics(c *gin.Context) {
	if s.Metrics == nil {
		fail(c, raise.Because(problem.NotFound, "metrics are not served here"))
		return
	}
	s.Metrics.ServeHTTP(c.Writer, c.Request)
}

func (s *server) problem(c *gin.Context) {
	media, err := negotiate(c.Request, jsonType, htmlType)
	if err != nil {
		fail(c, err)
		return
	}
	d, ok := problem.Describe(c.Param("name"))
	if !ok {
		fail(c, raise.Because(problem.NotFound, "there is no problem of this name"))
		return
	}
	kept := s.freshness(c, media, d.Type)
	if kept.unchanged(c) {
		return
	}
	kept.announce(c)
	as := form{media: jsonType, write: writeJSON}
	if media == htmlType {
		as = in(htmlType, raise.WriteHTML, "")
	}
	write(c, as, d)
}
