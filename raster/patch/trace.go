package patch

import (
	"cmp"
	"slices"
)

// Shape is the drawn form of a patch.
type Shape struct {
	Outline Outline
	Inner   Cell    // a cell deep inside the patch; see the package comment
	Length  float64 // the greatest distance between two points of the patch, in metres
}

// Trace reads the cells of one patch and returns its shape. Memory grows
// with the patch's runs of cells, not with the grid. Several patches may be
// traced at once.
func (s *Solution) Trace(p *Patch) (Shape, error) {
	runs, err := s.runs(p)
	if err != nil {
		return Shape{}, err
	}
	return shape(runs, s.store.rule.sides()), nil
}

func shape(runs []run, sides cellSides) Shape {
	var h hull
	for row := rowAt(runs, 0); row.from < len(runs); row = rowAt(runs, row.to) {
		h.add(run{runs[row.from].row, runs[row.from].from, runs[row.to-1].to, 0}) // gaps between are inside the hull
	}
	return Shape{Outline: trace(runs), Inner: deepest(runs), Length: h.length(sides)}
}

// runs returns the runs of a patch by row and column, whole ones where a
// tile border cuts them.
func (s *Solution) runs(p *Patch) ([]run, error) {
	var runs []run
	var bytes []byte
	var wanted []bool
	for i := 0; i < len(p.pieces); {
		tile := p.pieces[i].tile
		t := s.tiles[tile]
		wanted = cleared(wanted, int(t.parts))
		for ; i < len(p.pieces) && p.pieces[i].tile == tile; i++ {
			wanted[p.pieces[i].label] = true
		}
		var err error
		if runs, bytes, err = s.store.runs(runs, bytes, t, wanted); err != nil {
			return nil, err
		}
	}
	return whole(runs), nil
}

// whole orders runs by row and column and unites those that continue each
// other. Labels are lost.
func whole(runs []run) []run {
	slices.SortFunc(runs, func(a, b run) int {
		return cmp.Or(cmp.Compare(a.row, b.row), cmp.Compare(a.from, b.from))
	})
	out := runs[:0]
	for _, r := range runs {
		if n := len(out) - 1; n >= 0 && out[n].row == r.row && out[n].to == r.from {
			out[n].to = r.to
			continue
		}
		out = append(out, run{r.row, r.from, r.to, 0})
	}
	return out
}

// rows calls visit for each row that has runs, with the places of its runs,
// of the row above's and of the row below's; empty where that row has none.
func rows(runs []run, visit func(above, here, below span)) {
	var above span
	for here := rowAt(runs, 0); here.from < len(runs); {
		below := rowAt(runs, here.to)
		row := runs[here.from].row
		visit(above.onRow(runs, row-1), here, below.onRow(runs, row+1))
		above, here = here, below
	}
}

// span is a stretch of runs, by index.
type span struct{ from, to int }

// rowAt returns the runs of the row that begins at run i.
func rowAt(runs []run, i int) span {
	end := i
	for end < len(runs) && runs[end].row == runs[i].row {
		end++
	}
	return span{i, end}
}

// onRow returns s if its runs lie on the given row, an empty span otherwise.
func (s span) onRow(runs []run, row int32) span {
	if s.from == s.to || runs[s.from].row != row {
		return span{}
	}
	return s
}
