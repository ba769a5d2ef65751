package terrain

import (
	"fmt"
	"math"
	"testing"

	"likelyground/raster"
)

// at is the same place for every cell of a grid, which is turned clockwise by
// some degrees from true north.
type at struct{ latitude, turn float64 }

func (a at) Row(_, _ int, sinLat, cosTurn, sinTurn []float64) {
	l := math.Sin(a.latitude * math.Pi / 180)
	s, c := math.Sincos(a.turn * math.Pi / 180)
	for i := range sinLat {
		sinLat[i], cosTurn[i], sinTurn[i] = l, c, s
	}
}

// leaning is nine heights, cell 10, of a slope of some degrees that faces an
// aspect, both in degrees.
func leaning(slope, aspect float64) string {
	g := math.Tan(slope * math.Pi / 180)
	s, c := math.Sincos(aspect * math.Pi / 180)
	return around(0, 0, 10, func(x, y float64) float64 { return -g * (x*s + y*c) })
}

func heatOn(e Equation, w Warmest, l Lie) func(dst, src raster.Tile) {
	h := NewHeatLoad(e, w, l)
	return func(dst, src raster.Tile) { h.Values(dst, src, 10, 10) }
}

// TestHeatLoad holds the three equations of McCune & Keon (2002) to values
// worked out from them by hand elsewhere, aspects folded about 225 or 180
// degrees.
func TestHeatLoad(t *testing.T) {
	for _, c := range []struct {
		latitude, slope, aspect float64
		warmest                 Warmest
		want                    [3]float64
	}{
		{45, 0, 0, Southwest, [3]float64{.705847, .754722, .910342}},
		{45, 30, 225, Southwest, [3]float64{.941268, .960949, 1.005500}},
		{45, 30, 45, Southwest, [3]float64{.325892, .363196, .523500}},
		{52, 20, 100, Southwest, [3]float64{.504496, .521086, .659073}},
		{52, 20, 350, Southwest, [3]float64{.504496, .521086, .659073}},
		{52, 20, 100, South, [3]float64{.706296, .702237, .782256}},
	} {
		for i, want := range c.want {
			got := one(leaning(c.slope, c.aspect), heatOn(Equation(i+1), c.warmest, at{latitude: c.latitude}))
			if math.Abs(got-want) > 1e-6 {
				t.Errorf("latitude %g, slope %g, aspect %g, equation %d: %.6f, want %.6f", c.latitude, c.slope, c.aspect, i+1, got, want)
			}
			turned := one(leaning(c.slope, c.aspect-30), heatOn(Equation(i+1), c.warmest, at{latitude: c.latitude, turn: 30}))
			if math.Abs(turned-want) > 2e-6 {
				t.Errorf("the same on a grid turned by 30 degrees: %.6f, want %.6f", turned, want)
			}
		}
	}
}

// TestHeatLoadEnds: beyond the latitudes and slopes that an equation was
// fitted to, and south of the equator, its value is missing.
func TestHeatLoadEnds(t *testing.T) {
	for _, c := range []struct {
		e               Equation
		latitude, slope float64
		known           bool
	}{
		{First, 60, 80, true}, {First, 60.01, 10, false}, {First, 0, 10, true}, {First, -0.01, 10, false},
		{Second, 10, 59.9, true}, {Second, 10, 60.1, false},
		{Third, 30.01, 10, true}, {Third, 29.9, 10, false}, {Third, 45, 60.1, false},
	} {
		got := one(leaning(c.slope, 200), heatOn(c.e, Southwest, at{latitude: c.latitude}))
		if (got == got) != c.known {
			t.Errorf("equation %d at latitude %g, slope %g: %g", c.e, c.latitude, c.slope, got)
		}
	}
}

func radiationOn(day int, l Lie) func(dst, src raster.Tile) {
	r := NewRadiation(DayOf(day), l)
	return func(dst, src raster.Tile) { r.Values(dst, src, 10, 10) }
}

// TestRadiation holds level ground to Example 8 of FAO-56 (Allen and others
// 1998; 32.2 MJ/m² on 3 September at 20° S) and slopes to integrals worked
// out elsewhere.
func TestRadiation(t *testing.T) {
	for _, c := range []struct {
		latitude      float64
		day           int
		slope, aspect float64
		want          float64
	}{
		{-20, 246, 0, 0, 32.194},
		{52, 80, 0, 0, 23.0411},
		{52, 80, 30, 180, 34.9526},
		{52, 80, 30, 0, 4.9583},
		{52, 80, 30, 90, 23.6819},
		{52, 80, 30, 270, 23.6819},
		{52, 355, 30, 0, 0},
	} {
		if got := one(leaning(c.slope, c.aspect), radiationOn(c.day, at{latitude: c.latitude})); math.Abs(got-c.want) > 1e-3 {
			t.Errorf("%+v: %.4f", c, got)
		}
		if got := one(leaning(c.slope, c.aspect+50), radiationOn(c.day, at{latitude: c.latitude, turn: -50})); math.Abs(got-c.want) > 1e-3 {
			t.Errorf("%+v on a grid turned by -50 degrees: %.4f", c, got)
		}
	}
}

// summed is the definition: sunshine summed up over the minutes of a day.
func summed(latitude, slope, aspect float64, day int) float64 {
	const rad = math.Pi / 180
	j := 2 * math.Pi * float64(day) / 365
	dec := 0.409 * math.Sin(j-1.39)
	sl, cl := math.Sincos(latitude * rad)
	sd, cd := math.Sincos(dec)
	ss, cs := math.Sincos(slope * rad)
	sa, ca := math.Sincos(aspect * rad)
	const steps = 24 * 60 * 4
	sum := 0.0
	for i := range steps {
		sw, cw := math.Sincos(2 * math.Pi * (float64(i) + 0.5) / steps)
		east, north, up := -cd*sw, cl*sd-sl*cd*cw, sl*sd+cl*cd*cw
		if up > 0 {
			sum += max(0, east*ss*sa+north*ss*ca+up*cs)
		}
	}
	return sum * 24 * 60 / steps * 0.0820 * (1 + 0.033*math.Cos(j))
}

// TestRadiationBySum goes over the earth and the year: polar day and night,
// slopes that the sun leaves at noon and comes back to, steep ones.
func TestRadiationBySum(t *testing.T) {
	const step = 0.0820 * 1.033 / 4 / 2 * 2 // half a step of the sum, where the sun rises and where it sets
	twice := 0
	for _, latitude := range []float64{-90, -75, -40, -20, 0, 10, 23.45, 52, 66.5, 70, 89, 90} {
		for _, day := range []int{1, 80, 121, 172, 266, 355, 366} {
			for _, slope := range []float64{0, 5, 30, 60, 88} {
				for aspect := 0.0; aspect < 360; aspect += 40 {
					got := one(leaning(slope, aspect), radiationOn(day, at{latitude: latitude}))
					want := summed(latitude, slope, aspect, day)
					if math.Abs(got-want) > step {
						t.Fatalf("latitude %g, day %d, slope %g, aspect %g: %.5f, want %.5f", latitude, day, slope, aspect, got, want)
					}
					if slope == 60 && aspect == 0 && latitude == 52 && day == 172 && got > 0 {
						twice++ // morning and evening
					}
				}
			}
		}
	}
	if twice == 0 {
		t.Error("no slope lies in the sun twice a day")
	}
}

func TestExp(t *testing.T) {
	for x := -5.0; x < 5; x += 0.00037 {
		if got, want := exp(x), math.Exp(x); math.Abs(got-want) > 2e-15*want {
			t.Fatalf("exp(%g) = %g, want %g", x, got, want)
		}
	}
}

func benchmark(b *testing.B, kernel func(dst, src raster.Tile)) {
	src := rolling()
	dst := raster.NewTile(src.Window.Grow(-1))
	kernel(dst, src)
	b.ReportAllocs()
	for b.Loop() {
		kernel(dst, src)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/(512*512), "ns/cell")
}

func BenchmarkAspect(b *testing.B)    { benchmark(b, aspectOn(10, 10)) }
func BenchmarkProfile(b *testing.B)   { benchmark(b, curvatureOn(10, 10, Profile)) }
func BenchmarkContour(b *testing.B)   { benchmark(b, curvatureOn(10, 10, Contour)) }
func BenchmarkRiley(b *testing.B)     { benchmark(b, ruggedOn(Riley)) }
func BenchmarkWilson(b *testing.B)    { benchmark(b, ruggedOn(Wilson)) }
func BenchmarkHeatLoad(b *testing.B)  { benchmark(b, heatOn(First, Southwest, at{latitude: 52})) }
func BenchmarkRadiation(b *testing.B) { benchmark(b, radiationOn(172, at{latitude: 52})) }

func ExampleRadiation() {
	src := raster.Tile{Window: raster.Window{Col: -1, Row: -1, Cols: 3, Rows: 3}, Values: make([]float32, 9)} // level
	dst := raster.NewTile(raster.Window{Cols: 1, Rows: 1})
	r := NewRadiation(DayOf(246), at{latitude: -20})
	r.Values(dst, src, 10, 10)
	fmt.Printf("%.1f MJ/m² on 3 September at 20° S\n", dst.Values[0])
	// Output: 32.2 MJ/m² on 3 September at 20° S
}
