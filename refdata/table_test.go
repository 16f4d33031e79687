package refdata

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

func checkShape(t *testing.T, name string, g Grid, rows, columns, low, high float64) {
	t.Helper()
	if g.Status != FromMemory {
		t.Errorf("%s: status %q, want %q", name, g.Status, FromMemory)
	}
	for axis, values := range map[string][]float64{"rows": g.Rows, "columns": g.Columns} {
		for i := 1; i < len(values); i++ {
			if values[i] != values[i-1]+1 {
				t.Errorf("%s: %s go from %g to %g", name, axis, values[i-1], values[i])
			}
		}
	}
	require.Len(t, g.Rows, int(rows), "%s", name)
	require.Len(t, g.Columns, int(columns), "%s", name)
	require.Len(t, g.Cells, len(g.Rows), "%s", name)
	for i, line := range g.Cells {
		if len(line) != len(g.Columns) {
			t.Fatalf("%s: line %d has %d cells", name, i, len(line))
		}
		started := false // dashes stand at the left end of a row only
		for j, cell := range line {
			if math.IsNaN(cell) {
				if started {
					t.Errorf("%s at %g/%g: a gap within the row", name, g.Rows[i], g.Columns[j])
				}
				continue
			}
			started = true
			if !(cell >= low && cell <= high) {
				t.Errorf("%s at %g/%g: %g outside [%g, %g]", name, g.Rows[i], g.Columns[j], cell, low, high)
			}
		}
	}
}

// Rising with wet bulb, falling with outdoor dry bulb, no target below 5 °F.
func TestTargetSuperheat(t *testing.T) {
	g := TargetSuperheat()
	checkShape(t, "target superheat", g, 61, 27, 5, 45)
	for i := range g.Rows {
		for j := range g.Columns {
			c := g.Cells[i][j]
			if j > 0 && c <= g.Cells[i][j-1] {
				t.Errorf("at %g/%g: %g does not rise with wet bulb", g.Rows[i], g.Columns[j], c)
			}
			if i > 0 && c >= g.Cells[i-1][j] {
				t.Errorf("at %g/%g: %g does not fall with dry bulb", g.Rows[i], g.Columns[j], c)
			}
		}
	}
}

// Falling with wet bulb; 0.3 to 0.8 °F more for each °F of dry bulb.
func TestTargetTemperatureSplit(t *testing.T) {
	g := TargetTemperatureSplit()
	checkShape(t, "target temperature split", g, 15, 27, 3, 26)
	for i := range g.Rows {
		for j := range g.Columns {
			c := g.Cells[i][j]
			if j > 0 && c >= g.Cells[i][j-1] {
				t.Errorf("at %g/%g: %g does not fall with wet bulb", g.Rows[i], g.Columns[j], c)
			}
			if i == 0 {
				continue
			}
			if step := c - g.Cells[i-1][j]; step < 0.3-1e-9 || step > 0.8+1e-9 {
				t.Errorf("at %g/%g: %g more than one row above", g.Rows[i], g.Columns[j], step)
			}
		}
	}
}
