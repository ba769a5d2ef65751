package water

import (
	"context"
	"errors"
	"math"
	"os"
	"slices"
	"testing"

	"likelyground/raster"
)

// W1: sixteen cells are raised by 50 in all. Source: the table of the 8-connected
// minimax surface, made with the definition and with scikit-image 0.19.3
// (reconstruction by erosion).
func TestFilledAgainstReconstruction(t *testing.T) {
	ground := "9 9 9 9 9 9 9/9 3 4 9 5 6 9/9 4 1 9 2 4 7/9 8 9 9 9 5 9/9 5 3 6 9 9 9/8 6 4 2 7 3 9/9 9 9 9 9 9 4"
	want := parse(t, "9 9 9 9 9 9 9/9 8 8 9 7 7 9/9 8 8 9 7 7 7/9 8 9 9 9 7 9/9 7 7 7 9 9 9/8 7 7 7 7 4 9/9 9 9 9 9 9 4", 1)
	for _, tile := range tileSizes {
		f := parse(t, ground, 1)
		w := look(t, f, tile)
		same(t, "filled", f, values(t, w, Filled), want.Values)
		if cells, depth := sum(values(t, w, HollowDepth)); cells != 16 || depth != 50 {
			t.Errorf("tile %d: %d cells raised by %g", tile, cells, depth)
		}
		f.Values[2*7+2] = raster.Missing // row 3, column 3 from 1: its neighbours drain
		if cells, depth := sum(values(t, look(t, f, tile), HollowDepth)); cells != 12 || depth != 30 {
			t.Errorf("tile %d: with a hole %d cells raised by %g", tile, cells, depth)
		}
		f = parse(t, ground, 1)
		f.drains = make([]bool, 49)
		f.drains[2*7+2] = true // the lowest cell of the left hollow lets its water go
		if cells, depth := sum(values(t, look(t, f, tile), HollowDepth)); cells != 12 || depth != 50-(5+4+4+7) {
			t.Errorf("tile %d: with a drain %d cells raised by %g", tile, cells, depth)
		}
	}
}

func TestFilledIsMinimax(t *testing.T) {
	for _, f := range grounds(400) {
		want := f.filled()
		depth := make([]float32, len(want))
		for i := range depth {
			depth[i] = want[i] - f.Values[i]
		}
		for _, tile := range tileSizes {
			w := look(t, f, tile)
			same(t, "filled", f, values(t, w, Filled), want)
			same(t, "depth", f, values(t, w, HollowDepth), depth)
		}
	}
}

func TestKeysKeepTheOrder(t *testing.T) {
	heights := []float32{-math.MaxFloat32, -418.5, -1, -math.SmallestNonzeroFloat32, 0, math.SmallestNonzeroFloat32, 1, 8848.86, math.MaxFloat32}
	for i, z := range heights {
		if heightOf(keyOf(z)) != z {
			t.Errorf("%g comes back as %g", z, heightOf(keyOf(z)))
		}
		if i > 0 && keyOf(heights[i-1]) >= keyOf(z) {
			t.Errorf("%g does not sort before %g", heights[i-1], z)
		}
	}
	for _, z := range []float32{raster.Missing, float32(math.Inf(1)), float32(math.Inf(-1))} {
		if keyOf(z) != missingKey {
			t.Errorf("%g is not missing", z)
		}
	}
	if keyOf(float32(math.Copysign(0, -1))) != keyOf(0) {
		t.Error("there are two zeros")
	}
}

// Scratch on disk and in memory give the same.
func TestScratch(t *testing.T) {
	folder := t.TempDir()
	for _, f := range grounds(20) {
		w, err := New(context.Background(), f.ground(), Options{Tile: 5, Workers: 2, Store: NewScratch(folder)})
		if err != nil {
			t.Fatal(err)
		}
		same(t, "filled", f, values(t, w, Filled), values(t, look(t, f, 5), Filled))
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
	}
	if left, err := os.ReadDir(folder); err != nil || len(left) > 0 {
		t.Errorf("left in the folder: %v, %v", left, err)
	}
	if _, err := New(context.Background(), parse(t, "1 2", 1).ground(), Options{Store: NewScratch(folder + "/none")}); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("a folder that is not there: %v", err)
	}
}

// broken is a Reader that fails at one cell.
type broken struct{ *field }

var errBroken = errors.New("a broken map")

func (b broken) Read(dst raster.Tile, drains []bool) error {
	if dst.Holds(raster.Window{Col: 4, Row: 4, Cols: 1, Rows: 1}) {
		return errBroken
	}
	return b.field.Read(dst, drains)
}

func TestErrors(t *testing.T) {
	f := shape(9, 9, 1, func(c, r int) float64 { return float64(c) })
	g := f.ground()
	g.Open = func() (Reader, error) { return broken{f}, nil }
	if _, err := New(context.Background(), g, Options{Tile: 2}); !errors.Is(err, errBroken) {
		t.Errorf("a reader that fails: %v", err)
	}
	g.Open = func() (Reader, error) { return nil, errBroken }
	if _, err := New(context.Background(), g, Options{}); !errors.Is(err, errBroken) {
		t.Errorf("a reader that does not open: %v", err)
	}
	stopped, stop := context.WithCancelCause(context.Background())
	cause := errors.New("enough")
	stop(cause)
	if _, err := New(stopped, f.ground(), Options{}); !errors.Is(err, cause) {
		t.Errorf("a context that has ended: %v", err)
	}
	for _, bad := range []Ground{{DX: 1, DY: 1}, {Window: f.Window, DX: 1, DY: math.NaN()}} {
		if _, err := New(context.Background(), bad, Options{}); err == nil {
			t.Errorf("%+v passes", bad)
		}
	}
	if _, err := New(context.Background(), f.ground(), Options{Tile: MostTile + 1}); err == nil {
		t.Error("a tile too large passes")
	}
}

func TestProgress(t *testing.T) {
	f := shape(9, 9, 1, func(c, r int) float64 { return float64(c) })
	var seen []int
	w, err := New(context.Background(), f.ground(), Options{Tile: 3, Progress: func(stage string, done, total int) {
		if total != 9 {
			t.Errorf("%s: %d tiles", stage, total)
		}
		seen = append(seen, done)
	}})
	if err != nil {
		t.Fatal(err)
	}
	w.Close()
	if want := []int{1, 2, 3, 4, 5, 6, 7, 8, 9}; !slices.Equal(seen[:9], want) {
		t.Errorf("told %v", seen)
	}
}

func TestEdgeCells(t *testing.T) {
	for w := 1; w < 6; w++ {
		for h := 1; h < 6; h++ {
			e, n := edge{w, h}, 0
			for y := range h {
				for x := range w {
					if x > 0 && y > 0 && x < w-1 && y < h-1 {
						continue
					}
					n++
					i := e.at(x, y)
					if cx, cy := e.cell(i); i < 0 || i >= e.len() || cx != x || cy != y {
						t.Fatalf("%d × %d: cell %d,%d has number %d, which is %d,%d", w, h, x, y, i, cx, cy)
					}
				}
			}
			if n != e.len() {
				t.Fatalf("%d × %d: %d edge cells, counted %d", w, h, e.len(), n)
			}
		}
	}
}
