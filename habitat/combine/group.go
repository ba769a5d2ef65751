package combine

import "math"

// BestOf writes to dst, cell by cell, the highest known score of the
// members, each at least as long as dst; missing only where none is known.
func BestOf(dst []float32, members [][]float32) {
	for i := range dst {
		dst[i] = float32(math.NaN())
	}
	for _, values := range members {
		values = values[:len(dst)]
		for i, v := range values {
			if v > dst[i] || dst[i] != dst[i] {
				dst[i] = v
			}
		}
	}
}

// MeanOf writes to dst, cell by cell, the weighted mean of the known scores
// of the members, each at least as long as dst; missing where no member with
// a weight above 0 is known. Sums go in the order of members: pass them by
// name, so that the order in a plan changes no bit. A nil weights weighs all
// alike.
func MeanOf(dst []float32, members [][]float32, weights []float64) {
	for i := range dst {
		sum, used := 0.0, 0.0
		for k, values := range members {
			w := 1.0
			if weights != nil {
				w = weights[k]
			}
			if v := values[i]; v == v && w > 0 {
				sum += float64(w * float64(v))
				used += w
			}
		}
		dst[i] = mean(sum, used)
	}
}

func mean(sum, used float64) float32 {
	if used == 0 {
		return float32(math.NaN())
	}
	return min(float32(sum/used), 1)
}
