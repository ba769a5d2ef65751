package terrain

import (
	"fmt"
	"math"
	"os/exec"
	"strings"
	"testing"

	"likelyground/raster"
)

func curvatureOn(dx, dy float64, b Bend) func(dst, src raster.Tile) {
	return func(dst, src raster.Tile) { Curvature(dst, src, dx, dy, b) }
}

// around is nine heights of a surface around a place, L apart.
func around(x, y, L float64, z func(x, y float64) float64) string {
	var rows []string
	for n := L; n >= -L; n -= L {
		rows = append(rows, fmt.Sprint(z(x-L, y+n), z(x, y+n), z(x+L, y+n)))
	}
	return strings.Join(rows, "/")
}

// TestCurvature holds the curvatures to surfaces whose own are known: the
// formulas of Minár, Evans & Jenčo (2020) with the derivatives put in by hand,
// and elementary geometry for the sphere, the cone and the cylinder. Heights
// are kept as float32, which on the sphere alone limits how near they come:
// its heights are therefore given above its base in steps that hold.
func TestCurvature(t *testing.T) {
	const sphere, cone = 1000.0, 500.0
	quadric := "3.5 6 10.5/-2 0 4/-3.5 -2 1.5" // z = .01x²+.02y²+.005xy+.3x+.4y, L 10
	onSphere := func(x, y float64) float64 {   // about its height at (300, 400), where it is 866.025
		return math.Sqrt(sphere*sphere-x*x-y*y) - math.Sqrt(sphere*sphere-25e4)
	}
	onCone := func(x, y float64) float64 { return -0.5 * (math.Hypot(x, y) - cone) }
	trough := func(x, y float64) float64 { return x*x/400 + 0.5*y } // hollow across a plane that falls to the south
	for _, c := range []struct {
		name                         string
		heights                      string
		profile, tangential, contour float64
		tolerance                    float64
	}{
		{"quadric", quadric, -0.0269044, -0.0200352, -0.0448, 5e-8},
		{"sphere of 1000 m", around(300, 400, 10, onSphere), 0.001, 0.001, 0.002, 1e-6},
		{"cone of slope 0.5 at 500 m", around(300, 400, 10, onCone), 0, 0.000894427, 0.002, 1e-6},
		{"trough", around(0, 0, 10, trough), 0, -0.005 / math.Sqrt(1.25), -0.01, 1e-8},
		{"plane", "1 4 7/-3 0 3/-7 -4 -1", 0, 0, 0, 1e-12},
	} {
		for b, want := range map[Bend]float64{Profile: c.profile, Tangential: c.tangential, Contour: c.contour} {
			if got := one(c.heights, curvatureOn(10, 10, b)); !(math.Abs(got-want) <= c.tolerance) {
				t.Errorf("%s, bend %d: %.9g, want %.9g", c.name, b, got, want)
			}
		}
	}
}

// TestCurvatureOblong: the trough on oblong cells has the curvature that it
// has on square ones.
func TestCurvatureOblong(t *testing.T) {
	wide := "1 0 1/1 0 1/1 0 1" // z = x²/400 with x 20 apart
	falling := "11 10 11/1 0 1/-9 -10 -9"
	if got := one(falling, curvatureOn(20, 40, Contour)); math.Abs(got+0.005/0.25) > 1e-9 {
		t.Errorf("contour of a trough on cells of 20 × 40: %g", got)
	}
	for b := Profile; b <= Contour; b++ {
		if got := one(wide, curvatureOn(20, 40, b)); got == got {
			t.Errorf("bend %d on the floor of a trough, which is level: %g", b, got)
		}
	}
	flat := "5 5 5/5 5 5/5 5 5"
	p, c := one(flat, curvatureOn(10, 10, Profile)), one(flat, curvatureOn(10, 10, Contour))
	if p != 0 || c == c {
		t.Errorf("level plane: profile %g, contour %g", p, c)
	}
}

func ruggedOn(r Rugged) func(dst, src raster.Tile) {
	return func(dst, src raster.Tile) { Ruggedness(dst, src, r) }
}

// TestRuggedness holds both to worked values that GDAL 3.6.2 and the
// definitions agree on; the plane's Wilson is (3+3+4+4+7+7+1+1)/8.
func TestRuggedness(t *testing.T) {
	plane := "1 4 7/-3 0 3/-7 -4 -1"
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"M, Riley", one(m3, ruggedOn(Riley)), 14.696938},
		{"M, Wilson", one(m3, ruggedOn(Wilson)), 4.75},
		{"plane, Riley", one(plane, ruggedOn(Riley)), 12.247449},
		{"plane, Wilson", one(plane, ruggedOn(Wilson)), 3.75},
		{"flat", one("5 5 5/5 5 5/5 5 5", ruggedOn(Riley)), 0},
	} {
		if math.Abs(c.got-c.want) > 1e-6 {
			t.Errorf("%s: %.7f, want %.7f", c.name, c.got, c.want)
		}
	}
}

// TestShapesNumpy holds curvatures and ruggedness of random ground with holes,
// on oblong cells, to their definitions in numpy.
func TestShapesNumpy(t *testing.T) {
	src := randomTile(92, 62, true)
	for name, c := range map[string]struct {
		kernel  func(dst, src raster.Tile)
		formula string
	}{
		"profile":    {curvatureOn(10, 12.5, Profile), "-(p*p*r+2*p*q*s+q*q*t)/(g2*(1+g2)**1.5)"},
		"tangential": {curvatureOn(10, 12.5, Tangential), "-(q*q*r-2*p*q*s+p*p*t)/(g2*(1+g2)**0.5)"},
		"contour":    {curvatureOn(10, 12.5, Contour), "-(q*q*r-2*p*q*s+p*p*t)/g2**1.5"},
		"Riley":      {ruggedOn(Riley), "np.sqrt(sum((x-e)**2 for x in all))"},
		"Wilson":     {ruggedOn(Wilson), "sum(abs(x-e) for x in all)/8"},
	} {
		dst := raster.NewTile(src.Window.Grow(-1))
		c.kernel(dst, src)
		script := `
import sys, numpy as np
z = np.array(sys.stdin.read().split(), dtype=np.float32).astype(float).reshape(62, 92)
a,b,c,d,e,f,g,h,i = all = [z[1+r:61+r, 1+k:91+k] for r in (-1,0,1) for k in (-1,0,1)]
p = (c+f+i-a-d-g)/60; q = (a+b+c-g-h-i)/75
r = (a+c+d+f+g+i-2*(b+e+h))/300; t = (a+b+c+g+h+i-2*(d+e+f))/(3*12.5**2); s = (c+g-a-i)/500
g2 = p*p+q*q
np.savetxt(sys.stdout, (` + c.formula + `+0*sum(all)).ravel(), fmt="%.9g")
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
			if math.IsNaN(want) != math.IsNaN(got) || math.Abs(got-want) > 4*halfStep(want)+1e-9 {
				t.Fatalf("%s, cell %d: %.9g, numpy says %s", name, i, got, f)
			}
		}
	}
}

func ExampleCurvature() {
	// A spur: the middle column is higher than those beside it.
	src := raster.Tile{Window: raster.Window{Col: -1, Row: -1, Cols: 3, Rows: 3}, Values: []float32{12, 14, 12, 10, 12, 10, 8, 10, 8}}
	dst := raster.NewTile(raster.Window{Cols: 1, Rows: 1})
	Curvature(dst, src, 10, 10, Contour)
	fmt.Printf("%.2f for each metre\n", dst.Values[0])
	// Output: 0.20 for each metre
}

func ExampleRuggedness() {
	src := raster.Tile{Window: raster.Window{Col: -1, Row: -1, Cols: 3, Rows: 3}, Values: []float32{1, 4, 7, -3, 0, 3, -7, -4, -1}}
	dst := raster.NewTile(raster.Window{Cols: 1, Rows: 1})
	Ruggedness(dst, src, Wilson)
	fmt.Println(dst.Values)
	// Output: [3.75]
}
