package maps

import (
	"fmt"
	"math"
	"testing"

	"github.com/airbusgeo/godal"

	"likelyground/raster"
)

// plainMap is a source map in memory, for an evaluation written from the
// design's words alone: point by point, no windows, no blocks.
type plainMap struct {
	affine     [6]float64
	cols, rows int
	values     func(c, r int) float64 // NaN missing
}

// at returns the value of a source cell, NaN outside.
func (m plainMap) at(c, r int) float64 {
	if c < 0 || r < 0 || c >= m.cols || r >= m.rows {
		return math.NaN()
	}
	return m.values(c, r)
}

// cell solves the affine for a place.
func (m plainMap) cell(x, y float64) (col, row float64) {
	a := m.affine
	det := a[1]*a[5] - a[2]*a[4]
	dx, dy := x-a[0], y-a[3]
	return (dx*a[5] - dy*a[2]) / det, (dy*a[1] - dx*a[4]) / det
}

func (m plainMap) ratio(g raster.Grid) float64 {
	a := m.affine
	side := math.Sqrt(math.Abs(a[1]*a[5] - a[2]*a[4]))
	return math.Round(math.Sqrt(g.DX*g.DY)/side*1000) / 1000
}

// points returns the known values at k × k sub-cell centres.
func (m plainMap) points(g raster.Grid, col, row, k int) []float64 {
	var known []float64
	for j := 0; j < k; j++ {
		for i := 0; i < k; i++ {
			x := g.X0 + (float64(col)+(float64(i)+0.5)/float64(k))*g.DX
			y := g.Y0 - (float64(row)+(float64(j)+0.5)/float64(k))*g.DY
			c, r := m.cell(x, y)
			if v := m.at(int(math.Floor(c+1e-6)), int(math.Floor(r+1e-6))); !math.IsNaN(v) {
				known = append(known, v)
			}
		}
	}
	return known
}

func (m plainMap) quantity(g raster.Grid, col, row int) float64 {
	if r := m.ratio(g); r > 1 {
		k := int(math.Ceil(2 * r))
		known := m.points(g, col, row, k)
		if 2*len(known) < k*k || len(known) == 0 {
			return math.NaN()
		}
		sum := 0.0
		for _, v := range known {
			sum += v
		}
		return sum / float64(len(known))
	}
	c, r := m.cell(g.X0+(float64(col)+0.5)*g.DX, g.Y0-(float64(row)+0.5)*g.DY)
	if math.IsNaN(m.at(int(math.Floor(c+1e-6)), int(math.Floor(r+1e-6)))) {
		return math.NaN()
	}
	sum, all := 0.0, 0.0
	for _, dc := range []float64{0, 1} {
		for _, dr := range []float64{0, 1} {
			cc, rr := math.Floor(c-0.5)+dc, math.Floor(r-0.5)+dr
			weight := (1 - math.Abs(c-0.5-cc)) * (1 - math.Abs(r-0.5-rr))
			if v := m.at(int(cc), int(rr)); !math.IsNaN(v) && weight > 1e-5 {
				sum += weight * v
				all += weight
			}
		}
	}
	return sum / all
}

func (m plainMap) class(g raster.Grid, col, row int) int32 {
	k := 1
	if r := m.ratio(g); r > 1 {
		k = int(math.Ceil(2 * r))
	}
	known := m.points(g, col, row, k)
	if 2*len(known) < k*k || len(known) == 0 {
		return raster.MissingCode
	}
	votes := map[float64]int{}
	for _, v := range known {
		votes[v]++
	}
	best, most := math.Inf(1), 0
	for v, n := range votes {
		if n > most || n == most && v < best {
			best, most = v, n
		}
	}
	return int32(best)
}

// layouts are ways in which a file may lay its cells: the grid's corner lies
// inside each of them.
var layouts = map[string]func(cell float64) [6]float64{
	"north-up": func(c float64) [6]float64 { return [6]float64{500000 - 3*c - 1.7, c, 0, 6200000 + 2*c + 0.9, 0, -c} },
	"south-up": func(c float64) [6]float64 { return [6]float64{500000 - 3*c - 1.7, c, 0, 6200000 - 38*c + 0.3, 0, c} },
	"oblong":   func(c float64) [6]float64 { return [6]float64{500000 - 2*c, 2 * c, 0, 6200000 + 2*c, 0, -c / 2} },
	"rotated": func(c float64) [6]float64 {
		return [6]float64{500000 - 6*c, 0.8 * c, 0.6 * c, 6200000 - 3*c, 0.6 * c, -0.8 * c}
	},
	"mirrored": func(c float64) [6]float64 { return [6]float64{500000 + 40*c, -c, 0, 6200000 + 2*c, 0, -c} },
}

// sizes are source cells over a grid of 10 m: refined, equal and coarsened.
var sizes = []float64{97, 30, 20, 10, 9.9, 6.7, 5, 4, 1.3}

func TestQuantitiesAgainstBruteForce(t *testing.T) {
	eachLayout(t, func(t *testing.T, m plainMap, g raster.Grid) {
		m.values = holed(hills)
		f := fixture{crs: "EPSG:25831", affine: m.affine, cols: m.cols, rows: m.rows, nodata: ptr(-5),
			values: func(c, r int) float64 { return orElse(float64(float32(m.values(c, r))), -5) }}
		got := read(t, open(t, RasterSpec{Files: []string{f.make(t, "a.tif")}}, g))
		known := 0
		for i, v := range got.Values {
			want := m.quantity(g, i%g.Cols, i/g.Cols)
			if isNaN(v) != math.IsNaN(want) {
				t.Fatalf("cell %d,%d is %v, want %v", i%g.Cols, i/g.Cols, v, want)
			}
			if isNaN(v) {
				continue
			}
			known++
			if math.Abs(float64(v)-want) > 5e-5 {
				t.Fatalf("cell %d,%d is %v, want %v", i%g.Cols, i/g.Cols, v, want)
			}
		}
		looksAtSomething(t, known, len(got.Values))
	})
}

func TestClassesAgainstBruteForce(t *testing.T) {
	eachLayout(t, func(t *testing.T, m plainMap, g raster.Grid) {
		m.values = holed(func(c, r int) float64 { return math.Floor(noise(c/2, r/3, 1)*5) * 100 })
		f := fixture{crs: "EPSG:25831", affine: m.affine, cols: m.cols, rows: m.rows, kind: godal.Int16,
			values: func(c, r int) float64 { return orElse(m.values(c, r), -1) }}
		spec := RasterSpec{Files: []string{f.make(t, "a.tif")}, Classes: true, Missing: []Range{{-1, -1}}}
		got := read(t, open(t, spec, g))
		known := 0
		for i, c := range got.Codes {
			if want := m.class(g, i%g.Cols, i/g.Cols); c != want {
				t.Fatalf("cell %d,%d is %d, want %d", i%g.Cols, i/g.Cols, c, want)
			}
			if c != raster.MissingCode {
				known++
			}
		}
		looksAtSomething(t, known, len(got.Codes))
	})
}

// eachLayout runs a test over all layouts and cell sizes.
func eachLayout(t *testing.T, run func(*testing.T, plainMap, raster.Grid)) {
	for name, layout := range layouts {
		for _, size := range sizes {
			t.Run(fmt.Sprintf("%s %g m", name, size), func(t *testing.T) {
				run(t, plainMap{affine: layout(size), cols: 45, rows: 40}, metricGrid(37, 29, 10))
			})
		}
	}
}

// holed takes single cells and a block out of a map.
func holed(values func(c, r int) float64) func(c, r int) float64 {
	return func(c, r int) float64 {
		if noise(c, r, 7) < 0.15 || c > 12 && c < 16 && r > 5 && r < 12 {
			return math.NaN()
		}
		return values(c, r)
	}
}

func orElse(v, other float64) float64 {
	if math.IsNaN(v) {
		return other
	}
	return v
}

func looksAtSomething(t *testing.T, known, all int) {
	t.Helper()
	if known == 0 || known == all {
		t.Errorf("%d of %d cells are known: the test says little", known, all)
	}
}

// A grid cell that lies half on each of two classes takes the lower code.
func TestMajorityTieGoesToTheLowestCode(t *testing.T) {
	f := fixture{crs: "EPSG:25831", affine: [6]float64{500000, 5, 0, 6200000, 0, -5}, cols: 4, rows: 4, kind: godal.Byte,
		values: func(c, r int) float64 { return []float64{9, 3}[c%2] }}
	got := read(t, open(t, RasterSpec{Files: []string{f.make(t, "a.tif")}, Classes: true}, metricGrid(2, 2, 10)))
	sameTile(t, "tie", got, raster.Tile{Window: got.Window, Codes: []int32{3, 3, 3, 3}})
}

// The values do not depend on the tiles, the order or the amount read at once.
func TestTilesGiveTheSameBytes(t *testing.T) {
	defer func(n int) { mostCells = n }(mostCells)
	g := metricGrid(150, 130, 10)
	w := g.Window().Grow(9)
	for name, f := range map[string]fixture{
		"refined":   geographic(holed(hills)),
		"coarsened": {crs: "EPSG:25831", affine: [6]float64{499990, 3, 0.1, 6200100, 0.1, -3}, cols: 500, rows: 450, values: holed(hills)},
		"copied":    {crs: "EPSG:25831", affine: [6]float64{500020, 10, 0, 6200000, 0, -10}, cols: 120, rows: 120, values: holed(hills)},
	} {
		for _, classes := range []bool{false, true} {
			f.nodata = ptr(-5)
			f.kind = godal.Int16
			inner := f.values
			f.values = func(c, r int) float64 { return math.Round(orElse(inner(c, r), -5)) }
			r := open(t, RasterSpec{Files: []string{f.make(t, "a.tif")}, Classes: classes}, g)
			mostCells = 1 << 22
			want := readIn(t, r, w, 1<<20)
			for _, side := range []int{7, 64, 512} {
				sameTile(t, fmt.Sprintf("%s, tiles of %d", name, side), readIn(t, r, w, side), want)
			}
			mostCells = 300
			sameTile(t, name+", few cells at once", readIn(t, r, w, 64), want)
		}
	}
}

// Copying cells of one lattice gives the bytes that aligning them gives.
func TestCopyIsTheGeneralCase(t *testing.T) {
	g := metricGrid(60, 50, 10)
	f := fixture{crs: "EPSG:25831", affine: [6]float64{499950, 10, 0, 6200030, 0, -10}, cols: 50, rows: 45, nodata: ptr(-5),
		values: func(c, r int) float64 { return orElse(holed(hills)(c, r), -5) }}
	for _, classes := range []bool{false, true} {
		if classes {
			inner := f.values
			f.values = func(c, r int) float64 { return math.Round(inner(c, r)) }
		}
		r := open(t, RasterSpec{Files: []string{f.make(t, "a.tif")}, Classes: classes}, g)
		if !r.Facts()[0].SameLattice {
			t.Fatal("the lattices are the same, and it was not seen")
		}
		copied := readIn(t, r, g.Window().Grow(5), 64)
		r.parts[0].shift = nil
		sameTile(t, "copied", copied, readIn(t, r, g.Window().Grow(5), 64))
	}
}
