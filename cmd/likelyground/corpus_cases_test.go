package main

import (
	"bytes"
	"fmt"
	"os"
	"strings"

	"github.com/airbusgeo/godal"
)

const html = "<!DOCTYPE html><html><head><title>404 Not Found</title></head><body><h1>Not Found</h1></body></html>\n"

// strangeFiles are no maps, or not what their name says.
var strangeFiles = []badMap{
	{name: "a picture called tif", file: "bad.tif", look: 0, run: 2, says: "does not say where on earth",
		lookSays: `raster \(PNG\)`, make: func(c *corner) {
			c.raster("bytes.tif", godal.GTiff, godal.Byte, side)
			from, err := godal.Open(c.path("bytes.tif"), quietly)
			c.must(err)
			defer from.Close()
			to, err := from.Translate(c.path("bad.tif"), []string{"-of", "PNG"}, quietly)
			c.must(err)
			c.must(to.Close(quietly))
			c.must(os.Remove(c.path("bad.tif.aux.xml")))
		}},
	{name: "a web page called tif", file: "bad.tif", look: 2, run: 2, says: "does not open as a raster map", lookSays: "this is no map", make: func(c *corner) { c.text("bad.tif", html) }},
	{name: "a web page called gpkg", file: "bad.gpkg", kind: polygons, look: 2, run: 2, says: "it cannot be read as a map", make: func(c *corner) { c.text("bad.gpkg", html) }},
	{name: "a web page called geojson", file: "bad.geojson", kind: polygons, look: 2, run: 2, says: "cannot be read", make: func(c *corner) { c.text("bad.geojson", html) }},
	{name: "a web page called csv", file: "bad.csv", kind: legend, run: 2, says: "bad.csv:1", make: func(c *corner) { c.text("bad.csv", html) }},
	{name: "a web page called vrt", file: "bad.vrt", look: 2, run: 2, says: "bad.vrt", make: func(c *corner) { c.text("bad.vrt", html) }},
	{name: "a program called tif", file: "bad.tif", look: 2, run: 2, says: "does not open as a raster map", lookSays: "this is no map", make: func(c *corner) { c.write("bad.tif", readFile(c.t, "/bin/sh")) }},
	{name: "an empty tif", file: "bad.tif", look: 2, run: 2, says: "does not open as a raster map", lookSays: "this is no map", make: func(c *corner) { c.text("bad.tif", "") }},
	{name: "an empty vrt", file: "bad.vrt", look: 2, run: 2, says: "bad.vrt", make: func(c *corner) { c.text("bad.vrt", "") }},
	{name: "an empty gpkg", file: "bad.gpkg", kind: polygons, look: 2, run: 2, says: "cannot be read", make: func(c *corner) { c.text("bad.gpkg", "") }},
	{name: "an empty geojson", file: "bad.geojson", kind: polygons, look: 2, run: 2, says: "cannot be read", make: func(c *corner) { c.text("bad.geojson", "") }},
	{name: "an empty shapefile", file: "bad.shp", kind: polygons, look: 2, run: 2, says: "cut short", make: func(c *corner) { c.text("bad.shp", "") }},
	{name: "an empty legend", file: "bad.csv", kind: legend, run: 2, says: "bad.csv", make: func(c *corner) { c.text("bad.csv", "") }},
	{name: "a zip of nothing", file: "bad.zip", kind: polygons, look: 2, run: 2, says: "bad.zip", make: func(c *corner) { c.text("bad.zip", "PK\x05\x06") }},
	{name: "words called kml", file: "bad.kml", kind: polygons, look: 2, run: 2, says: "bad.kml", make: func(c *corner) { c.text("bad.kml", "hello") }},
	{name: "words called gml", file: "bad.gml", kind: polygons, look: 2, run: 2, says: "bad.gml", make: func(c *corner) { c.text("bad.gml", "hello <gml>") }},
	{name: "a folder called tif", file: "bad.tif", look: 2, run: 2, says: "bad.tif", make: func(c *corner) { c.folder("bad.tif") }},
	{name: "a folder called gdb", file: "bad.gdb", kind: polygons, look: 2, run: 2, says: "bad.gdb", make: func(c *corner) { c.folder("bad.gdb") }},
	{name: "a folder called csv", file: "bad.csv", kind: legend, run: 2, says: "bad.csv", make: func(c *corner) { c.folder("bad.csv") }},
	{name: "a pipe as raster", file: "bad.tif", look: 2, run: 2, says: "a pipe or a device", make: func(c *corner) { c.fifo("bad.tif") }},
	{name: "a pipe as features", file: "bad.gpkg", kind: polygons, look: 2, run: 2, says: "a pipe or a device", make: func(c *corner) { c.fifo("bad.gpkg") }},
	{name: "a pipe as area", file: "bad.geojson", kind: outline, look: 2, run: 2, says: "a pipe or a device", make: func(c *corner) { c.fifo("bad.geojson") }},
	{name: "a pipe as legend", file: "bad.csv", kind: legend, run: 2, says: "a pipe or a device", make: func(c *corner) { c.fifo("bad.csv") }},
	{name: "a pipe beside a raster", file: "bad.tif", look: 2, run: 2, says: "a pipe or a device", make: func(c *corner) { ground(c, "bad.tif"); c.fifo("bad.tif.aux.xml") }},
	{name: "a pipe as overviews", file: "bad.tif", look: 2, run: 2, says: "a pipe or a device", make: func(c *corner) { ground(c, "bad.tif"); c.fifo("bad.tif.ovr") }},
	{name: "a pipe as world file", file: "bad.tif", look: 2, run: 2, says: "a pipe or a device", make: func(c *corner) { ground(c, "bad.tif"); c.fifo("bad.tfw") }},
	{name: "a pipe as table", file: "bad.shp", kind: polygons, look: 2, run: 2, says: "a pipe or a device", make: func(c *corner) {
		c.vector("bad.shp", "ESRI Shapefile")
		c.must(os.Remove(c.path("bad.dbf")))
		c.fifo("bad.dbf")
	}},
	{name: "a pipe in a virtual raster", file: "bad.vrt", look: 2, run: 2, says: "a pipe or a device", make: func(c *corner) { c.fifo("a.tif"); c.text("bad.vrt", vrtOf(`relativeToVRT="1"`, "a.tif")) }},
	{name: "a pipe in a folder", file: "bad.gdb", kind: polygons, look: 2, run: 2, says: "bad.gdb", make: func(c *corner) { c.folder("bad.gdb"); c.fifo("bad.gdb/a00000001.gdbtable") }},
	{name: "a socket", file: "bad.tif", look: 2, run: 2, says: "a pipe or a device", make: func(c *corner) { c.socket("bad.tif") }},
	{name: "a device without end", file: "/dev/zero", look: 2, run: 2, says: "a pipe or a device"},
	{name: "a link to a device without end", file: "bad.tif", look: 2, run: 2, says: "a pipe or a device", make: func(c *corner) { c.link("/dev/zero", "bad.tif") }},
	{name: "a device as features", file: "/dev/zero", kind: polygons, look: 2, run: 2, says: "a pipe or a device"},
	{name: "a device as legend", file: "/dev/urandom", kind: legend, run: 2, says: "a pipe or a device"},
	{name: "a link to itself", file: "bad.tif", look: 2, run: 2, says: "circle", make: func(c *corner) { c.link("bad.tif", "bad.tif") }},
	{name: "links in a circle as features", file: "bad.gpkg", kind: polygons, look: 2, run: 2, says: "circle", make: func(c *corner) { c.link("b", "bad.gpkg"); c.link("bad.gpkg", "b") }},
	{name: "links in a circle as legend", file: "bad.csv", kind: legend, run: 2, says: "circle", make: func(c *corner) { c.link("b", "bad.csv"); c.link("bad.csv", "b") }},
	{name: "links in a circle as area", file: "bad.geojson", kind: outline, look: 2, run: 2, says: "circle", make: func(c *corner) { c.link("b", "bad.geojson"); c.link("bad.geojson", "b") }},
	{name: "a hundred links", file: "bad.tif", look: 2, run: 2, says: "circle", make: func(c *corner) {
		last := "ground.tif"
		for i := range 100 {
			name := fmt.Sprintf("l%d", i)
			c.link(last, name)
			last = name
		}
		c.link(last, "bad.tif")
	}},
	{name: "a link to nowhere", file: "bad.tif", look: 2, run: 2, says: "no such file", make: func(c *corner) { c.link("gone.tif", "bad.tif") }},
	{name: "a file taken for a folder", file: "ground.tif/bad.tif", look: 2, run: 2, says: "no such file"},
	{name: "a folder linked into itself", file: "here/*.gpkg", kind: polygons, look: 2, run: 2, says: "no file matches", lookSays: "no such file", make: func(c *corner) { c.folder("here"); c.link(".", "here/here") }},
}

// damagedRasters break off or do not decode.
var damagedRasters = []badMap{
	{name: "a tenth of a tif", file: "bad.tif", look: 2, run: 2, says: "bad.tif", make: func(c *corner) { ground(c, "bad.tif"); c.cut("bad.tif", 0.1) }},
	{name: "half a tif", file: "bad.tif", look: 2, run: 2, says: "damaged or cut short", make: func(c *corner) {
		c.raster("bad.tif", godal.GTiff, godal.Float32, side)
		c.cut("bad.tif", 0.5)
	}},
	{name: "most of a tif", file: "bad.tif", look: 2, run: 2, says: "bad.tif", make: func(c *corner) { ground(c, "bad.tif"); c.cut("bad.tif", 0.9) }},
	{name: "half an ASCII grid", file: "bad.asc", keys: "crs: EPSG:25831", look: 2, run: 2, says: "damaged or cut short", make: func(c *corner) {
		c.copied("bad.asc", "AAIGrid", side)
		c.cut("bad.asc", 0.5)
	}},
	{name: "an ASCII grid of words", file: "bad.asc", keys: "crs: EPSG:25831", look: 2, run: 2, says: "bad.asc", make: func(c *corner) {
		c.text("bad.asc", "ncols 4\nnrows 4\nxllcorner 500000\nyllcorner 6199360\ncellsize 160\n"+strings.Repeat("one two three four\n", 4))
	}},
	{name: "half a netCDF", file: "bad.nc", look: 2, run: 2, says: "bad.nc", make: func(c *corner) { c.copied("bad.nc", "netCDF", side, "-co", "FORMAT=NC4"); c.cut("bad.nc", 0.5) }},
	{name: "half a PNG", file: "bad.png", look: 2, run: 2, says: "bad.png", make: func(c *corner) {
		c.copied("bad.png", "PNG", side, "-ot", "Byte")
		c.cut("bad.png", 0.5)
	}},
	{name: "infinite and no numbers", file: "bad.tif", look: 0, run: 2, says: "none of its cells there is known", lookSays: "plus infinity stands in", make: func(c *corner) {
		data := bytes.Repeat([]byte{0, 0, 0x80, 0x7f, 0, 0, 0x80, 0xff, 0, 0, 0xc0, 0x7f, 1, 0, 0x80, 0xff}, side*side/4)
		c.write("bad.tif", tiff(c.t, tags{256: []uint32{side}, 257: []uint32{side}, 258: []uint16{32}, 339: []uint16{3}, 273: []uint32{8}, 278: []uint32{side}, 279: []uint32{uint32(len(data))}}, data))
	}},
	{name: "no size of cells", file: "bad.tif", look: 0, run: 2, says: "gives its cells no size|where on earth", lookSays: "raster", make: func(c *corner) {
		data := make([]byte, side*side)
		c.write("bad.tif", tiff(c.t, tags{256: []uint32{side}, 257: []uint32{side}, 273: []uint32{8}, 278: []uint32{side}, 279: []uint32{uint32(len(data))}, 33550: []float64{0, 0, 0}}, data))
	}},
	{name: "a place that is no number", file: "bad.tif", look: 0, run: 2, says: "bad.tif", lookSays: "raster", make: func(c *corner) {
		data := make([]byte, side*side)
		c.write("bad.tif", tiff(c.t, tags{256: []uint32{side}, 257: []uint32{side}, 273: []uint32{8}, 278: []uint32{side}, 279: []uint32{uint32(len(data))}, 33922: []float64{0, 0, 0, nan, 1e308, 0}}, data))
	}},
	{name: "a place beyond the earth", file: "bad.tif", look: 0, run: 2, says: "bad.tif", lookSays: "raster", make: func(c *corner) {
		data := make([]byte, side*side)
		c.write("bad.tif", tiff(c.t, tags{256: []uint32{side}, 257: []uint32{side}, 273: []uint32{8}, 278: []uint32{side}, 279: []uint32{uint32(len(data))}, 33922: []float64{0, 0, 0, 1e300, 1e300, 0}}, data))
	}},
	{name: "a directory without end", file: "bad.tif", look: 2, run: 2, says: "bad.tif", make: func(c *corner) {
		data := tiff(c.t, tags{256: []uint32{0}, 257: []uint32{0}, 273: []uint32{8}}, nil)
		c.write("bad.tif", data)
	}},
	{name: "sixty thousand bands", file: "bad.tif", keys: "band: 1", look: 0, run: 0, lookSays: "bands", make: func(c *corner) {
		const n = 60000
		c.write("bad.tif", tiff(c.t, tags{256: []uint32{1}, 257: []uint32{1}, 33550: []float64{640, 640, 0}, 273: []uint32{8}, 278: []uint32{1}, 279: []uint32{n}, 277: []uint16{n}, 284: []uint16{1}}, bytes.Repeat([]byte{7}, n)))
	}},
}

// bombs are small and say that they are large.
var bombs = []badMap{
	{name: "a tif of a million by a million in one strip", file: "bad.tif", look: 2, run: 2, says: "bad.tif", make: func(c *corner) {
		c.write("bad.tif", tiff(c.t, tags{256: []uint32{1e6}, 257: []uint32{1e6}, 259: []uint16{8}, 273: []uint32{8}, 278: []uint32{1e6}, 279: []uint32{100}}, make([]byte, 100)))
	}},
	{name: "a tif of a million by a million in tiles that are not there", file: "bad.tif", look: 2, run: 2, says: "bad.tif", make: func(c *corner) {
		c.write("bad.tif", tiff(c.t, tags{256: []uint32{1e6}, 257: []uint32{1e6}, 259: []uint16{8}, 322: []uint32{256}, 323: []uint32{256}, 324: []uint32{8}, 325: []uint32{100}}, make([]byte, 100)))
	}},
	{name: "a tile of 400 MB", file: "bad.tif", look: 0, run: 2, says: "pieces", lookSays: "too large for a quick look", make: func(c *corner) {
		data := deflated(20000*20000, 7)
		c.write("bad.tif", tiff(c.t, tags{256: []uint32{20000}, 257: []uint32{20000}, 259: []uint16{8}, 322: []uint32{20000}, 323: []uint32{20000}, 324: []uint32{8}, 325: []uint32{uint32(len(data))}}, data))
	}},
	{name: "a strip of 400 MB as the grid", run: 0, make: func(c *corner) {
		data := deflated(20000*20000, 7)
		c.write("bad.tif", tiff(c.t, tags{256: []uint32{20000}, 257: []uint32{20000}, 259: []uint16{8}, 273: []uint32{8}, 278: []uint32{20000}, 279: []uint32{uint32(len(data))}}, data))
	}, plan: "format: 1\ngrid: {like: bad}\narea: {box: [500000, 6199900, 500100, 6200000], crs: EPSG:25831}\nmaps:\n  bad: {file: bad.tif, unit: m}\nfactors:\n  a: {from: bad, curve: {0: 0, 9: 1}}\n"},
	{name: "an ASCII grid of a million by a million", file: "bad.asc", keys: "crs: EPSG:25831", look: 2, run: 2, says: "bad.asc", make: func(c *corner) {
		c.text("bad.asc", "ncols 1000000\nnrows 1000000\nxllcorner 500000\nyllcorner 6199360\ncellsize 160\n1 2 3\n")
	}},
	{name: "a virtual raster of two thousand million by as many", file: "bad.vrt", look: 0, run: 0, lookSays: "raster", make: func(c *corner) {
		c.text("bad.vrt", strings.ReplaceAll(vrtOf(`relativeToVRT="1"`, "ground.tif"), `Size="64"`, `Size="2147483647"`))
	}},
	{name: "a virtual raster of large pieces", file: "bad.vrt", look: 0, run: 0, lookSays: "raster", make: func(c *corner) {
		c.text("bad.vrt", strings.Replace(vrtOf(`relativeToVRT="1"`, "ground.tif"), `band="1"`, `band="1" blockXSize="2000000000" blockYSize="2000000000"`, 1))
	}},
	{name: "a warp of large pieces", file: "bad.vrt", look: 0, run: 2, says: "cannot allocate", lookSays: "raster", slow: true, make: func(c *corner) {
		c.text("bad.vrt", warpedVRT("ground.tif", `<BlockXSize>200000</BlockXSize><BlockYSize>200000</BlockYSize>`))
	}},
	{name: "a raw grid that is not there", file: "bad.bil", keys: "crs: EPSG:25831", look: 2, run: 2, says: "bad.bil", make: func(c *corner) {
		c.text("bad.bil", "1234")
		c.text("bad.hdr", "NROWS 1000000\nNCOLS 1000000\nNBANDS 1\nNBITS 32\nULXMAP 500000\nULYMAP 6200000\nXDIM 10\nYDIM 10\n")
	}},
	{name: "a packed GeoJSON of 600 MB", file: "bad.geojson.gz", kind: polygons, look: 2, run: 2, says: "bad.geojson.gz", make: func(c *corner) { gzipped(c, "bad.geojson.gz", blanks(600<<20, `"features":[]}`)) }},
	{name: "a GeoJSON of 600 MB of nothing", file: "bad.geojson", kind: polygons, look: 2, run: 2, says: "bad.geojson", slow: true, make: func(c *corner) {
		c.write("bad.geojson", goodGeoJSON("sand"))
		c.must(os.Truncate(c.path("bad.geojson"), 600<<20))
	}},
	{name: "a legend of 4 GB", file: "bad.csv", kind: legend, run: 2, says: "bad.csv.*more than 4 MB", make: func(c *corner) { c.sparse("bad.csv", 4<<30) }},
}

// virtualRasters say what to read and what to do.
var virtualRasters = []badMap{
	{name: "of itself", file: "bad.vrt", look: 2, run: 2, says: "refer", make: func(c *corner) { c.text("bad.vrt", vrtOf(`relativeToVRT="1"`, "bad.vrt")) }},
	{name: "in a circle", file: "bad.vrt", look: 2, run: 2, says: "refer", make: func(c *corner) {
		c.text("bad.vrt", vrtOf(`relativeToVRT="1"`, "b.vrt"))
		c.text("b.vrt", vrtOf(`relativeToVRT="1"`, "bad.vrt"))
	}},
	{name: "of a tower", file: "bad.vrt", look: 2, run: 2, says: "too deeply", make: func(c *corner) {
		last := "ground.tif"
		for i := range 50 {
			name := fmt.Sprintf("v%d.vrt", i)
			c.text(name, vrtOf(`relativeToVRT="1"`, last))
			last = name
		}
		c.text("bad.vrt", vrtOf(`relativeToVRT="1"`, last))
	}},
	{name: "of three hundred each of three hundred", file: "bad.vrt", look: 2, run: 2, says: "would not end", make: func(c *corner) {
		for _, name := range []string{"bad.vrt", "b.vrt"} {
			of := map[string]string{"bad.vrt": "b.vrt", "b.vrt": "ground.tif"}[name]
			source := `<SimpleSource><SourceFilename relativeToVRT="1">` + of + `</SourceFilename><SourceBand>1</SourceBand></SimpleSource>`
			c.text(name, vrt(`<VRTRasterBand dataType="Float32" band="1">`+strings.Repeat(source, 300)+`</VRTRasterBand>`))
		}
	}},
	{name: "of what lies above", file: "bad.vrt", look: 2, run: 2, says: "outside its own folder", make: func(c *corner) { c.text("bad.vrt", vrtOf(`relativeToVRT="1"`, "../outside/secret.tif")) }},
	{name: "of an absolute path", file: "bad.vrt", look: 2, run: 2, says: "outside its own folder", make: func(c *corner) { c.text("bad.vrt", vrtOf(``, c.outside+"/secret.tif")) }},
	{name: "of a path relative to where one stands", file: "bad.vrt", look: 2, run: 2, says: "outside its own folder", make: func(c *corner) { c.text("bad.vrt", vrtOf(`relativeToVRT="0"`, "../outside/secret.tif")) }},
	{name: "of a link that leads out", file: "bad.vrt", look: 2, run: 2, says: "outside its own folder", make: func(c *corner) {
		c.link("../outside/secret.tif", "a.tif")
		c.text("bad.vrt", vrtOf(`relativeToVRT="1"`, "a.tif"))
	}},
	{name: "of a linked folder", file: "bad.vrt", look: 2, run: 2, says: "outside its own folder", make: func(c *corner) {
		c.link("../outside", "tiles")
		c.text("bad.vrt", vrtOf(`relativeToVRT="1"`, "tiles/secret.tif"))
	}},
	{name: "of an address", file: "bad.vrt", look: 2, run: 2, says: "outside its own folder|no such file", make: func(c *corner) { c.text("bad.vrt", vrtOf(``, "http://127.0.0.1:9/a.tif")) }},
	{name: "of an address within GDAL", file: "bad.vrt", look: 2, run: 2, says: "outside its own folder", make: func(c *corner) { c.text("bad.vrt", vrtOf(``, "/vsicurl/http://127.0.0.1:9/a.tif")) }},
	{name: "of a part of a file", file: "bad.vrt", look: 2, run: 2, says: "outside its own folder", make: func(c *corner) { c.text("bad.vrt", vrtOf(``, "/vsisubfile/0_100,"+c.outside+"/secret.tif")) }},
	{name: "of the standard input", file: "bad.vrt", look: 2, run: 2, says: "outside its own folder", make: func(c *corner) { c.text("bad.vrt", vrtOf(``, "/vsistdin/")) }},
	{name: "of a set within a file", file: "bad.vrt", look: 2, run: 2, says: "refer|no such file", make: func(c *corner) { c.text("bad.vrt", vrtOf(`relativeToVRT="1"`, "GTIFF_DIR:1:"+c.outside+"/secret.tif")) }},
	{name: "of a set within a folder named so", file: "bad.vrt", look: 2, run: 2, says: "refer|outside", make: func(c *corner) {
		c.folder("GTIFF_DIR:1:../outside")
		c.write("GTIFF_DIR:1:../outside/secret.tif", nil)
		c.folder("GTIFF_DIR:1:..")
		c.text("bad.vrt", vrtOf(``, "GTIFF_DIR:1:../outside/secret.tif"))
	}},
	{name: "of a text that is a raster", file: "bad.vrt", look: 2, run: 2, says: "refer|no such file|outside", make: func(c *corner) {
		inner := strings.NewReplacer("<", "&lt;", ">", "&gt;", `"`, "&quot;").Replace(vrtOf(``, c.outside+"/secret.tif"))
		c.text("bad.vrt", vrtOf(``, inner))
	}},
	{name: "of a list of connections", file: "bad.vrt", look: 2, run: 2, says: "refer|no such file|outside", make: func(c *corner) { c.text("bad.vrt", vrtOf(``, "vrt://"+c.outside+"/secret.tif?bands=1")) }},
	{name: "with code", file: "bad.vrt", look: 2, run: 2, says: "carries code|kind", make: func(c *corner) {
		c.text("bad.vrt", vrt(`<VRTRasterBand dataType="Float32" band="1" subClass="VRTDerivedRasterBand"><PixelFunctionType>f</PixelFunctionType><PixelFunctionLanguage>Python</PixelFunctionLanguage><PixelFunctionCode><![CDATA[
def f(*a): open("`+c.outside+`/secret.bin").read()]]></PixelFunctionCode></VRTRasterBand>`))
	}},
	{name: "with a built-in function", file: "bad.vrt", look: 2, run: 2, says: "carries code|kind", make: func(c *corner) {
		c.text("bad.vrt", vrt(`<VRTRasterBand dataType="Float32" band="1" subClass="VRTDerivedRasterBand"><PixelFunctionType>sqrt</PixelFunctionType><SimpleSource><SourceFilename relativeToVRT="1">ground.tif</SourceFilename></SimpleSource></VRTRasterBand>`))
	}},
	{name: "of raw bytes", file: "bad.vrt", look: 2, run: 2, says: "kind|raw", make: func(c *corner) {
		c.text("bad.vrt", vrt(`<VRTRasterBand dataType="Byte" band="1" subClass="VRTRawRasterBand"><SourceFilename relativeToVRT="0">`+c.outside+`/secret.bin</SourceFilename><ImageOffset>0</ImageOffset><PixelOffset>1</PixelOffset><LineOffset>64</LineOffset></VRTRasterBand>`))
	}},
	{name: "warped", file: "bad.vrt", look: 0, run: 0, lookSays: "raster", make: func(c *corner) { c.text("bad.vrt", warpedVRT("ground.tif", "")) }},
	{name: "warped from outside", file: "bad.vrt", look: 2, run: 2, says: "outside its own folder", make: func(c *corner) { c.text("bad.vrt", warpedVRT("../outside/secret.tif", "")) }},
	{name: "warped within an outline from outside", file: "bad.vrt", look: 2, run: 2, says: "outside its own folder|refers", make: func(c *corner) {
		c.text("bad.vrt", strings.Replace(warpedVRT("ground.tif", ""), "</GDALWarpOptions>", `<Cutline>POLYGON((0 0,1 0,1 1,0 0))</Cutline><Option name="CUTLINE_DS_NAME">`+c.outside+`/secret.geojson</Option></GDALWarpOptions>`, 1))
	}},
	{name: "as features", file: "bad.vrt", kind: polygons, look: 2, run: 2, says: "bad.vrt", make: func(c *corner) {
		c.text("bad.vrt", `<OGRVRTDataSource><OGRVRTLayer name="secret"><SrcDataSource>`+c.outside+`/secret.geojson</SrcDataSource></OGRVRTLayer></OGRVRTDataSource>`)
	}},
	{name: "as features under another name", file: "bad.gml", kind: polygons, look: 2, run: 2, says: "bad.gml", make: func(c *corner) {
		c.text("bad.gml", `<OGRVRTDataSource><OGRVRTLayer name="secret"><SrcDataSource>`+c.outside+`/secret.geojson</SrcDataSource></OGRVRTLayer></OGRVRTDataSource>`)
	}},
	{name: "as area", file: "bad.vrt", kind: outline, look: 2, run: 2, says: "bad.vrt", make: func(c *corner) {
		c.text("bad.vrt", `<OGRVRTDataSource><OGRVRTLayer name="secret"><SrcDataSource>`+c.outside+`/secret.geojson</SrcDataSource></OGRVRTLayer></OGRVRTDataSource>`)
	}},
	{name: "of a billion words", file: "bad.vrt", look: 2, run: 2, says: "bad.vrt", make: func(c *corner) {
		c.text("bad.vrt", billionLaughs("VRTDataset")+vrtOf(`relativeToVRT="1"`, "&j;"))
	}},
	{name: "of an entity from a file", file: "bad.vrt", look: 2, run: 2, says: "bad.vrt", make: func(c *corner) {
		c.text("bad.vrt", `<!DOCTYPE VRTDataset [<!ENTITY x SYSTEM "file://`+c.outside+`/secret.bin">]>`+strings.Replace(vrtOf(`relativeToVRT="1"`, "ground.tif"), "<SRS>", "<Metadata><MDI key=\"x\">&x;</MDI></Metadata><SRS>", 1))
	}},
	{name: "that is deep", file: "bad.vrt", look: 2, run: 2, says: "bad.vrt", make: func(c *corner) {
		c.text("bad.vrt", vrt(strings.Repeat("<a>", 100_000)+strings.Repeat("</a>", 100_000)))
	}},
	{name: "beside a raster as mask", file: "bad.tif", look: 2, run: 2, says: "outside its own folder", make: func(c *corner) {
		ground(c, "bad.tif")
		c.text("bad.tif.msk", vrtOf(``, c.outside+"/secret.tif"))
	}},
	{name: "beside a raster as overviews", file: "bad.tif", look: 2, run: 2, says: "outside its own folder", make: func(c *corner) {
		ground(c, "bad.tif")
		c.text("bad.tif.ovr", vrtOf(``, c.outside+"/secret.tif"))
	}},
	{name: "overviews named by a side file", file: "bad.tif", look: 2, run: 2, says: "its file of overviews", make: func(c *corner) {
		ground(c, "bad.tif")
		c.text("bad.tif.aux.xml", `<PAMDataset><Metadata domain="OVERVIEWS"><MDI key="OVERVIEW_FILE">`+c.outside+`/secret.tif</MDI></Metadata></PAMDataset>`)
	}},
	{name: "overviews named within a tif", file: "bad.tif", look: 2, run: 2, says: "its file of overviews", make: func(c *corner) {
		data := bytes.Repeat([]byte{7}, side*side)
		text := `<GDALMetadata><Item name="OVERVIEW_FILE" domain="OVERVIEWS">` + c.outside + "/secret.tif</Item></GDALMetadata>\x00"
		c.write("bad.tif", tiff(c.t, tags{256: []uint32{side}, 257: []uint32{side}, 273: []uint32{8}, 278: []uint32{side}, 279: []uint32{uint32(len(data))}, 42112: []byte(text)}, data))
	}},
	{name: "a side file of a billion words", file: "bad.tif", look: 0, run: 0, lookSays: "raster", make: func(c *corner) {
		ground(c, "bad.tif")
		c.text("bad.tif.aux.xml", billionLaughs("PAMDataset")+`<PAMDataset><Metadata><MDI key="x">&j;</MDI></Metadata></PAMDataset>`)
	}},
	{name: "a side file that is deep", file: "bad.tif", look: 0, run: 0, lookSays: "raster", make: func(c *corner) {
		ground(c, "bad.tif")
		c.text("bad.tif.aux.xml", `<PAMDataset>`+strings.Repeat("<a>", 100_000)+strings.Repeat("</a>", 100_000)+`</PAMDataset>`)
	}},
	{name: "a cache of another raster", file: "bad.mrf", look: 2, run: 2, says: "bad.mrf", make: func(c *corner) {
		c.text("bad.mrf", fmt.Sprintf(`<MRF_META><CachedSource><Source>%s/secret.tif</Source></CachedSource><Raster><Size x="%[2]d" y="%[2]d" c="1"/><PageSize x="64" y="64" c="1"/><DataType>Float32</DataType></Raster><GeoTags><BoundingBox minx="500000" miny="6199360" maxx="500640" maxy="6200000"/><Projection>EPSG:25831</Projection></GeoTags></MRF_META>`, c.outside, side))
	}},
	{name: "a raster whose bytes lie elsewhere", file: "bad.tif", look: 2, run: 2, says: "bad.tif", make: func(c *corner) {
		c.text("bad.tif", fmt.Sprintf(`<MRF_META><Raster><Size x="%[2]d" y="%[2]d" c="1"/><PageSize x="64" y="64" c="1"/><DataType>Byte</DataType><Compression>NONE</Compression><DataFile>%[1]s/secret.bin</DataFile><IndexFile>%[1]s/secret.bin</IndexFile></Raster></MRF_META>`, c.outside, side))
	}},
	{name: "a service on the network", file: "bad.xml", look: 2, run: 2, says: "bad.xml", make: func(c *corner) {
		c.text("bad.xml", `<GDAL_WMS><Service name="TMS"><ServerUrl>http://127.0.0.1:9/${z}/${x}/${y}.png</ServerUrl></Service><DataWindow><UpperLeftX>-20037508</UpperLeftX><UpperLeftY>20037508</UpperLeftY><LowerRightX>20037508</LowerRightX><LowerRightY>-20037508</LowerRightY><TileLevel>5</TileLevel><TileCountX>1</TileCountX><TileCountY>1</TileCountY></DataWindow></GDAL_WMS>`)
	}},
	{name: "pictures named in a KML", file: "bad.kml", look: 0, run: 2, says: "bad.kml", lookSays: "features", make: func(c *corner) {
		c.text("bad.kml", `<kml xmlns="http://www.opengis.net/kml/2.2"><Document><Region><LatLonAltBox><north>56</north><south>55.9</south><east>3.1</east><west>2.9</west></LatLonAltBox></Region><GroundOverlay><Icon><href>`+c.outside+`/secret.tif</href></Icon><LatLonBox><north>56</north><south>55.9</south><east>3.1</east><west>2.9</west></LatLonBox></GroundOverlay></Document></kml>`)
	}},
	{name: "a set named in the plan", file: "GTIFF_DIR:1:../outside/secret.tif", look: 2, run: 2, says: "no such file"},
	{name: "the standard input in the plan", file: "/vsistdin/", look: 2, run: 2, says: "is no path of a file|address|not the name of a file|no such file|online"},
	{name: "an address in the plan", file: "https://127.0.0.1:9/a.tif", look: 2, run: 2, says: "is no path of a file|address|not the name of a file|no such file|online"},
	{name: "an address within GDAL in the plan", file: "/vsicurl/https://127.0.0.1:9/a.tif", look: 2, run: 2, says: "is no path of a file|address|not the name of a file|no such file|online"},
	{name: "an address as features in the plan", file: "/vsicurl/https://127.0.0.1:9/a.gpkg", kind: polygons, look: 2, run: 2, says: "is no path of a file|address|not the name of a file|no such file|online"},
	{name: "a connection as features in the plan", file: "PG:dbname=a", kind: polygons, look: 2, run: 2, says: "no such file"},
	{name: "a text as features in the plan", file: `{"type":"FeatureCollection","features":[]}`, kind: polygons, look: 2, run: 2, says: "no file matches|no such file|too long"},
}

// warpedVRT shows a raster through a warp that changes nothing.
func warpedVRT(source, more string) string {
	return fmt.Sprintf(`<VRTDataset rasterXSize="%[1]d" rasterYSize="%[1]d" subClass="VRTWarpedDataset"><SRS>EPSG:25831</SRS>
<GeoTransform>500000, 10, 0, 6200000, 0, -10</GeoTransform>
<VRTRasterBand dataType="Float32" band="1" subClass="VRTWarpedRasterBand"/>%[3]s
<GDALWarpOptions><WarpMemoryLimit>6.71089e+07</WarpMemoryLimit><ResampleAlg>NearestNeighbour</ResampleAlg><WorkingDataType>Float32</WorkingDataType>
<SourceDataset relativeToVRT="1">%[2]s</SourceDataset>
<Transformer><GenImgProjTransformer><SrcGeoTransform>500000,10,0,6200000,0,-10</SrcGeoTransform><SrcInvGeoTransform>-50000,0.1,0,620000,0,-0.1</SrcInvGeoTransform><DstGeoTransform>500000,10,0,6200000,0,-10</DstGeoTransform><DstInvGeoTransform>-50000,0.1,0,620000,0,-0.1</DstInvGeoTransform></GenImgProjTransformer></Transformer>
<BandList><BandMapping src="1" dst="1"/></BandList></GDALWarpOptions></VRTDataset>`, side, source, more)
}
