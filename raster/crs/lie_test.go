package crs

import (
	"math"
	"testing"

	"likelyground/raster"
)

// TestLie holds the convergence of meridians to closed formulas: on the
// national grid of Britain (transverse Mercator) tan γ = tan(λ - λ0) sin φ on
// the sphere, which is good to some thousandths of a degree that near the
// middle meridian; around a pole the grid's north is turned by the longitude.
// Latitudes are those of the transformation itself.
func TestLie(t *testing.T) {
	for _, c := range []struct {
		crs                 string
		x0, y0, cell        float64
		n                   int
		meridian, tolerance float64
	}{
		{"EPSG:27700", 200000, 800000, 10, 20000, -2, 0.02},
		{"EPSG:32633", 300000, 6000000, 90, 4000, 15, 0.02},
		{"EPSG:3031", -2000000, 3000000, 1000, 1000, 0, 0.05},
	} {
		l, err := NewLie(raster.Grid{CRS: c.crs, X0: c.x0, Y0: c.y0, DX: c.cell, DY: c.cell, Cols: c.n, Rows: c.n})
		if err != nil {
			t.Fatal(err)
		}
		r, err := l.Reader()
		if err != nil {
			t.Fatal(err)
		}
		defer r.Close()
		var sinLat, cosTurn, sinTurn [1]float64
		for i := -3; i < c.n; i += c.n/7 + 1 {
			for j := -5; j < c.n; j += c.n/9 + 1 {
				r.Row(i, j, sinLat[:], cosTurn[:], sinTurn[:])
				x, y := []float64{c.x0 + (float64(i)+0.5)*c.cell}, []float64{c.y0 - (float64(j)+0.5)*c.cell}
				r.g.lonLat(x, y)
				turn := math.Atan2(sinTurn[0], cosTurn[0]) * 180 / math.Pi
				s, co := math.Sincos((x[0] - c.meridian) * math.Pi / 180)
				want := math.Atan(s/co*math.Sin(y[0]*math.Pi/180)) * 180 / math.Pi
				if c.crs == "EPSG:3031" {
					want = math.Atan2(-s, co) * 180 / math.Pi
				}
				if off := math.Remainder(turn-want, 360); math.Abs(off) > c.tolerance {
					t.Errorf("%s at %.3f, %.3f: turned by %.4f, want %.4f", c.crs, x[0], y[0], turn, want)
				}
				if lat := math.Asin(sinLat[0]) * 180 / math.Pi; math.Abs(lat-y[0]) > 0.01 {
					t.Errorf("%s: latitude %.5f, want %.5f", c.crs, lat, y[0])
				}
			}
		}
	}
}

// TestLieWindows: a row is the same however it is cut.
func TestLieWindows(t *testing.T) {
	l, err := NewLie(raster.Grid{CRS: "EPSG:3035", X0: 4000000, Y0: 3000000, DX: 100, DY: 90, Cols: 900, Rows: 900})
	if err != nil {
		t.Fatal(err)
	}
	r, err := l.Reader()
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	whole, part := [3][]float64{}, [3][]float64{}
	for k := range whole {
		whole[k], part[k] = make([]float64, 900), make([]float64, 900)
	}
	for _, row := range []int{-7, 0, 127, 128, 700} {
		r.Row(-20, row, whole[0], whole[1], whole[2])
		for from := 0; from < 900; from += 37 {
			to := min(from+37, 900)
			r.Row(from-20, row, part[0][from:to], part[1][from:to], part[2][from:to])
		}
		for k := range whole {
			for i := range whole[k] {
				if whole[k][i] != part[k][i] {
					t.Fatalf("row %d, cell %d: %g and %g", row, i, whole[k][i], part[k][i])
				}
			}
		}
	}
	low, high, ok, err := l.Latitudes(raster.Window{Cols: 900, Rows: 900})
	if err != nil || !ok || !(low > 49 && low < high && high < 50.5) {
		t.Errorf("latitudes from %g to %g, %v, %v", low, high, ok, err)
	}
}
