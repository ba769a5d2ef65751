package maps

import (
	"math"
	"slices"

	"likelyground/raster"
	"likelyground/vector"
)

// rowRuns gathers where the outline of one polygon crosses the line through
// the cell centres of each grid row, and so the runs of cells it covers.
type rowRuns struct {
	within raster.Window
	marks  []int64 // row and column of each crossing, packed so that they sort
	ends   []int32 // place in cols where each row of the window ends
	cols   []int32 // first column right of each crossing, in pairs: from, to
}

func (r *rowRuns) begin(within raster.Window) {
	r.within = within
	r.marks, r.ends, r.cols = r.marks[:0], r.ends[:0], r.cols[:0]
}

// below is the first row (or column) whose centre lies below (right of) a
// position in cells; one within raster.Snap of a centre lies on it and goes
// beyond it.
func below(p float64) int {
	return raster.CellAt(min(max(p, -1<<30), 1<<30)-0.5) + 1
}

// add takes in a closed line. A crossing is that of the row's centre line
// with the edge from its upper end (inclusive) to its lower (exclusive).
func (r *rowRuns) add(line []vector.Point) {
	for i := 1; i < len(line); i++ {
		a, b := line[i-1], line[i]
		if a[1] > b[1] || a[1] == b[1] && a[0] > b[0] {
			a, b = b, a
		}
		first, end := max(below(a[1]), r.within.Row), min(below(b[1]), r.within.EndRow())
		if first < end {
			r.cross(a, b, first, end)
		}
	}
}

func (r *rowRuns) cross(a, b vector.Point, first, end int) {
	left, right := min(a[0], b[0]), max(a[0], b[0])
	lowest, highest := r.within.Col, r.within.EndCol()
	for row := first; row < end; row++ {
		part := (float64(row) + 0.5 - a[1]) / (b[1] - a[1])
		x := a[0] + float64(part*(b[0]-a[0]))
		col := min(max(below(min(max(x, left), right)), lowest), highest)
		r.mark(row, col)
	}
}

// mark notes a crossing left of a column.
func (r *rowRuns) mark(row, col int) {
	r.marks = append(r.marks, int64(row)<<32|int64(uint32(col)^1<<31))
}

// end sorts the crossings into runs and returns the window that holds them.
// Crossings at one place cancel: even-odd.
func (r *rowRuns) end() raster.Window {
	slices.Sort(r.marks)
	r.cancel()
	if len(r.marks) == 0 {
		return raster.Window{}
	}
	top, bottom := int(r.marks[0]>>32), int(r.marks[len(r.marks)-1]>>32)
	west, east := math.MaxInt32, math.MinInt32
	row := top
	for _, m := range r.marks {
		for ; row < int(m>>32); row++ {
			r.ends = append(r.ends, int32(len(r.cols)))
		}
		col := int32(uint32(m) ^ 1<<31)
		west, east = min(west, int(col)), max(east, int(col))
		r.cols = append(r.cols, col)
	}
	r.ends = append(r.ends, int32(len(r.cols)))
	return raster.Window{Col: west, Row: top, Cols: east - west, Rows: bottom - top + 1}
}

// cancel removes pairs of equal crossings: they cover no cell.
func (r *rowRuns) cancel() {
	out := r.marks[:0]
	for _, m := range r.marks {
		if n := len(out); n > 0 && out[n-1] == m {
			out = out[:n-1]
			continue
		}
		out = append(out, m)
	}
	r.marks = out
}

// cover tells whether a cell of the window is among the runs, whose first
// row is given.
func (r *rowRuns) cover(first int, w raster.Window) bool {
	from := 0
	for i, end := range r.ends {
		row := first + i
		for ; from < int(end); from += 2 {
			if row >= w.Row && row < w.EndRow() && int(r.cols[from]) < w.EndCol() && int(r.cols[from+1]) > w.Col {
				return true
			}
		}
	}
	return false
}
