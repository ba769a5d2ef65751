package maps

import (
	"fmt"
	"math"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/airbusgeo/godal"

	"likelyground/raster"
)

// gdalwarp is the referee: exact transformation (-et 0), no overviews.
func gdalwarp(t *testing.T, in, method string, g raster.Grid, more ...string) []float32 {
	t.Helper()
	out := filepath.Join(t.TempDir(), "warped.tif")
	west, south, east, north := g.Bounds()
	args := []string{"-q", "-et", "0", "-ovr", "NONE", "-r", method, "-t_srs", g.CRS, "-ot", "Float32", "-dstnodata", "nan",
		"-te", f64(west), f64(south), f64(east), f64(north), "-ts", fmt.Sprint(g.Cols), fmt.Sprint(g.Rows)}
	args = append(append(args, more...), in, out)
	if text, err := exec.Command("gdalwarp", args...).CombinedOutput(); err != nil {
		t.Fatalf("gdalwarp (of the package gdal-bin) is the referee of this test: %v\n%s", err, text)
	}
	ds, err := godal.Open(out)
	must(t, err)
	defer ds.Close()
	values := make([]float32, g.Cols*g.Rows)
	must(t, ds.Bands()[0].Read(0, 0, values, g.Cols, g.Rows))
	return values
}

func f64(x float64) string { return fmt.Sprintf("%.17g", x) }

// geographic is a raster in degrees over the metric grid, cells of about
// 90 m by 60 m.
func geographic(values func(c, r int) float64) fixture {
	return fixture{crs: "EPSG:4326", affine: [6]float64{2.98, 1. / 1200, 0, 55.96, 0, -1. / 1200}, cols: 300, rows: 200, values: values}
}

// Bilinear between CRSs against gdalwarp -et 0 with fixed scales, on cells
// whose neighbours are all inside the map. The contract allows positions to be
// 1/1000 of a grid cell off; on ground of at most 0.25 m a metre a tenth of
// that is asked for.
func TestBilinearAgainstGdalwarp(t *testing.T) {
	for _, cell := range []float64{10, 25, 50} {
		path := geographic(hills).make(t, "dem.tif")
		g := metricGrid(int(4000/cell), int(3000/cell), cell)
		r := open(t, RasterSpec{Files: []string{path}}, g)
		got := read(t, r)
		want := gdalwarp(t, path, "bilinear", g, "-wo", "XSCALE=1", "-wo", "YSCALE=1")
		known, worst := 0, 0.0
		for i, v := range got.Values {
			if isNaN(v) != isNaN(want[i]) {
				t.Fatalf("cell %g m: cell %d,%d: %v, gdalwarp says %v", cell, i%g.Cols, i/g.Cols, v, want[i])
			}
			if !isNaN(v) {
				known++
				worst = max(worst, math.Abs(float64(v)-float64(want[i])))
			}
		}
		if known < g.Cols*g.Rows/2 {
			t.Fatalf("only %d cells are known: the test looks at nothing", known)
		}
		if worst > 0.25*1e-4*cell {
			t.Errorf("cell %g m: %g off gdalwarp at worst, over %d cells", cell, worst, known)
		}
		t.Logf("cell %g m, ratio %g: at most %.2g off over %d cells", cell, r.Facts()[0].Ratio, worst, known)
	}
}

// Classes are those of the source cell that holds the centre: gdalwarp's
// nearest neighbour.
func TestClassesAgainstGdalwarp(t *testing.T) {
	f := fixture{crs: "EPSG:3035", affine: [6]float64{3880000, 100, 0, 3680000, 0, -100}, cols: 300, rows: 300, kind: godal.Byte,
		values: func(c, r int) float64 { return float64(1 + (c/3+r/2*7)%44) }}
	path := f.make(t, "cover.tif")
	g := metricGrid(500, 400, 25)
	got := read(t, open(t, RasterSpec{Files: []string{path}, Classes: true}, g))
	want := gdalwarp(t, path, "near", g)
	known, differ := 0, 0
	for i, c := range got.Codes {
		w := raster.MissingCode
		if !isNaN(want[i]) && want[i] != 0 {
			w = int32(want[i])
		}
		if c != raster.MissingCode {
			known++
		}
		if c != w {
			differ++
		}
	}
	if known < len(want)/2 {
		t.Fatalf("only %d of %d cells are known: the test looks at nothing", known, len(want))
	}
	if differ > 2 {
		t.Errorf("%d of %d classes differ from gdalwarp", differ, len(want))
	}
}
