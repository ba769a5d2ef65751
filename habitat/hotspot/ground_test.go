package hotspot

import (
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"likelyground/raster"
	"likelyground/raster/patch"
)

// country is a random grid: scores in blobs, two factors with gaps, a layer
// of quantities and one of classes.
type country struct {
	score   raster.Tile
	factors []raster.Tile
	layers  []raster.Tile
}

func newCountry(r *rand.Rand, w raster.Window) country {
	c := country{raster.NewTile(w), []raster.Tile{raster.NewTile(w), raster.NewTile(w)}, []raster.Tile{raster.NewTile(w), raster.NewClassTile(w)}}
	for row := w.Row; row < w.EndRow(); row++ {
		for col := w.Col; col < w.EndCol(); col++ {
			i := w.Index(col, row)
			blob := math.Sin(float64(col)/4)*math.Cos(float64(row)/5)/2 + 0.4
			c.score.Values[i] = float32(math.Round(min(max(blob+r.Float64()/4, 0), 1)*64) / 64) // few steps: many ties
			c.layers[0].Values[i] = float32(r.NormFloat64() * 100)
			c.layers[1].Codes[i] = int32(r.IntN(4))
			for k := range c.factors {
				c.factors[k].Values[i] = r.Float32()
				if r.IntN(6+k) == 0 {
					c.factors[k].Values[i] = raster.Missing
				}
			}
			if r.IntN(9) == 0 {
				c.layers[0].Values[i], c.layers[1].Codes[i] = raster.Missing, raster.MissingCode
			}
		}
	}
	return c
}

// cut copies a window of a tile.
func cut(t raster.Tile, w raster.Window) raster.Tile {
	out := raster.NewTile(w)
	if t.Codes != nil {
		out = raster.NewClassTile(w)
	}
	out.CopyFrom(t)
	return out
}

func cutAll(list []raster.Tile, w raster.Window) (out []raster.Tile) {
	for _, t := range list {
		out = append(out, cut(t, w))
	}
	return out
}

// eachTile cuts a window into tiles of a size.
func eachTile(w raster.Window, size int, f func(raster.Window)) {
	for row := w.Row; row < w.EndRow(); row += size {
		for col := w.Col; col < w.EndCol(); col += size {
			f(raster.Window{Col: col, Row: row, Cols: size, Rows: size}.Clip(w))
		}
	}
}

// found surveys and ranks a country, then looks at its ground through tiles
// of another size, by three workers in turn.
func (c country) found(t *testing.T, size, look int, counted []int) ([]Hotspot, *Looking) {
	t.Helper()
	rule := Rule{From: 0.5, LeastHa: 3}
	store, err := patch.NewStore(t.TempDir(), rule.Patches())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { store.Close() })
	surveyor := patch.NewSurveyor(rule.Patches(), hectares1{})
	eachTile(c.score.Window, size, func(w raster.Window) {
		sum, err := surveyor.Survey(cut(c.score, w), cutAll(c.factors, w))
		if err == nil {
			err = store.Put(sum)
		}
		if err != nil {
			t.Fatal(err)
		}
	})
	solved, err := store.Solve()
	if err != nil {
		t.Fatal(err)
	}
	result, err := Rank(solved, []string{"a", "b"}, rule)
	if err != nil {
		t.Fatal(err)
	}
	l := Look(solved, result.Hotspots, counted, len(c.layers))
	workers := []*Looker{l.Looker(), l.Looker(), l.Looker()}
	n := 0
	eachTile(c.score.Window, look, func(w raster.Window) {
		n++
		if !l.Wanted(w) {
			return
		}
		if err := workers[n%3].Take(cut(c.score, w), cutAll(c.factors, w), cutAll(c.layers, w)); err != nil {
			t.Fatal(err)
		}
	})
	for i := range workers {
		workers[2-i].Close()
	}
	return result.Hotspots, l
}

// hectares1 makes every cell a hectare.
type hectares1 struct{}

func (hectares1) Row(_, cols, _ int, out []int64) {
	for i := range out[:cols] {
		out[i] = mm2PerHa
	}
}

// cellsOf lists a hotspot's cells by flood fill from its inner point.
func (c country) cellsOf(from patch.Cell) map[patch.Cell]bool {
	in, queue := map[patch.Cell]bool{from: true}, []patch.Cell{from}
	for len(queue) > 0 {
		at := queue[0]
		queue = queue[1:]
		for k := range 9 {
			n := patch.Cell{Col: at.Col + k%3 - 1, Row: at.Row + k/3 - 1}
			if !in[n] && c.score.Holds(raster.Window{Col: n.Col, Row: n.Row, Cols: 1, Rows: 1}) && c.score.Value(n.Col, n.Row) >= 0.5 {
				in[n] = true
				queue = append(queue, n)
			}
		}
	}
	return in
}

// TestGroundMatchesPlainLoops holds everything that is said of the ground
// against plain loops over the cells of a flood fill, for several sizes of
// tiles in the survey and in the second look, and which factors count.
func TestGroundMatchesPlainLoops(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	hotspots := 0
	for round, counted := range [][]int{{0, 1}, {1}, {0}, {}} {
		c := newCountry(r, raster.Window{Col: -4, Row: 7, Cols: 43, Rows: 37})
		var first []Ground
		for k, sizes := range [][2]int{{64, 64}, {5, 11}, {16, 7}, {64, 9}} {
			list, l := c.found(t, sizes[0], sizes[1], counted)
			hotspots += len(list)
			var all []Ground
			for i := range list {
				g := l.Ground(i, &list[i], 3+round, 4)
				c.checkGround(t, g, &list[i], counted, 3+round, 4)
				all = append(all, *g)
			}
			if k == 0 {
				first = all
			} else if !reflect.DeepEqual(all, first) {
				t.Errorf("tiles of %v: the ground differs", sizes)
			}
		}
	}
	if hotspots < 40 {
		t.Errorf("%d hotspots say little", hotspots)
	}
}

func (c country) known(at patch.Cell, counted []int) bool {
	for _, k := range counted {
		if v := c.factors[k].Value(at.Col, at.Row); v != v {
			return false
		}
	}
	return true
}

func (c country) checkGround(t *testing.T, g *Ground, h *Hotspot, counted []int, cols, rows int) {
	t.Helper()
	in := c.cellsOf(h.Point)
	var knownCells, valued, above, coded int64
	var sum, score float64
	low, high := float32(math.Inf(1)), float32(math.Inf(-1))
	codes := map[int32]int64{}
	for at := range in {
		if c.known(at, counted) {
			knownCells++
			score += float64(c.score.Value(at.Col, at.Row))
		}
		if v := c.layers[0].Value(at.Col, at.Row); v == v {
			valued++
			sum += float64(v)
			low, high = min(low, v), max(high, v)
			if v > 0 {
				above++
			}
		}
		if code := c.layers[1].Code(at.Col, at.Row); code != raster.MissingCode {
			codes[code]++
			coded++
		}
	}
	if g.Cells != int64(len(in)) || g.KnownCells != knownCells || knownCells > 0 && math.Abs(g.MeanKnown()-score/float64(knownCells)) > 1e-12 {
		t.Errorf("%d cells, %d known, mean %v; want %d, %d, %v", g.Cells, g.KnownCells, g.MeanKnown(), len(in), knownCells, score/float64(knownCells))
	}
	v, k := &g.Layers[0], &g.Layers[1]
	if v.Known != valued || v.Above != above || v.Low != low || v.High != high || math.Abs(v.Mean()-sum/float64(valued)) > 1e-6 {
		t.Errorf("%+v, mean %v; want %d, %d, %v, %v, %v", v, v.Mean(), valued, above, low, high, sum/float64(valued))
	}
	if k.Known != coded {
		t.Errorf("%d cells of known class, want %d", k.Known, coded)
	}
	for i, n := range k.Codes() {
		if codes[n.Code] != n.Cells || i > 0 && k.Codes()[i-1].Cells < n.Cells {
			t.Errorf("class %d on %d cells, want %d", n.Code, n.Cells, codes[n.Code])
		}
	}
	c.checkHectare(t, g.Best, h, in, counted, cols, rows)
}

// checkHectare tries every square that touches the box, cell by cell.
func (c country) checkHectare(t *testing.T, got *Hectare, h *Hotspot, in map[patch.Cell]bool, counted []int, cols, rows int) {
	t.Helper()
	type try struct {
		w   raster.Window
		n   int64
		sum float64
	}
	var all []try
	var fullest int64
	for row := h.Box.Row - rows; row <= h.Box.EndRow(); row++ {
		for col := h.Box.Col - cols; col <= h.Box.EndCol(); col++ {
			w := raster.Window{Col: col, Row: row, Cols: cols, Rows: rows}
			if cols <= h.Box.Cols && w != w.Clip(raster.Window{Col: h.Box.Col, Row: row, Cols: h.Box.Cols, Rows: rows}) ||
				rows <= h.Box.Rows && w != w.Clip(raster.Window{Col: col, Row: h.Box.Row, Cols: cols, Rows: h.Box.Rows}) {
				continue
			}
			one := try{w: w}
			for at := range in {
				if w.Holds(raster.Window{Col: at.Col, Row: at.Row, Cols: 1, Rows: 1}) && c.known(at, counted) {
					one.n++
					one.sum += float64(c.score.Value(at.Col, at.Row))
				}
			}
			fullest = max(fullest, one.n)
			all = append(all, one)
		}
	}
	if fullest == 0 {
		if got != nil {
			t.Errorf("%+v where nothing is known", got)
		}
		return
	}
	best := math.Inf(-1)
	for _, one := range all {
		if float64(one.n) >= 0.9*float64(fullest)-1e-9 {
			best = max(best, one.sum/float64(one.n))
		}
	}
	away := func(w raster.Window) float64 {
		return math.Hypot(float64(w.Col-h.Point.Col)+float64(cols)/2-0.5, float64(w.Row-h.Point.Row)+float64(rows)/2-0.5)
	}
	nearest := math.Inf(1)
	for _, one := range all {
		if float64(one.n) >= 0.9*float64(fullest)-1e-9 && one.sum/float64(one.n) > best-1e-12 {
			nearest = min(nearest, away(one.w))
		}
	}
	narrow := cols > h.Box.Cols || rows > h.Box.Rows // then squares that stand over otherwise hold the same
	if math.Abs(got.Mean-best) > 1e-12 || got.Cells*10 < fullest*9 || !narrow && math.Abs(away(got.Window)-nearest) > 1e-9 {
		t.Errorf("%+v, %v away; want mean %v, %v away, of at most %d cells", got, away(got.Window), best, nearest, fullest)
	}
	if !in[got.Point] || !c.known(got.Point, counted) || !got.Window.Holds(raster.Window{Col: got.Point.Col, Row: got.Point.Row, Cols: 1, Rows: 1}) {
		t.Errorf("the place to go %v is not on known ground of the square %+v", got.Point, got.Window)
	}
}

// TestHectareByHand: of a row of five cells the middle one is unknown; a
// square of two cells stands on the two best known ones beside each other.
func TestHectareByHand(t *testing.T) {
	f := newField(raster.Window{Col: 10, Row: 20, Cols: 5, Rows: 1})
	for i, units := range []int64{8192, 9000, 16384, 10000, 9000} {
		f.set(10+i, 20, units, i != 2)
	}
	got := f.best(2, 1, patch.Cell{Col: 12, Row: 20})
	want := &Hectare{raster.Window{Col: 13, Row: 20, Cols: 2, Rows: 1}, 2, 9500. / 16384, patch.Cell{Col: 13, Row: 20}}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("%+v", got)
	}
	f.set(13, 20, 9000, true) // both sides: 8596 to the west, 9000 to the east
	f.set(10, 20, 9000, true) // now alike, and as far from the middle: the western one
	if got = f.best(2, 1, patch.Cell{Col: 12, Row: 20}); got.Window.Col != 10 {
		t.Errorf("%+v", got)
	}
	for i := range 5 {
		f.set(10+i, 20, 9000, false)
	}
	if got = f.best(2, 1, patch.Cell{Col: 12, Row: 20}); got != nil {
		t.Errorf("%+v where nothing is known", got)
	}
}

// TestExactSum holds sums of 128 bits against numbers that cancel: float64
// loses the small one.
func TestExactSum(t *testing.T) {
	var h Held
	h.addValues([]float32{1 << 29, 0.25, -(1 << 29), raster.Missing, 1 << 29, -(1 << 29)})
	if h.Mean() != 0.25/5 || h.Known != 5 || h.Above != 3 || h.Low != -(1<<29) {
		t.Errorf("%+v, mean %v", h, h.Mean())
	}
	var sum exact
	for range 1 << 12 { // beyond 2^63 steps
		sum.add(1 << 30)
	}
	for range 1<<12 + 1 {
		sum.add(-(1 << 30))
	}
	sum.add(1<<30 - 64)
	sum.add(62.5)
	if sum.value() != -1.5 {
		t.Error(sum.value())
	}
}
