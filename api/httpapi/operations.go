package httpapi

import (
	"github.com/gin-gonic/gin"

	"github.com/knurl-hvacr/knurl/api/ask"
	"github.com/knurl-hvacr/knurl/engine/query"
)

// operations registers the engine's operations: path, how the question is
// read, what answers it.
func (s *server) operations(v1 gin.IRoutes) {
	e := s.Engine

	get(v1, "/units", serve(s, func(*input) (query.UnitsQuestion, error) {
		return query.UnitsQuestion{}, nil
	}, ask.Pure(e.Units)))
}
