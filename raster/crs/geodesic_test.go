package crs

import (
	"math"
	"testing"
)

// Values of Karney (2013) and of the GeographicLib test set, and the area of a
// degree at the equator by GeographicLib 2.1.2.
func TestPolygonArea(t *testing.T) {
	for _, c := range []struct {
		lat, lon        []float64
		area, perimeter float64
		tolA, tolP      float64
	}{
		{[]float64{0, 0, 1, 1}, []float64{0, 1, 1, 0}, 12308778361.469, 443770.917, .001, .001},
		{[]float64{89, 89, 89, 89}, []float64{0, 90, 180, 270}, 24952305678, 631819.8745, 1, 1e-4},
		{[]float64{0, -1, 0, 1}, []float64{-1, 0, 1, 0}, 24619419147, 627598.2731, 1, 1e-4},
		{[]float64{0, 0, 90}, []float64{0, 90, 0}, 63758202715511.1, 30022685.631, .1, .001},
		{nil, nil, 0, 0, 0, 0},
	} {
		a, p := PolygonArea(c.lon, c.lat)
		if math.Abs(a-c.area) > c.tolA || c.perimeter != 0 && math.Abs(p-c.perimeter) > c.tolP {
			t.Errorf("%v %v: %f, %f", c.lat, c.lon, a, p)
		}
	}
	if a, _ := PolygonArea([]float64{0, 1, 1, 0}, []float64{0, 0, -1, -1}); a >= 0 {
		t.Errorf("a clockwise ring has %v", a)
	}
}

// Karney (2013), the GeographicLib test GeodSolve0.
func TestDistance(t *testing.T) {
	s, a, b := Distance(-73.8, 40.6, 2.55, 49.01666666666667)
	if math.Abs(s-5853226.256) > .001 || math.Abs(a-53.470218) > 1e-6 || math.Abs(b-111.593670) > 1e-6 {
		t.Errorf("%.4f %.6f %.6f", s, a, b)
	}
}
