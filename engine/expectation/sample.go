package expectation

import (
	"cmp"
	"slices"
)

// sample is a weighted sample of one quantity.
type sample struct {
	points []point
	sum    float64
}

type point struct{ value, weight float64 }

func (s *sample) add(value, weight float64) {
	s.points = append(s.points, point{value, weight})
	s.sum += weight
}

func (s *sample) band() Band {
	slices.SortFunc(s.points, func(a, b point) int { return cmp.Compare(a.value, b.value) })
	return Band{Median: s.quantile(0.5), Low: s.quantile(0.025), High: s.quantile(0.975)}
}

// quantile of the sorted points, each of which stands in the middle of its
// weight; linear between them.
func (s *sample) quantile(p float64) float64 {
	at := p * s.sum
	var below float64
	for i, x := range s.points {
		middle := below + x.weight/2
		if middle >= at {
			if i == 0 {
				return x.value
			}
			last := s.points[i-1]
			from := below - last.weight/2
			return last.value + (x.value-last.value)*(at-from)/(middle-from)
		}
		below += x.weight
	}
	return s.points[len(s.points)-1].value
}

func into[K comparable](all map[K]*sample, key K) *sample {
	s := all[key]
	if s == nil {
		s = &sample{}
		all[key] = s
	}
	return s
}
