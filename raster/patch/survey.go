package patch

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"likelyground/raster"
)

// run is a row's stretch of member cells, from up to but without to.
type run struct{ row, from, to, label int32 }

// border is a stretch of member cells along one side of a tile, by column or
// by row as the side lies, from up to but without to.
type border struct{ from, to, label int32 }

// Summary is what one tile adds to the search. It belongs to its Surveyor
// and holds until that one surveys its next tile.
type Summary struct {
	Window raster.Window
	Tally  Tally // of what was dropped in the survey

	parts   []part
	sums    []FactorSum // of part i at i*factors
	factors int
	runs    []run // by row, then column; labels number the parts
	sides   [4][]border
	bytes   []byte
}

const (
	top = iota
	bottom
	left
	right
)

// Surveyor surveys tiles for one worker; it keeps its scratch from tile to
// tile and allocates nothing in steady state.
type Surveyor struct {
	rule  Rule
	areas Areas
	sets  sets
	label []int32 // provisional label to component, then component to kept one
	area  []int64
	inner []Stats // components inside the tile, where Rule.Most needs a choice

	verdicts []verdict // on components smaller than the least area
	hulls    []hull
	hullOf   []int32 // component to its hull, -1 none
	out      Summary
}

// NewSurveyor returns a Surveyor; areas is used by it alone.
func NewSurveyor(rule Rule, areas Areas) *Surveyor {
	return &Surveyor{rule: rule, areas: areas}
}

// Survey finds the components of one tile. Scores lie in 0..1, rounded to
// multiples of 1/ScoreUnit; factors in 0..1. Every factor tile must have the
// score tile's window. A cell whose score is NaN is no member.
func (s *Surveyor) Survey(score raster.Tile, factors []raster.Tile) (*Summary, error) {
	for i, f := range factors {
		if f.Window != score.Window {
			return nil, fmt.Errorf("patches: factor %d covers %+v, the score %+v", i+1, f.Window, score.Window)
		}
	}
	s.reset(score.Window, len(factors))
	s.scan(score)
	s.measure(score, factors)
	s.drop()
	s.findBorders()
	return &s.out, nil
}

func (s *Surveyor) reset(w raster.Window, factors int) {
	o := &s.out
	o.Window, o.factors = w, factors
	o.Tally = Tally{Highest: raster.Missing}
	o.runs = o.runs[:0]
	for i := range o.sides {
		o.sides[i] = o.sides[i][:0]
	}
	s.sets = s.sets[:0]
}

// scan cuts the tile into runs and labels them by component, in the order of
// the components' first cells.
func (s *Surveyor) scan(score raster.Tile) {
	above := 0
	highest := float32(math.Inf(-1))
	for row := score.Row; row < score.EndRow(); row++ {
		here := len(s.out.runs)
		highest = max(highest, s.scanRow(score.ValueRow(row), int32(score.Col), int32(row)))
		s.link(s.out.runs[above:here], s.out.runs[here:])
		above = here
	}
	if !math.IsInf(float64(highest), -1) {
		s.out.Tally.Highest = highest
	}
	s.number()
}

// scanRow appends the runs of a row and returns the row's highest value,
// minus infinity where none is known.
func (s *Surveyor) scanRow(values []float32, col, row int32) float32 {
	from := s.rule.From
	highest := float32(math.Inf(-1))
	for i := 0; i < len(values); i++ {
		v := values[i]
		if v > highest {
			highest = v
		}
		if !(v >= from) {
			continue
		}
		start := i
		for i++; i < len(values) && values[i] >= from; i++ {
			if values[i] > highest {
				highest = values[i]
			}
		}
		s.out.runs = append(s.out.runs, run{row, col + int32(start), col + int32(i), 0})
		i--
	}
	return highest
}

// link gives each run of a row the label of the runs above that it touches,
// corners included.
func (s *Surveyor) link(above, here []run) {
	a := 0
	for i := range here {
		h := &here[i]
		h.label = -1
		for a < len(above) && above[a].to < h.from {
			a++
		}
		for k := a; k < len(above) && above[k].from <= h.to; k++ {
			if h.label < 0 {
				h.label = s.sets.find(above[k].label)
			} else {
				h.label = s.sets.join(h.label, above[k].label)
			}
		}
		if h.label < 0 {
			h.label = s.sets.add()
		}
	}
}

// number replaces provisional labels by the numbers of the components.
func (s *Surveyor) number() {
	s.label = s.label[:0]
	n := int32(0)
	for l := range s.sets {
		if root := s.sets.find(int32(l)); root != int32(l) {
			s.label = append(s.label, s.label[root])
			continue
		}
		s.label = append(s.label, n)
		n++
	}
	for i := range s.out.runs {
		r := &s.out.runs[i]
		r.label = s.label[r.label]
	}
	s.out.parts = cleared(s.out.parts, int(n))
	s.out.sums = cleared(s.out.sums, int(n)*s.out.factors)
}

// cleared returns a slice of n zeros, in s's memory where it is large enough.
func cleared[T any](s []T, n int) []T {
	s = slices.Grow(s[:0], n)[:n]
	clear(s)
	return s
}

// measure adds every member cell to its component.
func (s *Surveyor) measure(score raster.Tile, factors []raster.Tile) {
	s.area = slices.Grow(s.area[:0], score.Cols)[:score.Cols]
	runs := s.out.runs
	for i := 0; i < len(runs); {
		row, from := runs[i].row, runs[i].from
		end := i + 1
		for end < len(runs) && runs[end].row == row {
			end++
		}
		span := s.area[:runs[end-1].to-from]
		s.areas.Row(int(from), len(span), int(row), span)
		for ; i < end; i++ {
			r := runs[i]
			s.add(r, score, span[r.from-from:r.to-from])
			for f := range factors {
				at := factors[f].Index(int(r.from), int(r.row))
				s.out.sums[int(r.label)*len(factors)+f].add(factors[f].Values[at : at+int(r.to-r.from)])
			}
		}
	}
}

// add adds the cells of a run to its component.
func (s *Surveyor) add(r run, score raster.Tile, areas []int64) {
	at := score.Index(int(r.from), int(r.row))
	p := part{
		cells: int64(len(areas)),
		box:   box{west: r.from, north: r.row, east: r.to, south: r.row + 1}, first: r.from,
	}
	for i, v := range score.Values[at : at+len(areas)] {
		units := int32(v*ScoreUnit + 0.5)
		p.sum += int64(units)
		p.max = max(p.max, units)
		p.area += areas[i]
	}
	s.out.Tally.Cells += p.cells
	s.out.parts[r.label].join(p)
}

func (f *FactorSum) add(values []float32) {
	for _, v := range values {
		if v == v {
			f.Sum += int64(float64(v)*FactorUnit + 0.5)
			f.Known++
		}
	}
}

// drop takes out the components that lie wholly inside the tile and that the
// rule does not want, and renumbers the rest.
func (s *Surveyor) drop() {
	o := &s.out
	s.label = cleared(s.label, len(o.parts)) // -1: dropped
	s.sift()
	s.inner = s.inner[:0]
	for i := range o.parts {
		p := &o.parts[i]
		if !inside(p, o.Window) {
			continue
		}
		if p.area >= s.rule.Least || s.verdicts[i] == long {
			if s.rule.Better != nil && s.rule.Most > 0 {
				s.inner = append(s.inner, p.stats(s.factorSums(i)))
			}
			continue
		}
		s.label[i] = -1
		o.Tally.Small++
		if o.Tally.Largest == nil || p.area > o.Tally.Largest.Area {
			o.Tally.see(p.stats(s.factorSums(i)))
		}
	}
	s.dropBeyond()
	s.renumber()
}

func (s *Surveyor) factorSums(i int) []FactorSum {
	m := s.out.factors
	return s.out.sums[i*m : (i+1)*m]
}

// inside reports whether a part touches no side of the window.
func inside(p *part, w raster.Window) bool {
	return int(p.west) > w.Col && int(p.north) > w.Row && int(p.east) < w.EndCol() && int(p.south) < w.EndRow()
}

// dropBeyond marks the components inside the tile that Rule.Most others beat.
func (s *Surveyor) dropBeyond() {
	if len(s.inner) <= s.rule.Most {
		return
	}
	slices.SortFunc(s.inner, func(a, b Stats) int { return compare(&a, &b, s.rule.Better) })
	beyond := s.inner[s.rule.Most:]
	s.out.Tally.Beyond += int64(len(beyond))
	slices.SortFunc(beyond, func(a, b Stats) int { return compare(&a, &b, northWest) })
	for i := range s.out.parts { // they are in the order of their first cells too
		p := &s.out.parts[i]
		if len(beyond) > 0 && beyond[0].First == (Cell{int(p.first), int(p.north)}) {
			s.label[i] = -1
			beyond = beyond[1:]
		}
	}
}

func northWest(a, b *Stats) bool { return a.First.Before(b.First) }

// compare orders patches, better ones first, equal ones by position.
func compare(a, b *Stats, better func(a, b *Stats) bool) int {
	switch {
	case better(a, b):
		return -1
	case better(b, a):
		return 1
	}
	return cmp.Or(cmp.Compare(a.First.Row, b.First.Row), cmp.Compare(a.First.Col, b.First.Col))
}

// renumber closes the gaps that dropped components left.
func (s *Surveyor) renumber() {
	o := &s.out
	n := 0
	for i := range o.parts {
		if s.label[i] < 0 {
			continue
		}
		s.label[i] = int32(n)
		o.parts[n] = o.parts[i]
		copy(s.factorSums(n), s.factorSums(i))
		n++
	}
	o.parts, o.sums = o.parts[:n], o.sums[:n*o.factors]
	kept := o.runs[:0]
	for _, r := range o.runs {
		if r.label = s.label[r.label]; r.label >= 0 {
			kept = append(kept, r)
		}
	}
	o.runs = kept
}

// findBorders notes the member cells along the tile's four sides.
func (s *Surveyor) findBorders() {
	o := &s.out
	w := o.Window
	for _, r := range o.runs {
		if int(r.row) == w.Row {
			o.sides[top] = append(o.sides[top], border{r.from, r.to, r.label})
		}
		if int(r.row) == w.EndRow()-1 {
			o.sides[bottom] = append(o.sides[bottom], border{r.from, r.to, r.label})
		}
		if int(r.from) == w.Col {
			o.sides[left] = lengthen(o.sides[left], r.row, r.label)
		}
		if int(r.to) == w.EndCol() {
			o.sides[right] = lengthen(o.sides[right], r.row, r.label)
		}
	}
}

// lengthen adds one cell to an upright border. Cells that follow each other
// are neighbours, so they have one label.
func lengthen(b []border, row, label int32) []border {
	if n := len(b) - 1; n >= 0 && b[n].to == row {
		b[n].to++
		return b
	}
	return append(b, border{row, row + 1, label})
}
