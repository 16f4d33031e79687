package hose

// The inputs whose errors are carried through: those that all hoses share,
// then those of each hose. What is assumed about the make of the hoses is
// shared, since a set is of one make.
const (
	axisBore = iota
	axisManifold
	axisOil
	axisEnd
	axisCompliance
	axisAmbient
	axisCharge
	sharedAxes
)

const (
	ofLength = iota
	ofBore
	ofEnd
	ofPressure
	ofTemperature
	ofOil
	ofFill
	hoseAxes
)

func axis(hose, of int) int { return sharedAxes + hose*hoseAxes + of }
