package refdata

import (
	"fmt"
	"math"
	"sync"
)

// Grid is a published table of two variables. Cells[i][j] belongs to Rows[i]
// and Columns[j] and is NaN where the table prints a dash. All three are in °F
// as published; cells are temperature differences.
type Grid struct {
	Rows, Columns []float64
	Cells         [][]float64
	Source        string
	Status        string
}

// TargetSuperheat returns the target superheat (Δ°F) of CEC table RA3.2-2.
// Rows are the dry bulb of the air entering the condenser (°F), columns the
// wet bulb of the return air (°F). A dash means that there is no valid test.
func TargetSuperheat() Grid { return targetSuperheat() }

// TargetTemperatureSplit returns the target temperature split, return minus
// supply dry bulb (Δ°F), of CEC table RA3.2-3. Rows are the dry bulb, columns
// the wet bulb of the return air (°F). A dash means that there is no target.
func TargetTemperatureSplit() Grid { return targetTemperatureSplit() }

var (
	targetSuperheat = sync.OnceValue(func() Grid {
		return mustReadGrid("tables/target-superheat.json", "condenser_air_dry_bulb_degf", "return_air_wet_bulb_degf", "target_superheat_delta_degf")
	})
	targetTemperatureSplit = sync.OnceValue(func() Grid {
		return mustReadGrid("tables/target-temperature-split.json", "return_air_dry_bulb_degf", "return_air_wet_bulb_degf", "target_temperature_split_delta_degf")
	})
)

func mustReadGrid(name, rows, columns, cells string) Grid {
	type file struct {
		Source     string       `json:"source"`
		Status     string       `json:"status"`
		RowsAre    string       `json:"rows_are"`
		ColumnsAre string       `json:"columns_are"`
		CellsAre   string       `json:"cells_are"`
		Columns    []float64    `json:"columns"`
		Rows       []float64    `json:"rows"`
		Cells      [][]*float64 `json:"cells"`
	}
	f := mustRead[file](name)
	if f.RowsAre != rows || f.ColumnsAre != columns || f.CellsAre != cells {
		panic(fmt.Sprintf("refdata: %s: rows, columns or cells are not what is documented", name))
	}
	g := Grid{Rows: f.Rows, Columns: f.Columns, Source: f.Source, Status: f.Status}
	for _, line := range f.Cells {
		values := make([]float64, len(line))
		for j, cell := range line {
			values[j] = math.NaN()
			if cell != nil {
				values[j] = *cell
			}
		}
		g.Cells = append(g.Cells, values)
	}
	return g
}
