package maps

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/airbusgeo/godal"

	"likelyground/raster"
)

func TestMain(m *testing.M) {
	if err := Setup(64); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	os.Exit(m.Run())
}

// fixture describes a raster file to be made for a test.
type fixture struct {
	crs     string
	affine  [6]float64
	cols    int
	rows    int
	kind    godal.DataType // zero: Float32
	values  func(col, row int) float64
	nodata  *float64
	options []string
	bands   int
	finish  func(*testing.T, *godal.Dataset)
}

// make writes the file and returns its path.
func (f fixture) make(t testing.TB, name string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	f.write(t, path)
	return path
}

func (f fixture) write(t testing.TB, path string) {
	t.Helper()
	if f.kind == godal.Unknown {
		f.kind = godal.Float32
	}
	options := make([]godal.DatasetCreateOption, 0, 2)
	if len(f.options) > 0 {
		options = append(options, godal.CreationOption(f.options...))
	}
	ds, err := godal.Create(godal.GTiff, path, max(f.bands, 1), f.kind, f.cols, f.rows, options...)
	must(t, err)
	must(t, ds.SetGeoTransform(f.affine))
	if f.crs != "" {
		sr, err := godal.NewSpatialRef(f.crs)
		must(t, err)
		must(t, ds.SetSpatialRef(sr))
		sr.Close()
	}
	if f.nodata != nil {
		must(t, ds.SetNoData(*f.nodata))
	}
	values := make([]float64, f.cols*f.rows)
	for i := range values {
		values[i] = f.values(i%f.cols, i/f.cols)
	}
	for _, b := range ds.Bands() {
		must(t, b.Write(0, 0, values, f.cols, f.rows))
	}
	if tt, ok := t.(*testing.T); ok && f.finish != nil {
		f.finish(tt, ds)
	}
	must(t, ds.Close())
}

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func ptr(x float64) *float64 { return &x }

// open opens a map or fails the test.
func open(t testing.TB, spec RasterSpec, g raster.Grid) *Raster {
	t.Helper()
	r, err := OpenRaster(spec, g)
	must(t, err)
	return r
}

// readIn reads the window w of a map in tiles of a side.
func readIn(t testing.TB, r *Raster, w raster.Window, side int) raster.Tile {
	t.Helper()
	reader, err := r.Reader()
	must(t, err)
	all := r.tile(w)
	for row := w.Row; row < w.EndRow(); row += side {
		for col := w.Col; col < w.EndCol(); col += side {
			part := r.tile(raster.Window{Col: col, Row: row, Cols: side, Rows: side}.Clip(w))
			must(t, reader.Read(part, nil))
			all.CopyFrom(part)
		}
	}
	must(t, reader.Close())
	return all
}

// read reads the whole grid at once.
func read(t testing.TB, r *Raster) raster.Tile {
	t.Helper()
	return readIn(t, r, r.grid.Window(), 1<<20)
}

func (r *Raster) tile(w raster.Window) raster.Tile {
	if r.spec.Classes {
		return raster.NewClassTile(w)
	}
	return raster.NewTile(w)
}

// sameTile fails unless two tiles are the same to the bit.
func sameTile(t testing.TB, what string, got, want raster.Tile) {
	t.Helper()
	bad := 0
	for i := range want.Values {
		if math.Float32bits(got.Values[i]) != math.Float32bits(want.Values[i]) && !(isNaN(got.Values[i]) && isNaN(want.Values[i])) {
			if bad == 0 {
				t.Errorf("%s: cell %d,%d is %v, want %v", what, i%want.Cols, i/want.Cols, got.Values[i], want.Values[i])
			}
			bad++
		}
	}
	for i := range want.Codes {
		if got.Codes[i] != want.Codes[i] {
			if bad == 0 {
				t.Errorf("%s: cell %d,%d is %d, want %d", what, i%want.Cols, i/want.Cols, got.Codes[i], want.Codes[i])
			}
			bad++
		}
	}
	if bad > 1 {
		t.Errorf("%s: %d of %d cells differ", what, bad, want.Size())
	}
}

func isNaN(v float32) bool { return v != v }

// noise is a deterministic number in 0..1 for a cell.
func noise(col, row, seed int) float64 {
	x := uint64(col)*0x9E3779B97F4A7C15 ^ uint64(row)*0xC2B2AE3D27D4EB4F ^ uint64(seed)*0x165667B19E3779F9
	x ^= x >> 31
	x *= 0xD6E8FEB86659FD93
	x ^= x >> 32
	x *= 0xD6E8FEB86659FD93
	x ^= x >> 32
	return float64(x>>11) / (1 << 53)
}

// hills is smooth ground.
func hills(col, row int) float64 {
	x, y := float64(col), float64(row)
	return 200 + 90*math.Sin(x/17)*math.Cos(y/23) + 20*math.Sin(x/5+y/7)
}

// metricGrid is a grid in open sea, EPSG:25831.
func metricGrid(cols, rows int, cell float64) raster.Grid {
	return raster.Grid{CRS: "EPSG:25831", X0: 500000, Y0: 6200000, DX: cell, DY: cell, Cols: cols, Rows: rows}
}
