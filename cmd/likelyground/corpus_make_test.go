package main

import (
	"bytes"
	"compress/gzip"
	"compress/zlib"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"sort"
	"strings"
	"syscall"
	"testing"

	"github.com/airbusgeo/godal"
)

// side is how many cells of 10 m the ground of a corner has, from its
// north-west corner at 500000, 6200000 of EPSG:25831, in open sea.
const side = 64

// quietly drops what GDAL says while bad maps are made.
var quietly = godal.ErrLogger(func(c godal.ErrorCategory, _ int, text string) error {
	if c < godal.CE_Failure {
		return nil
	}
	return errors.New(text)
})

// ground writes a sound map of heights, tiled and compressed.
func ground(c *corner, name string) {
	c.t.Helper()
	c.raster(name, godal.GTiff, godal.Float32, side, "TILED=YES", "BLOCKXSIZE=16", "BLOCKYSIZE=16", "COMPRESS=DEFLATE")
}

// raster writes heights from 100 m up, or the classes 1 and 2, in a format.
func (c *corner) raster(name string, driver godal.DriverName, kind godal.DataType, n int, options ...string) {
	c.t.Helper()
	ds, err := godal.Create(driver, c.path(name), 1, kind, n, n, godal.CreationOption(options...), quietly)
	c.must(err)
	c.must(ds.SetGeoTransform([6]float64{500000, 10, 0, 6200000, 0, -10}, quietly))
	sr, err := godal.NewSpatialRef("EPSG:25831")
	c.must(err)
	defer sr.Close()
	c.must(ds.SetSpatialRef(sr, quietly))
	values := make([]float32, n*n)
	for i := range values {
		values[i] = 100 + float32(i%n) + float32(i/n)/2
		if kind == godal.Byte {
			values[i] = 1 + float32(i%2)
		}
	}
	c.must(ds.Bands()[0].Write(0, 0, values, n, n, quietly))
	c.must(ds.Close(quietly))
}

// copied writes the ground in a format that GDAL only copies into.
func (c *corner) copied(name, format string, n int, switches ...string) {
	c.t.Helper()
	c.raster("copied.tif", godal.GTiff, godal.Float32, n)
	from, err := godal.Open(c.path("copied.tif"), quietly)
	c.must(err)
	defer from.Close()
	to, err := from.Translate(c.path(name), append([]string{"-of", format}, switches...), quietly)
	c.must(err)
	c.must(to.Close(quietly))
}

// goodGeoJSON is one polygon over all of the ground.
func goodGeoJSON(rock string) []byte {
	return collection(feature(rock, `{"type":"Polygon","coordinates":[[[2.99,55.92],[3.03,55.92],[3.03,55.96],[2.99,55.96],[2.99,55.92]]]}`))
}

func feature(rock, geometry string) string {
	return `{"type":"Feature","properties":{"rock":` + quoted(rock) + `},"geometry":` + geometry + `}`
}

func collection(features ...string) []byte {
	return []byte(`{"type":"FeatureCollection","features":[` + strings.Join(features, ",\n") + `]}`)
}

// vector writes the polygon over the ground in a format.
func (c *corner) vector(name, format string, switches ...string) {
	c.t.Helper()
	c.write("good.geojson", goodGeoJSON("sand"))
	from, err := godal.Open(c.path("good.geojson"), godal.VectorOnly(), quietly)
	c.must(err)
	defer from.Close()
	to, err := from.VectorTranslate(c.path(name), append([]string{"-f", format}, switches...), quietly)
	c.must(err)
	c.must(to.Close(quietly))
}

// geopackage writes one and changes it by statements of SQL.
func (c *corner) geopackage(name string, statements ...string) {
	c.t.Helper()
	c.vector(name, "GPKG", "-nln", "geology")
	const script = `
import sqlite3, sys
db = sqlite3.connect(sys.argv[1], isolation_level=None)
db.execute("PRAGMA writable_schema=ON")
for (name,) in db.execute("SELECT name FROM sqlite_master WHERE type='trigger'").fetchall():
    db.execute('DROP TRIGGER "%s"' % name)
for statement in sys.argv[2:]:
    db.executescript(statement)
db.close()
`
	out, err := exec.Command("/usr/bin/python3", append([]string{"-c", script, c.path(name)}, statements...)...).CombinedOutput()
	if err != nil {
		c.t.Fatalf("%v: %s", err, out)
	}
}

// flip changes all bits of some bytes of a file.
func (c *corner) flip(name string, at ...int) {
	c.t.Helper()
	data := readFile(c.t, c.path(name))
	for _, i := range at {
		data[i] ^= 0xff
	}
	c.write(name, data)
}

// cut keeps the given share of a file.
func (c *corner) cut(name string, share float64) {
	c.t.Helper()
	data := readFile(c.t, c.path(name))
	c.write(name, data[:int(float64(len(data))*share)])
}

func (c *corner) fifo(name string) { c.t.Helper(); c.must(syscall.Mkfifo(c.path(name), 0o666)) }

func (c *corner) link(to, name string) { c.t.Helper(); c.must(os.Symlink(to, c.path(name))) }

func (c *corner) folder(name string) { c.t.Helper(); c.must(os.MkdirAll(c.path(name), 0o777)) }

// socket makes one; the name of a socket must be short, so it is made
// elsewhere and moved.
func (c *corner) socket(name string) {
	c.t.Helper()
	dir, err := os.MkdirTemp("", "s")
	c.must(err)
	defer os.RemoveAll(dir)
	l, err := net.ListenUnix("unix", &net.UnixAddr{Name: filepath.Join(dir, "s"), Net: "unix"})
	c.must(err)
	l.SetUnlinkOnClose(false)
	c.must(l.Close())
	c.must(os.Rename(filepath.Join(dir, "s"), c.path(name)))
}

// sparse makes a file of nothing, without any disk.
func (c *corner) sparse(name string, size int64) {
	c.t.Helper()
	c.write(name, nil)
	c.must(os.Truncate(c.path(name), size))
}

func gzipped(c *corner, name string, from io.Reader) {
	file, err := os.Create(c.path(name))
	c.must(err)
	w := gzip.NewWriter(file)
	_, err = io.Copy(w, from)
	c.must(errors.Join(err, w.Close(), file.Close()))
}

// blanks is a JSON text that grows by blanks.
func blanks(size int64, end string) io.Reader {
	return io.MultiReader(strings.NewReader(`{"type":"FeatureCollection",`), io.LimitReader(spaces{}, size), strings.NewReader(end))
}

type spaces struct{}

func (spaces) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = ' '
	}
	return len(p), nil
}

// tags of a TIFF; each value is a list of SHORT, LONG, DOUBLE or bytes.
type tags map[uint16]any

// tiff lays out a TIFF of one directory over the ground of a corner; what is
// not in the tags is as in a plain grey image. data follows the header, at
// byte 8.
func tiff(t *testing.T, more tags, data []byte) []byte {
	t.Helper()
	all := tags{
		258: []uint16{8}, 259: []uint16{1}, 262: []uint16{1}, 277: []uint16{1}, 339: []uint16{1},
		33550: []float64{10, 10, 0}, 33922: []float64{0, 0, 0, 500000, 6200000, 0},
		34735: []uint16{1, 1, 0, 3, 1024, 0, 1, 1, 1025, 0, 1, 1, 3072, 0, 1, 25831},
	}
	for id, v := range more {
		all[id] = v
	}
	var ids []int
	for id := range all {
		ids = append(ids, int(id))
	}
	sort.Ints(ids)
	var file bytes.Buffer
	file.WriteString("II*\x00")
	at := 8 + len(data)
	binary.Write(&file, binary.LittleEndian, uint32(at))
	file.Write(data)
	behind := at + 2 + 12*len(ids) + 4
	var extra bytes.Buffer
	binary.Write(&file, binary.LittleEndian, uint16(len(ids)))
	for _, id := range ids {
		kind, count := uint16(0), 0
		var value bytes.Buffer
		switch v := all[uint16(id)].(type) {
		case []uint16:
			kind, count = 3, len(v)
		case []uint32:
			kind, count = 4, len(v)
		case []float64:
			kind, count = 12, len(v)
		case []byte:
			kind, count = 2, len(v)
		default:
			t.Fatalf("tag %d holds %T", id, v)
		}
		if err := binary.Write(&value, binary.LittleEndian, all[uint16(id)]); err != nil {
			t.Fatal(err)
		}
		binary.Write(&file, binary.LittleEndian, []uint16{uint16(id), kind})
		binary.Write(&file, binary.LittleEndian, uint32(count))
		if value.Len() <= 4 {
			file.Write(append(value.Bytes(), make([]byte, 4-value.Len())...))
			continue
		}
		binary.Write(&file, binary.LittleEndian, uint32(behind+extra.Len()))
		extra.Write(value.Bytes())
	}
	file.Write(make([]byte, 4))
	file.Write(extra.Bytes())
	return file.Bytes()
}

// deflated packs a number of equal bytes.
func deflated(n int64, value byte) []byte {
	var out bytes.Buffer
	w := zlib.NewWriter(&out)
	chunk := bytes.Repeat([]byte{value}, 1<<20)
	for ; n > 0; n -= int64(len(chunk)) {
		w.Write(chunk[:min(n, int64(len(chunk)))])
	}
	w.Close()
	return out.Bytes()
}

// vrt is a virtual raster over the ground of a corner.
func vrt(bands string) string {
	return fmt.Sprintf(`<VRTDataset rasterXSize="%[1]d" rasterYSize="%[1]d"><SRS>EPSG:25831</SRS>
<GeoTransform>500000, 10, 0, 6200000, 0, -10</GeoTransform>%[2]s</VRTDataset>`, side, bands)
}

func vrtBand(source string) string {
	return `<VRTRasterBand dataType="Float32" band="1"><SimpleSource>` + source + `<SourceBand>1</SourceBand></SimpleSource></VRTRasterBand>`
}

func vrtOf(attributes, name string) string {
	return vrt(vrtBand(`<SourceFilename ` + attributes + `>` + name + `</SourceFilename>`))
}

// ringText writes a ring given in metres of EPSG:25831 as GeoJSON, closed.
func ringText(ring [][2]float64) string {
	var b strings.Builder
	b.WriteString("[")
	for _, p := range append(ring, ring[0]) {
		if b.Len() > 1 {
			b.WriteString(",")
		}
		fmt.Fprintf(&b, "[%g,%g]", p[0], p[1])
	}
	b.WriteString("]")
	return b.String()
}

// metric is a GeoJSON in EPSG:25831.
func metric(rings ...[][2]float64) []byte {
	var texts []string
	for _, r := range rings {
		texts = append(texts, ringText(r))
	}
	text := string(collection(feature("sand", `{"type":"Polygon","coordinates":[`+strings.Join(texts, ",")+`]}`)))
	return []byte(strings.Replace(text, `{"type":`, `{"crs":{"type":"name","properties":{"name":"urn:ogc:def:crs:EPSG::25831"}},"type":`, 1))
}

// comb is an outline of teeth over the ground that touch the next one's foot.
func comb(n int) [][2]float64 {
	ring := [][2]float64{{499000, 6198000}}
	for i := range n / 2 {
		x := 499000 + float64(i)*4000/float64(n)
		ring = append(ring, [2]float64{x, 6201000}, [2]float64{x + 1000/float64(n), 6198000})
	}
	return ring
}

// scribble crosses itself over and over: straight lines between two sides of
// the ground.
func scribble(n int) [][2]float64 {
	ring := make([][2]float64, n)
	for i := range ring {
		a := float64(i) * float64(i) * 2.399963 // no two lines alike
		ring[i] = [2]float64{500320 + 2000*math.Cos(a), 6199680 + 2000*math.Sin(a)}
	}
	return ring
}

// coil goes round and round.
func coil(n int) [][2]float64 {
	ring := make([][2]float64, 0, n)
	for i := range n {
		k := i
		if i >= n/2 {
			k = n - 1 - i
		}
		a := float64(k) * 2 * math.Pi * 100 / float64(n)
		r := 3000*float64(k)/float64(n) + float64(2*i/n)*5
		ring = append(ring, [2]float64{500320 + r*math.Cos(a), 6199680 + r*math.Sin(a)})
	}
	return ring
}

// billionLaughs is the head of an XML text whose entity &j; is a billion
// words long.
func billionLaughs(root string) string {
	var b strings.Builder
	b.WriteString(`<?xml version="1.0"?><!DOCTYPE ` + root + ` [<!ENTITY a "laugh">`)
	for e := 'b'; e <= 'j'; e++ {
		fmt.Fprintf(&b, `<!ENTITY %c "%s">`, e, strings.Repeat(fmt.Sprintf("&%c;", e-1), 10))
	}
	b.WriteString("]>")
	return b.String()
}
