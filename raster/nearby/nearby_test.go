package nearby

import (
	"fmt"
	"math"
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
	for name, d := range map[string]Disc{"zero": {}, "negative": NewDisc(10, 10, -25)} {
		if d.Cells() != 1 || d.Reach() != 0 {
			t.Error(name, d.Cells(), d.Reach())
		}
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

func ExampleShare() {
	disc := NewDisc(10, 10, 10) // a cell and its four neighbours
	src := raster.Tile{Window: raster.Window{Col: -1, Row: -1, Cols: 3, Rows: 3}, Codes: []int32{0, 1, 0, 0, 1, 0, 0, 1, 0}}
	dst := raster.NewTile(raster.Window{Cols: 1, Rows: 1})
	NewShare(disc).Classes(dst, src, member)
	fmt.Println(dst.Values)
	// Output: [0.6]
}

func ExampleDistance() {
	d := NewDistance(10, 10, 20)
	src := raster.Tile{Window: raster.Window{Col: -2, Row: -2, Cols: 6, Rows: 5}, Codes: make([]int32, 30)}
	src.Codes[src.Index(-1, -1)] = 1
	dst := raster.NewTile(raster.Window{Cols: 2, Rows: 1})
	d.Classes(dst, src, member)
	fmt.Println(dst.Values)
	// Output: [14.142136 20]
}
