package signature

import "fmt"

// Coordinate is one axis of the space that explanations are compared in: a
// reading, with pressures as saturation temperatures, or what the plate says.
type Coordinate int

// The coordinates, in K but for the two that say otherwise.
const (
	SuctionDew      Coordinate = iota // dew point of the suction pressure
	SuctionLine                       // temperature of the suction line
	LiquidBubble                      // bubble point of the liquid pressure
	LiquidLine                        // temperature of the liquid line
	DischargeLine                     // temperature of the discharge line
	DischargeDew                      // dew point of the discharge pressure
	SupplyDry                         // supply air, dry bulb
	SupplyWet                         // supply air, wet bulb
	DrierOutlet                       // liquid line behind all that restricts it
	Airflow                           // logarithm of indoor air flow over capacity, m3/s a W
	PlateSEER                         // rated efficiency, Btu/(W h)
	PlateSubcooling                   // the manufacturer's target subcooling
	PlateSuperheat                    // the manufacturer's target superheat in this weather
	// FirstSeverity and SecondSeverity are never read: they tell how large the
	// faults of an explanation are, as plant.Faults counts them.
	FirstSeverity
	SecondSeverity
	Coordinates
)

// Readable is how many coordinates can be read.
const Readable = FirstSeverity

var coordinateNames = [Coordinates]string{
	"suction_dew", "suction_line", "liquid_bubble", "liquid_line", "discharge_line", "discharge_dew",
	"supply_dry", "supply_wet", "drier_outlet", "airflow", "plate_seer", "plate_subcooling", "plate_superheat",
	"first_severity", "second_severity",
}

// String names the coordinate.
func (c Coordinate) String() string {
	if c < 0 || c >= Coordinates {
		return fmt.Sprintf("signature.Coordinate(%d)", int(c))
	}
	return coordinateNames[c]
}

// Vector is a point in the space, Matrix a covariance over it.
type (
	Vector [Coordinates]float64
	Matrix [Coordinates][Coordinates]float64
)
