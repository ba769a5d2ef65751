package look

import (
	"errors"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/airbusgeo/godal"

	"likelyground/raster/maps"
)

var remake = flag.Bool("remake", false, "write the golden texts anew")

func TestMain(m *testing.M) {
	if err := maps.Setup(0); err != nil {
		panic(err)
	}
	os.Exit(m.Run())
}

// utm is a lattice of 20 m in open sea.
var utm = [6]float64{500000, 20, 0, 6200000, 0, -20}

// fixture is a GeoTIFF to be made for a test.
type fixture struct {
	crs     string
	affine  [6]float64 // zero: utm
	cols    int        // zero: 40
	rows    int        // zero: 30
	kind    godal.DataType
	bands   int
	options []string
	nodata  *float64
	side    string // text of the side file .aux.xml
	finish  func(*godal.Dataset) error
	values  func(i int) float64 // of the i-th cell
}

func ptr(x float64) *float64 { return &x }

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func (f fixture) make(t testing.TB, name string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if f.cols == 0 {
		f.cols, f.rows = 40, 30
	}
	if f.affine == ([6]float64{}) {
		f.affine = utm
	}
	var options []godal.DatasetCreateOption
	if f.options != nil {
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
		values[i] = f.values(i)
	}
	for _, b := range ds.Bands() {
		must(t, b.Write(0, 0, values, f.cols, f.rows))
	}
	if f.finish != nil {
		must(t, f.finish(ds))
	}
	must(t, ds.Close())
	if f.side != "" {
		must(t, os.WriteFile(path+".aux.xml", []byte(f.side), 0o644))
	}
	return path
}

// geology is a GeoJSON of three fields; the translator makes other formats of
// it.
const geology = `{"type":"FeatureCollection","name":"geology","features":[
{"type":"Feature","properties":{"OBJECTID":1,"rock":"plateau sand","depth":1.5},"geometry":{"type":"Polygon","coordinates":[[[3,55.8],[3.1,55.8],[3.1,55.9],[3,55.9],[3,55.8]]]}},
{"type":"Feature","properties":{"OBJECTID":2,"rock":"plateau sand","depth":2},"geometry":{"type":"Polygon","coordinates":[[[3.1,55.8],[3.2,55.8],[3.2,55.9],[3.1,55.9],[3.1,55.8]]]}},
{"type":"Feature","properties":{"OBJECTID":3,"rock":"clay","depth":null},"geometry":{"type":"Polygon","coordinates":[[[3.2,55.8],[3.3,55.8],[3.3,55.9],[3.2,55.9],[3.2,55.8]]]}},
{"type":"Feature","properties":{"OBJECTID":4,"rock":null,"depth":0},"geometry":{"type":"Polygon","coordinates":[[[3.3,55.8],[3.4,55.8],[3.4,55.9],[3.3,55.9],[3.3,55.8]]]}}
]}`

func write(t testing.TB, name, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	must(t, os.WriteFile(path, []byte(text), 0o644))
	return path
}

// as converts a GeoJSON text to another format.
func as(t testing.TB, text, name, format string, switches ...string) string {
	t.Helper()
	quiet := godal.ErrLogger(func(ec godal.ErrorCategory, _ int, msg string) error {
		if ec < godal.CE_Failure {
			return nil
		}
		return errors.New(msg)
	})
	src, err := godal.Open(write(t, "in.geojson", text), godal.VectorOnly(), quiet)
	must(t, err)
	defer src.Close()
	path := filepath.Join(t.TempDir(), name)
	dst, err := src.VectorTranslate(path, append([]string{"-f", format}, switches...), quiet)
	must(t, err)
	must(t, dst.Close())
	return path
}

func seen(t testing.TB, path string) *Map {
	t.Helper()
	m, err := File(path)
	must(t, err)
	return m
}

// suspicions joins what a map is suspected of.
func (m *Map) suspicions() string {
	var out []string
	for _, s := range m.Suspicions {
		out = append(out, strings.TrimSpace(s.Where+" "+s.What)+" => "+s.Fix)
	}
	return strings.Join(out, "\n")
}
