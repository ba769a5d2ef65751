package combine

import (
	"fmt"
	"math"
)

// strip is how many cells go through one factor before the next: their
// sums stay in the nearest cache.
const strip = 512

// Scratch holds the buffers of one worker. It is not for two goroutines.
type Scratch struct {
	c      *Combiner
	sums   [strip]float64
	sorted []float64
}

// Scratch returns buffers for one worker.
func (c *Combiner) Scratch() *Scratch {
	return &Scratch{c: c, sorted: make([]float64, len(c.counted))}
}

// Apply joins the scores of factors, in the order given to [New] and each at
// least as long as score, cell by cell into score. Where coverage is not nil
// it gets the known share of the weight: 1 exactly where all is known, less
// than 1 elsewhere, 0 where nothing is. It allocates nothing. The output may
// not overlap the factors.
func (s *Scratch) Apply(score, coverage []float32, factors [][]float32) {
	if len(factors) != s.c.given {
		panic(fmt.Sprintf("combine: %d factors for a rule over %d", len(factors), s.c.given))
	}
	for from := 0; from < len(score); from += strip {
		to := min(from+strip, len(score))
		s.gather(factors, from, to)
		s.finish(score[from:to])
		s.settle(score, coverage, factors, from, to)
	}
}

// gather adds up each factor's part for the cells from..to. A missing score
// makes the sum NaN.
func (s *Scratch) gather(factors [][]float32, from, to int) {
	sums := s.sums[:to-from]
	start := s.c.start()
	for i := range sums {
		sums[i] = start
	}
	for _, p := range s.c.counted {
		values := factors[p.at][from:to]
		switch s.c.rule {
		case Mean:
			addShares(sums, values, p.weight)
		case GeometricMean:
			addLogs(sums, values, p.weight, s.c.floor)
		case HarmonicMean:
			addReciprocals(sums, values, p.weight, s.c.floor)
		case Product:
			multiply(sums, values)
		case LeastFactor:
			takeLeast(sums, values)
		}
	}
}

// start is what a sum is before any factor. Ordered weights look at all
// scores of a cell at once, so every cell is left to the long way.
func (c *Combiner) start() float64 {
	switch c.rule {
	case Product, LeastFactor:
		return 1
	case OrderedWeights:
		return math.NaN()
	}
	return 0
}

// finish turns sums over all factors into rounded scores.
func (s *Scratch) finish(score []float32) {
	sums, total := s.sums[:len(score)], s.c.total
	switch s.c.rule {
	case Mean:
		for i, sum := range sums {
			score[i] = round(sum / total)
		}
	case GeometricMean:
		for i, sum := range sums {
			score[i] = round(exp(sum / total))
		}
	case HarmonicMean:
		for i, sum := range sums {
			score[i] = round(total / sum)
		}
	default:
		for i, sum := range sums {
			score[i] = round(sum)
		}
	}
}

// settle does again, the long way, the cells with a missing score, fills
// the coverage and applies the vetoes.
func (s *Scratch) settle(score, coverage []float32, factors [][]float32, from, to int) {
	for i := from; i < to; i++ {
		known := float32(1)
		if score[i] != score[i] {
			score[i], known = s.cell(factors, i)
		}
		if coverage != nil {
			coverage[i] = known
		}
	}
	for _, p := range s.c.vetoes {
		p.veto(score[from:to], factors[p.at][from:to])
	}
}

// veto sets to 0 the cells where a must factor is 0. Only a factor without
// weight makes a cell missing here: the others have had their say.
func (p part) veto(score, values []float32) {
	blank := p.treatment == LeaveBlank && p.weight == 0
	zero := p.treatment == Assumed && p.assumed == 0
	for i, v := range values {
		switch {
		case v == 0 || zero && v != v:
			if score[i] == score[i] {
				score[i] = 0
			}
		case blank && v != v:
			score[i] = v
		}
	}
}

// cell is the whole rule for one cell: score, not yet vetoed, and coverage.
func (s *Scratch) cell(factors [][]float32, at int) (score, coverage float32) {
	sum, used, known := s.c.start(), 0.0, 0.0
	sorted, blank := s.sorted[:0], false
	for _, p := range s.c.counted {
		v := float64(factors[p.at][at])
		if v == v {
			known += p.weight
		} else if p.treatment == Assumed {
			v = p.assumed
		} else {
			blank = blank || p.treatment == LeaveBlank
			continue
		}
		used += p.weight
		if s.c.rule == OrderedWeights {
			sorted = insert(sorted, v)
		} else {
			sum = s.c.include(sum, v, p.weight)
		}
	}
	if known == 0 || blank {
		return float32(math.NaN()), s.c.share(known)
	}
	if s.c.rule == OrderedWeights {
		return round(weigh(sorted, s.c.ordered[len(sorted)])), s.c.share(known)
	}
	return round(s.c.close(sum, used)), s.c.share(known)
}

// share is the part of the whole weight that is known. All the weight makes
// exactly 1, and nothing less does.
func (c *Combiner) share(known float64) float32 {
	if known == c.total {
		return 1
	}
	return min(float32(known/c.total), 1-0x1p-24)
}

// include adds one factor's part to a sum, as the strips do.
func (c *Combiner) include(sum, v, weight float64) float64 {
	switch c.rule {
	case Mean:
		return sum + float64(weight*v)
	case GeometricMean:
		return sum + float64(weight*log(v, c.floor))
	case HarmonicMean:
		return sum + weight/raise(v, c.floor)
	case Product:
		return float64(sum * v)
	}
	return min(sum, v)
}

// close turns a sum over factors of the given weight into a score.
func (c *Combiner) close(sum, weight float64) float64 {
	switch c.rule {
	case Mean:
		return sum / weight
	case GeometricMean:
		return exp(sum / weight)
	case HarmonicMean:
		return weight / sum
	}
	return sum
}

func addShares(sums []float64, values []float32, weight float64) {
	values = values[:len(sums)]
	for i := range sums {
		sums[i] += float64(weight * float64(values[i]))
	}
}

func addLogs(sums []float64, values []float32, weight float64, floor uint64) {
	values = values[:len(sums)]
	for i := range sums {
		sums[i] += float64(weight * log(float64(values[i]), floor))
	}
}

func addReciprocals(sums []float64, values []float32, weight float64, floor uint64) {
	values = values[:len(sums)]
	for i := range sums {
		sums[i] += weight / raise(float64(values[i]), floor)
	}
}

func multiply(sums []float64, values []float32) {
	values = values[:len(sums)]
	for i := range sums {
		sums[i] = float64(sums[i] * float64(values[i]))
	}
}

func takeLeast(sums []float64, values []float32) {
	values = values[:len(sums)]
	for i := range sums {
		sums[i] = min(sums[i], float64(values[i]))
	}
}

// round gives the nearest multiple of 1/Step, halves to even, within 0..1;
// NaN stays NaN. Adding 2^52 leaves no room for a fraction.
func round(y float64) float32 {
	const whole = 1 << 52
	y = float64(y*Step) + whole - whole
	if y > Step {
		y = Step
	}
	return float32(y * (1.0 / Step))
}
