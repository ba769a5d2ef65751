package gpkg

import (
	"bytes"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// python finds the system's Python, the one that GDAL's bindings belong to.
func python(t *testing.T) string {
	t.Helper()
	for _, p := range []string{"/usr/bin/python3", "python3"} {
		if exec.Command(p, "-c", "import osgeo_utils.samples.validate_gpkg").Run() == nil {
			return p
		}
	}
	t.Fatal("no python3 with GDAL's bindings: apt-get install python3-gdal")
	return ""
}

func square(x, y, side float64) Ring {
	return Ring{{x, y}, {x + side, y}, {x + side, y + side}, {x, y + side}}
}

func sample() []Layer {
	at := Point{500010, 4600020}
	return []Layer{
		{Name: "geology", CRS: "EPSG:25831",
			Fields: []Field{{"rock", Text}, {"code", Integer}, {"depth", Real}},
			Features: []Feature{
				{Polygons: [][]Ring{{square(0, 0, 10), square(2, 2, 3)}}, Values: []any{"grès rouge", 0, 1.5}},
				{Polygons: [][]Ring{{square(20, 0, 5)}, {square(30, 0, 5)}}, Values: []any{"", nil, 0.0}},
				{Polygons: [][]Ring{{square(50, 0, 5)}}, Values: []any{nil, int64(1) << 40, nil}},
			}},
		{Name: "camps", CRS: "EPSG:4326", Fields: []Field{{"name", Text}},
			Features: []Feature{{Point: &at, Values: []any{"one"}}}},
		{Name: "nothing yet", CRS: "EPSG:25831", Fields: []Field{{"name", Text}}},
		{Name: "o'Hara", CRS: "EPSG:25831", About: "It's\nempty", Shape: MultiPolygons, Fields: []Field{{"day", Date}}},
		{Name: "visits", CRS: "EPSG:25831", About: "To fill in", Shape: Points, Fields: []Field{{"day", Date}, {"=n", Integer}}, Features: []Feature{
			{Point: &at, Values: []any{nil, nil}}, {Point: &at, Values: []any{time.Date(2026, 9, 24, 0, 0, 0, 0, time.UTC), 3}},
		}},
	}
}

func written(t *testing.T, layers []Layer) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "out.gpkg")
	if err := Write(path, layers); err != nil {
		t.Fatal(err)
	}
	return path
}

// The validator is GDAL's own, of the OGC requirements (checks F3).
func TestValidator(t *testing.T) {
	path := written(t, sample())
	out, err := exec.Command(python(t), "-m", "osgeo_utils.samples.validate_gpkg", path).CombinedOutput()
	if err != nil {
		t.Errorf("the validator says: %v\n%s", err, out)
	}
}

// Application id and user version of GeoPackage 1.3 (checks F3).
func TestHeader(t *testing.T) {
	data, err := os.ReadFile(written(t, sample()))
	if err != nil {
		t.Fatal(err)
	}
	word := func(at int) (v int) {
		for _, b := range data[at : at+4] {
			v = v<<8 | int(b)
		}
		return v
	}
	if got := word(68); got != 1196444487 {
		t.Errorf("application_id %d", got)
	}
	if got := word(60); got != 10300 {
		t.Errorf("user_version %d", got)
	}
	if data[18] != 1 || data[19] != 1 {
		t.Errorf("journal format bytes %d %d: a write-ahead log would be left", data[18], data[19])
	}
}

func TestSameBytes(t *testing.T) {
	a, err := os.ReadFile(written(t, sample()))
	if err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(written(t, sample()))
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(a, b) {
		t.Errorf("two files of the same layers differ (%d and %d bytes)", len(a), len(b))
	}
}

func TestNothingElseIsLeft(t *testing.T) {
	path := written(t, sample())
	names, err := filepath.Glob(filepath.Join(filepath.Dir(path), "*"))
	if err != nil {
		t.Fatal(err)
	}
	hidden, err := filepath.Glob(filepath.Join(filepath.Dir(path), ".*"))
	if err != nil {
		t.Fatal(err)
	}
	if all := append(names, hidden...); len(all) != 1 || all[0] != path {
		t.Errorf("left behind: %v", all)
	}
}

// Another reader, GDAL's Python bindings, gets back what was written.
func TestReadBack(t *testing.T) {
	script := `
import sys
from osgeo import ogr
ds = ogr.Open(sys.argv[1])
for layer in ds:
    sr = layer.GetSpatialRef()
    print(layer.GetName(), sr.GetAuthorityCode(None), ogr.GeometryTypeToName(layer.GetGeomType()), layer.GetFeatureCount())
    for f in layer:
        print(f.GetFID(), [f.GetField(i) for i in range(f.GetFieldCount())], f.GetGeometryRef().ExportToWkt())
for f in ds.ExecuteSQL("SELECT description FROM gpkg_contents WHERE description <> '' ORDER BY table_name"):
    print(f.GetField(0).replace(chr(10), "|"))
`
	want := `geology 25831 Multi Polygon 3
1 ['grès rouge', 0, 1.5] MULTIPOLYGON (((0 0,10 0,10 10,0 10,0 0),(2 2,5 2,5 5,2 5,2 2)))
2 ['', None, 0.0] MULTIPOLYGON (((20 0,25 0,25 5,20 5,20 0)),((30 0,35 0,35 5,30 5,30 0)))
3 [None, 1099511627776, None] MULTIPOLYGON (((50 0,55 0,55 5,50 5,50 0)))
camps 4326 Point 1
1 ['one'] POINT (500010 4600020)
nothing yet 25831 Unknown (any) 0
o'Hara 25831 Multi Polygon 0
visits 25831 Point 2
1 [None, None] POINT (500010 4600020)
2 ['2026/09/24', 3] POINT (500010 4600020)
It's|empty
To fill in
`
	cmd := exec.Command(python(t), "-c", script, written(t, sample()))
	cmd.Env = append(os.Environ(), "PYTHONIOENCODING=utf-8")
	out, err := cmd.CombinedOutput()
	if err != nil || string(out) != want {
		t.Errorf("err %v, got\n%swant\n%s", err, out, want)
	}
}

func TestReplacesAnOlderFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "out.gpkg")
	if err := os.WriteFile(path, []byte("old"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := Write(path, sample()); err != nil {
		t.Fatal(err)
	}
	if info, err := os.Stat(path); err != nil || info.Size() < 1000 {
		t.Errorf("size %v, err %v", info.Size(), err)
	}
}

func TestRefusals(t *testing.T) {
	at := Point{1, 2}
	bad := Point{math.NaN(), 0}
	poly := [][]Ring{{square(0, 0, 1)}}
	one := func(l Layer) []Layer { return []Layer{l} }
	for name, c := range map[string]struct {
		layers []Layer
		says   string
	}{
		"no layer":      {nil, "no layer"},
		"no name":       {one(Layer{CRS: "EPSG:4326"}), "no name"},
		"no crs":        {one(Layer{Name: "a"}), "no coordinate reference system"},
		"crs nonsense":  {one(Layer{Name: "a", CRS: "rubbish"}), `"rubbish" is not understood`},
		"twice":         {[]Layer{{Name: "a", CRS: "EPSG:4326"}, {Name: "a", CRS: "EPSG:4326"}}, "two layers"},
		"reserved":      {one(Layer{Name: "a", CRS: "EPSG:4326", Fields: []Field{{"FID", Text}}}), "reserved"},
		"double field":  {one(Layer{Name: "a", CRS: "EPSG:4326", Fields: []Field{{"b", Text}, {"B", Real}}}), "taken"},
		"values":        {one(Layer{Name: "a", CRS: "EPSG:4326", Features: []Feature{{Point: &at, Values: []any{1}}}}), "1 values for 0 fields"},
		"mixed":         {one(Layer{Name: "a", CRS: "EPSG:4326", Features: []Feature{{Point: &at}, {Polygons: poly}}}), "two layers"},
		"no geometry":   {one(Layer{Name: "a", CRS: "EPSG:4326", Features: []Feature{{}}}), "neither"},
		"no ring":       {one(Layer{Name: "a", CRS: "EPSG:4326", Features: []Feature{{Polygons: [][]Ring{{}}}}}), "no ring"},
		"short ring":    {one(Layer{Name: "a", CRS: "EPSG:4326", Features: []Feature{{Polygons: [][]Ring{{{{0, 0}, {1, 1}}}}}}}), "fewer than 3"},
		"nan":           {one(Layer{Name: "a", CRS: "EPSG:4326", Features: []Feature{{Point: &bad}}}), "NaN"},
		"kind of value": {one(Layer{Name: "a", CRS: "EPSG:4326", Fields: []Field{{"b", Integer}}, Features: []Feature{{Point: &at, Values: []any{"x"}}}}), "does not fit"},
	} {
		path := filepath.Join(t.TempDir(), "out.gpkg")
		err := Write(path, c.layers)
		if err == nil || !strings.Contains(err.Error(), c.says) || !strings.Contains(err.Error(), path) {
			t.Errorf("%s: %v", name, err)
		}
		if left, _ := os.ReadDir(filepath.Dir(path)); len(left) != 0 {
			t.Errorf("%s: left behind %v", name, left)
		}
	}
}

func TestFolderMissing(t *testing.T) {
	err := Write(filepath.Join(t.TempDir(), "no", "out.gpkg"), sample())
	if err == nil {
		t.Error("writing into a missing folder succeeded")
	}
}

func BenchmarkWrite(b *testing.B) {
	l := Layer{Name: "a", CRS: "EPSG:25831", Fields: []Field{{"n", Integer}}}
	for i := range 1500 {
		l.Features = append(l.Features, Feature{Polygons: [][]Ring{{square(float64(i), 0, 1)}}, Values: []any{i}})
	}
	path := filepath.Join(b.TempDir(), "out.gpkg")
	for b.Loop() {
		if err := Write(path, []Layer{l}); err != nil {
			b.Fatal(err)
		}
	}
}
