package crs

import (
	"errors"
	"math"
	"testing"
)

// A second of latitude at 50 degrees is 30.89 m and one of longitude 19.92 m:
// from the radii of curvature of WGS 84 (Snyder 1987, USGS Professional Paper
// 1395, eq. 4-18 and 4-19).
func TestCellMetres(t *testing.T) {
	const second = 1. / 3600
	sin, cos := math.Sincos(50 * math.Pi / 180)
	const a, e2 = 6378137, 0.0066943799901413165
	wantHeight := a * (1 - e2) / math.Pow(1-e2*sin*sin, 1.5) * second * math.Pi / 180
	wantWidth := a * cos / math.Sqrt(1-e2*sin*sin) * second * math.Pi / 180
	for _, c := range []struct {
		crs           string
		x, y          float64
		affine        Affine
		width, height float64
	}{
		{"EPSG:4326", 3, 50, Affine{0, second, 0, 0, 0, -second}, wantWidth, wantHeight},
		{"EPSG:25831", 500000, 5500000, Affine{0, 10, 0, 0, 0, -10}, 10 / 0.9996, 10 / 0.9996},
		{"EPSG:25831", 500000, 5500000, Affine{0, 6, 8, 0, -8, 6}, 10 / 0.9996, 10 / 0.9996},
		{"EPSG:3857", 0, 8399737.889818, Affine{0, 10, 0, 0, 0, -10}, 5 / math.Sqrt(1-e2*0.75), 5 * (1 - e2) / math.Pow(1-e2*0.75, 1.5)}, // at 60 degrees, twice the ground
	} {
		w, h, err := CellMetres(c.crs, c.x, c.y, c.affine)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(w/c.width-1) > 1e-6 || math.Abs(h/c.height-1) > 1e-6 {
			t.Errorf("%s: %v × %v m, want %v × %v", c.crs, w, h, c.width, c.height)
		}
	}
	if w, h, err := CellMetres("EPSG:4326", 400, 120, Affine{0, 1, 0, 0, 0, 1}); w != 0 || h != 0 || err != nil {
		t.Errorf("beyond the pole: %v, %v, %v", w, h, err)
	}
	var refusal *Refusal
	if _, _, err := CellMetres("nonsense", 0, 0, Affine{}); !errors.As(err, &refusal) {
		t.Errorf("no CRS: %v", err)
	}
}

// The extent of EPSG:27700 in the registry that comes with PROJ 9.1: 9 W to
// 2.01 E, 49.75 N to 61.01 N.
func TestMeantFor(t *testing.T) {
	b, ok, err := MeantFor("EPSG:27700")
	if err != nil || !ok || b != (Box{-9, 49.75, 2.01, 61.01}) {
		t.Errorf("the British grid: %v, %v, %v", b, ok, err)
	}
	if b, ok, err := MeantFor("+proj=tmerc +lat_0=12 +lon_0=34 +ellps=GRS80"); ok || err != nil {
		t.Errorf("a CRS of one's own: %v, %v, %v", b, ok, err)
	}
	var refusal *Refusal
	if _, _, err := MeantFor("nonsense"); !errors.As(err, &refusal) {
		t.Errorf("no CRS: %v", err)
	}
}
