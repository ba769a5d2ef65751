package gridref

import (
	"errors"
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"likelyground/raster/crs"
)

// TestBritish: the first is the example of the Ordnance Survey's "A guide to
// coordinate systems in Great Britain", the second the summit of Ben Nevis,
// the others corners of squares of the published key map. References are cut
// off, not rounded.
func TestBritish(t *testing.T) {
	for _, c := range []struct {
		e, n   float64
		digits int
		want   string
	}{
		{651409.9, 313177.9, 5, "TG 51409 13177"},
		{651409, 313177, 3, "TG 514 131"},
		{216650, 771250, 5, "NN 16650 71250"},
		{0, 0, 0, "SV"},
		{530000, 180000, 0, "TQ"},
		{400000, 1200000, 0, "HP"},
		{530000, 180000, 1, "TQ 3 8"},
	} {
		got, err := British(c.e, c.n, c.digits)
		if got != c.want || err != nil {
			t.Errorf("%g %g: %q %v, want %q", c.e, c.n, got, err, c.want)
		}
		p, err := Parse(c.want)
		side := 100000 / math.Pow(10, float64(c.digits))
		if err != nil || p.CRS != "EPSG:27700" || math.Abs(p.Size-side) > 1e-9 || math.Abs(p.Easting-c.e) > side/2 || math.Abs(p.Northing-c.n) > side/2 || p.Text != c.want {
			t.Errorf("%q: %+v %v", c.want, p, err)
		}
	}
}

// TestIrish: letters by the published key map; the CRS that a reference is
// given must bring the place to its published coordinates in Irish Transverse
// Mercator, and the origin of that projection to its own.
func TestIrish(t *testing.T) {
	got, err := Irish(315904, 234671, 5)
	if got != "O 15904 34671" || err != nil {
		t.Error(got, err)
	}
	p, err := Parse("o1590434671")
	if err != nil || p.CRS != "EPSG:29903" || p.Easting != 315904.5 || p.Northing != 234671.5 || p.Size != 1 {
		t.Fatal(p, err)
	}
	for _, c := range []struct {
		from           string
		x, y           float64
		wantX, wantY   float64
		within, accept float64
	}{
		{p.CRS, p.Easting - 0.5, p.Northing - 0.5, 715829.945, 734697.234, 0.01, 1},
		{"EPSG:4258", -8, 53.5, 600000, 750000, 0.001, 1},
	} {
		op, err := crs.Choose(c.from, "EPSG:2157", crs.Box{West: -10, South: 51, East: -6, North: 55}, crs.Options{})
		if err != nil {
			t.Fatal(err)
		}
		tr, err := op.Open()
		if err != nil {
			t.Fatal(err)
		}
		x, y := []float64{c.x}, []float64{c.y}
		tr.Forward(x, y)
		tr.Close()
		if math.Hypot(x[0]-c.wantX, y[0]-c.wantY) > c.within || op.Accuracy > c.accept {
			t.Errorf("%s: %.3f %.3f, accuracy %g", c.from, x[0], y[0], op.Accuracy)
		}
	}
}

// TestUTM: figures of GeoConvert (GeographicLib 2), and its zones around
// Norway and Svalbard.
func TestUTM(t *testing.T) {
	u, ok := FromLonLat(44.4, 33.3)
	if !ok || u.String() != "38N 444140.545 3684706.356" || u.MGRS(5) != "38S MB 44140 84706" {
		t.Error(u, u.MGRS(5))
	}
	for _, c := range []struct {
		lat, lon float64
		mgrs     string
	}{
		{51.5, -0.125, "30U XC 99542 09348"},
		{60, 5, "32V KM 76979 58157"},
		{33.3, 44.4, "38S MB 44140 84706"},
	} {
		u, _ := FromLonLat(c.lon, c.lat)
		if got := u.MGRS(5); got != c.mgrs {
			t.Errorf("%g %g: %s, want %s", c.lat, c.lon, got, c.mgrs)
		}
		p, err := Parse(c.mgrs)
		if err != nil || p.CRS != u.CRS() || math.Abs(p.Easting-u.Easting) > 0.51 || math.Abs(p.Northing-u.Northing) > 0.51 {
			t.Errorf("%s: %+v %v, want %v", c.mgrs, p, err, u)
		}
	}
	for _, c := range []struct {
		lat, lon float64
		zone     int
	}{{56, 2.9, 31}, {56, 3.1, 32}, {72, 8.9, 31}, {72, 9.1, 33}, {72, 20.9, 33}, {72, 21.1, 35}, {72, 33.1, 37}, {72, 41.9, 37}, {72, 42.1, 38}, {64, 3.1, 31}, {0, 180, 1}, {0, -180, 1}, {-33, 151, 56}} {
		if u, ok := FromLonLat(c.lon, c.lat); !ok || u.Zone != c.zone {
			t.Errorf("%g %g: zone %d, want %d", c.lat, c.lon, u.Zone, c.zone)
		}
	}
	for _, c := range [][2]float64{{0, 84.1}, {0, -80.1}, {181, 0}, {math.NaN(), 0}} {
		if u, ok := FromLonLat(c[0], c[1]); ok {
			t.Errorf("%v has UTM coordinates %v", c, u)
		}
	}
	p, err := Parse("38N 444140.545 3684706.356")
	if err != nil || p.Easting != 444140.545 || p.Northing != 3684706.356 || p.CRS != "EPSG:32638" || p.Size != 0 {
		t.Error(p, err)
	}
	if p, err := Parse("56h 334000 6252000"); err != nil || p.CRS != "EPSG:32756" {
		t.Error(p, err)
	}
}

// TestMercator holds the projection to PROJ's, over the width that MGRS uses.
func TestMercator(t *testing.T) {
	op, err := crs.Choose("EPSG:4326", "EPSG:32632", crs.Box{}, crs.Options{})
	if err != nil {
		t.Fatal(err)
	}
	tr, err := op.Open()
	if err != nil {
		t.Fatal(err)
	}
	defer tr.Close()
	for lat := -80.0; lat <= 84; lat += 4 {
		for lon := 0.0; lon <= 18; lon += 3 {
			x, y := []float64{lon}, []float64{lat}
			tr.Forward(x, y)
			e, n := mercator(lat, lon-9)
			if math.Hypot(e+falseEast-x[0], n-y[0]) > 1e-6 {
				t.Errorf("%g %g: %.7f %.7f, PROJ %.7f %.7f", lat, lon, e+falseEast, n, x[0], y[0])
			}
		}
	}
}

// TestMGRSGoesRound: a reference written of any place is read as a square
// that holds it, in the same zone and hemisphere.
func TestMGRSGoesRound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		u, ok := FromLonLat(rapid.Float64Range(-180, 180).Draw(t, "lon"), rapid.Float64Range(-80, 84).Draw(t, "lat"))
		digits := rapid.IntRange(0, 5).Draw(t, "digits")
		p, err := Parse(u.MGRS(digits))
		if !ok || err != nil || p.CRS != u.CRS() {
			t.Fatalf("%v: %s: %+v %v", u, u.MGRS(digits), p, err)
		}
		if math.Abs(p.Easting-u.Easting) > p.Size/2+1e-5 || math.Abs(p.Northing-u.Northing) > p.Size/2+1e-5 {
			t.Fatalf("%v: %s: %+v", u, u.MGRS(digits), p)
		}
	})
}

// TestLettersGoRound does so for the national grids.
func TestLettersGoRound(t *testing.T) {
	for _, g := range []lettered{britishGrid, irishGrid} {
		rapid.Check(t, func(t *rapid.T) {
			e := rapid.Float64Range(0, float64(g.width*square100)-1e-6).Draw(t, "e")
			n := rapid.Float64Range(0, float64(g.height*square100)-1e-6).Draw(t, "n")
			text, err := g.format(e, n, rapid.IntRange(0, 5).Draw(t, "digits"))
			if err != nil {
				t.Fatal(err)
			}
			p, err := Parse(text)
			if err != nil || p.Text != text || math.Abs(p.Easting-e) > p.Size/2 || math.Abs(p.Northing-n) > p.Size/2 {
				t.Fatalf("%g %g: %s: %+v %v", e, n, text, p, err)
			}
		})
	}
}

// TestSpellings: what people write for one place.
func TestSpellings(t *testing.T) {
	for _, text := range []string{"TG 514 131", "tg514131", "TG514131", "TG 514131", " tg  514 131 ", "T G 514 131", "TG,514,131"} {
		if p, err := Parse(text); err != nil || p.Text != "TG 514 131" || p.Easting != 651450 || p.Northing != 313150 || p.Size != 100 {
			t.Errorf("%q: %+v %v", text, p, err)
		}
	}
	for _, text := range []string{"38SMB4484", "38S MB 44 84", "38 SMB 44 84", "38smb 4484"} {
		if p, err := Parse(text); err != nil || p.Text != "38S MB 44 84" || p.Easting != 444500 || p.Northing != 3684500 {
			t.Errorf("%q: %+v %v", text, p, err)
		}
	}
}

// TestRefusals: each says what to write instead.
func TestRefusals(t *testing.T) {
	for _, text := range []string{
		"", "  ", "TG 51409 1317", "TG 51409a 13177", "TG 514 131 7", "TG 514091 131771", "TI 514 131", "AA 1 1", "JE 1 1", "I 1 1", "TGX 1 1",
		"61S MB 44 84", "0S MB 44 84", "38I MB 44 84", "38S AB 44 84", "38S MW 44 84", "38X MB 44 84", "38SM 44 84", "38N", "38N 1 2 3", "38N x y", "38N 5000000 1", "38A 444140 3684706",
		"38N NaN 5", "ÅÄ 1 1", "TG 1 1; rm", "1234567890123456789012345678901234567890", "Z 44 84 12",
	} {
		p, err := Parse(text)
		var problem *Problem
		if !errors.As(err, &problem) || problem.Remedy() == "" || !problem.MustChange() {
			t.Errorf("%q: %+v %v", text, p, err)
		}
	}
	for _, at := range [][2]float64{{-1, 0}, {700000, 0}, {0, 1300000}, {math.NaN(), 0}} {
		if s, err := British(at[0], at[1], 5); err == nil {
			t.Errorf("%v is %s", at, s)
		}
	}
}

// FuzzParse: whatever is read is finite and reads the same in its usual
// spelling.
func FuzzParse(f *testing.F) {
	for _, s := range []string{"TG 51409 13177", "O1590434671", "38SMB4414084706", "38N 444140.545 3684706.356", "SV", "32V KM", "N 1 1", "60X WV 1 1", "01C AA"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		p, err := Parse(text)
		if err != nil {
			return
		}
		if !(p.Easting >= 0 && p.Easting <= 1e6 && p.Northing >= 0 && p.Northing <= falseNorth) || p.CRS == "" {
			t.Fatalf("%q: %+v", text, p)
		}
		again, err := Parse(p.Text)
		if err != nil || again != p {
			t.Fatalf("%q: %+v, in its usual spelling %+v %v", text, p, again, err)
		}
	})
}

func ExampleParse() {
	p, err := Parse("NN 166 712")
	fmt.Println(p.CRS, p.Easting, p.Northing, p.Size, err)
	// Output: EPSG:27700 216650 771250 100 <nil>
}

func ExampleFromLonLat() {
	u, _ := FromLonLat(44.4, 33.3)
	fmt.Println(u)
	fmt.Println(u.MGRS(5))
	// Output:
	// 38N 444140.545 3684706.356
	// 38S MB 44140 84706
}
