// Package patch finds connected patches in a grid of scores: cells at or
// above a threshold, joined over sides and corners (8-connected), across the
// borders of the tiles the grid is cut into.
//
// It works in the three steps of a wide computation. A [Surveyor] turns each
// tile into a [Summary]: its own components with exact sums, and which of
// them lie at the tile's border. A [Store] keeps summaries on disk.
// [Store.Solve] joins components over tile borders with union-find and gives
// the patches; [Solution.Trace] draws the outline of one patch from the runs
// of the tiles it touches. At no time is the grid, or a layer the size of the
// grid, held in memory.
//
// Every sum is a whole number, so results are the same bytes whatever the
// tile size, the order of the tiles or the number of workers.
//
// Units: places are cells of the grid (column to the east, row to the south),
// areas square millimetres, lengths metres, scores multiples of 1/[ScoreUnit]. A score of NaN
// is missing and belongs to no patch; a factor of NaN is left out of that
// factor's mean.
//
// What a patch is worth, and which are shown, is left to the caller; so are
// the areas of cells, and coordinates other than cells.
//
// Methods: components by runs of a row and a table of equivalent labels after
// Rosenfeld and Pfaltz (1966), the table kept as a union-find forest; the inner
// point is the last cell left by repeated erosion with the octagonal distance
// of the same authors (1968). Both papers cited from memory. Lengths: see
// length.go.
package patch

import (
	"math"

	"likelyground/raster"
)

const (
	ScoreUnit  = 1 << 14 // score sums count 1/16384
	FactorUnit = 1 << 24 // factor sums count 2^-24
)

// Cell is a cell of the grid.
type Cell struct{ Col, Row int }

// Before reports whether c comes before d: further north, or as far north and
// further west.
func (c Cell) Before(d Cell) bool {
	return c.Row < d.Row || c.Row == d.Row && c.Col < d.Col
}

// FactorSum is the exact sum of one factor over the cells where it is known.
type FactorSum struct {
	Sum   int64 // in units of 1/FactorUnit
	Known int64 // cells
}

// Mean returns the factor's mean over the known cells, NaN where none is.
func (f FactorSum) Mean() float64 {
	if f.Known == 0 {
		return math.NaN()
	}
	return float64(f.Sum) / FactorUnit / float64(f.Known)
}

// Stats describes a patch, exactly.
type Stats struct {
	Cells   int64
	Area    int64         // mm²
	Sum     int64         // of the scores, in units of 1/ScoreUnit
	Max     int64         // highest score, same units
	Factors []FactorSum   // in the order of the tiles given to Survey
	Box     raster.Window // smallest window that holds the patch
	First   Cell          // northernmost, then westernmost cell
}

// Mean returns the plain mean of the patch's scores.
func (s *Stats) Mean() float64 { return float64(s.Sum) / ScoreUnit / float64(s.Cells) }

// Areas gives the areas of grid cells: Row sets out[i], in mm², for the cells
// col+i, i < cols, of a grid row. The areas of all cells together must stay
// below 2^63 mm² (9.2 million km²).
type Areas interface {
	Row(col, cols, row int, out []int64)
}

// Rule says which patches are looked for. Summaries of one grid are made and
// solved under one rule. Only From is needed.
type Rule struct {
	From float32 // least score of a member cell, a multiple of 1/ScoreUnit

	// Least is the least area of a patch in mm²; smaller ones are counted in
	// the Tally and dropped, those inside a tile as early as in the survey.
	Least int64

	// Length keeps smaller patches that are at least so long, in metres: the
	// greatest distance between two points of a patch, straight from one to the
	// other. 0: none.
	Length float64
	DX, DY float64 // sides of a cell in metres; 0: 1

	// Most and Better keep the survey small where there is no useful Least: a
	// patch inside a tile is counted and dropped where Most others of that
	// tile are Better. Better must be a strict order on the numbers of Stats
	// alone; equal patches go by their first cell. Nil or 0: not used.
	Most   int
	Better func(a, b *Stats) bool
}

// Tally counts what no patch shows.
type Tally struct {
	Cells   int64   // cells at or above the threshold
	Highest float32 // highest score of any cell; NaN where none is known
	Small   int64   // patches dropped as smaller than Rule.Least, and shorter than Rule.Length
	Beyond  int64   // patches dropped because Rule.Most others were better
	Largest *Stats  // the largest of the small ones; nil where there is none
}

func (t *Tally) add(u Tally) {
	t.Cells += u.Cells
	t.Small += u.Small
	t.Beyond += u.Beyond
	if u.Highest > t.Highest || t.Highest != t.Highest {
		t.Highest = u.Highest
	}
	if u.Largest != nil {
		t.see(*u.Largest)
	}
}

// see remembers a small patch if it is the largest so far, ties by position.
func (t *Tally) see(s Stats) {
	old := t.Largest
	if old == nil || s.Area > old.Area || s.Area == old.Area && s.First.Before(old.First) {
		s.Factors = append([]FactorSum(nil), s.Factors...)
		t.Largest = &s
	}
}

// part is what is known of one component: of a tile, or of patches while
// they are being joined. Its factor sums lie beside it in a plain slice.
type part struct {
	cells, area, sum int64
	max              int32
	box
	first int32 // westernmost column of row north
}

// box is the smallest one around some cells; east and south lie beyond.
type box struct{ west, north, east, south int32 }

// stats returns the part as the outside sees it; factors is not copied.
func (p *part) stats(factors []FactorSum) Stats {
	return Stats{
		Cells: p.cells, Area: p.area, Sum: p.sum, Max: int64(p.max), Factors: factors,
		Box:   raster.Window{Col: int(p.west), Row: int(p.north), Cols: int(p.east - p.west), Rows: int(p.south - p.north)},
		First: Cell{int(p.first), int(p.north)},
	}
}

// join adds q to p; a part without cells is empty.
func (p *part) join(q part) {
	if p.cells == 0 {
		*p = q
		return
	}
	p.cells += q.cells
	p.area += q.area
	p.sum += q.sum
	p.max = max(p.max, q.max)
	if q.north < p.north || q.north == p.north && q.first < p.first {
		p.first = q.first
	}
	p.widen(q.box)
}

// widen makes a box hold another one.
func (p *box) widen(q box) {
	p.west, p.north = min(p.west, q.west), min(p.north, q.north)
	p.east, p.south = max(p.east, q.east), max(p.south, q.south)
}

// sets is a forest of disjoint sets; the root of each is its least member.
type sets []int32

func (s *sets) add() int32 {
	n := int32(len(*s))
	*s = append(*s, n)
	return n
}

func (s sets) find(i int32) int32 {
	for s[i] != i {
		s[i] = s[s[i]]
		i = s[i]
	}
	return i
}

// join makes one set of two and returns its root.
func (s sets) join(i, j int32) int32 {
	i, j = s.find(i), s.find(j)
	if i > j {
		i, j = j, i
	}
	s[j] = i
	return i
}
