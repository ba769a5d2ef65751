package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/airbusgeo/godal"

	"likelyground/raster/maps"
)

// TestFlippedBytes changes a byte here and there in a small map of each
// format, cuts it off there, and asks of look and run, in this process, that
// they end in order: with an answer, or with a refusal that says what to do.
// That a flipped byte may go unseen is the format's fault: a run records the
// hash of what it read.
func TestFlippedBytes(t *testing.T) {
	if err := maps.Setup(0); err != nil {
		t.Fatal(err)
	}
	const small = 24
	for _, f := range []struct {
		file  string
		kind  mapKind
		keys  string
		step  int
		parts []string // the file that is changed, where it is not the map itself
		make  func(c *corner)
	}{
		{file: "bad.tif", step: 397, make: func(c *corner) {
			c.raster("bad.tif", godal.GTiff, godal.Float32, side, "TILED=YES", "BLOCKXSIZE=16", "BLOCKYSIZE=16", "COMPRESS=DEFLATE", "PREDICTOR=3")
		}},
		{file: "bad.tif", step: 43, make: func(c *corner) {
			c.raster("bad.tif", godal.GTiff, godal.Float32, small, "COMPRESS=LZW")
			c.cut("bad.tif", 1)
		}},
		{file: "bad.asc", keys: "crs: EPSG:25831", step: 397, make: func(c *corner) { c.copied("bad.asc", "AAIGrid", small) }},
		{file: "bad.nc", step: 397, make: func(c *corner) { c.copied("bad.nc", "netCDF", small) }},
		{file: "bad.nc", step: 797, make: func(c *corner) { c.copied("bad.nc", "netCDF", small, "-co", "FORMAT=NC4") }},
		{file: "bad.png", step: 53, make: func(c *corner) { c.copied("bad.png", "PNG", small, "-ot", "Byte") }},
		{file: "bad.jp2", step: 127, make: func(c *corner) { c.copied("bad.jp2", "JP2OpenJPEG", small, "-ot", "Byte") }},
		{file: "bad.img", step: 797, make: func(c *corner) { c.copied("bad.img", "HFA", small) }},
		{file: "bad.gpkg", kind: polygons, step: 5003, make: func(c *corner) { c.vector("bad.gpkg", "GPKG") }},
		{file: "bad.shp", kind: polygons, step: 23, make: func(c *corner) { c.vector("bad.shp", "ESRI Shapefile") }},
		{file: "bad.shp", kind: polygons, step: 31, parts: []string{"bad.dbf", "bad.shx", "bad.prj"}, make: func(c *corner) { c.vector("bad.shp", "ESRI Shapefile") }},
		{file: "bad.fgb", kind: polygons, step: 97, make: func(c *corner) { c.vector("bad.fgb", "FlatGeobuf") }},
		{file: "bad.geojson", kind: polygons, step: 29, make: func(c *corner) { c.write("bad.geojson", goodGeoJSON("sand")) }},
		{file: "bad.gml", kind: polygons, step: 23, make: func(c *corner) { c.text("bad.gml", gml("sand")) }},
		{file: "bad.kml", kind: polygons, step: 67, make: func(c *corner) { c.text("bad.kml", kml("sand")) }},
		{file: "bad.vrt", step: 53, make: func(c *corner) { c.text("bad.vrt", vrtOf(`relativeToVRT="1"`, "ground.tif")) }},
		{file: "bad.mif", kind: polygons, step: 113, make: func(c *corner) { c.vector("bad.mif", "MapInfo File") }},
	} {
		t.Run(fmt.Sprintf("%s by %d", f.file, f.step), func(t *testing.T) {
			c := newCorner(t)
			f.make(c)
			c.text("p.yaml", badMap{file: f.file, kind: f.kind, keys: f.keys}.planText())
			if f.parts == nil {
				f.parts = []string{f.file}
			}
			for _, part := range f.parts {
				sound := readFile(t, c.path(part))
				for at := 0; at < len(sound); at += f.step {
					flipped := bytes.Clone(sound)
					flipped[at] ^= 0xff
					c.trial(part, flipped, f.file, at)
					if at%(5*f.step) == 0 {
						c.trial(part, sound[:at], f.file, at)
					}
				}
				c.write(part, sound)
			}
		})
	}
}

// trial takes one changed map through look and run.
func (c *corner) trial(part string, data []byte, file string, at int) {
	c.t.Helper()
	for _, leftover := range []string{".gfs", ".aux.xml"} {
		os.Remove(c.path(file + leftover))
	}
	c.write(part, data)
	for _, args := range [][]string{{"look", c.path(file)}, {"run", c.path("p.yaml"), "-q", "--threads", "1", "--out", filepath.Join(filepath.Dir(c.inside), "out")}} {
		began := time.Now()
		var out, said bytes.Buffer
		code := Main(args, &out, &said)
		all := out.String() + said.String()
		switch {
		case code != 0 && code != 2:
			c.t.Errorf("%s with byte %d of %d: %s ends in %d:\n%s", part, at, len(data), args[0], code, all)
		case code == 2 && !strings.Contains(all, "What to do: ") && !strings.Contains(all, "; "):
			c.t.Errorf("%s with byte %d of %d: %s names no remedy:\n%s", part, at, len(data), args[0], all)
		case crash.MatchString(all):
			c.t.Errorf("%s with byte %d of %d: %s says:\n%s", part, at, len(data), args[0], all)
		}
		if took := time.Since(began); took > 10*time.Second {
			c.t.Errorf("%s with byte %d of %d: %s takes %v", part, at, len(data), args[0], took)
		}
	}
}
