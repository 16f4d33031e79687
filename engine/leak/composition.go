package leak

// Fractions that a path is kept at: a dozen even steps up to an end, and the end.
func Fractions(end float64) []float64 {
	const steps = 12
	var out []float64
	for i := range steps {
		if f := end * float64(i) / steps; i == 0 || f > out[len(out)-1] {
			out = append(out, f)
		}
	}
	if end > out[len(out)-1] {
		out = append(out, end)
	}
	return out
}

// MassFractions of amounts (mol) of components of the given molar masses (kg/mol).
func MassFractions(amounts, molar []float64) []float64 {
	w := make([]float64, len(amounts))
	var sum float64
	for i := range w {
		w[i] = amounts[i] * molar[i]
		sum += w[i]
	}
	for i := range w {
		w[i] /= sum
	}
	return w
}

// Released are the mass fractions of what left between two amounts (mol), nil
// where nothing did.
func Released(start, end, molar []float64) []float64 {
	gone := make([]float64, len(start))
	var sum float64
	for i := range gone {
		gone[i] = max(0, start[i]-end[i])
		sum += gone[i]
	}
	if sum == 0 {
		return nil
	}
	return MassFractions(gone, molar)
}

// ToppedUp are the mass fractions after what was lost, a fraction of the mass at
// the start, has been replaced by nominal blend.
func ToppedUp(rest, nominal []float64, lost float64) []float64 {
	w := make([]float64, len(rest))
	for i := range w {
		w[i] = (1-lost)*rest[i] + lost*nominal[i]
	}
	return w
}
