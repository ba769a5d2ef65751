package nearby

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"likelyground/raster"
	"pgregory.net/rapid"
)

// trial is ground and a radius on which the kernels are held to their
// definitions.
type trial struct {
	dx, dy, metres float64
	classes        raster.Tile // codes 0 to 2, 1 is a member
	values         raster.Tile
	marks          raster.Tile // 0 and 1
	window         raster.Window
}

// newTrial lays random ground around a window; density is the chance of a
// member, holes that of a missing cell.
func newTrial(r *rand.Rand, dx, dy, metres, density, holes float64) *trial {
	t := &trial{dx: dx, dy: dy, metres: metres, window: raster.Window{Col: -3, Row: 5, Cols: 37, Rows: 21}}
	w := t.window.Grow(NewDistance(dx, dy, metres).Reach())
	t.classes, t.values, t.marks = raster.NewClassTile(w), raster.NewTile(w), raster.NewClassTile(w)
	for i := range w.Size() {
		t.classes.Codes[i] = 2 * int32(i&1)
		t.values.Values[i] = float32(r.IntN(4000)-2000) / 8
		switch x := r.Float64(); {
		case x < holes:
			t.classes.Codes[i] = raster.MissingCode
			t.values.Values[i] = raster.Missing
		case x < holes+density:
			t.classes.Codes[i], t.marks.Codes[i] = 1, 1
		}
	}
	return t
}

func (t *trial) String() string {
	return fmt.Sprintf("cells %g × %g, radius %g", t.dx, t.dy, t.metres)
}

// results are what the kernels make of a trial: share, mean, distance,
// dilation, from each side the distance to the edge, and relative position.
type results [8]raster.Tile

func newResults(w raster.Window) results {
	return results{raster.NewTile(w), raster.NewTile(w), raster.NewTile(w), raster.NewClassTile(w), raster.NewTile(w), raster.NewTile(w), raster.NewTile(w), raster.NewTile(w)}
}

var names = [8]string{"share", "mean", "distance", "dilation", "edge", "edge from inside", "edge from outside", "above"}

// run works a trial out by tiles of a size, in random order, with one set of
// kernels.
func (t *trial) run(r *rand.Rand, size int) results {
	disc, out := NewDisc(t.dx, t.dy, t.metres), newResults(t.window)
	share, mean := NewShare(disc), NewMean(disc)
	distance, dilate := NewDistance(t.dx, t.dy, t.metres), NewDilate(disc)
	var edges [3]*Edge
	for i, side := range []Side{Both, Inside, Outside} {
		edges[i] = NewEdge(t.dx, t.dy, t.metres, side)
	}
	parts := tilesOf(t.window, size)
	r.Shuffle(len(parts), func(i, j int) { parts[i], parts[j] = parts[j], parts[i] })
	for _, w := range parts {
		part, around := newResults(w), w.Grow(disc.Reach())
		share.Classes(part[0], cut(t.classes, around), member)
		mean.Values(part[1], cut(t.values, around))
		distance.Classes(part[2], cut(t.classes, w.Grow(distance.Reach())), member)
		dilate.Classes(part[3], cut(t.marks, around))
		for i, e := range edges {
			e.Classes(part[4+i], cut(t.classes, w.Grow(e.Reach())), member)
		}
		mean.Above(part[7], cut(t.values, around))
		for i := range part {
			out[i].CopyFrom(part[i])
		}
	}
	return out
}

// define works a trial out cell by cell.
func (t *trial) define() results {
	out := newResults(t.window)
	for row := t.window.Row; row < t.window.EndRow(); row++ {
		for col := t.window.Col; col < t.window.EndCol(); col++ {
			t.defineCell(out, col, row)
		}
	}
	return out
}

func (t *trial) defineCell(out results, col, row int) {
	var yes, known, count, sum float64
	nearest, dilated := t.metres, int32(0)
	here, across := t.classes.Code(col, row), t.metres // to the nearest known cell on the other side
	t.each(col, row, func(c, r int, away float64) {
		if code := t.classes.Code(c, r); code != raster.MissingCode {
			known++
			if code == 1 {
				yes++
				nearest = min(nearest, away)
			}
			if (code == 1) != (here == 1) {
				across = min(across, away)
			}
		}
		if v := t.values.Value(c, r); v == v {
			count++
			sum += float64(v) // eighths: exact
		}
		dilated |= t.marks.Code(c, r)
	})
	at := t.window.Index(col, row)
	out[0].Values[at] = float32(yes / known)
	out[1].Values[at] = float32(sum / count)
	out[2].Values[at] = float32(nearest)
	if t.classes.Code(col, row) == raster.MissingCode {
		out[2].Values[at] = raster.Missing
	}
	out[3].Codes[at] = dilated
	own := float64(t.values.Value(col, row))
	out[7].Values[at] = float32(own - (sum-own)/(count-1)) // NaN where the cell is missing, or alone
	edges := [3]float64{across, across, 0}                 // both, inside, outside
	if here != 1 {
		edges[Inside], edges[Outside] = 0, across
	}
	for i, away := range edges {
		out[4+i].Values[at] = float32(away)
		if here == raster.MissingCode {
			out[4+i].Values[at] = raster.Missing
		}
	}
}

// each calls f for every cell within the radius of one.
func (t *trial) each(col, row int, f func(c, r int, away float64)) {
	for r := t.classes.Row; r < t.classes.EndRow(); r++ {
		for c := t.classes.Col; c < t.classes.EndCol(); c++ {
			x, y := c-col, r-row
			away := math.Sqrt(float64(x*x+y*y)) * t.dx
			if t.dx != t.dy {
				away = math.Hypot(float64(x)*t.dx, float64(y)*t.dy)
			}
			if away <= t.metres*(1+1e-9) {
				f(c, r, away)
			}
		}
	}
}

func tilesOf(w raster.Window, size int) (parts []raster.Window) {
	for row := w.Row; row < w.EndRow(); row += size {
		for col := w.Col; col < w.EndCol(); col += size {
			parts = append(parts, raster.Window{Col: col, Row: row, Cols: size, Rows: size}.Clip(w))
		}
	}
	return parts
}

func cut(t raster.Tile, w raster.Window) raster.Tile {
	out := raster.NewTile(w)
	if t.Codes != nil {
		out = raster.NewClassTile(w)
	}
	out.CopyFrom(t)
	return out
}

// failer is a test or a property.
type failer interface {
	Fatalf(format string, args ...any)
}

// check asks for equal values, to the last bit if step is 0, else within so
// many steps of a float32.
func check(f failer, what string, got, want raster.Tile, step float64) {
	for i, g := range got.Codes {
		if w := want.Codes[i]; g != w {
			f.Fatalf("%s, cell %d: %d, want %d", what, i, g, w)
		}
	}
	for i, g := range got.Values {
		w := want.Values[i]
		near := math.Float32bits(g) == math.Float32bits(w) || g != g && w != w
		if !near && !(math.Abs(float64(g-w)) <= step*float64(math.Nextafter32(w, w+1)-w)) {
			f.Fatalf("%s, cell %d: %g, want %g", what, i, g, w)
		}
	}
}

// try holds the kernels to their definitions and, bit by bit, to themselves
// on tiles of other sizes.
func (t *trial) try(f failer, r *rand.Rand, sizes ...int) {
	want, whole := t.define(), t.run(r, 100)
	for i, name := range names {
		step := 0.0
		if (name == "distance" || strings.HasPrefix(name, "edge")) && t.dx != t.dy {
			step = 1 // the definition rounds elsewhere
		}
		check(f, fmt.Sprintf("%s, %v", name, t), whole[i], want[i], step)
	}
	for _, size := range sizes {
		got := t.run(r, size)
		for i, name := range names {
			check(f, fmt.Sprintf("%s, %v, tiles of %d", name, t, size), got[i], whole[i], 0)
		}
	}
}

var cells = [][2]float64{{10, 10}, {10, 20}, {25, 7}, {0.3, 0.3}, {10, 10.01}}

// TestDefinition goes through radii, densities and holes, their ends included.
func TestDefinition(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for _, cell := range cells {
		for _, radius := range []float64{0, 1, math.Sqrt2, 3.5, 12} {
			for _, density := range []float64{0, 0.02, 0.4, 1} {
				for _, holes := range []float64{0, 0.1, 1} {
					newTrial(r, cell[0], cell[1], radius*cell[0], density, holes).try(t, r, 7)
				}
			}
		}
	}
}

// TestAnyGround draws what TestDefinition goes through.
func TestAnyGround(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0))
		cell := rapid.SampledFrom(cells).Draw(t, "cell")
		metres := rapid.Float64Range(0, 12).Draw(t, "radius") * min(cell[0], cell[1])
		density := rapid.SampledFrom([]float64{0.001, 0.01, 0.1, 0.9}).Draw(t, "density")
		holes := rapid.SampledFrom([]float64{0, 0, 0.001, 0.05}).Draw(t, "holes")
		newTrial(r, cell[0], cell[1], metres, density, holes).try(t, r, rapid.IntRange(1, 64).Draw(t, "tile"))
	})
}

// TestTiles asks for the same bytes on tiles of one cell, of seven and of 64.
func TestTiles(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	for _, cell := range cells {
		trial := newTrial(r, cell[0], cell[1], 9*cell[0], 0.02, 0.03)
		trial.try(t, r, 1, 7, 64)
	}
}
