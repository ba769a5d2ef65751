package vector

import (
	"errors"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"github.com/airbusgeo/godal"
)

func readText(t *testing.T, path string) string {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

func writeBytes(t *testing.T, path string, data []byte) {
	t.Helper()
	if err := os.WriteFile(path, data, 0o644); err != nil {
		t.Fatal(err)
	}
}

// drawnShapes writes geometries in well-known text as a layer of a GeoPackage.
func drawnShapes(t *testing.T, kind godal.GeometryType, shapes ...string) string {
	t.Helper()
	path := as(t, things, "shapes.gpkg", "GPKG")
	ds, err := godal.Open(path, godal.Update(), godal.VectorOnly())
	if err != nil {
		t.Fatal(err)
	}
	defer ds.Close()
	sr, err := godal.NewSpatialRef("EPSG:25831")
	if err != nil {
		t.Fatal(err)
	}
	defer sr.Close()
	layer, err := ds.CreateLayer("shapes", sr, kind)
	if err != nil {
		t.Fatal(err)
	}
	for _, wkt := range shapes {
		g, err := godal.NewGeometryFromWKT(wkt, sr)
		if err != nil {
			t.Fatal(wkt, err)
		}
		if _, err := layer.NewFeature(g); err != nil {
			t.Fatal(err)
		}
	}
	return path
}

var mixedShapes = []string{
	"POINT (1 2)",
	"POINT Z (3 4 99)",
	"MULTIPOINT ((5 6),(7 8))",
	"POINT EMPTY",
	"LINESTRING (0 0,1 1,2 0)",
	"LINESTRING ZM (0 0 9 9,1 1 9 9)",
	"MULTILINESTRING ((0 0,1 1),(5 5,6 6,7 7))",
	"LINESTRING EMPTY",
	"COMPOUNDCURVE ((0 0,10 0),CIRCULARSTRING (10 0,20 10,10 20))",
	"MULTICURVE ((0 0,1 1),CIRCULARSTRING (0 0,1 1,2 0))",
	"POLYGON ((0 0,1 0,1 1,0 0))",
	"GEOMETRYCOLLECTION (POINT (1 1),LINESTRING (2 2,3 3),POLYGON ((0 0,1 0,1 1,0 0)))",
}

func TestShapesAskedFor(t *testing.T) {
	path := drawnShapes(t, godal.GTUnknown, mixedShapes...)
	for _, c := range []struct {
		o    Options
		want string // number: points, vertices of lines, polygons
	}{
		{Options{}, "11:0/[]/1 12:0/[]/1 not 10, points 3, lines 5"},
		{Options{Points: true}, "1:1/[]/0 2:1/[]/0 3:2/[]/0 11:0/[]/1 12:1/[]/1 not 7, points 0, lines 5"},
		{Options{Lines: true}, "5:0/[3]/0 6:0/[2]/0 7:0/[2 3]/0 9:0/[363]/0 10:0/[2 361]/0 11:0/[]/1 12:0/[2]/1 not 5, points 3, lines 0"},
		{Options{Points: true, Lines: true}, "1:1/[]/0 2:1/[]/0 3:2/[]/0 5:0/[3]/0 6:0/[2]/0 7:0/[2 3]/0 9:0/[363]/0 10:0/[2 361]/0 11:0/[]/1 12:1/[2]/1 not 2, points 0, lines 0"},
	} {
		c.o.Layer = "shapes"
		l, err := OpenWith(path, c.o)
		if err != nil {
			t.Fatal(err)
		}
		var b strings.Builder
		counts, err := l.Each(nil, func(f *Feature) error {
			lines := []int{}
			for _, chain := range f.Lines {
				lines = append(lines, len(chain))
			}
			fmt.Fprintf(&b, "%d:%d/%v/%d ", f.Number, len(f.Points), lines, len(f.Polygons))
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
		fmt.Fprintf(&b, "not %d, points %d, lines %d", counts.NotPolygons, counts.Points, counts.Lines)
		if b.String() != c.want {
			t.Errorf("%+v: %s", c.o, b.String())
		}
		l.Close()
	}
}

// A curved line comes as chords: half a circle of radius 10 after a straight
// piece of 10.
func TestCurvedLine(t *testing.T) {
	l, err := OpenWith(drawnShapes(t, godal.GTUnknown, mixedShapes[8]), Options{Layer: "shapes", Lines: true})
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	long := 0.0
	if _, err := l.Each(nil, func(f *Feature) error {
		chain := f.Lines[0]
		for i := 1; i < len(chain); i++ {
			long += math.Hypot(chain[i][0]-chain[i-1][0], chain[i][1]-chain[i-1][1])
		}
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	if want := 10 + 10*math.Pi; math.Abs(long-want) > 1e-4*want {
		t.Errorf("length %v, want %v", long, want)
	}
}

func TestKindsAskedFor(t *testing.T) {
	points := drawnShapes(t, godal.GTPoint, mixedShapes[0])
	lines := drawnShapes(t, godal.GTLineString, mixedShapes[4])
	areas := drawnShapes(t, godal.GTPolygon, mixedShapes[10])
	for _, c := range []struct {
		path string
		o    Options
		what string
		fix  string
	}{
		{points, Options{}, "it holds points, not polygons", "add `radius: 25 m`"},
		{points, Options{Lines: true}, "it holds points, not polygons", "add `radius: 25 m`"},
		{points, Options{PolygonsAlone: true}, "it holds points, not polygons", "name a layer of polygons"},
		{lines, Options{Points: true}, "it holds lines, not polygons", "add `width: 6 m`"},
		{areas, Options{Points: true}, "it holds polygons, and a radius or a width is of points or lines", "take `radius:`"},
	} {
		c.o.Layer = "shapes"
		_, err := OpenWith(c.path, c.o)
		var p *Problem
		if !errors.As(err, &p) || !strings.Contains(p.What, c.what) || !strings.HasPrefix(p.Fix, c.fix) {
			t.Errorf("%+v: %v", c.o, err)
		}
	}
	for path, o := range map[string]Options{points: {Points: true}, lines: {Lines: true, Points: true}} {
		o.Layer = "shapes"
		l, err := OpenWith(path, o)
		if err != nil {
			t.Errorf("%+v: %v", o, err)
			continue
		}
		l.Close()
	}
}
