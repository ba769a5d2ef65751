package response

import (
	"errors"
	"math"
	"math/rand"
	"sort"
	"testing"

	"pgregory.net/rapid"
)

var nan = float32(math.NaN())

func mustCurve(t testing.TB, points ...Point) Curve {
	t.Helper()
	c, err := NewCurve(points)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestCurveBetweenAtAndBeyondItsPoints(t *testing.T) {
	c := mustCurve(t, Point{6.3, 0}, Point{4.5, 1}, Point{5.5, 1}) // the design's soil curve, unsorted
	inf := float32(math.Inf(1))
	for x, want := range map[float32]float32{
		3: 1, 4.5: 1, 5: 1, 5.5: 1, 5.9: 0.5, 6.3: 0, 9: 0, -inf: 1, inf: 0,
	} {
		if got := c.At(x); math.Abs(float64(got-want)) > 1e-6 {
			t.Errorf("At(%v) = %v, want %v", x, got, want)
		}
	}
	if got := c.At(nan); got == got {
		t.Errorf("At(NaN) = %v, want missing", got)
	}
	var zero Curve
	if y, m := zero.At(3), zero.At(nan); y != 0 || m == m {
		t.Errorf("zero curve gives %v and %v for missing", y, m)
	}
}

// A score of exactly 0 can veto a cell, so a decimal point must hit exactly
// although float32 cannot hold it.
func TestCurveIsExactAtDecimalPoints(t *testing.T) {
	for tenth := 20; tenth < 110; tenth++ {
		x := float64(tenth) / 10
		c := mustCurve(t, Point{x - 1, 1}, Point{x, 0}, Point{x + 1, 0.3})
		if got := c.At(float32(float64(tenth) * 0.1)); got != 0 {
			t.Errorf("at pH %v got %v, want exactly 0", x, got)
		}
		if got := c.At(float32(x + 1)); got != 0.3 {
			t.Errorf("at pH %v got %v, want exactly 0.3", x+1, got)
		}
	}
}

func TestCurveBoundsAreWhereItTurnsFlat(t *testing.T) {
	for _, c := range []struct {
		points []Point
		lo, hi float64
	}{
		{[]Point{{4.5, 1}, {5.5, 1}, {6.5, 0}}, 5.5, 6.5},
		{[]Point{{0, 1}, {100, 0.2}, {500, 0}, {900, 0}, {950, 0}}, 0, 500},
		{[]Point{{1, 0}, {2, 1}, {3, 1}, {4, 0}}, 1, 4},
		{[]Point{{7, 0.5}}, 7, 7},
		{[]Point{{1, 0.5}, {2, 0.5}, {3, 0.5}}, 1, 1},
	} {
		curve := mustCurve(t, c.points...)
		if lo, hi := curve.Bounds(); lo != c.lo || hi != c.hi {
			t.Errorf("%v: bounds %v %v, want %v %v", c.points, lo, hi, c.lo, c.hi)
		}
	}
}

func TestCurveRefuses(t *testing.T) {
	for name, points := range map[string][]Point{
		"none": nil, "above 1": {{1, 1.5}}, "below 0": {{1, -0.1}}, "NaN score": {{1, math.NaN()}},
		"NaN": {{math.NaN(), 1}}, "infinite": {{math.Inf(1), 1}}, "beyond float32": {{1e300, 1}},
		"twice": {{1, 0}, {2, 1}, {1, 1}}, "one in float32": {{1, 0}, {1 + 1e-12, 1}},
	} {
		_, err := NewCurve(points)
		var e *Error
		if !errors.As(err, &e) || !e.MustChange() || e.Remedy() == "" {
			t.Errorf("%s: got %v, want an error with a remedy", name, err)
		}
	}
}

func drawCurve(t *rapid.T) Curve {
	n := rapid.IntRange(1, 20).Draw(t, "points")
	xs := rapid.SliceOfNDistinct(rapid.Float32Range(-1000, 1000), n, n, func(x float32) float32 { return x + 0 }).Draw(t, "x")
	points := make([]Point, n)
	for i, x := range xs {
		points[i] = Point{float64(x), rapid.Float64Range(0, 1).Draw(t, "y")}
	}
	c, err := NewCurve(points)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// reference is the definition, by a search from the left.
func reference(points []Point, x float64) float64 {
	if x <= points[0].X {
		return points[0].Y
	}
	for i := 1; i < len(points); i++ {
		p, q := points[i-1], points[i]
		if x < q.X {
			return p.Y + (x-p.X)/(q.X-p.X)*(q.Y-p.Y)
		}
	}
	return points[len(points)-1].Y
}

func TestCurveAgreesWithItsDefinition(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := drawCurve(t)
		src := rapid.SliceOfN(rapid.Float32Range(-1100, 1100), 1, 50).Draw(t, "src")
		for _, p := range c.Points() {
			src = append(src, float32(p.X), math.Nextafter32(float32(p.X), -2000), math.Nextafter32(float32(p.X), 2000))
		}
		dst := make([]float32, len(src))
		c.Apply(dst, src)
		for i, x := range src {
			if want := reference(c.Points(), float64(x)); math.Abs(float64(dst[i])-want) > 1e-7 {
				t.Fatalf("%v at %v: %v, want %v", c.Points(), x, dst[i], want)
			}
		}
		for _, p := range c.Points() {
			if got := c.At(float32(p.X)); got != float32(p.Y) {
				t.Fatalf("at the point %v: %v", p, got)
			}
		}
	})
}

func TestCurveIsMonotoneBetweenItsPoints(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := Point{rapid.Float64Range(-10, 10).Draw(t, "x"), rapid.Float64Range(0, 1).Draw(t, "y")}
		q := Point{p.X + rapid.Float64Range(0.001, 10).Draw(t, "dx"), rapid.Float64Range(p.Y, 1).Draw(t, "y2")}
		c, err := NewCurve([]Point{p, q})
		if err != nil {
			t.Fatal(err)
		}
		src := rapid.SliceOfN(rapid.Float32Range(-15, 25), 2, 50).Draw(t, "src")
		src = append(src, float32(q.X), math.Nextafter32(float32(q.X), -100))
		sort.Slice(src, func(i, j int) bool { return src[i] < src[j] })
		c.Apply(src, src)
		for i := 1; i < len(src); i++ {
			if src[i] < src[i-1] {
				t.Fatalf("rising curve falls from %v to %v", src[i-1], src[i])
			}
		}
	})
}

func BenchmarkCurve(b *testing.B) {
	for _, n := range []int{3, 12} {
		points := make([]Point, n)
		for i := range points {
			points[i] = Point{4 + 3*float64(i)/float64(n), float64(i%3) / 2}
		}
		c := mustCurve(b, points...)
		smooth, rough := make([]float32, 4096), make([]float32, 4096)
		r := rand.New(rand.NewSource(1))
		for i := range smooth {
			smooth[i] = float32(5.5 + 2*math.Sin(float64(i)/80))
			rough[i] = 3.5 + 4*r.Float32()
		}
		dst := make([]float32, 4096)
		for name, src := range map[string][]float32{"smooth": smooth, "rough": rough} {
			b.Run(name, func(b *testing.B) {
				b.ReportAllocs()
				for i := 0; i < b.N; i++ {
					c.Apply(dst, src)
				}
				b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(len(src)), "ns/cell")
			})
		}
	}
}
