package combine

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

type drawn struct {
	factors []Factor
	data    [][]float32
	rule    Rule
	o       Options
}

// draw gives factors with every treatment, weights of 0, musts, holes and
// zeros, over more cells than a strip holds.
func draw(t *rapid.T) drawn {
	n := rapid.IntRange(1, 7).Draw(t, "factors")
	d := drawn{rule: Rule(rapid.IntRange(0, int(OrderedWeights)).Draw(t, "rule"))}
	d.o.Floor = rapid.SampledFrom([]float64{0, 0.02}).Draw(t, "floor")
	for k := range n {
		f := Factor{Name: string(rune('a' + k)), Weight: drawWeight(t), Must: rapid.IntRange(0, 3).Draw(t, "must") == 0}
		if k == 0 {
			f.Weight++
		}
		f.Unknown = rapid.SampledFrom([]Unknown{{}, {}, {Treatment: LeaveBlank}, Assume(0.4), Assume(0)}).Draw(t, "unknown")
		if f.Weight > 0 {
			d.o.OrderWeights = append(d.o.OrderWeights, rapid.Float64Range(0.1, 1).Draw(t, "order"))
		}
		d.factors = append(d.factors, f)
		// A run of drawn values, repeated with a shift by layer: rapid is slow at long slices.
		pattern := make([]float32, 13)
		for i := range pattern {
			pattern[i] = drawScore(t)
			if rapid.IntRange(0, 5).Draw(t, "hole") == 0 {
				pattern[i] = nan
			}
		}
		values := make([]float32, strip+100)
		for i := range values {
			values[i] = pattern[(i+i/13*k)%13]
		}
		d.data = append(d.data, values)
	}
	return d
}

func (d drawn) apply(t *rapid.T) (score, coverage []float32) {
	score, coverage, _ = d.applyIn(t)
	return score, coverage
}

// applyIn gives the scratch too, whose sums are the last strip's scores
// before rounding.
func (d drawn) applyIn(t *rapid.T) (score, coverage []float32, s *Scratch) {
	c, err := New(d.factors, d.rule, d.o)
	if err != nil {
		t.Fatal(err)
	}
	n := len(d.data[0])
	score, coverage = make([]float32, n), make([]float32, n)
	s = c.Scratch()
	s.Apply(score, coverage, d.data)
	return score, coverage, s
}

func same(a, b []float32) int {
	for i := range a {
		if math.Float32bits(a[i]) != math.Float32bits(b[i]) {
			return i
		}
	}
	return -1
}

func TestOrderOfFactorsChangesNoByte(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := draw(t)
		score, coverage, s := d.applyIn(t)
		e := d
		e.factors, e.data = nil, nil
		order := make([]int, len(d.factors))
		for i := range order {
			order[i] = i
		}
		for _, k := range rapid.Permutation(order).Draw(t, "order") {
			e.factors, e.data = append(e.factors, d.factors[k]), append(e.data, d.data[k])
		}
		score2, coverage2, s2 := e.applyIn(t)
		for i, sum := range s.sums {
			if math.Float64bits(sum) != math.Float64bits(s2.sums[i]) && sum == sum {
				t.Fatalf("sum %d: %v and %v", i, sum, s2.sums[i])
			}
		}
		if i := same(score, score2); i >= 0 {
			t.Fatalf("cell %d: %v and %v", i, score[i], score2[i])
		}
		if i := same(coverage, coverage2); i >= 0 {
			t.Fatalf("coverage of cell %d: %v and %v", i, coverage[i], coverage2[i])
		}
	})
}

// A cell's score may not hang on its neighbours in the strip.
func TestStripsChangeNoByte(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := draw(t)
		score, coverage := d.apply(t)
		c, _ := New(d.factors, d.rule, d.o)
		s := c.Scratch()
		from := 0
		for from < len(score) {
			n := min(rapid.IntRange(1, 300).Draw(t, "cells"), len(score)-from)
			part := make([][]float32, len(d.data))
			for k := range part {
				part[k] = d.data[k][from : from+n]
			}
			s2, c2 := make([]float32, n), make([]float32, n)
			s.Apply(s2, c2, part)
			if i := same(s2, score[from:]); i >= 0 {
				t.Fatalf("cell %d: %v alone, %v in its strip", from+i, s2[i], score[from+i])
			}
			if i := same(c2, coverage[from:]); i >= 0 {
				t.Fatalf("coverage of cell %d: %v alone, %v in its strip", from+i, c2[i], coverage[from+i])
			}
			from += n
		}
	})
}

// What the contract says of every cell, by its words.
func TestScoreAndCoverageKeepTheContract(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := draw(t)
		score, coverage := d.apply(t)
		for i := range score {
			known, total, vetoed, blank := 0.0, 0.0, false, false
			least, most := 1.0, 0.0
			for k, f := range d.factors {
				v := float64(d.data[k][i])
				total += f.Weight
				if v == v {
					known += f.Weight
				} else if f.Unknown.Treatment == Assumed {
					v = float64(float32(f.Unknown.Value))
				} else if f.Unknown.Treatment == LeaveBlank && (f.Weight > 0 || f.Must) {
					blank = true
				}
				if v == v && f.Weight > 0 {
					least, most = min(least, v), max(most, v)
				}
				vetoed = vetoed || f.Must && v == 0
			}
			got := float64(score[i])
			if want := float32(known / total); math.Abs(float64(coverage[i]-want)) > 1e-6 || (coverage[i] == 1) != (known == total) {
				t.Fatalf("cell %d: coverage %v, want %v", i, coverage[i], want)
			}
			switch {
			case known == 0 || blank:
				if got == got {
					t.Fatalf("cell %d: %v, want missing", i, got)
				}
			case vetoed:
				if got != 0 {
					t.Fatalf("cell %d: %v, want a veto", i, got)
				}
			case got != math.RoundToEven(got*Step)/Step || got < 0 || got > 1:
				t.Fatalf("cell %d: %v is no step from 0 to 1", i, got)
			case d.rule == Product:
				if got > most+0.5/Step {
					t.Fatalf("cell %d: product %v above the highest score %v", i, got, most)
				}
			case got < least-0.51/Step || got > max(most, d.o.Floor)+0.51/Step:
				t.Fatalf("cell %d: %v outside %v..%v", i, got, least, most)
			}
		}
	})
}

func TestBetterGroundNeverScoresLess(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := draw(t)
		score, _ := d.apply(t)
		k := rapid.IntRange(0, len(d.data)-1).Draw(t, "which")
		for i, v := range d.data[k] {
			if v == v {
				d.data[k][i] = min(1, v+rapid.SampledFrom([]float32{0, 1e-6, 0.01, 0.3}).Draw(t, "more"))
			}
			if i > 40 {
				break
			}
		}
		better, _ := d.apply(t)
		for i := range score {
			if better[i] < score[i] {
				t.Fatalf("cell %d falls from %v to %v", i, score[i], better[i])
			}
		}
	})
}

func TestApplyAllocatesNothing(t *testing.T) {
	for rule := Mean; rule <= OrderedWeights; rule++ {
		data := layers(2000, 0.1, 0.1)
		s := mustNew(t, six(), rule, Options{OrderWeights: []float64{6, 5, 4, 3, 2, 1}}).Scratch()
		score, coverage := make([]float32, 2000), make([]float32, 2000)
		if n := testing.AllocsPerRun(5, func() { s.Apply(score, coverage, data) }); n != 0 {
			t.Errorf("%v: %v allocations", rule, n)
		}
	}
}
