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
	c           *Combiner
	sums        [strip]float64
	used, known [strip]float64 // by cell: share that is summed, weight that is known
	filled      [strip]float32
	sorted      []float64
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
		var cover []float32
		if coverage != nil {
			cover = coverage[from:to]
		}
		s.strip(score[from:to], cover, factors, from)
	}
}

// strip takes the short way, which any missing score shows up in, and the
// long way only then. Where all is known both give the same bits.
func (s *Scratch) strip(score, coverage []float32, factors [][]float32, from int) {
	to := from + len(score)
	switch {
	case s.c.rule == OrderedWeights:
		s.order(score, coverage, factors, from)
	case s.whole(score, factors, from):
		for i := range coverage {
			coverage[i] = 1
		}
	default:
		s.mend(score, coverage, factors, from)
	}
	for _, p := range s.c.vetoes {
		p.veto(score, factors[p.at][from:to])
	}
}

// whole scores a strip as if all were known and reports whether it was.
func (s *Scratch) whole(score []float32, factors [][]float32, from int) bool {
	sums := s.sums[:len(score)]
	s.c.begin(sums)
	for _, p := range s.c.counted {
		s.c.include(sums, factors[p.at][from:from+len(score)], p)
	}
	s.c.finish(sums)
	known := true
	for i, sum := range sums {
		y := round(sum)
		score[i] = y
		known = known && y == y
	}
	return known
}

// nearHoles is how many cells may lie between two holes that are mended as one.
const nearHoles = 8

// mend scores anew, hole by hole, the cells of a strip that came out missing.
func (s *Scratch) mend(score, coverage []float32, factors [][]float32, from int) {
	for i := range coverage {
		coverage[i] = 1
	}
	for i := 0; i < len(score); i++ {
		if score[i] == score[i] {
			continue
		}
		end := i + 1
		for j := end; j < len(score) && j <= end+nearHoles; j++ {
			if score[j] != score[j] {
				end = j + 1
			}
		}
		var cover []float32
		if coverage != nil {
			cover = coverage[i:end]
		}
		s.broken(score[i:end], cover, factors, from+i)
		i = end
	}
}

// broken scores cells among which something is missing.
func (s *Scratch) broken(score, coverage []float32, factors [][]float32, from int) {
	n := len(score)
	sums, filled, used, known := s.sums[:n], s.filled[:n], s.used[:n], s.known[:n]
	s.c.begin(sums)
	clear(used)
	clear(known)
	for _, p := range s.c.counted {
		s.fill(filled, factors[p.at][from:from+n], p)
		s.c.include(sums, filled, p)
	}
	s.c.finishUsed(sums, used)
	for i, sum := range sums {
		if known[i] == 0 || used[i] != used[i] {
			sum = math.NaN()
		}
		score[i] = round(sum)
	}
	s.cover(coverage)
}

// fill copies the scores of a factor, puts in what stands for the missing
// ones and keeps account of both. Used becomes NaN where the cell must stay
// blank.
func (s *Scratch) fill(filled, values []float32, p part) {
	used, known := s.used[:len(filled)], s.known[:len(filled)]
	stand, share := s.c.neutral(), 0.0
	switch p.treatment {
	case Assumed:
		stand, share = p.assumed, p.share
	case LeaveBlank:
		share = math.NaN()
	}
	for i, v := range values {
		if v == v {
			filled[i] = v
			known[i] += p.weight
			used[i] += p.share
		} else {
			filled[i] = stand
			used[i] += share
		}
	}
}

// cover writes coverage, if wanted, from the weight known in each cell.
func (s *Scratch) cover(coverage []float32) {
	for i := range coverage {
		coverage[i] = s.c.coverage(s.known[i])
	}
}

// coverage is the part of the whole weight that is known. All the weight
// makes exactly 1, and nothing less does.
func (c *Combiner) coverage(known float64) float32 {
	if known == c.total {
		return 1
	}
	return min(float32(known/c.total), 1-0x1p-24)
}

// veto sets to 0 the cells where a must factor is 0. Only a factor without
// weight makes a cell missing here: the others have had their say.
func (p part) veto(score, values []float32) {
	score = score[:len(values)]
	blank := p.treatment == LeaveBlank && p.weight == 0
	zero := p.treatment == Assumed && p.assumed == 0
	for i, v := range values {
		if v > 0 {
			continue
		}
		switch {
		case v == 0 || zero:
			if score[i] == score[i] {
				score[i] = 0
			}
		case blank:
			score[i] = v
		}
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
