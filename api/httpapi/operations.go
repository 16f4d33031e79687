package httpapi

import (
	"context"
	"strings"

	"github.com/gin-gonic/gin"

	"github.com/knurl-hvacr/knurl/api/page"
	"github.com/knurl-hvacr/knurl/engine/operation"
	"github.com/knurl-hvacr/knurl/engine/query"
)

// policy is how HTTP treats an operation beyond reading, asking and writing
// JSON.
type policy struct {
	// costly work waits for its turn.
	costly bool
	// kept answers cost more than fetching them: their bytes are remembered.
	kept bool
	// worth says of which questions answers are kept; nil is all.
	worth func(context.Context, any) bool
	// forms beside JSON.
	forms []form
}

// policies of the operations that have one; the bounds of the engine are the
// request's.
func (s *server) policies() map[string]policy {
	drawn := in(svgType, page.Diagram, page.DiagramPolicy)
	return map[string]policy{
		operation.Refrigerants:            {kept: true},
		operation.SaturationTable:         {kept: true, worth: s.longTable, forms: []form{in(csvType, writeTable, "")}},
		operation.RefrigerantDiagram:      {kept: true, costly: true, forms: []form{drawn}},
		operation.PressureEnthalpyDiagram: {kept: true, costly: true, forms: []form{drawn}},
		operation.MeasurementPlan:         {costly: true},
		operation.ExpectedReadings:        {kept: true, costly: true},
		operation.LeakedBlend:             {kept: true, costly: true},
		operation.VisitRecord:             {forms: []form{in(htmlType, page.Record, page.RecordPolicy)}},
	}
}

// operations registers the engine's operations below the prefix of routes that
// they all have.
func (s *server) operations(r gin.IRoutes) {
	policies := s.policies()
	for _, o := range operation.All() {
		path := route(o.Path)
		if o.HasBody() {
			r.POST(path, s.serve(o, policies[o.Name]))
		} else {
			get(r, path, s.serve(o, policies[o.Name]))
		}
	}
}

// route is a path of the document as gin has it.
func route(path string) string {
	return strings.NewReplacer("{", ":", "}", "").Replace(path)
}

// manyRows is from where on a table costs more than fetching it: some 4 us a
// row against 60 us.
const manyRows = 32

// longTable reports whether a table has many rows.
func (s *server) longTable(ctx context.Context, q any) bool {
	t, err := s.engineFor(ctx).SaturationRows(q.(query.SaturationTableQuestion), query.Presentation{})
	return err == nil && t.Len >= manyRows
}
