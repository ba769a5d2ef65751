package cog

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"likelyground/raster"
)

// ramp of eleven colours, all different in each part.
func rampOf(n int) [][3]byte {
	out := make([][3]byte, n)
	for i := range out {
		out[i] = [3]byte{byte(255 - 20*i), byte(10 + 13*i), byte(37 * i)}
	}
	return out
}

// shares is a surface from below 0 to above 1, with holes.
func shares(w raster.Window) raster.Tile {
	t := ground{Float32, true}.tile(0, w)
	for i, v := range t.Values {
		t.Values[i] = (v + 20) / 280
	}
	return t
}

func writtenBy(t *testing.T, l Layout, side int) []byte {
	t.Helper()
	w, err := Create(t.TempDir(), l)
	if err != nil {
		t.Fatal(err)
	}
	defer w.Close()
	e := w.Encoder()
	for row := 0; row < l.Grid.Rows; row += side {
		for col := 0; col < l.Grid.Cols; col += side {
			tile := shares(raster.Window{Col: col, Row: row, Cols: side, Rows: side}.Clip(l.Grid.Window()))
			if err := e.Put(0, tile); err != nil {
				t.Fatal(err)
			}
		}
	}
	var b bytes.Buffer
	if err := w.Finish(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// A file of colours is the ramp of the same values written as numbers, in full
// resolution and in each overview: numpy colours the one, GDAL reads both, and
// its validator of Cloud-Optimized GeoTIFFs is content.
func TestColours(t *testing.T) {
	const script = `
import sys
import numpy as np
from osgeo import gdal
from osgeo_utils.samples import validate_cloud_optimized_geotiff as validator
gdal.UseExceptions()
values, colours = gdal.Open(sys.argv[1]), gdal.Open(sys.argv[2])
ramp = np.array(eval(sys.argv[3]), np.uint8)
warnings, errors, _ = validator.validate(sys.argv[2], full_check=True)
print(warnings, errors)
bands = [colours.GetRasterBand(i + 1) for i in range(colours.RasterCount)]
print([gdal.GetColorInterpretationName(b.GetColorInterpretation()) for b in bands], [gdal.GetDataTypeName(b.DataType) for b in bands])
print(colours.GetGeoTransform() == values.GetGeoTransform(), colours.GetSpatialRef().IsSame(values.GetSpatialRef()), colours.GetMetadata("IMAGE_STRUCTURE"))
one = values.GetRasterBand(1)
for k in range(-1, one.GetOverviewCount()):
    v = (one if k < 0 else one.GetOverview(k)).ReadAsArray().astype(float)
    known = ~np.isnan(v)
    at = np.floor(np.clip(np.where(known, v, 0), 0, 1) * (len(ramp) - 1) + 0.5).astype(int)
    want = np.dstack([ramp[at], np.full(v.shape, 255, np.uint8)])
    want[~known] = 0
    got = np.dstack([(b if k < 0 else b.GetOverview(k)).ReadAsArray() for b in bands])
    print(k, v.shape == got.shape[:2], int((want != got).sum()), 0 < known.sum())
`
	dir := t.TempDir()
	for _, c := range []Compression{Deflate, Zstd} {
		nan := math.NaN()
		l := Layout{Grid: gridOf(1300, 700), Geo: utm31, Bands: bandsOf(1), Nodata: &nan, Block: 256, Compression: c}
		values := filepath.Join(dir, "values.tif")
		if err := os.WriteFile(values, writtenBy(t, l, 300), 0o644); err != nil {
			t.Fatal(err)
		}
		l.Sample, l.Nodata, l.Ramp = Colour, nil, rampOf(11)
		data := writtenBy(t, l, 256)
		if !bytes.Equal(data, writtenBy(t, l, 97)) {
			t.Error("other tiles, other bytes")
		}
		colours := filepath.Join(dir, "colours.tif")
		if err := os.WriteFile(colours, data, 0o644); err != nil {
			t.Fatal(err)
		}
		ramp := strings.NewReplacer(" ", ",").Replace(fmt.Sprint(l.Ramp))
		out, err := exec.Command(pythonWithGDAL(t), "-c", script, values, colours, ramp).CombinedOutput()
		want := "[] []\n['Red', 'Green', 'Blue', 'Alpha'] ['Byte', 'Byte', 'Byte', 'Byte']\n" +
			"True 1 {'COMPRESSION': '" + map[Compression]string{Deflate: "DEFLATE", Zstd: "ZSTD"}[c] + "', 'INTERLEAVE': 'PIXEL', 'LAYOUT': 'COG', 'PREDICTOR': '2'}\n" +
			"-1 True 0 True\n0 True 0 True\n1 True 0 True\n2 True 0 True\n"
		if err != nil || string(out) != want {
			t.Errorf("%v: %s\nwant %s", err, out, want)
		}
	}
}

func TestColoursRefused(t *testing.T) {
	good := Layout{Grid: gridOf(3, 3), Sample: Colour, Bands: bandsOf(1), Ramp: rampOf(2)}
	for want, spoil := range map[string]func(*Layout){
		"a ramp of 1 colours":         func(l *Layout) { l.Ramp = rampOf(1) },
		"one band, and no nodata":     func(l *Layout) { l.Nodata = ptr(0) },
		"has one band":                func(l *Layout) { l.Bands = bandsOf(2) },
		"goes with the sample Colour": func(l *Layout) { l.Sample, l.Nodata = Float32, nil },
	} {
		l := good
		spoil(&l)
		if w, err := Create(t.TempDir(), l); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %s", err, want)
			if err == nil {
				w.Close()
			}
		}
	}
}
