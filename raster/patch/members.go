package patch

import (
	"sort"

	"likelyground/raster"
)

// Stretch is a stretch of a row, from column From up to but without To, that
// belongs to one of some patches.
type Stretch struct{ Row, From, To, Patch int }

// Members tells which cells of a window belong to some patches. It holds a
// few bytes for each tile and each piece of a patch, and reads the rest from
// scratch. Several goroutines may use it at once, each with a [MemberReader].
type Members struct {
	solution *Solution
	tiles    [][]owner // of each tile of the store
}

// owner says to which of the patches a component of a tile belongs.
type owner struct{ label, patch int32 }

// Members prepares the search for some patches of the solution; a Stretch
// names them by their place in the list.
func (s *Solution) Members(list []*Patch) *Members {
	m := &Members{s, make([][]owner, len(s.tiles))}
	for i, p := range list {
		for _, piece := range p.pieces {
			m.tiles[piece.tile] = append(m.tiles[piece.tile], owner{piece.label, int32(i)})
		}
	}
	return m
}

// Touch reports whether a tile of the survey that has cells of the patches
// overlaps the window.
func (m *Members) Touch(w raster.Window) bool {
	for i := m.first(w); i < len(m.tiles) && m.solution.tiles[i].window.Row < w.EndRow(); i++ {
		if m.overlaps(i, w) {
			return true
		}
	}
	return false
}

// first returns the first tile whose rows reach down to the window; tiles
// stand row by row, those of a row as high as each other.
func (m *Members) first(w raster.Window) int {
	tiles := m.solution.tiles
	return sort.Search(len(tiles), func(i int) bool { return tiles[i].window.EndRow() > w.Row })
}

func (m *Members) overlaps(i int, w raster.Window) bool {
	return len(m.tiles[i]) > 0 && !m.solution.tiles[i].window.Clip(w).Empty()
}

// MemberReader reads members for one goroutine and keeps its scratch.
type MemberReader struct {
	*Members
	runs   []run
	bytes  []byte
	wanted []bool
	patch  []int32 // of each label of a tile
	out    []Stretch
}

// Reader returns a reader.
func (m *Members) Reader() *MemberReader { return &MemberReader{Members: m} }

// In returns the stretches that lie in the window, cut off at its sides: by
// tile of the survey, then by row and column. They hold until the next call.
func (r *MemberReader) In(w raster.Window) ([]Stretch, error) {
	r.out = r.out[:0]
	for i := r.first(w); i < len(r.tiles) && r.solution.tiles[i].window.Row < w.EndRow(); i++ {
		if !r.overlaps(i, w) {
			continue
		}
		if err := r.tile(i, w); err != nil {
			return nil, err
		}
	}
	return r.out, nil
}

// tile appends the stretches of a tile of the survey.
func (r *MemberReader) tile(i int, w raster.Window) (err error) {
	t := r.solution.tiles[i]
	r.wanted, r.patch = cleared(r.wanted, int(t.parts)), cleared(r.patch, int(t.parts))
	for _, o := range r.tiles[i] {
		r.wanted[o.label], r.patch[o.label] = true, o.patch
	}
	if r.runs, r.bytes, err = r.solution.store.runs(r.runs[:0], r.bytes, t, r.wanted); err != nil {
		return err
	}
	for _, x := range r.runs {
		s := Stretch{int(x.row), max(int(x.from), w.Col), min(int(x.to), w.EndCol()), int(r.patch[x.label])}
		if s.Row >= w.Row && s.Row < w.EndRow() && s.From < s.To {
			r.out = append(r.out, s)
		}
	}
	return nil
}
