package maps

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"likelyground/raster"
	"likelyground/vector"
)

// shaped is a feature of a test map: a geometry as GeoJSON writes it, and the
// JSON of its class.
type shaped struct{ geometry, class string }

func shapedMap(t testing.TB, features []shaped) string {
	t.Helper()
	var list []string
	for _, f := range features {
		list = append(list, fmt.Sprintf(`{"type":"Feature","properties":{"class":%s},"geometry":%s}`, f.class, f.geometry))
	}
	path := filepath.Join(t.TempDir(), "shaped.geojson")
	must(t, os.WriteFile(path, []byte(`{"type":"FeatureCollection","features":[`+strings.Join(list, ",\n")+`]}`), 0o644))
	return path
}

func pointAt(x, y float64) string { return fmt.Sprintf(`{"type":"Point","coordinates":[%v,%v]}`, x, y) }

func lineAlong(at ...vector.Point) string {
	text, err := json.Marshal(at)
	if err != nil {
		panic(err)
	}
	return fmt.Sprintf(`{"type":"LineString","coordinates":%s}`, text)
}

// A disc of 25 m on cells of 5 m, drawn by hand: 7-24-25 and 15-20-25 put
// centres on its very rim, which belong to it.
func TestRimOfAPoint(t *testing.T) {
	g := raster.Grid{CRS: "EPSG:25831", X0: 0, Y0: 60, DX: 5, DY: 5, Cols: 12, Rows: 12}
	p := openDrawn(t, PolygonSpec{File: shapedMap(t, []shaped{{pointAt(27.5, 32.5), "1"}}), CRS: "EPSG:25831", Radius: 25}, g)
	want := `-----1------
--1111111---
-111111111--
-111111111--
-111111111--
11111111111-
-111111111--
-111111111--
-111111111--
--1111111---
-----1------
------------
`
	if got := picture(codesOf(t, p, g.Window(), 5), 12); got != want {
		t.Errorf("got\n%swant\n%s", got, want)
	}
	near := openDrawn(t, PolygonSpec{File: shapedMap(t, []shaped{{pointAt(27.5, 32.5), "1"}}), CRS: "EPSG:25831", Radius: 24.999}, g)
	if got := strings.Count(picture(codesOf(t, near, g.Window(), 5), 12), "1"); got != strings.Count(want, "1")-12 {
		t.Errorf("a radius just short covers %d cells", got)
	}
}

// On cells that are no squares the radius stays one of metres.
func TestRadiusOnOblongCells(t *testing.T) {
	g := raster.Grid{CRS: "EPSG:25831", X0: 0, Y0: 50, DX: 10, DY: 5, Cols: 6, Rows: 10}
	p := openDrawn(t, PolygonSpec{File: shapedMap(t, []shaped{{pointAt(25, 27.5), "1"}}), CRS: "EPSG:25831", Radius: 15}, g)
	want := "------\n--1---\n-111--\n-111--\n-111--\n-111--\n-111--\n--1---\n------\n------\n"
	if got := picture(codesOf(t, p, g.Window(), 10), 6); got != want {
		t.Errorf("got\n%swant\n%s", got, want)
	}
}

// A line's ends are round, and a line of one place is a disc.
func TestEndsOfALine(t *testing.T) {
	p := openDrawn(t, PolygonSpec{File: shapedMap(t, []shaped{{lineAlong(vector.Point{2.5, 2.5}, vector.Point{6.5, 2.5}), "1"}, {lineAlong(vector.Point{8.5, 1.5}, vector.Point{8.5, 1.5}), "2"}}), CRS: "EPSG:25831", Width: 2}, plainGrid(10, 5))
	want := "----------\n--11111---\n-11111112-\n--11111222\n--------2-\n"
	if got := picture(codesOf(t, p, p.grid.Window(), 4), 10); got != want {
		t.Errorf("got\n%swant\n%s", got, want)
	}
}

// wander draws shapes at random: points, lines of many pieces, collections and
// polygons among them.
func wander(seed uint64, n int, box [4]float64) []shaped {
	r := rand.New(rand.NewPCG(seed, 9))
	place := func() vector.Point {
		return vector.Point{box[0] + r.Float64()*(box[2]-box[0]), box[1] + r.Float64()*(box[3]-box[1])}
	}
	step := (box[2] - box[0]) / 8
	path := func() string {
		at := place()
		line := []vector.Point{at}
		for range 1 + r.IntN(8) {
			at = vector.Point{at[0] + step*(r.Float64()-0.5), at[1] + step*(r.Float64()-0.5)}
			line = append(line, at)
		}
		return lineAlong(line...)
	}
	var out []shaped
	for i := range n {
		a := place()
		geometry := pointAt(a[0], a[1])
		switch i % 5 {
		case 1, 2:
			geometry = path()
		case 3:
			geometry = fmt.Sprintf(`{"type":"GeometryCollection","geometries":[%s,%s]}`, geometry, path())
		case 4:
			ring, err := json.Marshal([]vector.Ring{boxRing(a[0], a[1], a[0]+step/2, a[1]+step/3)})
			if err != nil {
				panic(err)
			}
			geometry = fmt.Sprintf(`{"type":"Polygon","coordinates":%s}`, ring)
		}
		out = append(out, shaped{geometry, fmt.Sprint(1 + i)})
	}
	return out
}

// geos asks GEOS, through GDAL's Python, which feature is the last within its
// reach of each cell centre, and how near any feature's rim comes to it: the
// distance of a centre to a shape, after a change of coordinates.
func geos(t *testing.T, file, from string, g raster.Grid, radius, width float64) (codes []int, margins []float64) {
	t.Helper()
	const referee = `
import sys, json
from osgeo import ogr, osr
osr.UseExceptions(); ogr.UseExceptions()
file, src, dst, radius, width, x0, y0, dx, dy, cols, rows = sys.argv[1:]
radius, width, x0, y0, dx, dy, cols, rows = float(radius), float(width), float(x0), float(y0), float(dx), float(dy), int(cols), int(rows)
a, b = osr.SpatialReference(), osr.SpatialReference()
a.SetFromUserInput(src); b.SetFromUserInput(dst)
for s in (a, b): s.SetAxisMappingStrategy(osr.OAMS_TRADITIONAL_GIS_ORDER)
change = osr.CoordinateTransformation(a, b)
def parts(g):
    if g.GetGeometryCount() and g.GetGeometryType() != ogr.wkbPolygon:
        for i in range(g.GetGeometryCount()): yield from parts(g.GetGeometryRef(i))
    else: yield g.Clone()
shapes = []
source = ogr.Open(file) # a layer does not outlive it
for f in source.GetLayer():
    for g in parts(f.geometry()):
        reach = {ogr.wkbPoint: radius, ogr.wkbLineString: width / 2}.get(g.GetGeometryType(), 0)
        if src != dst:
            g.Segmentize(0.00002 if a.IsGeographic() else 5); g.Transform(change)
        shapes.append((f["class"], reach, g, g.GetEnvelope()))
codes, margins = [], []
for row in range(rows):
    for col in range(cols):
        x, y = x0 + (col + .5) * dx, y0 - (row + .5) * dy
        p = ogr.CreateGeometryFromWkt("POINT (%r %r)" % (x, y))
        code, margin = 0, 1e9
        for c, reach, g, e in shapes:
            gap = max(e[0] - x, x - e[1], e[2] - y, y - e[3], 0) - reach
            if gap > 5 * dx: continue
            d = p.Distance(g)
            if g.GetGeometryType() == ogr.wkbPolygon: margin = min(margin, p.Distance(g.Boundary()))
            else: margin = min(margin, abs(d - reach))
            if d <= reach: code = c
        codes.append(code); margins.append(margin)
print(json.dumps([codes, margins]))`
	args := []string{"-c", referee, file, from, g.CRS, fmt.Sprint(radius), fmt.Sprint(width), f64(g.X0), f64(g.Y0), f64(g.DX), f64(g.DY), fmt.Sprint(g.Cols), fmt.Sprint(g.Rows)}
	out, err := exec.Command("/usr/bin/python3", args...).Output()
	must(t, err)
	var both [2][]float64
	must(t, json.Unmarshal(out, &both))
	for _, c := range both[0] {
		codes = append(codes, int(c))
	}
	return codes, both[1]
}

// GEOS is the referee: a cell is covered when its centre is no farther from
// the shape than the radius or half the width. Cells whose centre lies within
// a thousandth of a cell of a rim are passed over where coordinates change.
func TestRoundAgainstGEOS(t *testing.T) {
	for _, c := range []struct {
		crs    string
		box    [4]float64
		g      raster.Grid
		margin float64
	}{
		{"EPSG:25831", [4]float64{500000, 5700000, 500800, 5700600}, raster.Grid{CRS: "EPSG:25831", X0: 500000, Y0: 5700600, DX: 10, DY: 10, Cols: 80, Rows: 60}, 1e-5},
		{"EPSG:25831", [4]float64{500000, 5700000, 500800, 5700600}, raster.Grid{CRS: "EPSG:25831", X0: 500100, Y0: 5700500, DX: 7, DY: 13, Cols: 80, Rows: 30}, 1e-5},
		{"EPSG:4326", [4]float64{3.0, 51.45, 3.012, 51.456}, raster.Grid{CRS: "EPSG:25831", X0: 500000, Y0: 5700300, DX: 10, DY: 10, Cols: 84, Rows: 66}, 0.01},
	} {
		const radius, width = 25, 14
		file := shapedMap(t, wander(uint64(c.g.Cols+c.g.Rows), 60, c.box))
		p := openDrawn(t, PolygonSpec{File: file, CRS: c.crs, Radius: radius, Width: width}, c.g)
		got := codesOf(t, p, c.g.Window(), 17)
		want, margins := geos(t, file, c.crs, c.g, radius, width)
		covered, passed := 0, 0
		for i, code := range got {
			if margins[i] < c.margin {
				passed++
				continue
			}
			if code == raster.MissingCode {
				code = 0
			} else {
				covered++
			}
			if int(code) != want[i] {
				t.Errorf("%s to cells of %g: cell %d, %d is %d, want %d (%g m from a rim)", c.crs, c.g.DX, i%c.g.Cols, i/c.g.Cols, code, want[i], margins[i])
			}
		}
		if covered < 500 || passed > 20 {
			t.Errorf("%s: %d covered, %d passed over", c.crs, covered, passed)
		}
		if f := p.Facts(); f.NotPolygons != 0 || f.Radius != radius || f.Width != width {
			t.Errorf("facts %+v", f)
		}
	}
}

// A long line with a great width holds no more in memory than it covers, and
// gives what its pieces one by one give.
func TestSwathJoinsAsItGoes(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 5))
	var s swath
	s.dx, s.dy = 10, 10
	w := raster.Window{Col: -20, Row: -20, Cols: 340, Rows: 240}
	s.begin(w)
	at := vector.Point{150, 100}
	covered := make([]bool, w.Size())
	most := 0
	for range 3000 {
		to := vector.Point{min(max(at[0]+r.Float64()*8-4, 0), 300), min(max(at[1]+r.Float64()*8-4, 0), 200)}
		s.piece(at, to, 120)
		most = max(most, len(s.spans))
		for row := int(min(at[1], to[1])) - 14; row < int(max(at[1], to[1]))+14; row++ {
			for col := int(min(at[0], to[0])) - 14; col < int(max(at[0], to[0]))+14; col++ {
				if w.Holds(raster.Window{Col: col, Row: row, Cols: 1, Rows: 1}) && distanceTo(vector.Point{float64(col) + 0.5, float64(row) + 0.5}, at, to) <= 12 {
					covered[(row-w.Row)*w.Cols+col-w.Col] = true
				}
			}
		}
		at = to
	}
	if most > 1<<16+1000+2*w.Size() {
		t.Errorf("it held %d spans", most)
	}
	s.join()
	got := make([]bool, w.Size())
	for _, x := range s.spans {
		for col := x.from; col < x.to; col++ {
			got[(int(x.row)-w.Row)*w.Cols+int(col)-w.Col] = true
		}
	}
	if !slices.Equal(got, covered) {
		t.Error("the cells differ from those of the pieces one by one")
	}
}

// distanceTo is the distance of a place to a straight piece.
func distanceTo(p, a, b vector.Point) float64 {
	dx, dy := b[0]-a[0], b[1]-a[1]
	t := 0.0
	if long := dx*dx + dy*dy; long > 0 {
		t = min(max(((p[0]-a[0])*dx+(p[1]-a[1])*dy)/long, 0), 1)
	}
	return math.Hypot(p[0]-a[0]-t*dx, p[1]-a[1]-t*dy)
}

// Lines and points are cut off far from the grid, and what is near stays.
func TestLineAcrossTheWorld(t *testing.T) {
	g := raster.Grid{CRS: "EPSG:25831", X0: 500000, Y0: 5700300, DX: 10, DY: 10, Cols: 60, Rows: 40}
	long := shapedMap(t, []shaped{{lineAlong(vector.Point{-170, -60}, vector.Point{3.004, 51.4515}, vector.Point{3.004, 51.5}, vector.Point{150, 51.5}), "1"}, {pointAt(-120, -80), "2"}})
	near := shapedMap(t, []shaped{{lineAlong(vector.Point{3.004, 51.4515}, vector.Point{3.004, 51.5}), "1"}})
	a := codesOf(t, openDrawn(t, PolygonSpec{File: long, Radius: 30, Width: 50}, g), g.Window(), 64)
	b := codesOf(t, openDrawn(t, PolygonSpec{File: near, Width: 50}, g), g.Window(), 64)
	more := 0
	for i := range a {
		if b[i] == 0+1 && a[i] != 1 {
			t.Fatalf("cell %d is lost", i)
		}
		if a[i] == 1 {
			more++
		}
	}
	if count := strings.Count(picture(b, g.Cols), "1"); count < 100 || more <= count {
		t.Errorf("%d cells near, %d in all", count, more)
	}
}

// Tiles of any side, and a window beyond the grid, show the same ground.
func TestRoundTilesDoNotMatter(t *testing.T) {
	g := plainGrid(90, 70)
	file := shapedMap(t, wander(4, 80, [4]float64{-20, -20, 110, 90}))
	p := openDrawn(t, PolygonSpec{File: file, CRS: "EPSG:25831", Radius: 4.3, Width: 3.1}, g)
	w := raster.Window{Col: -15, Row: -12, Cols: 120, Rows: 95}
	whole := codesOf(t, p, w, 1<<12)
	for _, side := range []int{1, 7, 32} {
		if !slices.Equal(codesOf(t, p, w, side), whole) {
			t.Errorf("tiles of %d differ", side)
		}
	}
}

func TestRoundProblems(t *testing.T) {
	g := plainGrid(20, 20)
	points := shapedMap(t, []shaped{{pointAt(5, 5), `"a"`}})
	lines := shapedMap(t, []shaped{{lineAlong(vector.Point{5, 5}, vector.Point{9, 5}), `"a"`}})
	mixed := shapedMap(t, []shaped{{pointAt(5, 5), `"a"`}, {lineAlong(vector.Point{5, 5}, vector.Point{9, 5}), `"b"`}})
	areas := drawnMap(t, []drawn{{[]vector.Polygon{{boxRing(1, 1, 5, 5)}}, `"a"`}})
	for _, c := range []struct {
		spec      PolygonSpec
		what, fix string
	}{
		{PolygonSpec{File: points}, "it holds points, not polygons", "add `radius: 25 m`"},
		{PolygonSpec{File: lines}, "it holds lines, not polygons", "add `width: 6 m`"},
		{PolygonSpec{File: points, AsMask: true}, "it holds points, not polygons", "name a layer of polygons"},
		{PolygonSpec{File: points, Width: 6}, "it holds points, not polygons", "add `radius: 25 m`"},
		{PolygonSpec{File: mixed}, "none of its features has a polygon", "add `radius: 25 m`"},
		{PolygonSpec{File: mixed, AsMask: true}, "none of its features has a polygon", "name a layer of polygons"},
		{PolygonSpec{File: mixed, Where: "class = 'b'", Radius: 5}, "none of its features has a polygon", "add `width: 6 m`"},
		{PolygonSpec{File: mixed, Where: "class = 'a'", Radius: 5, Width: 5}, "none of its features holds a line", "take `width:` out"},
		{PolygonSpec{File: mixed, Where: "class = 'b'", Radius: 5, Width: 5}, "none of its features holds a point", "take `radius:` out"},
		{PolygonSpec{File: mixed, Where: "class = 'c'", Radius: 5}, "the condition class = 'c' is true of none of its 2 features", "check the spelling"},
		{PolygonSpec{File: areas, Radius: 5}, "it holds polygons, and a radius or a width is of points or lines", "take `radius:`"},
		{PolygonSpec{File: points, Radius: 2e5}, "would reach 200 km around", "choose a radius up to 100 km"},
	} {
		c.spec.CRS = "EPSG:25831"
		problemOf(t, c.spec, g, c.what, c.fix)
	}
	problemOf(t, PolygonSpec{File: points, Radius: 5}, raster.Grid{CRS: "EPSG:4326", X0: 0, Y0: 10, DX: 1, DY: 1, Cols: 10, Rows: 10}, "the grid is in degrees", "choose a projected grid")
}

func problemOf(t *testing.T, spec PolygonSpec, g raster.Grid, what, fix string) {
	t.Helper()
	spec.Name = "trees"
	if !spec.AsMask {
		spec.Field = "class"
	}
	_, err := OpenPolygons(spec, g)
	p, ok := err.(*Problem)
	if !ok || !strings.Contains(p.Error(), what) || !strings.HasPrefix(p.Fix, fix) {
		t.Errorf("%+v: %v; %s", spec, err, fix)
	}
}

// What is left out is counted, the condition's too.
func TestLeftOutIsCounted(t *testing.T) {
	file := shapedMap(t, []shaped{
		{pointAt(5, 5), `"a"`}, {lineAlong(vector.Point{5, 5}, vector.Point{9, 5}), `"a"`}, {"null", `"a"`},
		{`{"type":"Polygon","coordinates":[[[1,1],[5,1],[5,5],[1,1]]]}`, `"a"`}, {`{"type":"Polygon","coordinates":[[[1,1],[5,1],[5,5],[1,1]]]}`, `"b"`},
	})
	p := openDrawn(t, PolygonSpec{File: file, CRS: "EPSG:25831", Where: "class = 'a'"}, plainGrid(20, 20))
	f := p.Facts()
	if f.Features != 5 || f.LeftOut != 1 || f.NotPolygons != 2 || f.Points != 1 || f.Lines != 1 || f.NullGeometry != 1 || fmt.Sprint(p.Classes()) != "[a]" {
		t.Errorf("%+v, classes %v", f, p.Classes())
	}
	warnings := strings.Join(f.Warnings(), "\n")
	for _, want := range []string{"1 features of points left out: `radius:`", "1 features of lines left out: `width:`", "1 features without geometry"} {
		if !strings.Contains(warnings, want) {
			t.Errorf("no %q in %s", want, warnings)
		}
	}
}
