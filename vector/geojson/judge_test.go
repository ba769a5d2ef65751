package geojson

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// python returns a Python that has GDAL's bindings.
func python(t *testing.T) string {
	t.Helper()
	for _, p := range []string{"/usr/bin/python3", "python3"} {
		if exec.Command(p, "-c", "from osgeo import ogr").Run() == nil {
			return p
		}
	}
	t.Fatal("no python3 with osgeo.ogr, which judges what is written: apt-get install python3-gdal")
	return ""
}

// invent makes random valid areas: unions of cells of a random lattice, made
// by GEOS, with holes and parts that touch at corners.
const invent = `
import json, random
from osgeo import ogr
random.seed(17)
for k in range(150):
    n, share = random.randint(2, 9), random.choice([0.3, 0.5, 0.7, 0.9])
    g = ogr.Geometry(ogr.wkbMultiPolygon)
    for c in range(n):
        for r in range(n):
            if random.random() < share:
                g.AddGeometry(ogr.CreateGeometryFromWkt("POLYGON((%d %d,%d %d,%d %d,%d %d,%d %d))" % (c,r,c+1,r,c+1,r+1,c,r+1,c,r)))
    g = ogr.ForceToMultiPolygon(g.UnionCascaded()) if g.GetGeometryCount() else None
    if g is None or not g.IsValid():
        continue
    print(json.dumps([[p.GetGeometryRef(i).GetPoints() for i in range(p.GetGeometryCount())] for p in g]))
`

// judge reads the file with GDAL and as JSON, and holds each feature against
// RFC 7946, against GEOS and against the area it should have.
const judge = `
import json, math, re, sys
from osgeo import ogr
ogr.UseExceptions()
def turn(r): return sum(a[0]*b[1] - b[0]*a[1] for a, b in zip(r, r[1:]))
def names(pairs):
    keys = [k for k, v in pairs]
    assert len(keys) == len(set(keys)), keys
    return dict(pairs)
text = open(sys.argv[1], encoding="utf-8").read()
assert not re.search(r"\d\.\d{8}", re.sub(r'"properties":\{[^}]*\}', "", text)), "more than 7 decimals"
fc = json.loads(text, object_pairs_hook=names)
assert fc["type"] == "FeatureCollection" and "crs" not in fc
ds = ogr.Open(sys.argv[1])
layer = ds.GetLayer(0)
assert layer.GetSpatialRef().GetAuthorityCode(None) == "4326"
assert layer.GetFeatureCount() == len(fc["features"])
for f, read in zip(fc["features"], layer):
    g = f["geometry"]
    polygons = [g["coordinates"]] if g["type"] == "Polygon" else g["coordinates"]
    where = json.dumps(f)[:3000]
    for p in polygons:
        for i, r in enumerate(p):
            assert len(r) >= 4 and r[0] == r[-1], "ring not closed: " + where
            assert (turn(r) > 0) == (i == 0), "ring turns wrong: " + where
            assert all(-180 <= x <= 180 and -90 <= y <= 90 for x, y in r), "out of range: " + where
            assert all(a != b for a, b in zip(r, r[1:])), "repeated position: " + where
            assert all(abs(a[0] - b[0]) <= 360 for a, b in zip(r, r[1:])), "jump: " + where
    geom = read.GetGeometryRef()
    assert geom.IsValid(), "GEOS says not valid: " + where
    area = f["properties"]["area"]
    assert abs(geom.GetArea() - area) <= 1e-5 * max(area, 1), "area %r: %s" % (geom.GetArea(), where)
    w, s, e, n = f["bbox"]
    xs = [x for p in polygons for x, y in p[0]]
    ys = [y for p in polygons for x, y in p[0]]
    assert (s, n) == (min(ys), max(ys)), "bbox: " + where
    inside = (lambda x: w <= x <= e) if w <= e else (lambda x: x >= w or x <= e)
    assert all(inside(x) or (x in (-180, 180) and inside(-x)) for x in xs), "bbox: " + where
print(len(fc["features"]))
`

func invented(t *testing.T, py string) (areas []MultiPolygon) {
	t.Helper()
	out, err := exec.Command(py, "-c", invent).Output()
	if err != nil {
		t.Fatal(err)
	}
	for line := range bytes.Lines(out) {
		var m MultiPolygon
		if err := json.Unmarshal(line, &m); err != nil {
			t.Fatal(err)
		}
		areas = append(areas, m)
	}
	return areas
}

// moved puts an area on the globe, longitudes brought into -180 to 180, and
// turns some of its rings round.
func moved(m MultiPolygon, r *rand.Rand, west, south, cell float64) MultiPolygon {
	out := make(MultiPolygon, len(m))
	for i, p := range m {
		for _, ring := range p {
			q := make(Ring, 0, len(ring))
			for k := range ring {
				at := ring[k]
				if r.IntN(2) == 0 && k == 0 {
					at = ring[len(ring)-1]
				}
				lon := west + float64(at[0]*cell)
				q = append(q, Position{lon - 360*math.Floor((lon+180)/360), south + float64(at[1]*cell)})
			}
			if r.IntN(2) == 0 {
				for a, b := 0, len(q)-1; a < b; a, b = a+1, b-1 {
					q[a], q[b] = q[b], q[a]
				}
			}
			out[i] = append(out[i], q)
		}
	}
	return out
}

// planar is the area of an invented multipolygon, in cells.
func planar(m MultiPolygon) (sum float64) {
	for _, p := range m {
		for i, r := range p {
			if i == 0 {
				sum += math.Abs(r.turn()) / 2
			} else {
				sum -= math.Abs(r.turn()) / 2
			}
		}
	}
	return sum
}

// polar is a cap round a pole, its rim at random latitudes, with holes.
func polar(r *rand.Rand, south bool) (m MultiPolygon, area float64) {
	way := 1.0
	if south {
		way = -1
	}
	turn := float64(r.IntN(360))
	ringAt := func(lat float64) (ring Ring, sum float64) {
		for k := range 72 {
			lon := turn + 5*float64(k)
			at := lat + 3*r.Float64()
			ring = append(ring, Position{lon - 360*math.Floor((lon+180)/360), way * at})
			sum += 5 * (90 - at)
		}
		return ring, sum
	}
	shell, area := ringAt(60)
	p := Polygon{shell}
	if r.IntN(2) == 0 {
		hole, sum := ringAt(80)
		p = append(p, hole)
		area -= sum
	}
	for k := range 6 {
		lon := turn + 60*float64(k) + 20*r.Float64()
		lon -= 360 * math.Floor((lon+180)/360)
		p = append(p, Ring{{lon, way * 66}, {lon + 30, way * 66}, {lon + 30, way * 70}, {lon, way * 70}})
		area -= 30 * 4
	}
	return MultiPolygon{p}, area
}

// TestJudged writes random areas on the antimeridian (corners on it and
// beside it), elsewhere and round the poles, and has them judged.
func TestJudged(t *testing.T) {
	py := python(t)
	r := rand.New(rand.NewPCG(5, 6))
	var features []Feature
	add := func(m MultiPolygon, area float64) {
		features = append(features, Feature{[]Property{{"area", area}}, m})
	}
	for _, m := range invented(t, py) {
		cell := []float64{0.001, 0.1, 1}[r.IntN(3)]
		for _, west := range []float64{180 - 3*cell, 180 - 2.5*cell, 179.123, 5.1, -180, -180 - cell} {
			add(moved(m, r, west, -20, cell), planar(m)*cell*cell)
		}
	}
	for k := range 40 {
		add(polar(r, k%2 == 0))
	}
	path := filepath.Join(t.TempDir(), "areas.geojson")
	var b bytes.Buffer
	if err := Write(&b, Collection{Features: Features(features...)}); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(py, "-c", judge, path).CombinedOutput()
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	if got := strings.TrimSpace(string(out)); got != fmt.Sprint(len(features)) || len(features) < 500 {
		t.Fatalf("%s features judged of %d", got, len(features))
	}
}
