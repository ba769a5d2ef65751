package terrain

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os/exec"
	"strings"
	"testing"

	"likelyground/raster"
)

// tileOf makes a tile of heights, its first cell at column and row -1, from
// rows of numbers, north first; "-" is missing.
func tileOf(rows string) raster.Tile {
	lines := strings.Split(strings.TrimSpace(rows), "/")
	var t raster.Tile
	for _, line := range lines {
		fields := strings.Fields(line)
		t.Cols = len(fields)
		for _, f := range fields {
			v := float64(raster.Missing)
			if f != "-" {
				fmt.Sscan(f, &v)
			}
			t.Values = append(t.Values, float32(v))
		}
	}
	t.Rows = len(lines)
	t.Col, t.Row = -1, -1
	return t
}

// one runs a kernel on the cell inside a 3 × 3 tile.
func one(rows string, kernel func(dst, src raster.Tile)) float64 {
	dst := raster.NewTile(raster.Window{Cols: 1, Rows: 1})
	kernel(dst, tileOf(rows))
	return float64(dst.Values[0])
}

func slopeOn(dx, dy float64, u Unit) func(dst, src raster.Tile) {
	return func(dst, src raster.Tile) { Slope(dst, src, dx, dy, u) }
}

func aspectOn(dx, dy float64) func(dst, src raster.Tile) {
	return func(dst, src raster.Tile) { Aspect(dst, src, dx, dy) }
}

const m3 = "101 105 110/98 103 109/95 100 108"

// halfStep is the most by which the nearest float32 lies off a number.
func halfStep(v float64) float64 {
	f := float32(math.Abs(v))
	return float64(math.Nextafter32(f, f+1)-f) / 2
}

// TestHandbook holds slopes and aspects after Horn (1981) to worked values:
// GDAL 3.6.2's gdaldem and the definition by hand agree on them, but for the
// aspect on oblong cells, where gdaldem ignores the shape of the cell. The
// gradients in percent are those of the definition: (0.95, 1.2) for E·N²/1000
// at (20, 30), (0.55, 0.1125) for M on oblong cells.
func TestHandbook(t *testing.T) {
	plane := "1 4 7/-3 0 3/-7 -4 -1" // z = 0.3 E + 0.4 N, cell 10
	cases := []struct {
		name string
		got  float64
		want float64
	}{
		{"plane 0.3 E + 0.4 N, degrees", one(plane, slopeOn(10, 10, Degrees)), 26.565051},
		{"plane 0.3 E + 0.4 N, percent", one(plane, slopeOn(10, 10, Percent)), 50},
		{"plane 0.3 E + 0.4 N, aspect", one(plane, aspectOn(10, 10)), 216.869898},
		{"M, slope", one(m3, slopeOn(10, 10, Degrees)), 30.720611},
		{"M, aspect", one(m3, aspectOn(10, 10)), 247.750976},
		{"E·N²/1000, percent", one("16 32 48/9 18 27/4 8 12", slopeOn(10, 10, Percent)), 100 * math.Hypot(0.95, 1.2)},
		{"E·N²/1000, aspect", one("16 32 48/9 18 27/4 8 12", aspectOn(10, 10)), 218.367485},
		{"M on oblong cells, percent", one(m3, slopeOn(10, 20, Percent)), 100 * math.Hypot(0.55, 0.1125)},
		{"M on oblong cells, aspect", one(m3, aspectOn(10, 20)), 258.439870},
		{"flat", one("5 5 5/5 5 5/5 5 5", slopeOn(10, 10, Degrees)), 0},
	}
	for _, c := range cases {
		if math.Abs(c.got-c.want) > 5e-7+halfStep(c.want) {
			t.Errorf("%s: %.7f, want %.7f", c.name, c.got, c.want)
		}
	}
}

// TestPlaneWithHole asks for the right slope on the whole of a plane, and for
// none beside a hole, where gdaldem -compute_edges gives wrong ones (42.43 or
// 45.89 percent for 50).
func TestPlaneWithHole(t *testing.T) {
	src := raster.NewTile(raster.Window{Col: -1, Row: -1, Cols: 9, Rows: 7})
	for row := -1; row < 6; row++ {
		for col := -1; col < 8; col++ {
			src.Values[src.Index(col, row)] = float32(3*col - 4*row)
		}
	}
	src.Values[src.Index(2, 2)] = raster.Missing
	dst := raster.NewTile(src.Window.Grow(-1))
	Slope(dst, src, 10, 10, Percent)
	for row := range dst.Rows {
		for col := range dst.Cols {
			v, beside := dst.Value(col, row), max(col-2, 2-col, row-2, 2-row) <= 1
			if beside && v == v || !beside && v != 50 {
				t.Errorf("column %d, row %d: %g", col, row, v)
			}
		}
	}
}

// TestCompass asks for the aspect, and both its parts, of planes that fall in
// the eight directions.
func TestCompass(t *testing.T) {
	for i := range 8 {
		angle := float64(i) * 45
		s, c := math.Sincos(angle * math.Pi / 180)
		var rows []string
		for n := 1.0; n >= -1; n-- {
			var cells []string
			for e := -1.0; e <= 1; e++ {
				cells = append(cells, fmt.Sprint(100-10*(e*s+n*c)))
			}
			rows = append(rows, strings.Join(cells, " "))
		}
		text := strings.Join(rows, "/")
		if got := one(text, aspectOn(10, 10)); math.Abs(got-angle) > 1e-4 && math.Abs(got-angle-360) > 1e-4 {
			t.Errorf("aspect %g, want %g", got, angle)
		}
		north := one(text, func(dst, src raster.Tile) { Northness(dst, src, 10, 10) })
		east := one(text, func(dst, src raster.Tile) { Eastness(dst, src, 10, 10) })
		if math.Abs(north-c) > 1e-6 || math.Abs(east-s) > 1e-6 {
			t.Errorf("falling to %g: northness %g, eastness %g", angle, north, east)
		}
	}
}

var kernels = map[string]func(dst, src raster.Tile){
	"slope":     slopeOn(10, 10, Degrees),
	"percent":   slopeOn(10, 10, Percent),
	"aspect":    aspectOn(10, 10),
	"northness": func(dst, src raster.Tile) { Northness(dst, src, 10, 10) },
	"eastness":  func(dst, src raster.Tile) { Eastness(dst, src, 10, 10) },

	"profile":    curvatureOn(10, 12, Profile),
	"tangential": curvatureOn(10, 12, Tangential),
	"contour":    curvatureOn(10, 12, Contour),
	"Riley":      ruggedOn(Riley),
	"Wilson":     ruggedOn(Wilson),
	"heat load":  heatOn(First, Southwest, at{latitude: 52, turn: 3}),
	"radiation":  radiationOn(80, at{latitude: 52, turn: 3}),
}

func TestMissing(t *testing.T) {
	for name, k := range kernels {
		for at := range 9 {
			cells := strings.Fields(strings.ReplaceAll(m3, "/", " "))
			cells[at] = "-"
			text := strings.Join(cells[:3], " ") + "/" + strings.Join(cells[3:6], " ") + "/" + strings.Join(cells[6:], " ")
			if got := one(text, k); got == got {
				t.Errorf("%s with cell %d missing: %g", name, at, got)
			}
		}
	}
	flat := "5 5 5/5 5 5/5 5 5"
	if got := one(flat, kernels["aspect"]); got == got {
		t.Errorf("aspect of flat ground: %g", got)
	}
	if n, e := one(flat, kernels["northness"]), one(flat, kernels["eastness"]); math.Float64bits(n) != 0 || math.Float64bits(e) != 0 {
		t.Errorf("flat ground faces %g, %g", n, e)
	}
}

func TestArctan(t *testing.T) {
	const degree = 180 / math.Pi
	for i := range 200000 {
		x := math.Exp(float64(i-100000) / 8000)
		if d := math.Abs(arctan(x, x*x) - math.Atan(x)*degree); d > 2e-8 {
			t.Fatalf("arctan(%g) is off by %g degrees", x, d)
		}
	}
	for i := range 3600 {
		want := float64(i) / 10
		s, c := math.Sincos(want / degree)
		if d := math.Abs(bearing(s, c) - want); d > 2e-8 && math.Abs(d-360) > 2e-8 {
			t.Fatalf("bearing(%g, %g) is off by %g degrees", s, c, d)
		}
	}
	inf := math.Inf(1)
	if math.Abs(arctan(inf, inf)-90) > 1e-12 || arctan(0, 0) != 0 || !math.IsNaN(arctan(math.NaN(), math.NaN())) {
		t.Error("ends")
	}
}

func randomTile(cols, rows int, holes bool) raster.Tile {
	r := rand.New(rand.NewPCG(1, 2))
	t := raster.NewTile(raster.Window{Col: -1, Row: -1, Cols: cols, Rows: rows})
	for i := range t.Values {
		t.Values[i] = float32(r.IntN(30000)) / 1000 // slopes on both sides of 45 degrees
		if holes && r.IntN(20) == 0 {
			t.Values[i] = raster.Missing
		}
	}
	return t
}

// TestNumpy holds slopes of random ground with holes to the same definition
// in numpy.
func TestNumpy(t *testing.T) {
	src := randomTile(302, 202, true)
	dst := raster.NewTile(src.Window.Grow(-1))
	Slope(dst, src, 10, 12.5, Degrees)
	script := `
import sys, numpy as np
z = np.array(sys.stdin.read().split(), dtype=np.float32).astype(float).reshape(202, 302)
n = lambda r, c: z[1+r:201+r, 1+c:301+c]
gx = ((n(-1,1)+2*n(0,1)+n(1,1))-(n(-1,-1)+2*n(0,-1)+n(1,-1)))/80
gy = ((n(-1,-1)+2*n(-1,0)+n(-1,1))-(n(1,-1)+2*n(1,0)+n(1,1)))/100
s = np.degrees(np.arctan(np.hypot(gx, gy))) + 0*n(0,0)
np.savetxt(sys.stdout, s.ravel(), fmt="%.9g")
`
	var in strings.Builder
	for _, v := range src.Values {
		fmt.Fprintln(&in, v)
	}
	cmd := exec.Command("/usr/bin/python3", "-c", script)
	cmd.Stdin = strings.NewReader(in.String())
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("this test asks python3 with numpy (apt-get install python3-numpy): %v", err)
	}
	for i, f := range strings.Fields(string(out)) {
		var want float64
		fmt.Sscan(f, &want)
		got := float64(dst.Values[i])
		if math.IsNaN(want) != math.IsNaN(got) || math.Abs(got-want) > 3*halfStep(want) {
			t.Fatalf("cell %d: %.9g, numpy says %s", i, got, f)
		}
	}
}

// TestTilesAgree asks every kernel for the same bytes whatever the tile.
func TestTilesAgree(t *testing.T) {
	src := randomTile(2*strip+40, 30, true)
	for name, kernel := range kernels {
		whole := raster.NewTile(src.Window.Grow(-1))
		kernel(whole, src)
		for _, size := range []int{1, 7, 64, strip + 1} {
			got := raster.NewTile(whole.Window)
			inTiles(got.Window, size, func(w raster.Window) {
				dst, part := raster.NewTile(w), raster.NewTile(w.Grow(1))
				part.CopyFrom(src)
				kernel(dst, part)
				got.CopyFrom(dst)
			})
			for i, v := range got.Values {
				if math.Float32bits(v) != math.Float32bits(whole.Values[i]) {
					t.Fatalf("%s: tiles of %d differ at cell %d: %g, %g", name, size, i, v, whole.Values[i])
				}
			}
		}
	}
}

func inTiles(w raster.Window, size int, f func(raster.Window)) {
	for row := w.Row; row < w.EndRow(); row += size {
		for col := w.Col; col < w.EndCol(); col += size {
			f(raster.Window{Col: col, Row: row, Cols: size, Rows: size}.Clip(w))
		}
	}
}

// rolling is ground as maps have it.
func rolling() raster.Tile {
	src := randomTile(514, 514, false)
	for i := range src.Values {
		src.Values[i] = float32(200 + 40*math.Sin(float64(i%514)/40)*math.Cos(float64(i/514)/50) + float64(src.Values[i])/50)
	}
	return src
}

func BenchmarkSlope(b *testing.B) { benchmark(b, slopeOn(10, 10, Degrees)) }

func ExampleSlope() {
	src := raster.Tile{Window: raster.Window{Col: -1, Row: -1, Cols: 3, Rows: 3}, Values: []float32{1, 4, 7, -3, 0, 3, -7, -4, -1}}
	dst := raster.NewTile(raster.Window{Cols: 1, Rows: 1})
	Slope(dst, src, 10, 10, Percent)
	fmt.Println(dst.Values)
	// Output: [50]
}
