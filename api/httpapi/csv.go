package httpapi

import (
	"encoding/csv"
	"io"
	"reflect"
	"strconv"
	"strings"

	"github.com/knurl-hvacr/knurl/engine/query"
)

const csvType = "text/csv"

// writeTable writes a saturation table as RFC 4180 has it: a column for each
// quantity that some row has, named with its unit, and the code of a row's
// problem in the last.
func writeTable(w io.Writer, a query.SaturationTableAnswer) error {
	columns := tableColumns(a.Rows)
	out := csv.NewWriter(w)
	out.UseCRLF = true
	record := make([]string, 0, len(columns)+1)
	for _, c := range columns {
		record = append(record, c.name+"_"+c.unit)
	}
	if err := out.Write(append(record, "problem")); err != nil {
		return err
	}
	for _, row := range a.Rows {
		record = record[:0]
		values := reflect.ValueOf(row.SaturationPoint)
		for _, c := range columns {
			cell := ""
			if m, ok := measureIn(values.Field(c.field)); ok {
				cell = strconv.FormatFloat(m.Value, 'g', -1, 64)
			}
			record = append(record, cell)
		}
		fault := ""
		if row.Problem != nil {
			fault = string(row.Problem.Code)
		}
		if err := out.Write(append(record, fault)); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

type column struct {
	field      int
	name, unit string
}

// tableColumns are the members of a point that any row has, in their order.
func tableColumns(rows []query.PointAnswer) []column {
	var columns []column
	shape := reflect.TypeFor[query.SaturationPoint]()
	for i := range shape.NumField() {
		for _, row := range rows {
			if m, ok := measureIn(reflect.ValueOf(row.SaturationPoint).Field(i)); ok {
				name, _, _ := strings.Cut(shape.Field(i).Tag.Get("json"), ",")
				columns = append(columns, column{i, name, m.Unit})
				break
			}
		}
	}
	return columns
}

func measureIn(v reflect.Value) (query.Measure, bool) {
	m, ok := v.Interface().(*query.Measure)
	if !ok || m == nil {
		return query.Measure{}, false
	}
	return *m, true
}
