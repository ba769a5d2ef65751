package maps

import (
	"testing"

	"likelyground/raster"
	"likelyground/vector"
)

// TestPolygonsProbe: of overlapping squares the later is named; a hole shows
// what lies beneath.
func TestPolygonsProbe(t *testing.T) {
	g := plainGrid(12, 10)
	p := openDrawn(t, PolygonSpec{CRS: "EPSG:25831", File: drawnMap(t, []drawn{
		{[]vector.Polygon{{boxRing(0, 0, 8, 8)}}, `"clay"`},
		{[]vector.Polygon{{boxRing(4, 4, 10, 10), boxRing(6, 6, 7, 7)}}, `"sand"`},
		{[]vector.Polygon{{boxRing(0, 9, 2, 10)}}, `null`},
		{[]vector.Polygon{{boxRing(-9000, -9000, 3, 1)}}, `"chalk"`},
	})}, g)
	for _, c := range []struct {
		name     string
		col, row int
		want     SourcePolygon
	}{
		{"clay alone", 1, 5, SourcePolygon{Found: true, Cells: 64, East: 8, North: 8}},
		{"sand over clay", 5, 5, SourcePolygon{Found: true, Beneath: 1, Cells: 35, West: 4, South: 4, East: 10, North: 10}},
		{"clay in the hole", 6, 3, SourcePolygon{Found: true, Cells: 64, East: 8, North: 8}},
		{"no name", 1, 0, SourcePolygon{Found: true, Missing: true, Cells: 2, South: 9, East: 2, North: 10}},
		{"nothing", 11, 0, SourcePolygon{}},
	} {
		got, err := p.Probe(c.col, c.row)
		must(t, err)
		if got != c.want {
			t.Errorf("%s: %+v, want %+v", c.name, got, c.want)
		}
	}
	got, err := p.Probe(1, 9)
	must(t, err)
	if !got.Found || got.Beneath != 1 || !got.Cut {
		t.Errorf("a polygon that goes on: %+v", got)
	}
	if f := p.Judge(); f.Known+f.Missing != 0 {
		t.Errorf("the probe was counted: %+v", f)
	}
}

// TestPolygonsProbeAgrees: a cell has a class where the probe finds a polygon
// with one, and nowhere else.
func TestPolygonsProbeAgrees(t *testing.T) {
	g := plainGrid(40, 40)
	p := openDrawn(t, PolygonSpec{CRS: "EPSG:25831", File: drawnMap(t, []drawn{
		{[]vector.Polygon{{vector.Ring{{1, 2}, {33, 9}, {17, 38}, {1, 2}}}}, `"clay"`},
		{[]vector.Polygon{{vector.Ring{{20, 20}, {39, 22}, {25, 35}, {20, 20}}}}, `null`},
	})}, g)
	r, err := p.Reader()
	must(t, err)
	all := raster.NewClassTile(g.Window())
	must(t, r.Read(all, nil))
	must(t, r.Close())
	known := 0
	for row := range g.Rows {
		for col := range g.Cols {
			at, err := p.Probe(col, row)
			must(t, err)
			if (at.Found && !at.Missing) != (all.Code(col, row) != raster.MissingCode) {
				t.Fatalf("%d, %d: code %d, %+v", col, row, all.Code(col, row), at)
			}
			if at.Found {
				known++
			}
		}
	}
	if known < 400 {
		t.Errorf("only %d cells are covered", known)
	}
}
