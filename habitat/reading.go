package habitat

import (
	"math"
	"slices"
	"sync"

	"likelyground/raster"
	"likelyground/raster/maps"
)

// reading evaluates a source node for one worker. Judged are the cells that
// some value in the area uses: those marked in the node's first input, or,
// where the grid is the area, those within the rim. Counted for the account
// are the cells of the area alone: the second input, or the grid.
type reading struct {
	reader maps.Reader
	around rim
	mine   raster.Window
	need   []bool

	inArea areaTally
	into   *sharedTally
}

// Own says which cells are judged and counted here; see pipe.Owner.
func (r *reading) Own(w raster.Window) { r.mine = w }

func (r *reading) Close() error {
	r.into.add(&r.inArea)
	return r.reader.Close()
}

func (r *reading) Eval(out raster.Tile, in []raster.Tile) error {
	need := r.withinRim
	var area []int32
	if len(in) > 0 {
		need = func(raster.Window) []bool { return r.marked(in[0]) }
		area = in[1].Codes
	}
	if err := r.reader.Read(out, need(out.Window)); err != nil {
		return err
	}
	r.count(out, area)
	return nil
}

// rereading evaluates a source node whose cells another node judges and
// counts.
type rereading struct {
	reader maps.Reader
	none   []bool
}

func (r *rereading) Close() error { return r.reader.Close() }

func (r *rereading) Eval(out raster.Tile, _ []raster.Tile) error {
	if n := out.Size(); len(r.none) < n {
		r.none = make([]bool, n)
	}
	return r.reader.Read(out, r.none[:out.Size()])
}

// marked returns which cells of a tile are marked as needed and judged here;
// nil for all of them.
func (r *reading) marked(need raster.Tile) []bool {
	if r.mine.Holds(need.Window) && !slices.Contains(need.Codes, 0) {
		return nil
	}
	return r.marks(need.Window, func(col, row int) bool { return need.Code(col, row) != 0 })
}

// withinRim is marked for an area that is the whole grid.
func (r *reading) withinRim(w raster.Window) []bool {
	if r.mine.Holds(w) && r.around.grid.Holds(w) {
		return nil
	}
	return r.marks(w, r.around.holds)
}

func (r *reading) marks(w raster.Window, need func(col, row int) bool) []bool {
	r.need = slices.Grow(r.need[:0], w.Size())[:w.Size()]
	i := 0
	for row := w.Row; row < w.EndRow(); row++ {
		for col := w.Col; col < w.EndCol(); col++ {
			r.need[i] = r.mine.Holds(raster.Window{Col: col, Row: row, Cols: 1, Rows: 1}) && need(col, row)
			i++
		}
	}
	return r.need
}

// count counts the cells of the area, as far as they are counted here; area
// is nil where the grid is the area.
func (r *reading) count(t raster.Tile, area []int32) {
	w := t.Clip(r.mine).Clip(r.around.grid)
	for row := w.Row; row < w.EndRow(); row++ {
		at := t.Index(w.Col, row)
		var in []int32
		if area != nil {
			in = area[at : at+w.Cols]
		}
		if t.Codes != nil {
			r.inArea.codes(t.Codes[at:at+w.Cols], in)
		} else {
			r.inArea.values(t.Values[at:at+w.Cols], in)
		}
	}
}

// rim is the ground within some metres of the grid.
type rim struct {
	grid   raster.Window
	dx, dy float64 // metres
	metres float64
}

func (b *builder) rim(metres float64) rim {
	return rim{b.grid.Window(), b.grid.DXm(), b.grid.DYm(), metres * (1 + raster.Snap)}
}

func (r rim) holds(col, row int) bool {
	x := max(r.grid.Col-col, col-(r.grid.EndCol()-1), 0)
	y := max(r.grid.Row-row, row-(r.grid.EndRow()-1), 0)
	return x == 0 && y == 0 || math.Hypot(float64(x)*r.dx, float64(y)*r.dy) <= r.metres
}

// areaTally is what a map holds in the area.
type areaTally struct {
	known, missing int64
	low, high      float32 // of the known values
	byCode         map[int32]int64
	few            [256]int64 // of the codes below, until it is added up
}

func newAreaTally() areaTally {
	return areaTally{low: float32(math.Inf(1)), high: float32(math.Inf(-1)), byCode: map[int32]int64{}}
}

// values counts a row of quantities; in marks the area, nil for all of it.
func (a *areaTally) values(row []float32, in []int32) {
	missing, left := int64(0), int64(0)
	low, high := a.low, a.high
	for i, v := range row {
		switch {
		case in != nil && in[i] != 1:
			left++
		case v >= low && v <= high:
		case v != v:
			missing++
		default:
			low, high = min(low, v), max(high, v)
		}
	}
	a.low, a.high = low, high
	a.missing += missing
	a.known += int64(len(row)) - missing - left
}

// codes counts a row of classes, run by run of equal ones.
func (a *areaTally) codes(row, in []int32) {
	for i := 0; i < len(row); {
		code, n, from := row[i], int64(0), i
		i += raster.Run(row[i:])
		if in == nil {
			n = int64(i - from)
		} else {
			n = ones(in[from:i])
		}
		a.code(code, n)
	}
}

func (a *areaTally) code(code int32, n int64) {
	switch {
	case code == raster.MissingCode:
		a.missing += n
		return
	case code >= 0 && int(code) < len(a.few):
		a.few[code] += n
	case n > 0:
		a.byCode[code] += n
	}
	a.known += n
}

// ones counts the cells that lie in the area.
func ones(in []int32) (n int64) {
	for _, v := range in {
		if v == 1 {
			n++
		}
	}
	return n
}

// sharedTally gathers the tallies of all workers.
type sharedTally struct {
	mu sync.Mutex
	areaTally
}

func (s *sharedTally) add(a *areaTally) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.byCode == nil {
		s.areaTally = newAreaTally()
	}
	s.known += a.known
	s.missing += a.missing
	s.low, s.high = min(s.low, a.low), max(s.high, a.high)
	for code, n := range a.few {
		if n > 0 {
			s.byCode[int32(code)] += n
		}
	}
	for code, n := range a.byCode {
		s.byCode[code] += n
	}
}
