package combine

import "math"

// Part is what one factor does to the score of one cell.
type Part struct {
	// Known is false where the factor's score is missing, Assumed where a
	// score stands in for it; Counts tells whether it takes part in the rule
	// at all: it has a weight and is known or assumed.
	Known, Assumed, Counts bool

	// Share is the part of the weight that counts in this cell, 0..1; the
	// shares of all factors add up to 1. With ordered weights it is the
	// weight of the place that the factor's score takes from the highest
	// down. In a product and with the least factor weights do not matter, and
	// it is 0.
	Share float64

	// Adds is Share × score in the rules that add, mean and ordered weights:
	// the sum over all factors is the score before rounding. It is NaN in the
	// other rules.
	Adds float64

	// Loss is the factor's part, 0..1, of what keeps the score from 1; over
	// all factors it adds up to 1, or is 0 throughout where the score is 1.
	// In a mean and with ordered weights it is a part of Σ share × (1 -
	// score); in a geometric mean and a product, of the sum of the weighted
	// logarithms; in a harmonic mean, of Σ share × (1/score - 1). Where a
	// score of 0 makes the whole 0 (there, with the least factor, and for a
	// must), the factors with the lowest score bear all of it in equal parts.
	Loss float64

	// Vetoes tells that the factor is a must and its score 0.
	Vetoes bool
}

// Explain takes the score of one cell apart: the scores of the factors in the
// order given to [New], NaN where missing, give a part for each. It explains
// what [Scratch.Apply] computes and is not meant for many cells.
func (c *Combiner) Explain(scores []float32) []Part {
	out := make([]Part, len(scores))
	values := make([]float64, len(scores)) // as the rule takes them
	sum := 0.0
	for i, v := range scores {
		out[i].Known, out[i].Adds = v == v, math.NaN()
	}
	for _, p := range c.counted {
		values[p.at] = float64(scores[p.at])
		if !out[p.at].Known && p.treatment == Assumed {
			values[p.at], out[p.at].Assumed = float64(p.assumed), true
		}
		if out[p.at].Counts = values[p.at] == values[p.at]; out[p.at].Counts {
			out[p.at].Share = p.share
			sum += p.share
		}
	}
	c.shareOut(out, values, sum)
	c.losses(out, values)
	c.explainVetoes(out, scores)
	return out
}

// shareOut makes shares add up to 1, and works out what they add.
func (c *Combiner) shareOut(out []Part, values []float64, sum float64) {
	switch c.rule {
	case Product, LeastFactor:
		for i := range out {
			out[i].Share = 0
		}
		return
	case OrderedWeights:
		c.shareByPlace(out, values)
	default:
		for i := range out {
			if out[i].Counts {
				out[i].Share /= sum
			}
		}
	}
	if c.rule != Mean && c.rule != OrderedWeights {
		return
	}
	for i := range out {
		out[i].Adds = 0
		if out[i].Counts {
			out[i].Adds = float64(out[i].Share * values[i])
		}
	}
}

// shareByPlace gives each factor the weight of its place; equal scores take
// theirs in the order of names, as the factors come.
func (c *Combiner) shareByPlace(out []Part, values []float64) {
	n := 0
	for _, p := range c.counted {
		if out[p.at].Counts {
			n++
		}
	}
	for i, p := range c.counted {
		if !out[p.at].Counts {
			continue
		}
		place := 0
		for j, q := range c.counted {
			if out[q.at].Counts && (values[q.at] > values[p.at] || values[q.at] == values[p.at] && j < i) {
				place++
			}
		}
		out[p.at].Share = c.ordered[n][place]
	}
}

// losses works out what keeps the score from 1.
func (c *Combiner) losses(out []Part, values []float64) {
	floor := math.Float64frombits(c.floor)
	sum := 0.0
	for _, p := range c.counted {
		o := &out[p.at]
		if !o.Counts {
			continue
		}
		v := values[p.at]
		switch c.rule {
		case Mean, OrderedWeights:
			o.Loss = float64(o.Share * (1 - v))
		case GeometricMean:
			o.Loss = -float64(o.Share * math.Log(max(v, floor)))
		case Product:
			o.Loss = -math.Log(v)
		case HarmonicMean:
			o.Loss = float64(o.Share * (1/max(v, floor) - 1))
		case LeastFactor:
			o.Loss = math.Inf(1)
		}
		sum += o.Loss
	}
	if math.IsInf(sum, 1) {
		c.blameLowest(out, values)
		return
	}
	for i := range out {
		if sum > 0 {
			out[i].Loss /= sum
		}
		out[i].Loss += 0 // no negative zero
	}
}

// blameLowest lays the whole loss on the factors with the lowest score.
func (c *Combiner) blameLowest(out []Part, values []float64) {
	lowest, n := math.Inf(1), 0.0
	for _, p := range c.counted {
		if v := values[p.at]; out[p.at].Counts && v < lowest {
			lowest, n = v, 0
		}
		if out[p.at].Counts && values[p.at] == lowest {
			n++
		}
	}
	for i := range out {
		bears := out[i].Counts && values[i] == lowest && lowest < 1
		out[i].Loss = 0
		if bears {
			out[i].Loss = 1 / n
		}
	}
}

// explainVetoes lays the whole loss on the musts that are 0.
func (c *Combiner) explainVetoes(out []Part, scores []float32) {
	n := 0.0
	for _, p := range c.vetoes {
		v := scores[p.at]
		if v != v && p.treatment == Assumed {
			v = p.assumed
		}
		if v == 0 {
			out[p.at].Vetoes = true
			n++
		}
	}
	for i := range out {
		if n > 0 {
			out[i].Loss = 0
		}
		if out[i].Vetoes {
			out[i].Loss = 1 / n
		}
	}
}
