package plant_test

import (
	"fmt"
	"math/rand/v2"

	"github.com/knurl-hvacr/knurl/engine/equipment"
	"github.com/knurl-hvacr/knurl/engine/plant"
	"github.com/knurl-hvacr/knurl/engine/refrigerant"
	"github.com/knurl-hvacr/knurl/engine/saturation"
)

// A system with a fixed orifice loses a fifth of its charge.
func ExampleUnit_Solve() {
	r, err := refrigerant.NewCatalogue().Find("R-22")
	if err != nil {
		fmt.Println(err)
		return
	}
	lines, err := saturation.NewCurves(nil, "", 1).Of(r.System(), nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	fluid, err := plant.NewFluid(r.System(), lines, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	known := plant.Known{Device: equipment.FixedOrifice, SEER: 10}
	unit, err := plant.NewPriors().Unit(fluid, known, rand.New(rand.NewPCG(1, 2)).Float64)
	if err != nil {
		fmt.Println(err)
		return
	}
	healthy, err := unit.Solve(plant.Rating(), plant.Faults{})
	if err != nil {
		fmt.Println(err)
		return
	}
	leaked, err := unit.SolveNear(&healthy, plant.Rating(), plant.Faults{}.With(equipment.Undercharge, 0.2, false))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println("superheat rises:", leaked.Superheat > healthy.Superheat+5)
	fmt.Println("subcooling falls:", leaked.Subcooling < healthy.Subcooling-2)
	fmt.Println("capacity falls:", leaked.Capacity < 0.95*healthy.Capacity)
	// Output:
	// superheat rises: true
	// subcooling falls: true
	// capacity falls: true
}
