// Package signature holds what the instruments on a system show under each
// explanation of its state: for a metering device and a set of faults, the mean
// of all readings as a function of the air around the system and of its
// refrigerant, and the covariance over the systems that it might be. The numbers
// are distilled from engine/plant and embedded by refdata. The package must not
// know readings that somebody took, nor what follows from them.
//
// # How it is distilled
//
// refdata/gen draws systems (16 refrigerants, weather, installation scatter), solves
// each under nothing wrong, seven faults in five bands of severity, and twenty pairs in
// two bands each, and fits for each of these components the mean of every reading as a
// polynomial of the air and of three traits of the refrigerant, and one covariance over
// systems, in which what the plate says and the severity itself are coordinates too.
// States that a unit would not hold are left out; faults that take less than 5 % of
// capacity and efficiency count a twentieth. A reading, as its saturation temperature,
// is one coordinate, so that leaving one out is leaving out a row, exactly, and
// superheat and coil temperature share their pressure's error.
package signature
