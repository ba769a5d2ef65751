package patch

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"likelyground/raster"
)

// shapes solves a drawn field, in tiles of two by two cells, and traces all.
func shapes(t *testing.T, f field) ([]Patch, []Shape) {
	t.Helper()
	s := solve(t, f, Rule{From: 0.5}, 2, 2)
	var out []Shape
	for i := range s.Patches {
		shape, err := s.Trace(&s.Patches[i])
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, shape)
	}
	return s.Patches, out
}

// perimeter returns the length of an outline in cell edges.
func perimeter(o Outline) int {
	n := 0
	ring := func(r Ring) {
		for i, p := range r {
			q := r[(i+1)%len(r)]
			n += int(max(p.Col-q.Col, q.Col-p.Col) + max(p.Row-q.Row, q.Row-p.Row))
		}
	}
	for _, p := range o {
		ring(p.Shell)
		for _, h := range p.Holes {
			ring(h)
		}
	}
	return n
}

// TestScatteredPatches is P1 of the check values (scipy, GEOS): four patches
// joined over sides and corners, of seven pieces joined over sides; their
// sizes and, with cells of 10 m, their perimeters 120, 40, 300 and 80 m.
func TestScatteredPatches(t *testing.T) {
	f := drawn(t, "1 1 0 0 0 1/1 0 0 1 0 0/0 1 0 1 1 0/0 0 0 0 0 1/1 0 1 1 1 0/1 0 1 0 1 0/1 0 1 1 1 1")
	patches, shapes := shapes(t, f)
	var cells, perimeters, parts, holes []int
	pieces := map[int64]int{}
	for i, p := range patches {
		cells = append(cells, int(p.Cells))
		perimeters = append(perimeters, 10*perimeter(shapes[i].Outline))
		parts = append(parts, len(shapes[i].Outline))
		n := 0
		for _, poly := range shapes[i].Outline {
			n += len(poly.Holes)
			pieces[Outline{poly}.Cells()]++
		}
		holes = append(holes, n)
	}
	for _, c := range []struct {
		what      string
		got, want any
	}{
		{"cells", cells, []int{4, 1, 13, 3}},
		{"perimeters", perimeters, []int{120, 40, 300, 80}},
		{"parts", parts, []int{2, 1, 3, 1}},
		{"holes", holes, []int{0, 0, 1, 0}},
		{"cells of pieces", pieces, map[int64]int{3: 3, 1: 3, 9: 1}},
	} {
		if !reflect.DeepEqual(c.got, c.want) {
			t.Errorf("%s: %v, want %v", c.what, c.got, c.want)
		}
	}
}

// TestTouchingRings is P2 of the check values (GEOS), cells of 10 m.
func TestTouchingRings(t *testing.T) {
	for _, c := range []struct {
		name, cells  string
		parts, holes int
		area         int64
	}{
		{"two cells at a corner", "1 0/0 1", 2, 0, 200},
		{"two holes at a corner", "1 1 1 1/1 0 1 1/1 1 0 1/1 1 1 1", 1, 2, 1400},
		{"hole at the shell", "1 1 1/1 0 1/1 1 0", 1, 1, 700},
	} {
		_, s := shapes(t, drawn(t, c.cells))
		o := s[0].Outline
		if len(o) != c.parts || len(o[0].Holes) != c.holes || 100*o.Cells() != c.area {
			t.Errorf("%s: %v", c.name, o)
		}
	}
}

// TestInnerPoint: P3 of the check values, a U whose centroid is outside, and
// two forms drawn by hand.
func TestInnerPoint(t *testing.T) {
	for _, c := range []struct {
		name, cells string
		want        Cell
	}{
		{"one cell", "1", Cell{0, 0}},
		{"U", "1 0 1/1 0 1/1 1 1", Cell{1, 2}},
		{"strip", "1 1 1 1 1", Cell{2, 0}},
		{"block with a tail", "1 1 1 0 0 0 0/1 1 1 1 1 1 1/1 1 1 0 0 0 0", Cell{1, 1}},
		{"ring, even", "1 1 1 1/1 0 0 1/1 0 0 1/1 1 1 1", Cell{1, 0}},
	} {
		_, s := shapes(t, drawn(t, c.cells))
		if s[0].Inner != c.want {
			t.Errorf("%s: %v, want %v", c.name, s[0].Inner, c.want)
		}
	}
}

// TestIslandInHole: an island in a hole is its own part; the hole belongs to
// the part round it, even where the island touches that part at a corner.
func TestIslandInHole(t *testing.T) {
	_, s := shapes(t, drawn(t, "1 1 1 1 1/1 0 0 0 1/1 0 0 1 0/1 0 1 0 1/1 1 1 1 1"))
	if len(s) != 1 {
		t.Fatalf("%d patches", len(s))
	}
	got := s[0].Outline
	want := Outline{
		{
			Shell: Ring{{0, 0}, {0, 5}, {5, 5}, {5, 3}, {4, 3}, {4, 4}, {3, 4}, {3, 3}, {2, 3}, {2, 4}, {1, 4}, {1, 1}, {4, 1}, {4, 2}, {5, 2}, {5, 0}},
		},
		{Shell: Ring{{3, 2}, {3, 3}, {4, 3}, {4, 2}}},
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("%v", got)
	}
}

// python returns a Python that has GDAL's bindings.
func python(t *testing.T) string {
	t.Helper()
	for _, p := range []string{"/usr/bin/python3", "python3"} {
		if exec.Command(p, "-c", "from osgeo import ogr").Run() == nil {
			return p
		}
	}
	t.Fatal("no python3 with osgeo.ogr, which judges the outlines: apt-get install python3-gdal")
	return ""
}

// judge asks GEOS about each outline: valid, of the right area, exactly the
// union of its cells, rings turning the right way.
const judge = `
import json, sys
from osgeo import ogr
ogr.UseExceptions()
def turn(r):
    p = r.GetPoints()
    return sum(a[0]*b[1] - b[0]*a[1] for a, b in zip(p, p[1:]))
n = 0
for line in open(sys.argv[1]):
    o = json.loads(line)
    g = ogr.CreateGeometryFromWkt(o["WKT"])
    assert g.IsValid(), "not valid: " + o["WKT"]
    assert g.GetArea() == len(o["Cells"]), "area: " + o["WKT"]
    cells = ogr.Geometry(ogr.wkbMultiPolygon)
    for c, r in o["Cells"]:
        cells.AddGeometry(ogr.CreateGeometryFromWkt("POLYGON((%d %d,%d %d,%d %d,%d %d,%d %d))" % (c,-r,c+1,-r,c+1,-r-1,c,-r-1,c,-r)))
    union = cells.UnionCascaded()
    assert union.SymDifference(g).IsEmpty(), "not the union of its cells: " + o["WKT"]
    p = ogr.CreateGeometryFromWkt(o["Inner"])
    assert g.Contains(p), "inner point: " + o["Inner"] + o["WKT"]
    for part in g:
        assert turn(part.GetGeometryRef(0)) > 0, "clockwise shell: " + o["WKT"]
        for k in range(1, part.GetGeometryCount()):
            assert turn(part.GetGeometryRef(k)) < 0, "counter-clockwise hole: " + o["WKT"]
    n += 1
print(n)
`

func (r Ring) wkt() string {
	words := make([]string, 0, len(r)+1)
	for i := range len(r) + 1 {
		c := r[i%len(r)]
		words = append(words, fmt.Sprintf("%d %d", c.Col, -c.Row))
	}
	return "(" + strings.Join(words, ",") + ")"
}

func (o Outline) wkt() string {
	var polygons []string
	for _, p := range o {
		rings := []string{p.Shell.wkt()}
		for _, h := range p.Holes {
			rings = append(rings, h.wkt())
		}
		polygons = append(polygons, "("+strings.Join(rings, ",")+")")
	}
	return "MULTIPOLYGON(" + strings.Join(polygons, ",") + ")"
}

// TestOutlinesAreValid asks GEOS, through GDAL's Python bindings, about the
// outlines of random patches of all densities and of the P1 to P3 forms.
func TestOutlinesAreValid(t *testing.T) {
	py := python(t)
	r := rand.New(rand.NewPCG(7, 8))
	fields := []field{
		drawn(t, "1 1 0 0 0 1/1 0 0 1 0 0/0 1 0 1 1 0/0 0 0 0 0 1/1 0 1 1 1 0/1 0 1 0 1 0/1 0 1 1 1 1"),
		drawn(t, "1 0/0 1"), drawn(t, "1 1 1 1/1 0 1 1/1 1 0 1/1 1 1 1"), drawn(t, "1 1 1/1 0 1/1 1 0"),
		drawn(t, "1 1 1 1 1/1 0 1 0 1/1 1 0 1 1/1 0 1 0 1/1 1 1 1 1"),
		drawn(t, "0 1 0 1/1 0 1 0/0 1 0 1/1 0 1 0"),
	}
	for _, share := range []float64{0.3, 0.5, 0.7, 0.85, 0.95} {
		for range 12 {
			fields = append(fields, random(r, raster.Window{Cols: 1 + r.IntN(30), Rows: 1 + r.IntN(30)}, share, 0))
		}
	}
	path := filepath.Join(t.TempDir(), "outlines")
	file, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	count := 0
	for _, f := range fields {
		_, all := flood(f, 0.5)
		_, shapes := shapes(t, f)
		for i, s := range shapes {
			var cells [][2]int
			for _, c := range all[i] {
				cells = append(cells, [2]int{c.Col, c.Row})
			}
			inner := fmt.Sprintf("POINT(%v %v)", float64(s.Inner.Col)+0.5, -float64(s.Inner.Row)-0.5)
			line, err := json.Marshal(map[string]any{"WKT": s.Outline.wkt(), "Cells": cells, "Inner": inner})
			if err != nil {
				t.Fatal(err)
			}
			fmt.Fprintf(file, "%s\n", line)
			count++
		}
	}
	if err := file.Close(); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(py, "-c", judge, path).CombinedOutput()
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	if got := strings.TrimSpace(string(out)); got != fmt.Sprint(count) || count < 300 {
		t.Fatalf("%s outlines judged of %d", got, count)
	}
}
