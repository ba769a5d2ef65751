package maps

import (
	"errors"
	"math"
	"path/filepath"
	"strings"
	"testing"

	"likelyground/raster"
	"likelyground/vector/gpkg"
)

// numbered writes a layer of squares of 2 × 1 cells of 10 m, side by side,
// with a number each; nil is NULL.
func numbered(t *testing.T, values ...any) (string, raster.Grid) {
	t.Helper()
	g := raster.Grid{CRS: "EPSG:25831", X0: 500000, Y0: 6000000, DX: 10, DY: 10, Cols: 2 * len(values), Rows: 1}
	layer := gpkg.Layer{Name: "soil", CRS: g.CRS, Fields: []gpkg.Field{{Name: "ph", Kind: gpkg.Real}}}
	for i, v := range values {
		w, n := g.X0+20*float64(i), g.Y0
		ring := gpkg.Ring{{w, n}, {w, n - 10}, {w + 20, n - 10}, {w + 20, n}, {w, n}}
		layer.Features = append(layer.Features, gpkg.Feature{Polygons: [][]gpkg.Ring{{ring}}, Values: []any{v}})
	}
	file := filepath.Join(t.TempDir(), "soil.gpkg")
	if err := gpkg.Write(file, []gpkg.Layer{layer}); err != nil {
		t.Fatal(err)
	}
	return file, g
}

func readNumbers(t *testing.T, file string, g raster.Grid, how RasterSpec) ([]float32, Findings) {
	t.Helper()
	p, err := OpenPolygons(PolygonSpec{Name: "soil", File: file, Field: "ph", Numbers: &how, Scratch: t.TempDir()}, g)
	if err != nil {
		t.Fatal(err)
	}
	defer p.Close()
	r, err := p.Reader()
	if err != nil {
		t.Fatal(err)
	}
	dst := raster.NewTile(g.Window())
	if err := errors.Join(r.Read(dst, nil), r.Close()); err != nil {
		t.Fatal(err)
	}
	return dst.Values, p.Judge()
}

// TestNumbersOfPolygons takes a field of numbers as a quantity: scaled, with
// missing values of three sorts.
func TestNumbersOfPolygons(t *testing.T) {
	file, g := numbered(t, 45.0, nil, 62.5, -1.0, 120.0)
	scale := 0.1
	values, found := readNumbers(t, file, g, RasterSpec{Name: "soil", Unit: "pH", Scale: &scale, Missing: []Range{{-1, -1}}, Between: &[2]float64{3, 10}})
	want := []float64{4.5, 4.5, math.NaN(), math.NaN(), 6.25, 6.25, math.NaN(), math.NaN(), math.NaN(), math.NaN()}
	for i, v := range values {
		if float64(v) != float64(float32(want[i])) && !(v != v && math.IsNaN(want[i])) {
			t.Errorf("cell %d: %g, want %g", i, v, want[i])
		}
	}
	if found.Known != 4 || found.Missing != 6 || found.Clipped != 2 || found.Low != 4.5 || found.High != 6.25 || len(found.Problems) != 0 {
		t.Errorf("%+v", found)
	}
}

func TestOddNumbersOfPolygons(t *testing.T) {
	file, g := numbered(t, 5.5, -9999.0)
	_, found := readNumbers(t, file, g, RasterSpec{Name: "soil", Unit: "pH"})
	if len(found.Problems) != 1 || !strings.Contains(found.Problems[0].Fix, "missing: -9999") {
		t.Errorf("%v", found.Problems)
	}
	_, found = readNumbers(t, file, g, RasterSpec{Name: "soil", Unit: "pH", MissingNone: true})
	if len(found.Problems) != 0 {
		t.Errorf("insisted: %v", found.Problems)
	}
	file, g = numbered(t, 5.5, 40.0)
	_, found = readNumbers(t, file, g, RasterSpec{Name: "soil", Unit: "pH"})
	if len(found.Problems) != 1 || !strings.Contains(found.Problems[0].What, "40") {
		t.Errorf("%v", found.Problems)
	}
}
