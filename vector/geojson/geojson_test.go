package geojson

import (
	"bytes"
	"encoding/json"
	"errors"
	"iter"
	"math"
	"strings"
	"testing"
)

func written(t *testing.T, c Collection) string {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, c); err != nil {
		t.Fatal(err)
	}
	if !json.Valid(b.Bytes()) {
		t.Fatalf("no JSON: %s", b.String())
	}
	return b.String()
}

// area writes one area and returns its bbox and geometry as written.
func area(t *testing.T, m MultiPolygon) (bbox, geometry string) {
	t.Helper()
	var got struct {
		Bbox     json.RawMessage
		Features []struct{ Bbox, Geometry json.RawMessage }
	}
	if err := json.Unmarshal([]byte(written(t, Collection{Features: Features(Feature{Geometry: m})})), &got); err != nil {
		t.Fatal(err)
	}
	f := got.Features[0]
	if !bytes.Equal(f.Bbox, got.Bbox) {
		t.Errorf("bbox %s, of the collection %s", f.Bbox, got.Bbox)
	}
	return string(f.Bbox), string(f.Geometry)
}

// box is a ring round a box, clockwise.
func box(west, south, east, north float64) Ring {
	return Ring{{west, south}, {west, north}, {east, north}, {east, south}}
}

// TestAntimeridian is F1 of the check values: the box 330000-370000,
// 7000000-7020000 of EPSG:32601, brought to WGS 84 by gdaltransform 3.6.2: the
// corners, and places of both edges some 5 m from the antimeridian, for GDAL's
// own writer (RFC7946=YES) finds the crossings in the projection. bbox and
// crossings are those that it wrote.
func TestAntimeridian(t *testing.T) {
	bbox, geometry := area(t, MultiPolygon{{{
		{179.632365218474, 63.0893392914817},
		{179.999866261842, 63.0976003565143}, {-179.999935924676, 63.0976045454591},
		{-179.57635595596, 63.1059389527504}, {-179.592353841726, 63.285257047191},
		{-179.999904981689, 63.277252203953}, {179.99989597551, 63.2772480085142},
		{179.611474050415, 63.2685284489662},
	}}})
	if want := "[179.6114741,63.0893393,-179.576356,63.285257]"; bbox != want {
		t.Errorf("%s, want %s", bbox, want)
	}
	want := `{"type":"MultiPolygon","coordinates":[` +
		`[[[180,63.2772502],[179.999896,63.277248],[179.6114741,63.2685284],[179.6323652,63.0893393],[179.9998663,63.0976004],[180,63.0976032],[180,63.2772502]]],` +
		`[[[-180,63.0976032],[-179.9999359,63.0976045],[-179.576356,63.105939],[-179.5923538,63.285257],[-179.999905,63.2772522],[-180,63.2772502],[-180,63.0976032]]]]}`
	if geometry != want {
		t.Errorf("%s, want %s", geometry, want)
	}
}

// TestRings: by hand; RFC 7946, sections 3.1.6 and 5.
func TestRings(t *testing.T) {
	hole := box(1, 1, 2, 2)
	for _, c := range []struct {
		name           string
		area           MultiPolygon
		bbox, geometry string
	}{
		{"clockwise", MultiPolygon{{box(0, 0, 4, 3)}}, "[0,0,4,3]",
			`{"type":"Polygon","coordinates":[[[4,0],[4,3],[0,3],[0,0],[4,0]]]}`},
		{"closed, with a hole", MultiPolygon{{append(box(0, 0, 4, 3), Position{0, 0}), hole}}, "[0,0,4,3]",
			`{"type":"Polygon","coordinates":[[[4,0],[4,3],[0,3],[0,0],[4,0]],[[1,1],[1,2],[2,2],[2,1],[1,1]]]}`},
		{"rounded", MultiPolygon{{{{0.00000004, -0.00000004}, {0.12345678, 0}, {10, 1.5}, {10, 1.50000001}}}}, "[0,0,10,1.5]",
			`{"type":"Polygon","coordinates":[[[0,0],[0.1234568,0],[10,1.5],[0,0]]]}`},
		{"hole gone", MultiPolygon{{box(0, 0, 1, 1), box(0.5, 0.5, 0.50000001, 0.6)}}, "[0,0,1,1]",
			`{"type":"Polygon","coordinates":[[[1,0],[1,1],[0,1],[0,0],[1,0]]]}`},
		{"part gone", MultiPolygon{{box(0, 0, 1e-9, 1)}, {box(-2, -1, -1, -0.5)}}, "[-2,-1,-1,-0.5]",
			`{"type":"Polygon","coordinates":[[[-1,-1],[-1,-0.5],[-2,-0.5],[-2,-1],[-1,-1]]]}`},
		{"all gone", MultiPolygon{{box(0, 0, 1e-9, 1), hole}}, "", "null"},
		{"spike", MultiPolygon{{{{0, 0}, {2, 0}, {5, 1}, {2, 1e-9}, {2, 2}}}}, "[0,0,2,2]",
			`{"type":"Polygon","coordinates":[[[0,0],[2,0],[2,2],[0,0]]]}`},
		{"spike at the seam", MultiPolygon{{{{5, 1}, {2, 0}, {2, 2}, {0, 0}, {2, 1e-9}}}}, "[0,0,2,2]",
			`{"type":"Polygon","coordinates":[[[2,0],[2,2],[0,0],[2,0]]]}`},
		{"nothing", nil, "", "null"},
		{"empty parts", MultiPolygon{{}, {{}}, {{{1, 1}, {2, 2}}}}, "", "null"},
		{"up to the antimeridian", MultiPolygon{{box(179, 0, 180, 1)}}, "[179,0,180,1]",
			`{"type":"Polygon","coordinates":[[[180,0],[180,1],[179,1],[179,0],[180,0]]]}`},
		{"from the antimeridian", MultiPolygon{{box(180, 0, 181, 1)}}, "[-180,0,-179,1]",
			`{"type":"Polygon","coordinates":[[[-179,0],[-179,1],[-180,1],[-180,0],[-179,0]]]}`},
	} {
		t.Run(c.name, func(t *testing.T) {
			bbox, geometry := area(t, c.area)
			if bbox != c.bbox || geometry != c.geometry {
				t.Errorf("%s %s, want %s %s", bbox, geometry, c.bbox, c.geometry)
			}
		})
	}
}

// TestCuts: by hand; holes on the antimeridian, and round the poles.
func TestCuts(t *testing.T) {
	ringAt := func(lat float64) (r Ring) {
		for lon := -170.0; lon < 180; lon += 40 {
			r = append(r, Position{lon, lat})
		}
		return r
	}
	for _, c := range []struct {
		name  string
		area  MultiPolygon
		bbox  string
		parts int
		holes int
	}{
		{"hole across", MultiPolygon{{box(170, 0, -170, 10), box(179, 4, -179, 6)}}, "[170,0,-170,10]", 2, 0},
		{"holes beside", MultiPolygon{{box(170, 0, -170, 10), box(172, 4, 173, 6), box(-173, 4, -172, 6)}}, "[170,0,-170,10]", 2, 2},
		{"hole up to it", MultiPolygon{{box(170, 0, -170, 10), box(172, 4, 180, 6)}}, "[170,0,-170,10]", 2, 0},
		{"comb", MultiPolygon{{{{170, 0}, {-170, 0}, {-170, 1}, {175, 1}, {175, 2}, {-170, 2}, {-170, 3}, {175, 3}, {175, 4}, {-170, 4}, {-170, 5}, {170, 5}},
			box(-178, 2.25, -177, 2.75)}}, "[170,0,-170,5]", 4, 1},
		{"north pole", MultiPolygon{{ringAt(80)}}, "[-180,80,180,90]", 1, 0},
		{"south pole with a hole across", MultiPolygon{{ringAt(-70), box(175, -80, -175, -75)}}, "[-180,-90,180,-70]", 1, 0},
		{"south pole with a hole", MultiPolygon{{ringAt(-70), box(-5, -80, 5, -75)}}, "[-180,-90,180,-70]", 1, 1},
		{"round the pole", MultiPolygon{{ringAt(70), ringAt(80)}}, "[-180,70,180,80]", 1, 0},
		{"two beside", MultiPolygon{{box(170, 0, 171, 1)}, {box(-171, 0, -170, 1)}}, "[170,0,-170,1]", 2, 0},
		{"two as far apart either way", MultiPolygon{{box(-90.5, 0, -89.5, 1)}, {box(89.5, 0, 90.5, 1)}}, "[-90.5,0,90.5,1]", 2, 0},
		{"two apart", MultiPolygon{{box(-80, 0, -79, 1)}, {box(79, 0, 80, 1)}}, "[-80,0,80,1]", 2, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			bbox, _ := area(t, c.area)
			pieces, err := flatten(c.area)
			if err != nil {
				t.Fatal(err)
			}
			holes := 0
			for _, p := range pieces {
				holes += len(p) - 1
			}
			if bbox != c.bbox || len(pieces) != c.parts || holes != c.holes {
				t.Errorf("%s, %d parts, %d holes: %v", bbox, len(pieces), holes, pieces)
			}
		})
	}
}

// TestProperties: order, every kind of value, names and words that need care.
func TestProperties(t *testing.T) {
	got := written(t, Collection{
		Members: []Property{{"title", `Oak & "beech" <1>`}},
		Features: Features(
			Feature{Properties: []Property{
				{"rank", 1}, {"area_ha", 12.5}, {"mean", math.NaN()}, {"max", math.Inf(1)}, {"acid soil", float32(0.1)},
				{"a", nil}, {"none", math.Copysign(0, -1)}, {"tiny", 1e-9}, {"whole", 3.0}, {"yes", true}, {"Grünspecht", "ü\n"},
			}},
			Feature{Geometry: MultiPolygon{{box(0, 0, 1, 1)}}},
		),
	})
	want := `{"type":"FeatureCollection",
"title":"Oak & \"beech\" <1>",
"features":[
{"type":"Feature","properties":{"rank":1,"area_ha":12.5,"mean":null,"max":null,"acid soil":0.1,"a":null,"none":0,"tiny":1e-09,"whole":3,"yes":true,"Grünspecht":"ü\n"},"geometry":null},
{"type":"Feature","bbox":[0,0,1,1],"properties":{},"geometry":{"type":"Polygon","coordinates":[[[1,0],[1,1],[0,1],[0,0],[1,0]]]}}
],
"bbox":[0,0,1,1]}
`
	if got != want {
		t.Errorf("%s", got)
	}
	if got, want := written(t, Collection{Features: Features()}), "{\"type\":\"FeatureCollection\",\n\"features\":[\n]}\n"; got != want {
		t.Errorf("%q", got)
	}
}

type broken struct{}

var errBroken = errors.New("no space")

func (broken) Write([]byte) (int, error) { return 0, errBroken }

// TestErrors: each names the feature and passes on what failed.
func TestErrors(t *testing.T) {
	square := Feature{Geometry: MultiPolygon{{box(0, 0, 1, 1)}}}
	failing := func(yield func(Feature, error) bool) { _ = yield(square, nil) && yield(Feature{}, errBroken) }
	of := func(r ...Ring) iter.Seq2[Feature, error] {
		return Features(square, Feature{Geometry: MultiPolygon{r}})
	}
	var pole Ring
	for lon := 0.0; lon < 360; lon += 30 {
		pole = append(pole, Position{lon, 80})
	}
	for name, c := range map[string]struct {
		collection Collection
		want       string
	}{
		"source":        {Collection{Features: failing}, "feature 2: no space"},
		"NaN":           {Collection{Features: of(Ring{{0, 0}, {math.NaN(), 1}, {1, 1}})}, "feature 2: position 2 is longitude NaN"},
		"infinite":      {Collection{Features: of(Ring{{0, 0}, {math.Inf(1), 1}, {1, 1}})}, "feature 2: position 2"},
		"beyond a pole": {Collection{Features: of(Ring{{0, 0}, {1, 1}, {1, 91}})}, "latitude 91"},
		"bad hole":      {Collection{Features: of(box(0, 0, 9, 9), Ring{{1, 1}, {2, math.NaN()}, {2, 2}})}, "position 2"},
		"pole hole":     {Collection{Features: of(box(0, 70, 9, 90), pole)}, "goes round a pole"},
		"crossed":       {Collection{Features: of(Ring{{170, 0}, {-170, 1}, {-170, 0}, {170, 1}, {170, 4}, {-170, 5}, {-170, 4}, {160, 5}})}, "crosses itself"},
		"names":         {Collection{Features: Features(Feature{Properties: []Property{{"a", 1}, {"a", 2}}})}, `two properties are called "a"`},
		"value":         {Collection{Features: Features(Feature{Properties: []Property{{"f", func() {}}}})}, `property "f"`},
		"crs":           {Collection{Members: []Property{{"crs", 1}}, Features: Features()}, `cannot be called "crs"`},
		"members":       {Collection{Members: []Property{{"a", 1}, {"a", 1}}, Features: Features()}, `two members are called "a"`},
	} {
		err := Write(&bytes.Buffer{}, c.collection)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if err := Write(broken{}, Collection{Features: Features(square)}); !errors.Is(err, errBroken) {
		t.Errorf("%v", err)
	}
}
