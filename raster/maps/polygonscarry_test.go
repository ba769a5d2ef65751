package maps

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"likelyground/raster"
	"likelyground/raster/crs"
	"likelyground/vector"
)

// wayBetween is a carrier from a CRS to a grid.
func wayBetween(t testing.TB, from string, g raster.Grid) *carrier {
	t.Helper()
	area, err := usableBox(g)
	must(t, err)
	op, err := crs.Choose(from, g.CRS, area, crs.Options{})
	must(t, err)
	c, err := newCarrier(op, g)
	must(t, err)
	t.Cleanup(c.close)
	if c.t != nil {
		c.survey(c.clipTo(servedWindow(g, 1)))
	}
	return c
}

// coverage counts how many of the rings cover each cell of a window.
func coverage(t testing.TB, c *carrier, rings []vector.Ring, w raster.Window) []int {
	t.Helper()
	out := make([]int, w.Size())
	var runs rowRuns
	for _, ring := range rings {
		runs.begin(w)
		line, err := c.carry(ring)
		must(t, err)
		runs.add(line)
		got := runs.end()
		from := 0
		for i, end := range runs.ends {
			for ; from < int(end); from += 2 {
				for col := runs.cols[from]; col < runs.cols[from+1]; col++ {
					out[w.Index(int(col), got.Row+i)]++
				}
			}
		}
	}
	return out
}

// mesh divides a box into quadrilaterals with common corners; at jitter 0
// borders run through cell centres.
func mesh(r *rand.Rand, west, south, east, north float64, n int, jitter float64) []vector.Ring {
	at := make([][]vector.Point, n+1)
	for j := range at {
		for i := range n + 1 {
			u, v := float64(i)/float64(n), float64(j)/float64(n)
			if i > 0 && i < n && j > 0 && j < n {
				u += jitter * (r.Float64() - 0.5) / float64(n)
				v += jitter * (r.Float64() - 0.5) / float64(n)
			}
			at[j] = append(at[j], vector.Point{west + u*(east-west), south + v*(north-south)})
		}
	}
	var out []vector.Ring
	for j := range n {
		for i := range n {
			ring := vector.Ring{at[j][i], at[j][i+1], at[j+1][i+1], at[j+1][i], at[j][i]}
			if r.IntN(2) == 0 {
				for a, b := 0, len(ring)-1; a < b; a, b = a+1, b-1 {
					ring[a], ring[b] = ring[b], ring[a]
				}
			}
			out = append(out, ring)
		}
	}
	return out
}

// Polygons that share borders cover every cell between them once, borders
// through cell centres included, drawn either way round.
func TestSharedBordersPartition(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 7))
	for _, jitter := range []float64{0, 0.8} {
		g := plainGrid(60, 60)
		for i, n := range coverage(t, wayBetween(t, g.CRS, g), mesh(r, -5.5, -5.5, 70.5, 70.5, 19, jitter), g.Window()) {
			if n != 1 {
				t.Fatalf("jitter %v: cell %d,%d is covered %d times", jitter, i%g.Cols, i/g.Cols, n)
			}
		}
	}
}

// The same through a transformation: long edges are broken alike on both
// sides of a border.
func TestSharedBordersPartitionAcrossCRS(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 8))
	g := raster.Grid{CRS: "EPSG:3035", X0: 3.9e6, Y0: 3.1e6, DX: 250, DY: 250, Cols: 700, Rows: 600}
	c := wayBetween(t, "EPSG:4326", g)
	rings := mesh(r, 4, 46, 16, 54, 12, 0.7)
	for i, n := range coverage(t, c, rings, g.Window()) {
		if n != 1 {
			t.Fatalf("cell %d,%d is covered %d times", i%g.Cols, i/g.Cols, n)
		}
	}
	line, err := c.carry(rings[0])
	must(t, err)
	if len(line) < 50 {
		t.Errorf("an outline of 50 km and more has %d points only", len(line))
	}
}

// offEdge is the distance, in cells, of a place of the grid from the border
// of a box in longitude and latitude, roughly.
func offEdge(lon, lat, west, south, east, north, cell float64) float64 {
	cos := math.Cos(lat * math.Pi / 180)
	metre := 111e3
	return min(math.Abs(lon-west)*cos, math.Abs(lon-east)*cos, math.Abs(lat-south), math.Abs(lat-north)) * metre / cell
}

// A box in degrees holds the cells whose centres, brought back to degrees,
// lie in it: the edges are straight in degrees, far from straight on the
// grid. A centre within 1/1000 of a cell of the border may go either way.
func TestBoxEdgesAreStraightInTheirOwnCRS(t *testing.T) {
	for _, c := range []struct {
		crs                      string
		x0, y0, cell             float64
		west, south, east, north float64
	}{
		{"EPSG:3035", 3.4e6, 3.4e6, 500, 2, 48, 14, 54},
		{"EPSG:32633", 2e5, 8.2e6, 400, 9, 70, 22, 73},
		{"EPSG:25831", 2e5, 5.9e6, 1000, 0.5, 50, 7.25, 52},
	} {
		g := raster.Grid{CRS: c.crs, X0: c.x0, Y0: c.y0, DX: c.cell, DY: c.cell, Cols: 1000, Rows: 900}
		p, err := OpenBox(c.west, c.south, c.east, c.north, "EPSG:4326", g, t.TempDir())
		must(t, err)
		codes := codesOf(t, p, g.Window(), 256)
		back, err := p.Facts().Operation.Open()
		must(t, err)
		inside, near := 0, 0
		for row := range g.Rows {
			x, y := make([]float64, g.Cols), make([]float64, g.Cols)
			for col := range x {
				x[col], y[col] = g.Position(float64(col)+0.5, float64(row)+0.5)
			}
			back.Inverse(x, y)
			for col := range x {
				want := x[col] > c.west && x[col] < c.east && y[col] > c.south && y[col] < c.north
				got := codes[row*g.Cols+col] == 1
				if got {
					inside++
				}
				if got != want {
					near++
					if d := offEdge(x[col], y[col], c.west, c.south, c.east, c.north, c.cell); d > 1e-3 {
						t.Fatalf("%s: cell %d,%d is %v cells from the border and on the wrong side", c.crs, col, row, d)
					}
				}
			}
		}
		back.Close()
		must(t, p.Close())
		if inside < 50000 || near > 20 {
			t.Errorf("%s: %d cells inside, %d on the wrong side by less than 1/1000", c.crs, inside, near)
		}
	}
}

// The chords of a carried edge stay within 1/2000 of a cell of the edge,
// looked at in 64 places of every chord.
func TestChords(t *testing.T) {
	g := raster.Grid{CRS: "EPSG:25831", X0: 4e5, Y0: 5.8e6, DX: 10, DY: 10, Cols: 8000, Rows: 8000}
	c := wayBetween(t, "EPSG:4326", g)
	for _, ends := range [][2]vector.Point{{{1.6, 51.8}, {2.9, 51.8}}, {{1.6, 51.7}, {2.9, 52.3}}, {{1.7, 51.7}, {1.7001, 51.7001}}} {
		line, err := c.carry(vector.Ring{ends[0], ends[1], ends[0]})
		must(t, err)
		n := 4096
		for i := range n + 1 {
			u := float64(i) / float64(n)
			x, y := []float64{ends[0][0] + u*(ends[1][0]-ends[0][0])}, []float64{ends[0][1] + u*(ends[1][1]-ends[0][1])}
			c.t.Forward(x, y)
			at, best := c.cell(x[0], y[0]), math.Inf(1)
			for k := 1; k < len(line); k++ {
				best = min(best, offSegment(at, line[k-1], line[k]))
			}
			if best > 5e-4 {
				t.Fatalf("%v: %v cells off at %v (%d points)", ends, best, u, len(line))
			}
		}
	}
}

func offSegment(at, p, q vector.Point) float64 {
	d := squared(p, q)
	if d == 0 {
		return math.Sqrt(squared(at, p))
	}
	u := ((at[0]-p[0])*(q[0]-p[0]) + (at[1]-p[1])*(q[1]-p[1])) / d
	u = min(max(u, 0), 1)
	return math.Sqrt(squared(at, vector.Point{p[0] + u*(q[0]-p[0]), p[1] + u*(q[1]-p[1])}))
}

// Cutting off what lies beyond a box changes nothing inside it.
func TestClipKeepsTheInside(t *testing.T) {
	g := plainGrid(20, 20)
	c := wayBetween(t, g.CRS, g)
	clip := clipper{low: [2]float64{0, 0}, high: [2]float64{20, 20}}
	rapid.Check(t, func(rt *rapid.T) {
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(rt, "seed"), 3))
		ring := star(r, 40*r.Float64()-10, 40*r.Float64()-10, 30*r.Float64(), 3+r.IntN(12), r.IntN(2) == 0)
		want := coverage(t, c, []vector.Ring{ring}, g.Window())
		got := coverage(t, c, []vector.Ring{clip.cut(ring)}, g.Window())
		if fmt.Sprint(got) != fmt.Sprint(want) {
			rt.Fatalf("ring %v:\n%v\n%v", ring, got, want)
		}
	})
}

// A polygon round the whole earth covers a grid of one region, though most of
// it has no place in the grid's CRS.
func TestWorldPolygon(t *testing.T) {
	file := drawnMap(t, []drawn{{[]vector.Polygon{{boxRing(-180, -90, 180, 90)}}, `"land"`}, {[]vector.Polygon{{boxRing(-120, 20, -110, 30)}}, `"far"`}})
	g := raster.Grid{CRS: "EPSG:25831", X0: 4e5, Y0: 5.8e6, DX: 100, DY: 100, Cols: 300, Rows: 300}
	p := openDrawn(t, PolygonSpec{File: file}, g)
	for i, code := range codesOf(t, p, g.Window().Grow(500), 300) {
		if p.Classes()[max(code, 0)] != "land" || code < 0 {
			t.Fatalf("cell %d: %d", i, code)
		}
	}
	if p.Facts().Beyond != 1 {
		t.Errorf("facts %+v", p.Facts())
	}
}

// Bounds are those of many points along the edges.
func TestBoxBounds(t *testing.T) {
	const west, south, east, north = 2.0, 48.0, 14.0, 54.0
	w, s, e, n, err := BoxBounds(west, south, east, north, "EPSG:4326", "EPSG:3035")
	must(t, err)
	op, err := crs.Choose("EPSG:4326", "EPSG:3035", crs.Box{West: west, South: south, East: east, North: north}, crs.Options{})
	must(t, err)
	way, err := op.Open()
	must(t, err)
	defer way.Close()
	box := clipper{low: [2]float64{math.Inf(1), math.Inf(1)}, high: [2]float64{math.Inf(-1), math.Inf(-1)}}
	for i := range 100001 {
		u := float64(i) / 100000
		x := []float64{west + u*(east-west), west + u*(east-west), west, east}
		y := []float64{south, north, south + u*(north-south), south + u*(north-south)}
		way.Forward(x, y)
		for k := range x {
			box.extend([]vector.Point{{x[k], -y[k]}}, raster.Grid{DX: 1, DY: 1})
		}
	}
	for i, d := range []float64{w - box.low[0], s - box.low[1], e - box.high[0], n - box.high[1]} {
		if math.Abs(d) > 0.5 { // of an extent of 870 km; at the ends of long chords
			t.Errorf("side %d is %v m off", i, d)
		}
	}
	file := drawnMap(t, []drawn{{[]vector.Polygon{{boxRing(west, south, east, north)}}, "1"}})
	w2, s2, e2, n2, err := AreaBounds(PolygonSpec{File: file}, "EPSG:3035")
	must(t, err)
	if math.Abs(w2-w)+math.Abs(s2-s)+math.Abs(e2-e)+math.Abs(n2-n) > 0.5 {
		t.Errorf("the layer: %v %v %v %v, the box: %v %v %v %v", w2, s2, e2, n2, w, s, e, n)
	}
	if w, s, e, n, err = BoxBounds(10, 20, 30, 40, "EPSG:25831", "EPSG:25831"); err != nil || w != 10 || s != 20 || e != 30 || n != 40 {
		t.Errorf("the same CRS: %v %v %v %v %v", w, s, e, n, err)
	}
}

func TestBoxAcrossTheAntimeridian(t *testing.T) {
	g := raster.Grid{CRS: "EPSG:32601", X0: 3e5, Y0: 7.05e6, DX: 500, DY: 500, Cols: 160, Rows: 100}
	p, err := OpenBox(179, 63.1, -179, 63.4, "EPSG:4326", g, t.TempDir())
	must(t, err)
	defer p.Close()
	ones := 0
	for _, c := range codesOf(t, p, g.Window(), 64) {
		ones += int(c)
	}
	if ones < 4000 || ones == g.Cols*g.Rows {
		t.Errorf("%d cells of %d", ones, g.Cols*g.Rows)
	}
	if _, err := OpenBox(3, 2, 1, 1, "EPSG:25831", g, ""); err == nil {
		t.Error("a box without ground was taken")
	}
}
