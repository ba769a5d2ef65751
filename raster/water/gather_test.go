package water

import (
	"context"
	"math"
	"testing"

	"likelyground/raster"
)

func one(w *Water, ctx context.Context) error { return w.GatherOne(ctx) }

// gatheredOne is the definition: follow each cell's way to its end and count
// it in every cell passed, by graph reachability. cut tells which cells some
// cell beside the rim or a hole reaches.
func (f *field) gatheredOne() (area, cut []float32) {
	to, _ := f.receivers(f.filled())
	area, cut = make([]float32, len(to)), make([]float32, len(to))
	for i := range to {
		if !f.known(i) {
			area[i], cut[i] = raster.Missing, raster.Missing
			continue
		}
		for j := i; j >= 0; j = to[j] {
			area[j] += float32(f.dx * f.dy)
			if f.besideNothing(i) {
				cut[j] = 1
			}
		}
	}
	return area, cut
}

func TestGatherOneIsReachability(t *testing.T) {
	for _, f := range grounds(200) {
		area, cut := f.gatheredOne()
		for _, tile := range tileSizes {
			w := look(t, f, tile, one)
			same(t, "gathered", f, values(t, w, GatheredOne), area)
			same(t, "cut", f, values(t, w, CutOne), cut)
		}
	}
}

// What gathers where water leaves is all the ground there is.
func TestGatherOneKeepsAll(t *testing.T) {
	for _, f := range grounds(100) {
		known := 0
		for i := range f.Values {
			if f.known(i) {
				known++
			}
		}
		w := look(t, f, 5, one)
		v, total := ways(t, w), 0.0
		for i, a := range values(t, w, GatheredOne) {
			if v[i]&wayOut != 0 && v[i]&wayNone == 0 {
				total += float64(a)
			}
		}
		if want := float64(known) * f.dx * f.dy; total != want {
			t.Fatalf("%g gathers where water leaves, the ground has %g", total, want)
		}
	}
}

// W5, from the definition.
func TestGatherOneOnShapes(t *testing.T) {
	cells := func(f *field, tile int) []float32 { return values(t, look(t, f, tile, one), GatheredOne) }
	valley := shape(7, 7, 1, func(c, r int) float64 { return 10*math.Abs(float64(c-3)) + float64(6-r) })
	cone := shape(7, 7, 1, func(c, r int) float64 { return math.Hypot(float64(c-3), float64(r-3)) })
	cone.drains = make([]bool, 49)
	cone.drains[24] = true // its point lets the water go
	south := shape(5, 6, 1, func(c, r int) float64 { return float64(-r) })
	southEast := shape(7, 7, 1, func(c, r int) float64 { return float64(-r - c) })
	for _, tile := range tileSizes {
		for i, a := range cells(valley, tile) {
			want := []float32{1, 2, 3, 7 * float32(i/7+1), 3, 2, 1}[i%7]
			if a != want {
				t.Errorf("tile %d: valley: cell %d has %g, not %g", tile, i, a, want)
			}
		}
		if got := cells(cone, tile)[24]; got != 49 {
			t.Errorf("tile %d: cone: its point has %g, not 49", tile, got)
		}
		for i, a := range cells(south, tile) {
			if want := float32(i/5 + 1); a != want {
				t.Errorf("tile %d: plane to the south: cell %d has %g, not %g", tile, i, a, want)
			}
		}
		for i := range 6 {
			if got := cells(southEast, tile)[8*i]; got != float32(i+1) {
				t.Errorf("tile %d: plane to the south-east: %g on the diagonal, not %d", tile, got, i+1)
			}
		}
		if got := cells(southEast, tile)[48]; got != 49 {
			t.Errorf("tile %d: plane to the south-east: %g in the corner, not 49", tile, got)
		}
	}
}
