package stability

import (
	"math"

	"github.com/knurl-hvacr/knurl/engine/figure"
	"github.com/knurl-hvacr/knurl/refdata"
)

// Course is what runs in a series, as far as it decides how steady is steady.
type Course int

// The courses.
const (
	Temperature Course = iota
	SuctionPressure
	HighSidePressure
	Humidity
	Airflow
)

// Usual is the customary tolerance of a course in SI, and the figure that it
// rests on. last is the last value of the series, of which an airflow's is a
// share.
func Usual(c Course, last float64) (tolerance float64, from refdata.Figure) {
	from = figure.Allowance(map[Course]string{
		Temperature: "steady_temperature", SuctionPressure: "steady_suction_pressure", HighSidePressure: "steady_high_side_pressure",
		Humidity: "steady_humidity", Airflow: "steady_airflow",
	}[c])
	tolerance = figure.SI(from)
	if c == Airflow {
		tolerance = max(tolerance*math.Abs(last), 1e-6)
	}
	return tolerance, from
}
