package crs

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"likelyground/raster"
)

// pair is a grid and a map in another CRS.
type pair struct {
	name   string
	grid   raster.Grid
	to     string
	source Affine
}

// The places are invented; the CRSs are chosen for what is hard about them.
var pairs = []pair{
	{"utm from degrees", raster.Grid{CRS: "EPSG:25831", X0: 412340, Y0: 5712340, DX: 10, DY: 10, Cols: 700, Rows: 500}, "EPSG:4326", Affine{1, 1.0 / 400, 0, 53, 0, -1.0 / 400}},
	{"utm from far finer degrees", raster.Grid{CRS: "EPSG:25831", X0: 412340, Y0: 5712340, DX: 250, DY: 250, Cols: 300, Rows: 300}, "EPSG:4326", Affine{1, 1.0 / 36000, 0, 53, 0, -1.0 / 36000}},
	{"utm from another zone, 1 km cells", raster.Grid{CRS: "EPSG:25831", X0: 312000, Y0: 6712000, DX: 1000, DY: 1000, Cols: 400, Rows: 400}, "EPSG:25833", Affine{0, 10, 0, 7e6, 0, -10}},
	{"LAEA from UTM", raster.Grid{CRS: "EPSG:3035", X0: 3900000, Y0: 3200000, DX: 25, DY: 25, Cols: 600, Rows: 400}, "EPSG:25831", Affine{3e5, 10, 0, 6e6, 0, -10}},
	{"national grid, datum shift", raster.Grid{CRS: "EPSG:27700", X0: 400000, Y0: 400000, DX: 10, DY: 10, Cols: 600, Rows: 400}, "EPSG:25830", Affine{3e5, 10, 0, 7e6, 0, -10}},
	{"grid-shift file", raster.Grid{CRS: "EPSG:25832", X0: 500000, Y0: 5800000, DX: 50, DY: 50, Cols: 500, Rows: 500}, "EPSG:31467", Affine{3.4e6, 10, 0, 6e6, 0, -10}},
	{"UTM from interrupted", raster.Grid{CRS: "EPSG:25831", X0: 412340, Y0: 5712340, DX: 10, DY: 10, Cols: 500, Rows: 300}, "ESRI:54052", Affine{-2e6, 250, 0, 7e6, 0, -250}},
	{"across an interruption", raster.Grid{CRS: "EPSG:32627", X0: -400000, Y0: 5000000, DX: 2000, DY: 2000, Cols: 400, Rows: 400}, "ESRI:54052", Affine{-2e7, 250, 0, 7e6, 0, -250}},
	{"interrupted grid, the gap within", raster.Grid{CRS: "ESRI:54052", X0: -5e6, Y0: 5e6, DX: 5000, DY: 5000, Cols: 400, Rows: 300}, "EPSG:4326", Affine{-180, .05, 0, 90, 0, -.05}},
	{"over the pole", raster.Grid{CRS: "EPSG:3413", X0: -500000, Y0: 500000, DX: 500, DY: 500, Cols: 2000, Rows: 2000}, "EPSG:4326", Affine{-180, .01, 0, 90, 0, -.01}},
	{"across the antimeridian", raster.Grid{CRS: "EPSG:32601", X0: 330000, Y0: 7020000, DX: 100, DY: 100, Cols: 400, Rows: 200}, "EPSG:4326", Affine{-180, .01, 0, 90, 0, -.01}},
	{"rotated, south-up map", raster.Grid{CRS: "EPSG:25831", X0: 412340, Y0: 5712340, DX: 10, DY: 20, Cols: 300, Rows: 200}, "EPSG:4326", Affine{1, .002, .0005, 50, -.0004, .002}},
}

func (p pair) lattice(t testing.TB) *Lattice {
	t.Helper()
	west, south, east, north := p.grid.Bounds()
	box, err := UsableBox(p.grid.CRS, west, south, east, north)
	if err != nil {
		t.Fatal(err)
	}
	op, err := Choose(p.grid.CRS, p.to, box, Options{})
	if err != nil {
		t.Fatal(err)
	}
	l, err := NewLattice(p.grid, op, p.source)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func (p pair) transformer(t testing.TB) *Transformer {
	t.Helper()
	tr, err := p.lattice(t).op.Open()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(tr.Close)
	return tr
}

func (p pair) reader(t testing.TB) *LatticeReader {
	t.Helper()
	r, err := p.lattice(t).Reader()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(r.Close)
	return r
}

// exactly holds the exact transformation of a pair, point by point.
type exactly struct {
	p pair
	t *Transformer
}

// at returns the exact position in the map of a grid position.
func (e exactly) at(col, row float64) (x, y float64) {
	px, py := []float64{e.p.grid.X0 + col*e.p.grid.DX}, []float64{e.p.grid.Y0 - row*e.p.grid.DY}
	e.t.Forward(px, py)
	if !finite(px[0], py[0]) {
		return math.Inf(1), math.Inf(1)
	}
	return e.p.source.Cell(px[0], py[0])
}

// back returns the grid position of a position in the map.
func (e exactly) back(x, y float64) (col, row float64) {
	mx, my := e.p.source.Place(x, y)
	px, py := []float64{mx}, []float64{my}
	e.t.Inverse(px, py)
	return e.p.grid.Cell(px[0], py[0])
}

// tally counts how positions compare with the truth.
type tally struct {
	worst       float64 // grid cells
	known, lost int     // lost: known to one side only
}

// compare looks at one cell, cut k x k, along part row j.
func (s *tally) compare(e exactly, r *LatticeReader, col, row, k, j int) {
	u, v := make([]float64, k), make([]float64, k)
	r.Row(col, 1, row, k, j, u, v)
	for i := range k {
		gc, gr := float64(col)+(float64(i)+.5)/float64(k), float64(row)+(float64(j)+.5)/float64(k)
		x, y := e.at(gc, gr)
		switch {
		case finite(u[i], v[i]) != finite(x, y):
			s.lost++
		case finite(x, y):
			s.known++
			if math.Hypot(x-u[i], y-v[i]) > 1e-6 {
				bc, br := e.back(u[i], v[i])
				s.worst = max(s.worst, math.Hypot(bc-gc, br-gr))
			}
		}
	}
}

// Every position, taken back to the grid by PROJ itself, must land within
// 1/1000 of a grid cell of where it came from, and be unknown where PROJ
// fails. Neither the lattice nor its error measure is used by the check.
func TestLatticeIsExactEnough(t *testing.T) {
	for _, p := range pairs {
		t.Run(p.name, func(t *testing.T) {
			r := p.reader(t)
			e := exactly{p, p.transformer(t)}
			random := rand.New(rand.NewPCG(1, 2))
			var s tally
			for range 60 {
				w := raster.Window{Col: random.IntN(p.grid.Cols+200) - 100, Row: random.IntN(p.grid.Rows+200) - 100, Cols: 64, Rows: 64}
				r.SourceWindow(w)
				for range 100 {
					k := 1 + random.IntN(3)
					s.compare(e, r, w.Col+random.IntN(w.Cols), w.Row+random.IntN(w.Rows), k, random.IntN(k))
				}
			}
			t.Logf("%d points, largest error %.2g cell, %d known to one side only", s.known, s.worst, s.lost)
			if !(s.worst <= 1e-3) {
				t.Errorf("largest error %g grid cells", s.worst)
			}
			if s.known < 1000 || s.lost > s.known/500 {
				t.Errorf("%d points known, %d known to one side only", s.known, s.lost)
			}
		})
	}
}

// The same cell must come out the same to the bit whatever run of cells, in
// whatever order and by whichever reader, it is asked for with.
func TestLatticeDoesNotDependOnWindows(t *testing.T) {
	for _, p := range pairs {
		t.Run(p.name, func(t *testing.T) {
			whole, pieces := p.reader(t), p.reader(t)
			random := rand.New(rand.NewPCG(3, 4))
			const from, cols, k = -70, 260, 2
			u, v := make([]float64, cols*k), make([]float64, cols*k)
			a, b := make([]float64, cols*k), make([]float64, cols*k)
			whole.SourceWindow(raster.Window{Col: from, Row: -40, Cols: cols, Rows: 240})
			for range 60 {
				row, j := random.IntN(240)-40, random.IntN(k)
				whole.Row(from, cols, row, k, j, u, v)
				for c := 0; c < cols; {
					n := min(1+random.IntN(90), cols-c)
					pieces.Row(from+c, n, row, k, j, a[c*k:], b[c*k:])
					c += n
				}
				for i := range u {
					if math.Float64bits(u[i]) != math.Float64bits(a[i]) || math.Float64bits(v[i]) != math.Float64bits(b[i]) {
						t.Fatalf("row %d part %d: whole (%v, %v), piece (%v, %v)", row, i, u[i], v[i], a[i], b[i])
					}
				}
			}
		})
	}
}

func TestSourceWindowHoldsEveryPosition(t *testing.T) {
	for _, p := range append(pairs, own(1, 0), own(2.5, .3)) {
		t.Run(p.name, func(t *testing.T) {
			r := p.reader(t)
			random := rand.New(rand.NewPCG(5, 6))
			for range 25 {
				w := raster.Window{Col: random.IntN(p.grid.Cols) - 50, Row: random.IntN(p.grid.Rows) - 50, Cols: 1 + random.IntN(130), Rows: 1 + random.IntN(130)}
				minC, minR, maxC, maxR, ok := r.SourceWindow(w)
				const k = 3
				u, v := make([]float64, w.Cols*k), make([]float64, w.Cols*k)
				for row := w.Row; row < w.EndRow(); row += 1 + random.IntN(9) {
					r.Row(w.Col, w.Cols, row, k, random.IntN(k), u, v)
					for i := range u {
						if !finite(u[i], v[i]) {
							continue
						}
						if !ok || u[i] < minC || u[i] > maxC || v[i] < minR || v[i] > maxR {
							t.Fatalf("%+v: (%v, %v) lies outside %v..%v, %v..%v", w, u[i], v[i], minC, maxC, minR, maxR)
						}
					}
				}
			}
		})
	}
}

// own returns a pair in one CRS; cells are `times` as wide as the map's and
// shifted by a part of one.
func own(times, shift float64) pair {
	return pair{
		fmt.Sprintf("own CRS, %g times, %g off", times, shift),
		raster.Grid{CRS: "EPSG:25831", X0: 500000.1 + shift*10, Y0: 5700000.3, DX: 10 * times, DY: 10 * times, Cols: 20000, Rows: 20000},
		"EPSG:25831", Affine{500000.1 - 12345*10, 10, 0, 5700000.3 + 54321*10, 0, -10},
	}
}

// On the map's own lattice, shifted by whole cells, positions are centres to
// the bit, though the origins are no round numbers.
func TestOwnLatticeIsExact(t *testing.T) {
	r := own(1, 0).reader(t)
	u, v := make([]float64, 50), make([]float64, 50)
	for _, row := range []int{-3, 0, 7, 19999} {
		r.Row(19950, 50, row, 1, 0, u, v)
		for i := range u {
			if u[i] != float64(12345+19950+i)+.5 || v[i] != float64(54321+row)+.5 {
				t.Fatalf("row %d cell %d: (%.17g, %.17g)", row, i, u[i], v[i])
			}
		}
	}
	r.Row(0, 2, 0, 4, 3, u, v)
	if u[0] != 12345.125 || u[7] != 12346.875 || v[0] != 54321.875 {
		t.Errorf("quarters at (%v … %v, %v)", u[0], u[7], v[0])
	}
}

func TestOwnLatticeSouthUpAndRotated(t *testing.T) {
	g := raster.Grid{CRS: "EPSG:25831", X0: 1000, Y0: 2000, DX: 10, DY: 10, Cols: 5, Rows: 5}
	op := Operation{From: g.CRS, To: g.CRS, Identity: true}
	for _, c := range []struct {
		source   Affine
		col, row float64 // of the centre of grid cell 2, 1: x 1025, y 1985
	}{
		{Affine{1000, 10, 0, 1000, 0, 10}, 2.5, 98.5},   // south-up
		{Affine{1000, 0, 10, 1000, 10, 0}, 98.5, 2.5},   // columns run north
		{Affine{1000, 3, -4, 1000, 4, 3}, 160.6, 114.2}, // turned, cells of 5
		{Affine{1000, -10, 0, 2000, 0, -10}, -2.5, 1.5}, // mirrored
		{Affine{1005, 20, 0, 2000, 0, -5}, 1, 3},        // other shape
	} {
		l, err := NewLattice(g, op, c.source)
		if err != nil {
			t.Fatal(err)
		}
		r, err := l.Reader()
		if err != nil {
			t.Fatal(err)
		}
		var u, v [1]float64
		r.Row(2, 1, 1, 1, 0, u[:], v[:])
		if math.Abs(u[0]-c.col) > 1e-9 || math.Abs(v[0]-c.row) > 1e-9 {
			t.Errorf("%v: (%v, %v), want (%v, %v)", c.source, u[0], v[0], c.col, c.row)
		}
	}
}

// Blocks must be coarse where the ground is smooth and fine, down to single
// points, where it is not: else the accuracy test proves nothing.
func TestLatticeUsesAllItsSteps(t *testing.T) {
	seen := map[int]bool{}
	for _, p := range pairs {
		r := p.reader(t)
		for row := 0; row < p.grid.Rows; row += 256 {
			r.SourceWindow(raster.Window{Row: row, Cols: p.grid.Cols, Rows: 1})
			for _, b := range r.m.blocks {
				seen[b.step] = true
				seen[-1] = seen[-1] || b.void
			}
		}
	}
	for _, step := range []int{-1, 0, 1, 2, 4, 8, 16, 32} {
		if !seen[step] {
			t.Errorf("no block with a step of %d (0: point by point, -1: void)", step)
		}
	}
}

func TestNewLatticeRefusesCellsWithoutArea(t *testing.T) {
	for _, a := range []Affine{{}, {0, 1, 2, 0, 2, 4}, {0, math.NaN(), 0, 0, 0, 1}, {math.Inf(1), 1, 0, 0, 0, 1}} {
		_, err := NewLattice(raster.Grid{}, Operation{Identity: true}, a)
		mustRefuse(t, err, "geotransform")
	}
}
