package httpapi

import (
	"crypto/sha256"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"github.com/gin-gonic/gin"
)

// freshness is what a cache keeps beside an answer (RFC 9110 section 8.8). Its
// tag is made from the question, so that an unchanged answer need not be
// computed, and is weak because compilers may round a last bit differently.
type freshness struct{ tag, control string }

// freshness is that of a question, or none for a method whose answers are not
// kept.
func (s *server) freshness(c *gin.Context, media string, question ...string) freshness {
	if m := c.Request.Method; m != http.MethodGet && m != http.MethodHead {
		return freshness{}
	}
	of := slices.Concat([]string{s.Revision, c.FullPath(), media}, question)
	sum := sha256.Sum256([]byte(strings.Join(of, "\n")))
	return freshness{
		tag:     fmt.Sprintf(`W/"%x"`, sum[:16]),
		control: fmt.Sprintf("public, max-age=%d", int(s.MaxAge.Seconds())),
	}
}

// announce sets the headers of an answer.
func (v freshness) announce(c *gin.Context) {
	if v.tag == "" {
		return
	}
	c.Header("ETag", v.tag)
	c.Header("Cache-Control", v.control)
	c.Writer.Header().Add("Vary", "Accept") // others may have said theirs
}

// unchanged answers 304 where the caller holds the answer already.
func (v freshness) unchanged(c *gin.Context) bool {
	if v.tag == "" {
		return false
	}
	opaque := strings.TrimPrefix(v.tag, "W/") // weak comparison, RFC 9110 section 8.8.3.2
	for held := range strings.SplitSeq(strings.Join(c.Request.Header.Values("If-None-Match"), ","), ",") {
		if strings.TrimPrefix(strings.TrimSpace(held), "W/") == opaque {
			v.announce(c)
			c.AbortWithStatus(http.StatusNotModified)
			return true
		}
	}
	return false
}
