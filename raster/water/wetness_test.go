package water

import (
	"math"
	"testing"

	"likelyground/raster"
)

// W8: a plane to the south, cell 10, tan b 0.1: ln(a / tan b) with a = cells ·
// cell, from the definition of Beven & Kirkby (1979).
func TestWetnessOfPlane(t *testing.T) {
	f := shape(5, 5, 10, func(c, r int) float64 { return float64(-r) })
	want := []float64{4.605170, 5.298317, 5.703782}
	for _, tile := range tileSizes {
		got := values(t, look(t, f, tile, one), WetnessOne)
		for row := range 5 {
			for col := range 5 {
				v := float64(got[row*5+col])
				if inside := row > 0 && row < 4 && col > 0 && col < 4; !inside {
					if v == v {
						t.Errorf("tile %d: row %d, column %d at the rim has %g", tile, row, col, v)
					}
				} else if a := math.Log(float64(row+1) * 10 / .1); math.Abs(v-a) > 1e-6 || row < 3 && math.Abs(a-want[row]) > 1e-6 {
					t.Errorf("tile %d: row %d has %g, not %g", tile, row, v, a)
				}
			}
		}
	}
}

func TestWetnessIsDefined(t *testing.T) {
	for _, f := range grounds(100) {
		w := look(t, f, 5, many)
		got, specific := values(t, w, WetnessMany), values(t, w, SpecificMany)
		whole := look(t, f, DefaultTile, many)
		same(t, "wetness", f, got, values(t, whole, WetnessMany))
		for i, v := range got {
			if !f.known(i) || f.besideNothing(i) {
				if v == v {
					t.Fatalf("cell %d beside nothing has the wetness %g", i, v)
				}
				continue
			}
			z := func(dx, dy int) float64 { return float64(f.Values[i+dy*f.Cols+dx]) }
			x := (z(1, -1) + 2*z(1, 0) + z(1, 1) - z(-1, -1) - 2*z(-1, 0) - z(-1, 1)) / (8 * f.dx)
			y := (z(-1, 1) + 2*z(0, 1) + z(1, 1) - z(-1, -1) - 2*z(0, -1) - z(1, -1)) / (8 * f.dy)
			want := math.Log(float64(specific[i]) / max(math.Hypot(x, y), LeastFall))
			if math.Abs(float64(v)-want) > 2e-6 {
				t.Fatalf("cell %d has the wetness %g, by the definition %g", i, v, want)
			}
		}
	}
}

func TestLn(t *testing.T) {
	for x := 1e-300; x < 1e300; x *= 1.00937 {
		if want := math.Log(x); math.Abs(ln(x)-want) > 1e-13*max(math.Abs(want), 0.1) {
			t.Fatalf("ln %g is %g, not %g", x, ln(x), want)
		}
	}
	if v := ln(math.NaN()); v == v {
		t.Errorf("ln NaN is %g", v)
	}
}

// Windows that reach beyond the ground, and that start anywhere.
func TestViewWindows(t *testing.T) {
	f := shape(9, 7, 10, func(c, r int) float64 { return float64((c*5 + r*3) % 7) })
	f.Col, f.Row = -4, 3
	w := look(t, f, 3, many, hollow)
	for layer := Filled; layer <= WetnessMany; layer++ {
		if layer == GatheredOne || layer == CutOne || layer == SpecificOne || layer == WetnessOne {
			if err := w.View().Read(layer, raster.NewTile(f.Window)); err == nil {
				t.Errorf("layer %d can be read before it is worked out", layer)
			}
			continue
		}
		whole := raster.Tile{Window: f.Window, Values: values(t, w, layer)}
		for _, win := range []raster.Window{f.Grow(2), {Col: -3, Row: 4, Cols: 4, Rows: 3}, {Col: 2, Row: 8, Cols: 9, Rows: 1}, {Col: 50, Row: 50, Cols: 2, Rows: 2}} {
			got, want := raster.NewTile(win), raster.NewTile(win)
			want.FillMissing()
			want.CopyFrom(whole)
			if err := w.View().Read(layer, got); err != nil {
				t.Fatal(err)
			}
			for i, v := range want.Values {
				if g := got.Values[i]; g != v && (g == g || v == v) {
					t.Errorf("layer %d, window %+v: %g, not %g", layer, win, g, v)
				}
			}
		}
	}
	if err := w.View().Read(WetnessMany+1, raster.NewTile(f.Window)); err == nil {
		t.Error("a layer that there is not can be read")
	}
}
