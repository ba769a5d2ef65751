package vector

import (
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/airbusgeo/godal"
)

// things is a small map as GeoJSON: an empty text, NULLs, a 0, a feature
// without geometry, a bow-tie and a multipolygon with a hole.
const things = `{"type":"FeatureCollection","name":"things","features":[
{"type":"Feature","properties":{"rock":"","code":0,"depth":0.0},"geometry":{"type":"Polygon","coordinates":[[[0,0],[1,0],[1,1],[0,0]]]}},
{"type":"Feature","properties":{"rock":null,"code":null,"depth":null},"geometry":{"type":"Polygon","coordinates":[[[0,0],[2,2],[2,0],[0,2],[0,0]]]}},
{"type":"Feature","properties":{"rock":"sand","code":7,"depth":2.5},"geometry":null},
{"type":"Feature","properties":{"rock":"grès","code":-1,"depth":-0.5},"geometry":{"type":"MultiPolygon","coordinates":[
 [[[0,0],[9,0],[9,9],[0,9],[0,0]],[[1,1],[1,2],[2,2],[1,1]]],[[[20,0],[21,0],[21,1],[20,0]]]]}}
]}`

func file(t *testing.T, name, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// as converts a GeoJSON text to another format with the library's own
// translator.
func as(t *testing.T, text, name, format string, switches ...string) string {
	t.Helper()
	Setup()
	src, err := godal.Open(file(t, "in.geojson", text), godal.VectorOnly(), Quiet)
	if err != nil {
		t.Fatal(err)
	}
	defer src.Close()
	path := filepath.Join(t.TempDir(), name)
	dst, err := src.VectorTranslate(path, append([]string{"-f", format}, switches...), Quiet)
	if err != nil {
		t.Fatal(err)
	}
	if err := dst.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

func opened(t *testing.T, path, layer string) *Layer {
	t.Helper()
	l, err := Open(path, layer, "")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { l.Close() })
	return l
}

// told prints a layer's features the way the tests compare them.
func told(t *testing.T, l *Layer, fields ...string) (string, Counts) {
	t.Helper()
	var b strings.Builder
	counts, err := l.Each(fields, func(f *Feature) error {
		fmt.Fprintf(&b, "%d invalid=%v", f.Number, f.Invalid)
		for _, v := range f.Values {
			fmt.Fprintf(&b, " %v/%q", v.Null, v.String())
		}
		for _, p := range f.Polygons {
			b.WriteString(" |")
			for _, r := range p {
				fmt.Fprintf(&b, " %d", len(r))
			}
		}
		b.WriteString("\n")
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return b.String(), counts
}

const thingsTold = `1 invalid=false false/"" false/"0" false/"0" | 4
2 invalid=true true/"" true/"" true/"" | 5
4 invalid=false false/"grès" false/"-1" false/"-0.5" | 5 4 | 4
`

func TestFormats(t *testing.T) {
	for _, c := range []struct {
		name, path string
		fields     string
	}{
		{"GeoJSON", file(t, "a.geojson", things), "[{code whole numbers} {depth numbers} {rock text}]"},
		{"GeoPackage", as(t, things, "a.gpkg", "GPKG"), "[{code whole numbers} {depth numbers} {rock text}]"},
		{"GeoPackage, another column", as(t, things, "b.gpkg", "GPKG", "-lco", "GEOMETRY_NAME=outline"), "[{code whole numbers} {depth numbers} {rock text}]"},
		{"SQLite", as(t, things, "a.sqlite", "SQLite"), "[{code whole numbers} {depth numbers} {rock text}]"},
		{"GML", as(t, things, "a.gml", "GML"), "[{code whole numbers} {depth numbers} {gml_id text} {rock text}]"},
	} {
		l := opened(t, c.path, "")
		if got := fmt.Sprint(l.Fields); got != c.fields {
			t.Errorf("%s: fields %s", c.name, got)
		}
		got, counts := told(t, l, "rock", "code", "depth")
		want := thingsTold
		if c.name == "GML" { // an empty element is NULL there
			want = strings.Replace(want, `false/""`, `true/""`, 1)
		}
		if got != want {
			t.Errorf("%s: got\n%s", c.name, got)
		}
		if counts != (Counts{Features: 4, NullGeometry: 1, Invalid: 1}) {
			t.Errorf("%s: counts %+v", c.name, counts)
		}
		if l.Count != 4 || !strings.Contains(l.CRS, "WGS 84") {
			t.Errorf("%s: count %d, CRS %s", c.name, l.Count, l.CRS)
		}
	}
}

// A shapefile keeps no empty text; FlatGeobuf no feature without geometry
// and an order of its own.
func TestShapefile(t *testing.T) {
	l := opened(t, as(t, things, "a.shp", "ESRI Shapefile"), "a")
	got, counts := told(t, l, "rock", "code", "depth")
	if want := strings.Replace(thingsTold, `false/""`, `true/""`, 1); got != want {
		t.Errorf("got\n%s", got)
	}
	if counts.NullGeometry != 1 {
		t.Errorf("counts %+v", counts)
	}
}

func TestKML(t *testing.T) {
	l := opened(t, as(t, things, "a.kml", "LIBKML", "-where", "code IS NOT NULL"), "")
	got, counts := told(t, l, "rock", "code")
	if counts.Features != 3 || counts.NullGeometry != 1 || !strings.Contains(got, `false/"grès" false/"-1" | 5 4 | 4`) {
		t.Errorf("%+v\n%s", counts, got)
	}
}

// A folder and a format that keeps no feature without geometry.
func TestContainers(t *testing.T) {
	for _, c := range []struct {
		name, path string
		features   int
	}{
		{"file geodatabase", as(t, things, "a.gdb", "OpenFileGDB", "-nlt", "MULTIPOLYGON"), 4},
		{"FlatGeobuf", as(t, things, "a.fgb", "FlatGeobuf", "-nlt", "MULTIPOLYGON"), 3},
	} {
		l := opened(t, c.path, "")
		got, counts := told(t, l, "rock", "code")
		if counts.Features != c.features || counts.Invalid != 1 || !strings.Contains(got, `"grès" false/"-1" | 5 4 | 4`) || !strings.Contains(got, `true/"" true/"" | 5`) {
			t.Errorf("%s: %+v\n%s", c.name, counts, got)
		}
	}
}

func TestNoSideFiles(t *testing.T) {
	for _, path := range []string{as(t, things, "a.gml", "GML"), as(t, things, "a.gpkg", "GPKG"), as(t, things, "a.fgb", "FlatGeobuf")} {
		before, _ := os.ReadDir(filepath.Dir(path))
		if strings.HasSuffix(path, ".gpkg") {
			spoil(t, path, 18, 2) // write-ahead mode
			spoil(t, path, 19, 2)
		}
		l := opened(t, path, "")
		told(t, l, "rock")
		l.Close()
		if after, _ := os.ReadDir(filepath.Dir(path)); len(after) != len(before) {
			t.Errorf("%s: files beside it: before %v, after %v", path, before, after)
		}
	}
}

func spoil(t *testing.T, path string, at int64, b byte) {
	t.Helper()
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if _, err := f.WriteAt([]byte{b}, at); err != nil {
		t.Fatal(err)
	}
}

func TestExtent(t *testing.T) {
	w, s, e, n, err := opened(t, file(t, "a.geojson", things), "").Extent()
	if err != nil || w != 0 || s != 0 || e != 21 || n != 9 {
		t.Errorf("%v %v %v %v %v", w, s, e, n, err)
	}
}

func TestGeoJSONMember(t *testing.T) {
	text := strings.Replace(things, `"name":"things"`, `"crs":{"type":"name","properties":{"name":"urn:ogc:def:crs:EPSG::25831"}}`, 1)
	l := opened(t, file(t, "a.geojson", text), "")
	if !strings.Contains(l.CRS, "UTM zone 31N") || len(l.Warnings) != 1 || !strings.Contains(l.Warnings[0], "UTM zone 31N") {
		t.Errorf("CRS %s, warnings %q", l.CRS, l.Warnings)
	}
	if plain := opened(t, file(t, "a.geojson", things), ""); len(plain.Warnings) != 0 {
		t.Errorf("warnings %q", plain.Warnings)
	}
}

func TestOtherShapesAreCounted(t *testing.T) {
	text := `{"type":"FeatureCollection","features":[
{"type":"Feature","properties":{},"geometry":{"type":"Point","coordinates":[0,0]}},
{"type":"Feature","properties":{},"geometry":{"type":"GeometryCollection","geometries":[
 {"type":"LineString","coordinates":[[0,0],[1,1]]},{"type":"Polygon","coordinates":[[[0,0,5],[1,0,5],[1,1,5],[0,0,5]]]}]}}]}`
	got, counts := told(t, opened(t, file(t, "a.geojson", text), ""))
	if got != "2 invalid=false | 4\n" || counts.NotPolygons != 1 {
		t.Errorf("%q %+v", got, counts)
	}
}

func TestOldText(t *testing.T) {
	path := as(t, strings.Replace(things, "grès", "gres", 1), "a.gpkg", "GPKG")
	Setup()
	ds, err := godal.Open(path, godal.Update(), godal.VectorOnly())
	if err != nil {
		t.Fatal(err)
	}
	if _, err := ds.ExecuteSQL(`UPDATE things SET rock = CAST(X'6772E873' AS TEXT) WHERE rock = 'gres'`, Quiet); err != nil {
		t.Fatal(err)
	}
	ds.Close()
	got, counts := told(t, opened(t, path, ""), "rock")
	if !strings.Contains(got, `"grès"`) || counts.Recoded != 1 {
		t.Errorf("%s %+v", got, counts)
	}
}

// An arc of a half circle between two corners: the curve's area is known.
func TestCurves(t *testing.T) {
	path := as(t, things, "a.gpkg", "GPKG")
	Setup()
	ds, err := godal.Open(path, godal.Update(), godal.VectorOnly())
	if err != nil {
		t.Fatal(err)
	}
	sr, _ := godal.NewSpatialRef("EPSG:4326")
	layer, err := ds.CreateLayer("curved", sr, godal.GTUnknown)
	if err != nil {
		t.Fatal(err)
	}
	for _, wkt := range []string{
		"CURVEPOLYGON (COMPOUNDCURVE (CIRCULARSTRING (10 0,0 10,-10 0),(-10 0,10 0)))",
		"CURVEPOLYGON (CIRCULARSTRING (3 0,-3 0,3 0))",
		"MULTISURFACE (CURVEPOLYGON Z ((0 0 1,1 0 1,1 1 1,0 0 1)),((5 0,6 0,6 1,5 0)))",
	} {
		g, err := godal.NewGeometryFromWKT(wkt, sr)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := layer.NewFeature(g); err != nil {
			t.Fatal(err)
		}
	}
	ds.Close()
	var areas []float64
	if _, err := opened(t, path, "curved").Each(nil, func(f *Feature) error {
		sum := 0.0
		for _, p := range f.Polygons {
			sum += math.Abs(shoelace(p[0]))
		}
		areas = append(areas, sum)
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	for i, want := range []float64{50 * math.Pi, 9 * math.Pi, 1} {
		if math.Abs(areas[i]-want) > 2e-5*want {
			t.Errorf("area %d is %v, want %v", i, areas[i], want)
		}
	}
}

func shoelace(r Ring) float64 {
	sum := 0.0
	for i := 1; i < len(r); i++ {
		sum += r[i-1][0]*r[i][1] - r[i][0]*r[i-1][1]
	}
	return sum / 2
}

func TestProblems(t *testing.T) {
	two := as(t, things, "two.gpkg", "GPKG")
	Setup()
	ds, err := godal.Open(two, godal.Update(), godal.VectorOnly())
	if err != nil {
		t.Fatal(err)
	}
	sr, _ := godal.NewSpatialRef("EPSG:4326")
	for name, kind := range map[string]godal.GeometryType{"camps": godal.GTPoint, "nothing": godal.GTPolygon} {
		l, err := ds.CreateLayer(name, sr, kind)
		if err != nil {
			t.Fatal(err)
		}
		if kind == godal.GTPoint {
			p, _ := godal.NewGeometryFromWKT("POINT (1 2)", sr)
			if _, err := l.NewFeature(p); err != nil {
				t.Fatal(err)
			}
		}
	}
	ds.Close()
	shp := as(t, things, "a.shp", "ESRI Shapefile")
	noCRS := as(t, things, "n.shp", "ESRI Shapefile")
	os.Remove(strings.TrimSuffix(noCRS, ".shp") + ".prj")
	noTable := as(t, things, "m.shp", "ESRI Shapefile")
	os.Remove(strings.TrimSuffix(noTable, ".shp") + ".dbf")
	cut := func(path string, part float64) string {
		info, _ := os.Stat(path)
		os.Truncate(path, int64(float64(info.Size())*part))
		return path
	}
	cutTable := as(t, things, "c.shp", "ESRI Shapefile")
	cut(strings.TrimSuffix(cutTable, ".shp")+".dbf", 0.8)
	linked := strings.Replace(things, `"name":"things"`, `"crs":{"type":"link","properties":{"href":"http://127.0.0.1/x"}}`, 1)
	open := as(t, things, "w.gpkg", "GPKG")
	os.WriteFile(open+"-wal", []byte("x"), 0o644)

	for name, c := range map[string]struct{ path, layer, says, fix string }{
		"missing":     {filepath.Join(filepath.Dir(shp), "b.shp"), "", "no such file", `a.shp`},
		"no folder":   {"/no/such/folder/a.shp", "", "no such file", "folder"},
		"no map":      {file(t, "a.geojson", "hello"), "", "cannot be read", "damaged"},
		"which":       {two, "", "3 layers", `"camps"`},
		"misspelt":    {two, "thing", `no layer "thing"`, `did you mean "things" or "nothing"?`},
		"points":      {two, "camps", "points, not polygons", "polygons"},
		"empty":       {two, "nothing", "empty", "leave the map out"},
		"no crs":      {noCRS, "", "coordinate reference system", "crs:"},
		"no table":    {noTable, "", ".dbf", "copy all files"},
		"cut":         {cut(as(t, things, "d.shp", "ESRI Shapefile"), 0.9), "", "cut short", "again"},
		"cut table":   {cutTable, "", "cut short", "again"},
		"cut json":    {file(t, "a.geojson", things[:300]), "", "cannot be read", "damaged"},
		"cut gpkg":    {cut(as(t, things, "g.gpkg", "GPKG"), 0.3), "", "", "again"},
		"link":        {file(t, "a.geojson", linked), "", "address", "crs:"},
		"write-ahead": {open, "", "w.gpkg-wal", "close the program"},
	} {
		l, err := Open(c.path, c.layer, "")
		if err == nil {
			_, err = l.Each(nil, func(*Feature) error { return nil })
			l.Close()
		}
		var p *Problem
		if !errors.As(err, &p) || !strings.Contains(err.Error(), c.says) || !strings.Contains(p.Remedy(), c.fix) || !p.MustChange() {
			t.Errorf("%s: %v", name, err)
			if p != nil {
				t.Errorf("    remedy: %s", p.Remedy())
			}
		}
	}
}

func TestEmptyIsTold(t *testing.T) {
	_, err := Open(file(t, "a.geojson", `{"type":"FeatureCollection","features":[]}`), "", "")
	if !errors.Is(err, ErrEmpty) {
		t.Errorf("%v", err)
	}
}

func TestGivenCRS(t *testing.T) {
	l, err := Open(file(t, "a.geojson", things), "", "EPSG:25831")
	if err != nil || l.CRS != "EPSG:25831" {
		t.Errorf("%v %v", l, err)
	}
	l.Close()
}

func TestMissingField(t *testing.T) {
	l := opened(t, file(t, "a.geojson", things), "")
	_, err := l.Each([]string{"rok"}, nil)
	var p *Problem
	if !errors.As(err, &p) || !strings.Contains(p.Fix, `did you mean "rock"?`) || !strings.Contains(p.Fix, `"depth"`) {
		t.Errorf("%v", err)
	}
}

func TestErrorOfTheCallerEndsThePass(t *testing.T) {
	stop := errors.New("enough")
	l := opened(t, file(t, "a.geojson", things), "")
	counts, err := l.Each(nil, func(*Feature) error { return stop })
	if err != stop || counts.Features != 1 {
		t.Errorf("%v %+v", err, counts)
	}
}
