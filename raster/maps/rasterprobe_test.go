package maps

import (
	"math"
	"testing"

	"github.com/airbusgeo/godal"

	"likelyground/raster"
)

// ownNumbers makes a file of cells that each hold a number of their own: 1000 ×
// row + column, with some declared missing.
func ownNumbers(t *testing.T, crs string, affine [6]float64, cols, rows int, name string) string {
	return fixture{crs: crs, affine: affine, cols: cols, rows: rows, kind: godal.Int32, nodata: ptr(-1), values: func(col, row int) float64 {
		if (col+3*row)%11 == 5 {
			return -1
		}
		return float64(1000*row + col)
	}}.make(t, name)
}

// TestRasterProbe: a class of the grid is the number of the cell that the
// probe names, whatever the way it came.
func TestRasterProbe(t *testing.T) {
	g := raster.Grid{CRS: "EPSG:25831", X0: 500000, Y0: 6000000, DX: 10, DY: 10, Cols: 40, Rows: 30}
	for _, c := range []struct {
		name   string
		crs    string
		affine [6]float64
		how    string
		side   float64
	}{
		{"same cells", "EPSG:25831", [6]float64{499980, 10, 0, 6000020, 0, -10}, Copied, 10},
		{"larger cells", "EPSG:25831", [6]float64{499973, 25, 0, 6000031, 0, -25}, Holding, 25},
		{"south-up", "EPSG:25831", [6]float64{499973, 25, 0, 5999480, 0, 25}, Holding, 25},
		{"degrees", "EPSG:4326", [6]float64{2.999, 0.0004, 0, 54.15, 0, -0.00025}, Holding, 27},
	} {
		file := ownNumbers(t, c.crs, c.affine, 60, 50, "own.tif")
		r := open(t, RasterSpec{Name: c.name, Files: []string{file}, Classes: true}, g)
		all := read(t, r)
		known := 0
		for row := range g.Rows {
			for col := range g.Cols {
				at, err := r.Probe(col, row)
				must(t, err)
				code := all.Code(col, row)
				if at.How == Uncovered {
					if code != raster.MissingCode {
						t.Fatalf("%s: %d, %d is uncovered, but has code %d", c.name, col, row, code)
					}
					continue
				}
				known++
				if at.How != c.how || at.File != file || at.Files != 1 || at.Cells != 1 || at.Points != 1 || at.Band != 1 {
					t.Fatalf("%s: %+v", c.name, at)
				}
				if at.Missing != (code == raster.MissingCode) || !at.Missing && (int32(at.Number) != code || at.Number != float64(1000*at.Row+at.Col)) {
					t.Fatalf("%s: %d, %d has code %d, from %+v", c.name, col, row, code, at)
				}
				if math.Abs(at.Width-c.side) > 2 || math.Abs(at.Height-c.side) > 2 {
					t.Fatalf("%s: a cell is %g × %g m", c.name, at.Width, at.Height)
				}
			}
		}
		if known < 500 {
			t.Errorf("%s: only %d cells compared", c.name, known)
		}
		if f := r.Judge(); f.Known+f.Missing != int64(g.Cols*g.Rows) {
			t.Errorf("%s: the probe was counted: %+v", c.name, f)
		}
	}
}

// TestRasterProbeCounts: how many cells make a value, told by hand.
func TestRasterProbeCounts(t *testing.T) {
	g := raster.Grid{CRS: "EPSG:25831", X0: 0, Y0: 120, DX: 12, DY: 12, Cols: 10, Rows: 10}
	for _, c := range []struct {
		name    string
		cell    float64
		classes bool
		how     string
		points  int
		cells   int
	}{
		{"between four centres", 20, false, Between, 1, 4},
		{"mean of points", 4, false, MeanOf, 6, 9},
		{"most frequent", 4, true, MostOf, 6, 9},
		{"copied", 12, false, Copied, 1, 1},
	} {
		n := int(240 / c.cell)
		file := fixture{crs: g.CRS, affine: [6]float64{0, c.cell, 0, 120, 0, -c.cell}, cols: n, rows: n, kind: godal.Int16, values: func(col, row int) float64 { return 7 }}.make(t, "seven.tif")
		r := open(t, RasterSpec{Name: c.name, Files: []string{file}, Classes: c.classes}, g)
		at, err := r.Probe(5, 5)
		must(t, err)
		if at.How != c.how || at.Points != c.points || at.Cells != c.cells || at.Number != 7 || at.Missing {
			t.Errorf("%s: %+v", c.name, at)
		}
	}
}

// TestRasterProbeFiles: of overlapping files on lattices of their own, the
// first that knows the cell is named.
func TestRasterProbeFiles(t *testing.T) {
	g := raster.Grid{CRS: "EPSG:25831", X0: 0, Y0: 40, DX: 10, DY: 10, Cols: 4, Rows: 4}
	hole := func(value float64) func(col, row int) float64 {
		return func(col, row int) float64 {
			if col == 1 {
				return -9
			}
			return value
		}
	}
	first := fixture{crs: g.CRS, affine: [6]float64{0, 10, 0, 40, 0, -10}, cols: 2, rows: 4, nodata: ptr(-9), values: hole(1)}.make(t, "first.tif")
	second := fixture{crs: g.CRS, affine: [6]float64{-3, 10, 0, 40, 0, -10}, cols: 3, rows: 4, values: func(int, int) float64 { return 2 }}.make(t, "second.tif")
	r := open(t, RasterSpec{Name: "two", Files: []string{first, second}, MissingNone: true}, g)
	all := read(t, r)
	for _, c := range []struct {
		col   int
		file  string
		files int
	}{{0, first, 2}, {1, second, 2}, {2, second, 1}, {3, "", 0}} {
		at, err := r.Probe(c.col, 2)
		must(t, err)
		if at.File != c.file || at.Files != c.files || c.file != "" && float32(at.Number) != all.Value(c.col, 2) {
			t.Errorf("column %d (%g): %+v", c.col, all.Value(c.col, 2), at)
		}
	}
}
