// Package near compares numbers in tests. NaN is near nothing. It must not know
// what the numbers measure, and nothing that ships imports it.
package near

import "math"

// Abs tells whether got is within a distance of want.
func Abs(got, want, distance float64) bool { return math.Abs(got-want) <= distance }

// Rel tells whether got is within a share of want.
func Rel(got, want, share float64) bool { return math.Abs(got-want) <= share*math.Abs(want) }

// Sum tells whether got is within a share of want and a distance more.
func Sum(got, want, share, distance float64) bool {
	return math.Abs(got-want) <= share*math.Abs(want)+distance
}
