package patch

import "math"

// deepest returns the cell of whole runs that is farthest from the outside,
// by steps that alternately cross sides and sides or corners (the octagonal
// distance; the last step crosses both where it can). Among equals it is the
// one whose centre is nearest to the centre of gravity, then the northernmost, then the westernmost.
func deepest(runs []run) Cell {
	var e eroder
	left := append([]run(nil), runs...)
	var before, next []run
	for corners := false; ; corners = !corners {
		next = e.erode(next[:0], left, corners)
		if len(next) == 0 {
			break
		}
		before, left, next = left, next, before
	}
	if strict := e.erode(next[:0], before, true); len(strict) > 0 {
		left = strict
	}
	col, row := centre(runs)
	return nearest(left, col, row)
}

// centre returns the centre of gravity in cells, cell centres being whole
// numbers.
func centre(runs []run) (col, row float64) {
	var cols2, rows, n int64
	for _, r := range runs {
		k := int64(r.to - r.from)
		n += k
		cols2 += k * int64(r.from+r.to-1)
		rows += k * int64(r.row)
	}
	return float64(cols2) / 2 / float64(n), float64(rows) / float64(n)
}

// nearest returns the cell of the runs that is nearest to a place.
func nearest(runs []run, col, row float64) Cell {
	var best Cell
	least := math.Inf(1)
	for _, r := range runs {
		c := min(max(math.Ceil(col-0.5), float64(r.from)), float64(r.to-1))
		dx, dy := c-col, float64(r.row)-row
		if d := float64(dx*dx) + float64(dy*dy); d < least {
			least, best = d, Cell{int(c), int(r.row)}
		}
	}
	return best
}

// eroder holds the scratch of erosions.
type eroder struct{ a, b, c []run }

// erode appends the cells of runs whose four neighbours, or all eight if
// corners is set, are cells of runs too.
func (e *eroder) erode(out, runs []run, corners bool) []run {
	rows(runs, func(above, here, below span) {
		if above.from == above.to || below.from == below.to {
			return
		}
		cut := int32(0)
		if corners {
			cut = 1
		}
		e.a = shrink(e.a[:0], runs[above.from:above.to], cut)
		e.b = shrink(e.b[:0], runs[here.from:here.to], 1)
		e.c = common(e.c[:0], e.b, e.a)
		e.a = shrink(e.a[:0], runs[below.from:below.to], cut)
		out = common(out, e.c, e.a)
	})
	return out
}

// shrink appends runs made shorter by n cells at both ends.
func shrink(out, runs []run, n int32) []run {
	for _, r := range runs {
		if r.to-r.from > 2*n {
			out = append(out, run{r.row, r.from + n, r.to - n, 0})
		}
	}
	return out
}

// common appends the stretches that a and b share, on a's row.
func common(out, a, b []run) []run {
	for len(a) > 0 && len(b) > 0 {
		from, to := max(a[0].from, b[0].from), min(a[0].to, b[0].to)
		if from < to {
			out = append(out, run{a[0].row, from, to, 0})
		}
		if a[0].to < b[0].to {
			a = a[1:]
		} else {
			b = b[1:]
		}
	}
	return out
}
