package crs

import (
	"math"
	"math/rand/v2"
	"testing"

	"likelyground/raster"
)

func areasOf(t testing.TB, g raster.Grid) *AreaReader {
	t.Helper()
	a, err := NewAreas(g)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(a.Close)
	return a.Reader()
}

// total returns the area of a whole grid in m².
func total(t *testing.T, g raster.Grid) float64 {
	r, out, sum := areasOf(t, g), make([]int64, g.Cols), int64(0)
	for row := range g.Rows {
		r.Row(0, g.Cols, row, out)
		for _, a := range out {
			sum += a
		}
	}
	return float64(sum) / 1e6
}

// Squares of one kilometre, their south-western corner named, cut into cells;
// values by GeographicLib 2.1.2 (geodesic polygons, Karney 2013).
func TestSquareKilometre(t *testing.T) {
	for _, c := range []struct {
		crs        string
		east, nrth float64
		want, tol  float64
	}{
		{"EPSG:25831", 500000, 5700000, 1000800.47, .01},
		{"EPSG:25831", 800000, 5700000, 998583.77, .01},
		{"EPSG:3035", 4000000, 3000000, 1000000.00, .01},
		{"EPSG:3857", 0, 6800000, 379616, .6}, // 52 degrees north
	} {
		for _, cell := range []float64{5, 10, 250, 1000} {
			n := int(1000 / cell)
			g := raster.Grid{CRS: c.crs, X0: c.east, Y0: c.nrth + 1000, DX: cell, DY: cell, Cols: n, Rows: n}
			if got := total(t, g); math.Abs(got-c.want) > c.tol {
				t.Errorf("%s %v %v in cells of %v m: %.4f, want %.2f", c.crs, c.east, c.nrth, cell, got, c.want)
			}
		}
	}
}

// The sum over a grid must be the area of its outline as a polygon of short
// geodesics: another method throughout.
func TestAreasAgainstGeodesicPolygons(t *testing.T) {
	for _, g := range []raster.Grid{
		{CRS: "EPSG:25831", X0: 100000, Y0: 6700000, DX: 100, DY: 50, Cols: 300, Rows: 200},
		{CRS: "EPSG:3035", X0: 2700000, Y0: 4900000, DX: 1000, DY: 1000, Cols: 90, Rows: 90},
		{CRS: "EPSG:3413", X0: -21000, Y0: 20000, DX: 500, DY: 500, Cols: 80, Rows: 80},    // the pole within
		{CRS: "EPSG:2263", X0: 900000, Y0: 300000, DX: 100, DY: 100, Cols: 200, Rows: 200}, // feet
		{CRS: "EPSG:4326", X0: 5, Y0: 61, DX: .01, DY: .01, Cols: 100, Rows: 100},
		{CRS: "EPSG:32601", X0: 330000, Y0: 7020000, DX: 200, DY: 200, Cols: 200, Rows: 100}, // the antimeridian
	} {
		west, south, east, north := g.Bounds()
		x, y := outline(west, south, east, north)
		ground, err := openGround(g.CRS)
		if err != nil {
			t.Fatal(err)
		}
		dense := func(s []float64) (out []float64) { // geodesics must hug the edges
			for i := range len(s) - 1 {
				for j := range 50 {
					out = append(out, s[i]+(s[i+1]-s[i])*float64(j)/50)
				}
			}
			return out
		}
		x, y = dense(x), dense(y)
		ground.lonLat(x, y)
		ground.close()
		want, _ := PolygonArea(x, y)
		if got := total(t, g); math.Abs(got/want-1) > 2e-8 {
			t.Errorf("%s: %.1f m², by polygon %.1f (%.2g)", g.CRS, got, want, got/want-1)
		}
	}
}

func TestAreasDoNotDependOnWindows(t *testing.T) {
	g := raster.Grid{CRS: "EPSG:25831", X0: 300000, Y0: 6800000, DX: 250, DY: 250, Cols: 400, Rows: 300}
	whole, pieces := areasOf(t, g), areasOf(t, g)
	random := rand.New(rand.NewPCG(7, 8))
	a, b := make([]int64, 500), make([]int64, 500)
	for range 50 {
		row := random.IntN(400) - 50
		whole.Row(-50, 500, row, a)
		for c := 0; c < 500; {
			n := min(1+random.IntN(99), 500-c)
			pieces.Row(c-50, n, row, b[c:])
			c += n
		}
		for i := range a {
			if a[i] != b[i] || a[i] <= 0 {
				t.Fatalf("row %d cell %d: %d and %d", row, i-50, a[i], b[i])
			}
		}
	}
}

// Readers of one Areas work side by side.
func TestAreasSideBySide(t *testing.T) {
	areas, err := NewAreas(raster.Grid{CRS: "EPSG:3035", X0: 4e6, Y0: 3e6, DX: 10, DY: 10, Cols: 500, Rows: 500})
	if err != nil {
		t.Fatal(err)
	}
	defer areas.Close()
	results := make(chan [500]int64)
	for range 4 {
		go func() {
			var out [500]int64
			areas.Reader().Row(0, 500, 250, out[:])
			results <- out
		}()
	}
	first := <-results
	for range 3 {
		if <-results != first {
			t.Error("readers differ")
		}
	}
}

// In the gaps of an interrupted projection there is no ground.
func TestNoGroundNoArea(t *testing.T) {
	g := raster.Grid{CRS: "ESRI:54052", X0: -3.2e6, Y0: 5e6, DX: 5000, DY: 5000, Cols: 400, Rows: 10}
	r, out := areasOf(t, g), make([]int64, 400)
	none, some := 0, 0
	for row := range g.Rows {
		r.Row(0, 400, row, out)
		for _, a := range out {
			switch {
			case a == 0:
				none++
			case math.Abs(float64(a)/25e12-1) < .01: // equal-area
				some++
			default:
				t.Errorf("a cell of %d mm²", a)
			}
		}
	}
	if none == 0 || some == 0 {
		t.Errorf("%d cells without ground, %d with", none, some)
	}
}

// The scale of a transverse Mercator projection at distance x from its middle
// is k0·(1 + x²/2R² + …) (Snyder 1987, Map projections, USGS Professional Paper
// 1395, eq. 8-4); that of the web map along the meridian is
// (1 - e²·sin²φ)^1.5 / ((1 - e²)·cos φ), the sphere's 1/cos φ over the radius of
// curvature (eq. 4-18): 1.62503 at φ = 52°.
func TestScaleError(t *testing.T) {
	for _, c := range []struct {
		crs       string
		x, y, d   float64
		want, tol float64
	}{
		{"EPSG:25831", 500000, 5700000, 10, .0004, 1e-6},
		{"EPSG:25831", 300000, 5700000, 10, .0004 - 2e5*2e5/2/6.385e6/6.385e6, 3e-6},
		{"EPSG:3857", 0, 6800125, 10, .62503, 2e-5},
		{"EPSG:2263", 984250, 200000, 10, 0, 1e-4}, // feet are allowed for
	} {
		g := raster.Grid{CRS: c.crs, X0: c.x, Y0: c.y, DX: c.d, DY: c.d, Cols: 2, Rows: 2}
		if got, err := ScaleError(g); err != nil || math.Abs(got-math.Abs(c.want)) > c.tol {
			t.Errorf("%s at %v: %v, want %v (%v)", c.crs, c.x, got, c.want, err)
		}
	}
	_, err := ScaleError(raster.Grid{CRS: "EPSG:4326", X0: 2, Y0: 42, DX: .01, DY: .01, Cols: 10, Rows: 10})
	mustRefuse(t, err, "EPSG:25831")
	_, err = ScaleError(raster.Grid{CRS: "ESRI:54052", X0: 3e7, Y0: 3e7, DX: 10, DY: 10, Cols: 10, Rows: 10})
	mustRefuse(t, err, "CRS")
	_, err = NewAreas(raster.Grid{CRS: "nonsense"})
	mustRefuse(t, err, "by code")
}
