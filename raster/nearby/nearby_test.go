package nearby

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"likelyground/raster"
)

var member = raster.NewCodeTable(map[int32]uint8{1: Yes}, Missing, No)

// pad makes a tile of codes from rows of text, north first, "-" missing, with
// a rim of missing cells.
func pad(rows string, reach int) (src, dst raster.Tile) {
	lines := strings.Split(rows, "/")
	w := raster.Window{Cols: len(strings.Fields(lines[0])), Rows: len(lines)}
	src = raster.NewClassTile(w.Grow(reach))
	src.FillMissing()
	for r, line := range lines {
		for c, f := range strings.Fields(line) {
			if f != "-" {
				var v int32
				fmt.Sscan(f, &v)
				src.Codes[src.Index(c, r)] = v
			}
		}
	}
	return src, raster.NewTile(w)
}

// TestDiscCells holds the number of cells to OEIS A000328, and to a count by
// hand for oblong cells.
func TestDiscCells(t *testing.T) {
	for r, want := range map[float64]int{0: 1, 1: 5, math.Sqrt2: 9, 1.5: 9, 2: 13, 2.5: 21, 3: 29, 5: 81, 10: 317, 25: 1961, 50: 7845} {
		if got := NewDisc(1, 1, r).Cells(); got != want {
			t.Errorf("radius %g: %d cells, want %d", r, got, want)
		}
		if got := NewDisc(0.1, 0.1, r*0.1).Cells(); got != want {
			t.Errorf("radius %g of cells of 0.1: %d cells, want %d", r, got, want)
		}
	}
	for r, want := range map[float64]int{50: 43, 250: 983} {
		if got := NewDisc(10, 20, r).Cells(); got != want {
			t.Errorf("10 × 20 m, radius %g: %d cells, want %d", r, got, want)
		}
	}
	if c, r := (Disc{}).Cells(), (Disc{}).Reach(); c != 1 || r != 0 {
		t.Error("the zero disc", c, r)
	}
}

// TestDistanceTable holds distances to values of scipy 1.10's exact Euclidean
// distance transform (Felzenszwalb & Huttenlocher 2012 gives the same).
func TestDistanceTable(t *testing.T) {
	sources := "0 0 0 0 0 0 0/0 1 0 0 0 0 0/0 0 0 0 0 0 0/0 0 0 0 0 0 0/0 0 0 0 0 1 0"
	squared := []float64{2, 1, 2, 5, 10, 16, 17, 1, 0, 1, 4, 9, 9, 10, 2, 1, 2, 5, 5, 4, 5, 5, 4, 5, 5, 2, 1, 2, 10, 9, 9, 4, 1, 0, 1}
	d := NewDistance(1, 1, 100)
	src, dst := pad(sources, d.Reach())
	d.Classes(dst, src, member)
	for i, want := range squared {
		if got := float64(dst.Values[i]); math.Abs(got*got-want) > 1e-5 {
			t.Errorf("cell %d: %g², want %g", i, got, want)
		}
	}
	d = NewDistance(10, 20, 1000)
	src, dst = pad(sources, d.Reach())
	d.Classes(dst, src, member)
	for i, want := range []float64{22.36068, 20, 22.36068, 28.284271, 36.055513, 44.72136, 53.851648} {
		if got := float64(dst.Values[i]); math.Abs(got-want) > 5e-6 {
			t.Errorf("oblong cells, column %d: %g, want %g", i, got, want)
		}
	}
}

// TestDistanceWithoutSource: our own rule, where a general library measures
// to a phantom.
func TestDistanceWithoutSource(t *testing.T) {
	d := NewDistance(10, 10, 30)
	src, dst := pad("0 - 0", d.Reach())
	d.Classes(dst, src, member)
	if v := dst.Values; v[0] != 30 || v[1] == v[1] || v[2] != 30 {
		t.Error(v)
	}
}

// TestShareTable holds counts within 2 cells to values of scipy's convolve.
func TestShareTable(t *testing.T) {
	disc := NewDisc(1, 1, 2)
	src, dst := pad("1 1 0 0 2 2/1 0 0 0 2 2/0 0 - 0 0 1/0 1 0 0 0 1/2 2 0 1 1 1", disc.Reach())
	NewShare(disc).Classes(dst, src, member)
	yes := []int{3, 3, 2, 1, 0, 1, 3, 4, 2, 0, 1, 2, 3, 3, 1, 2, 3, 3, 2, 1, 2, 4, 5, 4, 1, 2, 3, 3, 4, 5}
	known := []int{6, 8, 8, 9, 8, 6, 8, 10, 11, 11, 11, 8, 8, 11, 12, 12, 11, 9, 8, 10, 11, 11, 11, 8, 6, 8, 8, 9, 8, 6}
	for i := range yes {
		if got, want := dst.Values[i], float32(float64(yes[i])/float64(known[i])); got != want {
			t.Errorf("cell %d: %g, want %d of %d", i, got, yes[i], known[i])
		}
	}
}

// randomClasses is ground of codes 0 to 2 with holes; density is the chance
// of a member.
func randomClasses(r *rand.Rand, w raster.Window, density, holes float64) raster.Tile {
	t := raster.NewClassTile(w)
	for i := range t.Codes {
		switch x := r.Float64(); {
		case x < holes:
			t.Codes[i] = raster.MissingCode
		case x < holes+density:
			t.Codes[i] = 1
		default:
			t.Codes[i] = 2 * int32(i&1)
		}
	}
	return t
}

// each calls f for every cell of w within metres of a cell.
func each(t raster.Tile, col, row int, dx, dy, metres float64, f func(c, r int, away float64)) {
	for r := t.Row; r < t.EndRow(); r++ {
		for c := t.Col; c < t.EndCol(); c++ {
			away := math.Sqrt(float64((c-col)*(c-col))*dx*dx + float64((r-row)*(r-row))*dy*dy)
			if away <= metres*(1+1e-9) {
				f(c, r, away)
			}
		}
	}
}

// TestAgainstDefinition holds every kernel to its definition, cell by cell,
// on random ground with holes and oblong cells, and asks that tiles of other
// sizes give the same bytes.
func TestAgainstDefinition(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for _, cell := range [][2]float64{{10, 10}, {10, 20}, {25, 7}} {
		for _, metres := range []float64{0, 10, 14.2, 35, 60, 120} {
			for _, density := range []float64{0, 0.02, 0.4} {
				for _, holes := range []float64{0, 0.1, 1} {
					check(t, r, cell[0], cell[1], metres, density, holes)
				}
			}
		}
	}
}

func check(t *testing.T, r *rand.Rand, dx, dy, metres, density, holes float64) {
	t.Helper()
	disc := NewDisc(dx, dy, metres)
	dist := NewDistance(dx, dy, metres)
	reach := max(disc.Reach(), dist.Reach())
	w := raster.Window{Col: -3, Row: 5, Cols: 37, Rows: 21}
	src := randomClasses(r, w.Grow(reach), density, holes)
	values := raster.NewTile(src.Window)
	for i := range values.Values {
		values.Values[i] = float32(r.IntN(4000)-2000) / 8
		if r.Float64() < holes {
			values.Values[i] = raster.Missing
		}
	}
	marks := raster.NewClassTile(src.Window)
	for i, c := range src.Codes {
		marks.Codes[i] = int32(min(max(c, 0), 1))
		if c == 2 {
			marks.Codes[i] = 0
		}
	}
	want := define(src, values, marks, w, dx, dy, metres)
	for _, size := range []int{100, 16, 5} {
		got := raster.NewTile(w)
		got4 := [4]raster.Tile{got, raster.NewTile(w), raster.NewTile(w), raster.NewClassTile(w)}
		inTiles(w, size, func(part raster.Window) {
			share, mean, far, near := raster.NewTile(part), raster.NewTile(part), raster.NewTile(part), raster.NewClassTile(part)
			NewShare(disc).Classes(share, cut(src, part.Grow(disc.Reach())), member)
			NewMean(disc).Values(mean, cut(values, part.Grow(disc.Reach())))
			NewDistance(dx, dy, metres).Classes(far, cut(src, part.Grow(dist.Reach())), member)
			NewDilate(disc).Classes(near, cut(marks, part.Grow(disc.Reach())))
			for i, tile := range []raster.Tile{share, mean, far, near} {
				got4[i].CopyFrom(tile)
			}
		})
		for i, name := range []string{"share", "mean", "distance", "dilate"} {
			if at, ok := same(want[i], got4[i]); !ok {
				t.Fatalf("%s, cells %g × %g, radius %g, density %g, holes %g, tiles of %d: cell %d: got %v, want %v", name, dx, dy, metres, density, holes, size, at, show(got4[i], at), show(want[i], at))
			}
		}
	}
}

func define(src, values, marks raster.Tile, w raster.Window, dx, dy, metres float64) [4]raster.Tile {
	out := [4]raster.Tile{raster.NewTile(w), raster.NewTile(w), raster.NewTile(w), raster.NewClassTile(w)}
	for row := w.Row; row < w.EndRow(); row++ {
		for col := w.Col; col < w.EndCol(); col++ {
			var yes, known, count, sum float64
			nearest, dilated := metres, int32(0)
			each(src, col, row, dx, dy, metres, func(c, r int, away float64) {
				if code := src.Code(c, r); code != raster.MissingCode {
					known++
					if code == 1 {
						yes++
						nearest = min(nearest, away)
					}
				}
				if v := values.Value(c, r); v == v {
					count++
					sum += float64(v) // eighths: exact
				}
				dilated |= marks.Code(c, r)
			})
			at := out[0].Index(col, row)
			out[0].Values[at] = float32(yes / known)
			out[1].Values[at] = float32(sum / count)
			out[2].Values[at] = float32(nearest)
			if src.Code(col, row) == raster.MissingCode {
				out[2].Values[at] = raster.Missing
			}
			out[3].Codes[at] = dilated
		}
	}
	return out
}

func inTiles(w raster.Window, size int, f func(raster.Window)) {
	for row := w.Row; row < w.EndRow(); row += size {
		for col := w.Col; col < w.EndCol(); col += size {
			f(raster.Window{Col: col, Row: row, Cols: size, Rows: size}.Clip(w))
		}
	}
}

func cut(t raster.Tile, w raster.Window) raster.Tile {
	out := raster.NewTile(w)
	if t.Codes != nil {
		out = raster.NewClassTile(w)
	}
	out.CopyFrom(t)
	return out
}

// same asks for equality to the last bit but one of a float32: the definition
// takes its roots in another order.
func same(a, b raster.Tile) (at int, ok bool) {
	for i := range a.Values {
		x, y := a.Values[i], b.Values[i]
		if (x != x) != (y != y) || math.Abs(float64(x-y)) > 1e-6*math.Max(1, math.Abs(float64(x))) {
			return i, false
		}
	}
	for i := range a.Codes {
		if a.Codes[i] != b.Codes[i] {
			return i, false
		}
	}
	return 0, true
}

func show(t raster.Tile, at int) any {
	if t.Codes != nil {
		return t.Codes[at]
	}
	return t.Values[at]
}

// TestTilesAgree asks for the same bytes whatever the tile.
func TestTilesAgree(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	w := raster.Window{Cols: 70, Rows: 60}
	for _, cell := range [][2]float64{{10, 10}, {10, 17}} {
		disc, dist := NewDisc(cell[0], cell[1], 130), NewDistance(cell[0], cell[1], 130)
		src := randomClasses(r, w.Grow(13), 0.01, 0.05)
		run := func(size int) [2]raster.Tile {
			out := [2]raster.Tile{raster.NewTile(w), raster.NewTile(w)}
			share, d := NewShare(disc), NewDistance(cell[0], cell[1], 130)
			inTiles(w, size, func(p raster.Window) {
				a, b := raster.NewTile(p), raster.NewTile(p)
				share.Classes(a, cut(src, p.Grow(disc.Reach())), member)
				d.Classes(b, cut(src, p.Grow(dist.Reach())), member)
				out[0].CopyFrom(a)
				out[1].CopyFrom(b)
			})
			return out
		}
		whole := run(100)
		for _, size := range []int{1, 7, 64} {
			for k, tile := range run(size) {
				for i := range tile.Values {
					if math.Float32bits(tile.Values[i]) != math.Float32bits(whole[k].Values[i]) {
						t.Fatalf("kernel %d, cell %v, tiles of %d: cell %d differs", k, cell, size, i)
					}
				}
			}
		}
	}
}

// TestWideDisc takes a disc whose counts pass 16 bits.
func TestWideDisc(t *testing.T) {
	disc := NewDisc(1, 1, 150)
	w := raster.Window{Cols: 3, Rows: 3}
	src := raster.NewClassTile(w.Grow(disc.Reach()))
	for i := range src.Codes {
		src.Codes[i] = 1
	}
	src.Codes[src.Index(1, 1)] = 0
	dst := raster.NewTile(w)
	NewShare(disc).Classes(dst, src, member)
	want := float32(float64(disc.Cells()-1) / float64(disc.Cells()))
	for i, v := range dst.Values {
		if v != want {
			t.Errorf("cell %d: %g, want %g", i, v, want)
		}
	}
	src.Codes[src.Index(0, 0)] = raster.MissingCode
	NewShare(disc).Classes(dst, src, member)
	if want := float32(float64(disc.Cells()-2) / float64(disc.Cells()-1)); dst.Values[8] != want {
		t.Errorf("%g, want %g", dst.Values[8], want)
	}
}

// patchy is ground for benchmarks: woods of some hundred cells across.
func patchy(w raster.Window) raster.Tile {
	t := raster.NewClassTile(w)
	for row := range w.Rows {
		for col := range w.Cols {
			if math.Sin(float64(col)/37)*math.Cos(float64(row)/29)+0.3*math.Sin(float64(col*row)/5000) > 0.4 {
				t.Codes[row*w.Cols+col] = 1
			}
		}
	}
	return t
}

func perCell(b *testing.B, size int) {
	b.ReportAllocs()
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(size*size), "ns/cell")
}

func BenchmarkShare(b *testing.B) {
	disc := NewDisc(10, 10, 250)
	w := raster.Window{Cols: 512, Rows: 512}
	src, dst, s := patchy(w.Grow(disc.Reach())), raster.NewTile(w), NewShare(disc)
	for b.Loop() {
		s.Classes(dst, src, member)
	}
	perCell(b, 512)
}

func BenchmarkDistance(b *testing.B) {
	d := NewDistance(10, 10, 500)
	w := raster.Window{Cols: 512, Rows: 512}
	src, dst := patchy(w.Grow(d.Reach())), raster.NewTile(w)
	for b.Loop() {
		d.Classes(dst, src, member)
	}
	perCell(b, 512)
}

func BenchmarkMean(b *testing.B) {
	disc := NewDisc(10, 10, 250)
	w := raster.Window{Cols: 512, Rows: 512}
	src, dst, m := raster.NewTile(w.Grow(disc.Reach())), raster.NewTile(w), NewMean(disc)
	for b.Loop() {
		m.Values(dst, src)
	}
	perCell(b, 512)
}

func ExampleShare() {
	disc := NewDisc(10, 10, 10) // a cell and its four neighbours
	src := raster.Tile{Window: raster.Window{Col: -1, Row: -1, Cols: 3, Rows: 3}, Codes: []int32{0, 1, 0, 0, 1, 0, 0, 1, 0}}
	dst := raster.NewTile(raster.Window{Cols: 1, Rows: 1})
	NewShare(disc).Classes(dst, src, member)
	fmt.Println(dst.Values)
	// Output: [0.6]
}
