// Package hotspot turns the patches of a score grid into ranked areas worth a
// visit.
//
// A hotspot is a patch of cells that score at least Rule.From, joined over
// sides and corners, of at least Rule.LeastHa on the ellipsoid, or, if the rule
// says so, of at least Rule.OrLength on the grid. Hotspots rank
// by area × plain mean of their cells' scores, larger first; equal ones by
// position, north before south and then west before east. The order is exact:
// areas are whole square millimetres and score sums whole 1/16384, compared
// as whole numbers.
//
// The room finds no patches itself (raster/patch does), opens no file and
// draws nothing; places are cells of the run's grid. Missing scores belong to
// no hotspot; a factor that is missing in some cells has its mean over the
// others, and the share of known cells is told.
//
// Thresholding a habitat score and ranking the connected areas by size and
// quality is common practice, no source.
package hotspot

import (
	"fmt"
	"math"
	"math/bits"
	"slices"

	"likelyground/raster"
	"likelyground/raster/patch"
)

// DefaultMost is how many hotspots are kept where the rule does not say.
const DefaultMost = 40

// mm2PerHa is a hectare in square millimetres.
const mm2PerHa = 1e10

// Rule says what counts as a hotspot.
type Rule struct {
	From    float64 // least score of a cell, 0..1; see Threshold
	LeastHa float64 // least area in hectares; 0: any

	// OrLength keeps smaller patches that are so long in metres: the greatest
	// distance between two of their points. 0: none.
	OrLength     float64
	CellX, CellY float64 // sides of the grid's cells in metres; 0: 1

	Most int // how many are kept; 0: DefaultMost
}

// Check returns an error, with a remedy, for a rule that cannot be meant.
func (r Rule) Check() error {
	switch {
	case !(r.From >= 0 && r.From <= 1):
		return &RuleError{fmt.Sprintf("hotspots: from is %v", r.From), "give a score from 0 to 1"}
	case !(r.LeastHa >= 0) || r.LeastHa > 9e8:
		return &RuleError{fmt.Sprintf("hotspots: least is %v ha", r.LeastHa), "give an area of 0 ha or more, smaller than the earth's land"}
	case !(r.OrLength >= 0) || math.IsInf(r.OrLength, 1):
		return &RuleError{fmt.Sprintf("hotspots: or length is %v m", r.OrLength), "give a length of 0 m or more"}
	case r.Most < 0:
		return &RuleError{fmt.Sprintf("hotspots: most is %d", r.Most), "give a number of 1 or more, or leave it out for 40"}
	}
	return nil
}

// RuleError is a rule that must be changed.
type RuleError struct{ what, remedy string }

// Error says what is wrong; Remedy says what to do.
func (e *RuleError) Error() string { return e.what }

// Remedy says what to do.
func (e *RuleError) Remedy() string { return e.remedy }

// MustChange reports that trying again does not help.
func (e *RuleError) MustChange() bool { return true }

// Threshold returns From rounded to the nearest multiple of 1/16384, the
// steps in which scores are counted.
func (r Rule) Threshold() float32 {
	return float32(math.Round(r.From*patch.ScoreUnit) / patch.ScoreUnit)
}

func (r Rule) most() int {
	if r.Most == 0 {
		return DefaultMost
	}
	return r.Most
}

// Patches returns the rule by which the patches are to be surveyed. No patch
// that could become a hotspot is lost by it.
func (r Rule) Patches() patch.Rule {
	return patch.Rule{
		From:   r.Threshold(),
		Least:  int64(math.Round(r.LeastHa * mm2PerHa)),
		Length: r.OrLength,
		DX:     r.CellX,
		DY:     r.CellY,
		Most:   r.most(),
		Better: Better,
	}
}

// Better reports whether a ranks before b by area × plain mean. It is exact.
func Better(a, b *patch.Stats) bool {
	return product(a.Area, a.Sum, b.Cells).above(product(b.Area, b.Sum, a.Cells))
}

// wide is a whole number of 192 bits, the high word first.
type wide [3]uint64

// product multiplies three numbers that are not negative.
func product(a, b, c int64) wide {
	high, low := bits.Mul64(uint64(a), uint64(b))
	carry, last := bits.Mul64(low, uint64(c))
	first, middle := bits.Mul64(high, uint64(c))
	middle, over := bits.Add64(middle, carry, 0)
	return wide{first + over, middle, last}
}

func (w wide) above(v wide) bool {
	for i := range w {
		if w[i] != v[i] {
			return w[i] > v[i]
		}
	}
	return false
}

// Hotspot is one ranked area.
type Hotspot struct {
	Rank    int     // from 1
	AreaHa  float64 // on the ellipsoid
	Length  float64 // metres on the grid, see Rule.OrLength
	Mean    float64 // plain mean of the cells' scores
	Max     float64 // highest score
	Factors []FactorMean
	Cells   int64
	Box     raster.Window
	Point   patch.Cell // a cell well inside; its centre is the place to name
	Outline patch.Outline

	patch *patch.Patch
}

// FactorMean is a factor's mean over the cells of a hotspot.
type FactorMean struct {
	Name  string
	Mean  float64 // over the cells where it is known; NaN where none is
	Known float64 // share of the cells where it is known, 0..1
}

// Result is the outcome of a search.
type Result struct {
	Hotspots []Hotspot // by rank
	Account  Account
}

// Rank takes the hotspots out of solved patches, which must have been
// surveyed under rule.Patches with one factor tile for each name, in the
// order of the names.
func Rank(s *patch.Solution, names []string, rule Rule) (Result, error) {
	if err := rule.Check(); err != nil {
		return Result{}, err
	}
	best := ranked(s.Patches)
	out := Result{Account: account(s, rule)}
	for i, p := range best[:min(len(best), rule.most())] {
		h, err := describe(s, p, names)
		if err != nil {
			return Result{}, fmt.Errorf("hotspot %d: %w", i+1, err)
		}
		h.Rank = i + 1
		out.Hotspots = append(out.Hotspots, h)
	}
	return out, nil
}

// ranked orders patches; those given stand by position, and equal ones stay.
func ranked(patches []patch.Patch) []*patch.Patch {
	out := make([]*patch.Patch, len(patches))
	for i := range patches {
		out[i] = &patches[i]
	}
	slices.SortStableFunc(out, func(a, b *patch.Patch) int {
		switch {
		case Better(&a.Stats, &b.Stats):
			return -1
		case Better(&b.Stats, &a.Stats):
			return 1
		}
		return 0
	})
	return out
}

func describe(s *patch.Solution, p *patch.Patch, names []string) (Hotspot, error) {
	if len(p.Factors) != len(names) {
		return Hotspot{}, fmt.Errorf("%d factors were surveyed, %d are named", len(p.Factors), len(names))
	}
	shape, err := s.Trace(p)
	if err != nil {
		return Hotspot{}, err
	}
	h := Hotspot{
		AreaHa: hectares(p.Area), Length: shape.Length, Mean: p.Mean(), Max: score(p.Max), Cells: p.Cells,
		Box: p.Box, Point: shape.Inner, Outline: shape.Outline, patch: p,
	}
	for i, f := range p.Factors {
		h.Factors = append(h.Factors, FactorMean{names[i], f.Mean(), float64(f.Known) / float64(p.Cells)})
	}
	return h, nil
}

func hectares(mm2 int64) float64 { return float64(mm2) / mm2PerHa }

func score(units int64) float64 { return float64(units) / patch.ScoreUnit }
