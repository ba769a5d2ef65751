package maps

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"likelyground/raster"
)

// fielded writes squares of 2 × 2 in a row, each with the JSON of its
// properties.
func fielded(t *testing.T, properties ...string) string {
	t.Helper()
	var list []string
	for i, p := range properties {
		x := 2 * i
		list = append(list, fmt.Sprintf(`{"type":"Feature","properties":{%s},"geometry":{"type":"Polygon","coordinates":[[[%d,0],[%d,0],[%d,2],[%d,2],[%d,0]]]}}`, p, x, x+2, x+2, x, x))
	}
	path := filepath.Join(t.TempDir(), "fielded.geojson")
	must(t, os.WriteFile(path, []byte(`{"type":"FeatureCollection","features":[`+strings.Join(list, ",")+`]}`), 0o644))
	return path
}

// A field that is NULL, empty or declared missing hands on to the next.
func TestFieldElseField(t *testing.T) {
	file := fielded(t, `"a":"sand","b":"clay","c":7`, `"a":null,"b":"clay","c":8`, `"a":"  ","b":"","c":9`, `"a":"-99","b":"peat","c":1`, `"a":null,"b":null,"c":null`)
	g := plainGrid(10, 2)
	p := openDrawn(t, PolygonSpec{File: file, CRS: "EPSG:25831", Field: "a", Else: []string{"b", "c"}, Missing: []Range{{-99, -99}}}, g)
	if got := fmt.Sprint(p.Classes()); got != "[9 clay peat sand]" {
		t.Errorf("classes %s", got)
	}
	if got := picture(codesOf(t, p, g.Window(), 4), 10); got != "33110022--\n33110022--\n" {
		t.Errorf("got\n%s", got)
	}
	if f := p.Facts(); f.Unclassed != 1 {
		t.Errorf("facts %+v", f)
	}
}

// Fields of numbers alone stay numbers; as quantities they hand on too.
func TestNumberElseNumber(t *testing.T) {
	file := fielded(t, `"a":4,"b":6.5`, `"a":null,"b":7.0`, `"a":-99,"b":8.0`, `"a":0,"b":9.0`, `"a":-99,"b":-99.0`)
	g := plainGrid(10, 2)
	missing := []Range{{-99, -99}}
	p := openDrawn(t, PolygonSpec{File: file, CRS: "EPSG:25831", Field: "a", Else: []string{"b"}, Missing: missing}, g)
	if got := picture(codesOf(t, p, g.Window(), 4), 10); !p.Numeric() || got != "44778800--\n44778800--\n" {
		t.Errorf("got\n%s", got)
	}
	q := openDrawn(t, PolygonSpec{File: file, CRS: "EPSG:25831", Field: "a", Else: []string{"b"}, Numbers: &RasterSpec{Missing: missing}}, g)
	reader, err := q.Reader()
	must(t, err)
	tile := raster.NewTile(g.Window())
	must(t, reader.Read(tile, nil))
	must(t, reader.Close())
	if got := fmt.Sprint(tile.Values[:10]); got != "[4 4 7 7 8 8 0 0 NaN NaN]" {
		t.Errorf("values %s", got)
	}
	bad := PolygonSpec{File: file, CRS: "EPSG:25831", Name: "trees", Field: "a", Else: []string{"bb"}}
	if _, err := OpenPolygons(bad, g); err == nil || !strings.Contains(err.Error(), `there is no field "bb"`) {
		t.Errorf("%v", err)
	}
}
