package maps

import (
	"errors"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/airbusgeo/godal"

	"likelyground/raster"
)

func inspected(t *testing.T, path string) *Inspection {
	t.Helper()
	in, err := Inspect(path)
	must(t, err)
	return in
}

func TestInspect(t *testing.T) {
	path := fixture{crs: "EPSG:25831", affine: [6]float64{500000, 20, 0, 6200000, 0, -20}, cols: 30, rows: 20, kind: godal.Int16, nodata: ptr(-1),
		values: func(c, r int) float64 { return float64(c - 1) },
		finish: func(t *testing.T, ds *godal.Dataset) {
			must(t, ds.SetScaleOffset(0.1, 2))
		}}.make(t, "a.tif")
	in := inspected(t, path)
	b := in.Bands[0]
	switch {
	case in.Format != "GTiff" || in.Cols != 30 || in.Rows != 20 || in.BandCount != 1 || !in.Placed || in.Affine[1] != 20 || in.CRS == "":
		t.Errorf("the file: %+v", in)
	case b.Type != "Int16" || !b.Whole || b.Low != math.MinInt16 || *b.Nodata != -1 || b.Scale != 0.1 || b.Offset != 2 || b.Masked || b.Alpha || b.Palette || len(b.Names) > 0:
		t.Errorf("the band: %+v", b)
	case !b.Sample.All || b.Sample.Cells != 600 || b.Sample.Missing != 20 || len(b.Sample.Known) != 580 || b.Sample.Known[29] != 0:
		t.Errorf("the sample: %d cells, %d missing, %d known", b.Sample.Cells, b.Sample.Missing, len(b.Sample.Known))
	}
}

// A side file says what a TIFF cannot: unit, names, signed bytes.
func TestInspectSideFile(t *testing.T) {
	path := fixture{crs: "EPSG:3035", affine: [6]float64{4000000, 100, 0, 3000000, 0, -100}, cols: 4, rows: 1, kind: godal.Byte, nodata: ptr(-128),
		options: []string{"PIXELTYPE=SIGNEDBYTE"},
		values:  func(c, r int) float64 { return []float64{1, 2, 128, 255}[c] }}.make(t, "c.tif")
	must(t, os.WriteFile(path+".aux.xml", []byte(`<PAMDataset><PAMRasterBand band="1"><UnitType>m</UnitType>
<CategoryNames><Category/><Category>sea</Category><Category>fen</Category></CategoryNames></PAMRasterBand></PAMDataset>`), 0o644))
	b := inspected(t, path).Bands[0]
	if b.Type != "Int8" || !b.SignedTag || b.Unit != "m" || b.Names[1] != "sea" || b.Names[2] != "fen" || len(b.Names) != 2 {
		t.Errorf("%+v", b)
	}
	if s := b.Sample; s.Missing != 1 || len(s.Known) != 3 || s.Known[2] != -1 {
		t.Errorf("%+v: 128 is the nodata -128, 255 is -1", s)
	}
}

func TestInspectNowhere(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.png")
	plain := fixture{affine: [6]float64{0, 1, 0, 0, 0, 1}, cols: 3, rows: 2, kind: godal.Byte, bands: 3, values: func(c, r int) float64 { return 7 }}.make(t, "a.tif")
	ds, err := godal.Open(plain)
	must(t, err)
	out, err := ds.Translate(path, []string{"-of", "PNG"}, godal.ErrLogger(quiet))
	must(t, err)
	must(t, errors.Join(out.Close(), ds.Close()))
	if in := inspected(t, path); in.CRS != "" || in.BandCount != 3 || len(in.Bands) != 3 || in.Bands[2].Sample.Cells != 6 {
		t.Errorf("%+v", in)
	}
}

func TestInspectManyBands(t *testing.T) {
	path := fixture{crs: "EPSG:25831", affine: [6]float64{0, 1, 0, 0, 0, -1}, cols: 2, rows: 2, kind: godal.Byte, bands: 70, values: func(c, r int) float64 { return 1 }}.make(t, "m.tif")
	in := inspected(t, path)
	if in.BandCount != 70 || len(in.Bands) != mostInspected || in.Bands[mostSampled-1].Sample.Cells != 4 || in.Bands[mostSampled].Sample.Cells != 0 || in.Bands[mostSampled].Sample.Why == "" {
		t.Errorf("%d bands, %d told", in.BandCount, len(in.Bands))
	}
}

// A large raster is looked at in pieces, and the same ones each time.
func TestInspectSamplesALargeRaster(t *testing.T) {
	for _, options := range [][]string{{"TILED=YES", "SPARSE_OK=TRUE"}, {"SPARSE_OK=TRUE", "BLOCKYSIZE=1"}, {"TILED=YES", "BLOCKXSIZE=2048", "BLOCKYSIZE=2048", "SPARSE_OK=TRUE"}} {
		path := filepath.Join(t.TempDir(), "big.tif")
		ds, err := godal.Create(godal.GTiff, path, 1, godal.Byte, 40000, 30000, godal.CreationOption(options...))
		must(t, err)
		must(t, ds.SetGeoTransform([6]float64{0, 1, 0, 0, 0, -1}))
		must(t, ds.Close())
		s := inspected(t, path).Bands[0].Sample
		if s.All || s.Cells < sampleCells/4 || s.Cells > sampleCells {
			t.Errorf("%v: %d cells", options, s.Cells)
		}
	}
}

func TestBlockPieces(t *testing.T) {
	for _, c := range []struct{ cols, rows, width, height int }{
		{40000, 30000, 256, 256}, {40000, 30000, 40000, 1}, {5000, 5000, 5000, 5000}, {3, 400000, 1, 64}, {1201, 1201, 1201, 1}, {1 << 30, 2, 512, 512}, {7, 5, 128, 128}, {10000, 10000, 0, 0},
	} {
		pieces := blockPieces(c.cols, c.rows, c.width, c.height)
		total, all := 0, raster.Window{Cols: c.cols, Rows: c.rows}
		for i, w := range pieces {
			total += w.Size()
			if w.Empty() || !all.Holds(w) {
				t.Errorf("%+v: %+v lies outside", c, w)
			}
			for _, v := range pieces[:i] {
				if !v.Clip(w).Empty() {
					t.Errorf("%+v: %+v and %+v overlap", c, v, w)
				}
			}
		}
		if total > sampleCells || len(pieces) == 0 || len(pieces) > sampleBlocks {
			t.Errorf("%+v: %d pieces of %d cells", c, len(pieces), total)
		}
	}
}

func TestInspectProblems(t *testing.T) {
	dir := t.TempDir()
	put := func(name, text string) string {
		path := filepath.Join(dir, name)
		must(t, os.WriteFile(path, []byte(text), 0o644))
		return path
	}
	whole := fixture{crs: "EPSG:25831", affine: [6]float64{0, 1, 0, 0, 0, -1}, cols: 200, rows: 200, options: []string{"COMPRESS=DEFLATE"}, values: func(c, r int) float64 { return noise(c, r, 1) }}.make(t, "w.tif")
	bytes, err := os.ReadFile(whole)
	must(t, err)
	for path, want := range map[string]string{
		filepath.Join(dir, "none.tif"):               "no such file",
		put("text.tif", "hello"):                     "does not open as a raster",
		put("cut.tif", string(bytes[:len(bytes)/2])): "damaged",
		put("code.vrt", `<VRTDataset rasterXSize="1" rasterYSize="1"><VRTRasterBand band="1" subClass="VRTDerivedRasterBand"><PixelFunctionType>sum</PixelFunctionType></VRTRasterBand></VRTDataset>`): "virtual raster",
		"/vsicurl/http://127.0.0.1/a.tif": "not the name of a file",
	} {
		_, err := Inspect(path)
		var p *Problem
		if !errors.As(err, &p) || !strings.Contains(p.Error(), want) || p.Remedy() == "" {
			t.Errorf("%s: %v, want %q", path, err, want)
		}
	}
}

func TestInspectBlockTooLarge(t *testing.T) {
	path := filepath.Join(t.TempDir(), "bomb.tif")
	ds, err := godal.Create(godal.GTiff, path, 1, godal.Byte, 30000, 30000, godal.CreationOption("TILED=YES", "BLOCKXSIZE=30000", "BLOCKYSIZE=30000", "SPARSE_OK=TRUE"))
	if err != nil { // blocks are whole multiples of 16
		ds, err = godal.Create(godal.GTiff, path, 1, godal.Byte, 30000, 30000, godal.CreationOption("TILED=YES", "BLOCKXSIZE=16384", "BLOCKYSIZE=16384", "SPARSE_OK=TRUE"))
	}
	must(t, err)
	must(t, ds.SetGeoTransform([6]float64{0, 1, 0, 0, 0, -1}))
	must(t, ds.Close())
	if s := inspected(t, path).Bands[0].Sample; s.Cells != 0 || !strings.Contains(s.Why, "too large") {
		t.Errorf("%+v", s)
	}
}
