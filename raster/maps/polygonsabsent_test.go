package maps

import (
	"errors"
	"fmt"
	"math"
	"testing"

	"likelyground/raster"
	"likelyground/vector"
)

// TestGroundWithoutPolygon: what no polygon covers takes the class that the
// plan names; where a polygon's class is missing the cell's stays so.
func TestGroundWithoutPolygon(t *testing.T) {
	g := plainGrid(4, 1)
	two := func(first, second string) string {
		return drawnMap(t, []drawn{{[]vector.Polygon{{boxRing(0, 0, 1, 1)}}, first}, {[]vector.Polygon{{boxRing(1, 0, 2, 1)}}, second}})
	}
	texts, numbers := two(`"sand"`, `null`), two("7", "99")
	for _, c := range []struct {
		what string
		spec PolygonSpec
		want string
	}{
		{"a new text", PolygonSpec{File: texts, WhereAbsent: "bare"}, "1-00\n"},
		{"a text of the field", PolygonSpec{File: texts, WhereAbsent: "sand"}, "0-00\n"},
		{"a number", PolygonSpec{File: numbers, WhereAbsent: "3", Missing: []Range{{90, 99}}}, "7-33\n"},
		{"a text for no data", PolygonSpec{File: two(`"nd"`, `"sand"`), WhereAbsent: "sand", NoData: func(text string) bool { return text == "nd" }}, "-000\n"},
		{"a missing number", PolygonSpec{File: numbers, Missing: []Range{{7, 7}, {99, 99}}}, "----\n"},
	} {
		c.spec.CRS = "EPSG:25831"
		p := openDrawn(t, c.spec, g)
		if got := picture(codesOf(t, p, g.Window(), 3), 4); got != c.want {
			t.Errorf("%s: %q, want %q", c.what, got, c.want)
		}
	}
	var problem *Problem
	if _, err := OpenPolygons(PolygonSpec{File: numbers, CRS: "EPSG:25831", Field: "class", WhereAbsent: "sand"}, g); !errors.As(err, &problem) {
		t.Error(err)
	}
}

// TestAmountWithoutPolygon: the value of uncovered ground is one after scale.
func TestAmountWithoutPolygon(t *testing.T) {
	file := drawnMap(t, []drawn{{[]vector.Polygon{{boxRing(0, 0, 1, 1)}}, "45"}})
	scale, absent := 0.1, 6.5
	how := RasterSpec{Scale: &scale, WhereAbsent: &absent, Unit: "pH"}
	p := openDrawn(t, PolygonSpec{File: file, CRS: "EPSG:25831", Numbers: &how}, plainGrid(2, 1))
	reader, err := p.Reader()
	must(t, err)
	tile := raster.NewTile(p.grid.Window())
	must(t, errors.Join(reader.Read(tile, nil), reader.Close()))
	if math.Abs(float64(tile.Values[0])-4.5) > 1e-6 || tile.Values[1] != 6.5 {
		t.Error(tile.Values)
	}
	if f := p.Judge(); f.Known != 2 || f.Problem() != nil {
		t.Error(fmt.Sprint(f))
	}
}
