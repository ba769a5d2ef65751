package maps

import (
	"math"
	"testing"

	"likelyground/raster"
	"likelyground/vector"
)

// An outline that crosses more rows than are laid at a time covers what GDAL's
// rasterizer fills, which is even-odd too. Of some three million crossings a
// handful lie within 1e-6 of a centre, where the rasterizer has another rule.
func TestOutlineInBands(t *testing.T) {
	const n = 6000
	ring := make(vector.Ring, n)
	for i := range ring {
		a, r := float64(i)*float64(i)*0.7548776662, 100+float64(i%97)
		ring[i] = vector.Point{150 + r*math.Cos(a), 300 + 2*r*math.Sin(a)}
	}
	ring = append(ring, ring[0])
	file := drawnMap(t, []drawn{{[]vector.Polygon{{ring}}, `1`}})
	p := openDrawn(t, PolygonSpec{File: file, CRS: "EPSG:25831"}, plainGrid(300, 600))
	if len(p.runs.parts) < 2 {
		t.Fatalf("%d bands: the outline is too plain to tell", len(p.runs.parts))
	}
	got, want := codesOf(t, p, p.grid.Window(), 512), rasterized(t, file, p.grid)
	covered, wrong := 0, 0
	for i, code := range got {
		if code == raster.MissingCode {
			code = 0
		} else {
			covered++
		}
		if code != int32(want[i]) {
			wrong++
		}
	}
	if wrong > 40 || covered < 40000 || covered > 140000 {
		t.Errorf("%d cells of %d differ, %d covered", wrong, len(got), covered)
	}
}
