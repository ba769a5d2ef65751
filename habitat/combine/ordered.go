package combine

import (
	"fmt"
	"math"
)

// orderTable returns, for each number m of scores at hand up to n, the
// weights by place. For fewer scores than weights the weights are read as
// Yager's quantifier, the line through the points (k/n, share of the first
// k weights): the place j of m gets its rise from (j-1)/m to j/m. So equal
// weights stay equal, "the best alone" and "the worst alone" stay what they
// are, and in between the leaning towards the best (the orness) hardly
// changes; simply keeping the first m weights would lean to the best, the
// more so the less is known.
func orderTable(weights []float64, n int) ([][]float64, error) {
	if len(weights) != n {
		return nil, &Error{fmt.Sprintf("%d ordered weights for %d factors with a weight above 0", len(weights), n),
			"give one ordered weight for each of these factors, the highest score's first"}
	}
	sum := 0.0
	for i, w := range weights {
		if !(w >= 0) || math.IsInf(w, 1) {
			return nil, &Error{fmt.Sprintf("ordered weight %d is %v", i+1, w), "give weights of 0 or more"}
		}
		sum += w
	}
	if !(sum > 0) {
		return nil, &Error{"all ordered weights are 0", "give at least one a value above 0"}
	}
	table := make([][]float64, n+1)
	for m := 1; m < n; m++ {
		table[m] = QuantifierWeights(m, func(r float64) float64 { return rise(weights, r) / sum })
	}
	table[n] = make([]float64, n)
	for i, w := range weights {
		table[n][i] = w / sum
	}
	return table, nil
}

// rise is the sum of the first r·n weights, a broken one in part.
func rise(weights []float64, r float64) float64 {
	at, sum := float64(r*float64(len(weights))), 0.0
	for k, w := range weights {
		part := min(max(at-float64(k), 0), 1)
		sum += float64(part * w)
	}
	return sum
}

// QuantifierWeights returns n ordered weights, summing to 1, from a
// quantifier: a function that rises from 0 at 0 to 1 at 1, such as r² for
// "most of them" (Yager 1988).
func QuantifierWeights(n int, quantifier func(float64) float64) []float64 {
	out := make([]float64, n)
	last := 0.0
	for j := range out {
		next := quantifier(float64(j+1) / float64(n))
		out[j] = next - last
		last = next
	}
	return out
}

// Orness returns how much ordered weights lean to the highest score: 1 for
// the maximum, 0 for the minimum, ½ for the plain mean (Yager 1988). The
// weights sum to 1; a single one counts as ½.
func Orness(weights []float64) float64 {
	n, sum := len(weights), 0.0
	if n < 2 {
		return 0.5
	}
	for i, w := range weights {
		sum += float64(float64(n-1-i) * w)
	}
	return sum / float64(n-1)
}

// Dispersion returns how evenly ordered weights use the scores: their
// entropy -Σ w ln w, from 0 for one score alone to ln n (Yager 1988). The
// weights sum to 1.
func Dispersion(weights []float64) float64 {
	sum := 0.0
	for _, w := range weights {
		if w > 0 {
			sum -= float64(w * log(math.Float64bits(w)))
		}
	}
	return sum + 0
}

// insert puts v into scores sorted from the highest down.
func insert(sorted []float64, v float64) []float64 {
	sorted = append(sorted, v)
	i := len(sorted) - 1
	for i > 0 && sorted[i-1] < v {
		sorted[i] = sorted[i-1]
		i--
	}
	sorted[i] = v
	return sorted
}

func weigh(sorted, weights []float64) float64 {
	sum := 0.0
	for i, v := range sorted {
		sum += float64(v * weights[i])
	}
	return sum
}

// order scores a strip by ordered weights, each cell by itself.
func (s *Scratch) order(score, coverage []float32, factors [][]float32, from int) {
	for i := range score {
		sorted, blank := s.sorted[:0], false
		s.known[i] = 0
		for _, p := range s.c.counted {
			v := factors[p.at][from+i]
			switch {
			case v == v:
				s.known[i] += p.weight
			case p.treatment == Assumed:
				v = p.assumed
			default:
				blank = blank || p.treatment == LeaveBlank
				continue
			}
			sorted = insert(sorted, float64(v))
		}
		y := math.NaN()
		if s.known[i] > 0 && !blank {
			y = weigh(sorted, s.c.ordered[len(sorted)])
		}
		score[i] = round(y)
	}
	s.cover(coverage)
}
