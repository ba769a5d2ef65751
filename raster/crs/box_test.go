package crs

import (
	"math"
	"testing"
)

func near(a, b Box, tol float64) bool {
	return math.Abs(a.West-b.West) <= tol && math.Abs(a.South-b.South) <= tol && math.Abs(a.East-b.East) <= tol && math.Abs(a.North-b.North) <= tol
}

func TestUsableBox(t *testing.T) {
	for _, c := range []struct {
		why, crs string
		in       [4]float64
		want     Box
		tol      float64
	}{
		// GDAL 3.6.2, the bbox of its RFC 7946 output for this box.
		{"across the antimeridian", "EPSG:32601", [4]float64{330000, 7000000, 370000, 7020000}, Box{179.6114741, 63.0893393, -179.576356, 63.285257}, 1e-6},
		{"degrees stay", "EPSG:4326", [4]float64{5, 40, 10, 50}, Box{5, 40, 10, 50}, 0},
		// NTF counts in grads (0.9 degree) from Paris, 2.33722917 degrees east.
		{"grads from Paris", "EPSG:4807", [4]float64{0, 50, 10, 60}, Box{2.33722917, 45, 11.33722917, 54}, 1e-8},
		{"round the pole", "EPSG:3413", [4]float64{-1e6, -1e6, 1e6, 1e6}, Box{-180, 77, 180, 90}, .01},
		{"round the south pole", "EPSG:3031", [4]float64{-1e6, -1e6, 1e6, 1e6}, Box{-180, -90, 180, -77}, .1},
		// Longitude is -45 + atan2(x, -y); a degree of latitude is 108.3 km there.
		{"beside the pole", "EPSG:3413", [4]float64{1e5, 1e5, 2e5, 2e5}, Box{71.565, 87.39, 108.435, 88.695}, .02},
		{"the whole web map", "EPSG:3857", [4]float64{-20037508.342789244, -20037508.342789244, 20037508.342789244, 20037508.342789244}, Box{-180, -85.0511288, 180, 85.0511288}, 1e-6},
		{"whole circles of degrees", "EPSG:4326", [4]float64{0, -90, 360, 90}, Box{-180, -90, 180, 90}, 0},
		{"beyond 180 degrees", "EPSG:4326", [4]float64{170, 0, 190, 10}, Box{170, 0, -170, 10}, 1e-9},
	} {
		got, err := UsableBox(c.crs, c.in[0], c.in[1], c.in[2], c.in[3])
		if err != nil || !near(got, c.want, c.tol) {
			t.Errorf("%s: %v, %v", c.why, got, err)
		}
	}
}

// The edges of a UTM box bow: corners alone would miss their middles.
func TestUsableBoxHoldsItsEdges(t *testing.T) {
	const west, south, east, north = 200000, 5500000, 800000, 6200000
	box, err := UsableBox("EPSG:25831", west, south, east, north)
	if err != nil {
		t.Fatal(err)
	}
	op, err := Choose("EPSG:25831", "EPSG:4258", Box{}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for i := range 101 {
		at := west + (east-west)*float64(i)/100
		for _, y := range []float64{south, north} {
			lon, lat := run(t, op, at, y)
			if lon < box.West || lon > box.East || lat < box.South || lat > box.North {
				t.Fatalf("%v %v lies outside %v", lon, lat, box)
			}
		}
	}
}

// A box that reaches beyond an interrupted projection counts with what lies on
// the earth.
func TestUsableBoxBeyondTheProjection(t *testing.T) {
	got, err := UsableBox("ESRI:54052", -2e7, -8e6, 2e7, 8e6)
	if err != nil || got.West != -180 || got.East != 180 || got.North < 70 || got.South > -70 {
		t.Errorf("%v, %v", got, err)
	}
	_, err = UsableBox("ESRI:54052", 3e7, 3e7, 4e7, 4e7)
	mustRefuse(t, err, "CRS")
}

func TestUsableBoxRefuses(t *testing.T) {
	for _, b := range [][4]float64{{2, 0, 1, 1}, {0, 2, 1, 1}, {math.NaN(), 0, 1, 1}, {0, 0, math.Inf(1), 1}} {
		_, err := UsableBox("EPSG:25831", b[0], b[1], b[2], b[3])
		mustRefuse(t, err, "west before east")
	}
	_, err := UsableBox("nonsense", 0, 0, 1, 1)
	mustRefuse(t, err, "by code")
}

// Zones with the exceptions for Norway and Svalbard as GeoConvert
// (GeographicLib 2.1.2) gives them.
func TestUTMZone(t *testing.T) {
	for _, c := range []struct {
		lat, lon float64
		zone     int
	}{
		{33.3, 44.4, 38}, {51.5, -.125, 30}, {60, 5, 32}, {56, 2.9, 31}, {56, 3.1, 32},
		{72, 8.9, 31}, {72, 9.1, 33}, {78, 20.9, 33}, {78, 21.1, 35}, {78, 33.1, 37}, {0, -180, 1}, {0, 180, 60},
	} {
		if got := utmZone(c.lon, c.lat); got != c.zone {
			t.Errorf("%v %v: zone %d, want %d", c.lat, c.lon, got, c.zone)
		}
	}
}

func TestSuggestProjected(t *testing.T) {
	for _, c := range []struct {
		box  Box
		want string
	}{
		{Box{1, 51, 2, 52}, "EPSG:25831"},
		{Box{-74, 40, -73, 41}, "EPSG:32618"},
		{Box{146, -43, 147, -42}, "EPSG:32755"},
		{Box{179, -18, -179, -17}, "EPSG:32701"},
		{Box{10, 85, 20, 86}, "EPSG:5041"},
		{Box{10, -86, 20, -85}, "EPSG:5042"},
	} {
		got := SuggestProjected(c.box)
		if got != c.want {
			t.Errorf("%v: %s, want %s", c.box, got, c.want)
		}
		if info, err := Describe(got); err != nil || info.MetresPerUnit != 1 {
			t.Errorf("%s: %+v, %v", got, info, err)
		}
	}
}
