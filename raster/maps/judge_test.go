package maps

import (
	"errors"
	"math"
	"strings"
	"testing"

	"github.com/airbusgeo/godal"

	"likelyground/raster"
)

// sprinkled is ground with a given number in some cells.
func sprinkled(number float64) func(c, r int) float64 {
	return func(c, r int) float64 {
		if noise(c, r, 3) < 0.01 {
			return number
		}
		return 100 + math.Floor(50*noise(c, r, 4))
	}
}

// sameCRS lays f's cells under the metric grid.
func sameCRS(cell float64, cols, rows int, values func(c, r int) float64) fixture {
	return fixture{crs: "EPSG:25831", affine: [6]float64{499990, cell, 0, 6200010, 0, -cell}, cols: cols, rows: rows, values: values}
}

// judged reads a map in tiles and returns what was found.
func judged(t *testing.T, spec RasterSpec, g raster.Grid, side int) Findings {
	t.Helper()
	r := open(t, spec, g)
	readIn(t, r, g.Window(), side)
	return r.Judge()
}

// Every well-known sentinel is found, in every type that can hold it, and the
// plan's line makes it missing or real.
func TestSentinels(t *testing.T) {
	for _, c := range []struct {
		number float64
		kind   godal.DataType
		say    string
	}{
		{-9999, godal.Int16, "missing: -9999"}, {-9999, godal.Float32, "missing: -9999"}, {-9999, godal.Float64, "missing: -9999"},
		{-99999, godal.Int32, "missing: -99999"}, {-999, godal.Int16, "missing: -999"},
		{-32768, godal.Int16, "missing: -32768"}, {-32767, godal.Int16, "missing: -32767"}, {32767, godal.Int16, "missing: 32767"},
		{65535, godal.UInt16, "missing: 65535"},
		{-math.MaxFloat32, godal.Float32, "missing: -3.4028235e+38"}, {math.MaxFloat32, godal.Float32, "missing: 3.4028235e+38"},
		{-math.MaxFloat64, godal.Float64, "missing: -1.7976931348623157e+308"},
	} {
		f := sameCRS(10, 40, 40, sprinkled(c.number))
		f.kind = c.kind
		spec := RasterSpec{Name: "soil", Files: []string{f.make(t, "a.tif")}}
		g := metricGrid(30, 30, 10)
		err := judged(t, spec, g, 64).Problem()
		var p *Problem
		if !errors.As(err, &p) || !p.MustChange() || !strings.Contains(p.Remedy(), c.say) {
			t.Errorf("%g in %v: %v, want the remedy %q", c.number, c.kind, err, c.say)
			continue
		}
		spec.Missing = []Range{{c.number, c.number}}
		if f := judged(t, spec, g, 64); f.Problem() != nil || f.Missing == 0 {
			t.Errorf("%g declared: %v, %d cells missing", c.number, f.Problem(), f.Missing)
		}
		spec.Missing, spec.MissingNone = nil, true
		if f := judged(t, spec, g, 64); f.Problem() != nil {
			t.Errorf("%g insisted upon: %v", c.number, f.Problem())
		}
	}
}

// An infinite number is no sign for no data: it is missing, and counted.
func TestInfiniteNumbersAreMissing(t *testing.T) {
	for _, sign := range []int{1, -1} {
		f := sameCRS(10, 40, 40, sprinkled(math.Inf(sign)))
		spec := RasterSpec{Name: "soil", Files: []string{f.make(t, "a.tif")}}
		if found := judged(t, spec, metricGrid(30, 30, 10), 64); found.Problem() != nil || found.Infinite == 0 || found.Missing < found.Infinite {
			t.Errorf("sign %d: %v, %d infinite, %d missing", sign, found.Problem(), found.Infinite, found.Missing)
		}
	}
}

// Counted is each source cell that a needed grid cell uses, once, whatever the
// tiles. The expected number is counted here from the rule.
func TestCountsDoNotDependOnTiles(t *testing.T) {
	g := metricGrid(50, 40, 10)
	for _, cell := range []float64{4, 10, 23} {
		f := sameCRS(cell, 200, 200, sprinkled(-9999))
		spec := RasterSpec{Name: "soil", Files: []string{f.make(t, "a.tif")}}
		want := usedCells(f, g, -9999)
		if want == 0 {
			t.Fatal("no odd cell is used: the test looks at nothing")
		}
		for _, side := range []int{1, 7, 64} {
			r := open(t, spec, g)
			readIn(t, r, g.Window(), side)
			if got := r.tally.odd[sentinelFlag(-9999)].n; got != want {
				t.Errorf("cells of %g m, tiles of %d: %d cells, want %d", cell, side, got, want)
			}
			text := r.Judge().Problem().Error()
			if first := judged(t, spec, g, 1<<20).Problem().Error(); text != first {
				t.Errorf("tiles of %d say %q, the whole says %q", side, text, first)
			}
		}
	}
}

// Cells that coincide use each other alone, copied or interpolated.
func TestCoincidingCellsUseNoNeighbours(t *testing.T) {
	g := metricGrid(50, 40, 10)
	f := sameCRS(10, 80, 80, func(c, r int) float64 {
		if c == g.Cols+1 || r == g.Rows+1 { // just beyond the grid
			return -9999
		}
		return sprinkled(-9999)(c, r)
	})
	spec := RasterSpec{Files: []string{f.make(t, "a.tif")}}
	want := usedCells(f, g, -9999)
	for _, copied := range []bool{true, false} {
		r := open(t, spec, g)
		if !copied {
			r.parts[0].shift = nil
		}
		readIn(t, r, g.Window(), 9)
		if got := r.tally.odd[sentinelFlag(-9999)].n; got != want {
			t.Errorf("copied %v: %d cells, want %d", copied, got, want)
		}
	}
}

// A range of missing numbers is closed at both ends.
func TestMissingRange(t *testing.T) {
	for _, kind := range []godal.DataType{godal.Byte, godal.Int16, godal.Float32, godal.Float64} {
		for _, classes := range []bool{false, true} {
			f := sameCRS(10, 30, 30, func(c, r int) float64 { return float64(c) })
			f.kind = kind
			r := open(t, RasterSpec{Files: []string{f.make(t, "a.tif")}, Classes: classes, Missing: []Range{{5, 8}}}, metricGrid(20, 20, 10))
			got := read(t, r)
			for col := range 20 {
				gone := false
				if classes {
					gone = got.Code(col, 0) == raster.MissingCode
				} else {
					gone = isNaN(got.Value(col, 0))
				}
				if want := col+1 >= 5 && col+1 <= 8; gone != want {
					t.Errorf("%v, classes %v: number %d missing: %v", kind, classes, col+1, gone)
				}
			}
		}
	}
}

// usedCells counts source cells with a number that some grid cell uses.
func usedCells(f fixture, g raster.Grid, number float64) int64 {
	m := plainMap{affine: f.affine, cols: f.cols, rows: f.rows, values: f.values}
	used := map[[2]int]bool{}
	use := func(c, r float64) {
		if m.at(int(c), int(r)) == number {
			used[[2]int{int(c), int(r)}] = true
		}
	}
	k := 1
	if r := m.ratio(g); r > 1 {
		k = int(math.Ceil(2 * r))
	}
	for i := range g.Cols * k {
		for j := range g.Rows * k {
			c, r := m.cell(g.X0+(float64(i)+0.5)/float64(k)*g.DX, g.Y0-(float64(j)+0.5)/float64(k)*g.DY)
			use(math.Floor(c+1e-6), math.Floor(r+1e-6))
			if m.ratio(g) > 1 {
				continue
			}
			c0, r0 := math.Floor(c-0.5+1e-6), math.Floor(r-0.5+1e-6)
			x, y := c-0.5-c0 > 1e-6, r-0.5-r0 > 1e-6
			use(c0, r0)
			if x {
				use(c0+1, r0)
			}
			if y {
				use(c0, r0+1)
			}
			if x && y {
				use(c0+1, r0+1)
			}
		}
	}
	return int64(len(used))
}

// Only what needed cells use is judged: cells read along with them, for a halo
// or a block, are not.
func TestOnlyNeededCellsAreJudged(t *testing.T) {
	f := sameCRS(10, 60, 60, func(c, r int) float64 {
		if c > 30 {
			return -9999
		}
		return 5
	})
	g := metricGrid(40, 40, 10)
	r := open(t, RasterSpec{Files: []string{f.make(t, "a.tif")}}, g)
	reader, err := r.Reader()
	must(t, err)
	dst := raster.NewTile(g.Window())
	need := make([]bool, dst.Size())
	for i := range need {
		need[i] = i%g.Cols < 30
	}
	must(t, reader.Read(dst, need))
	must(t, reader.Close())
	if got := r.Judge(); got.Problem() != nil || got.Known != 30*40 {
		t.Errorf("%d cells known, %v; want 1200 and no problem", got.Known, got.Problem())
	}
	if dst.Value(39, 0) != -9999 {
		t.Errorf("a cell that is not needed was not filled: %v", dst.Value(39, 0))
	}
}

func TestHeightsAndAcidity(t *testing.T) {
	g := metricGrid(20, 20, 10)
	for _, c := range []struct {
		name string
		spec RasterSpec
		odd  float64
		want string // in the error, "" for none
	}{
		{"height in metres", RasterSpec{Elevation: true, Unit: "m"}, 9500, "9500 m cannot be a height"},
		{"height in feet", RasterSpec{Elevation: true, Unit: "ft"}, 9500, ""},
		{"too many feet", RasterSpec{Elevation: true, Unit: "ft"}, 29600, "29600 ft cannot be a height"},
		{"below the sea", RasterSpec{Elevation: true}, -600, "-600 m cannot be a height"},
		{"dead sea", RasterSpec{Elevation: true}, -430, ""},
		{"scaled acidity", RasterSpec{Unit: "pH", Scale: ptr(0.05)}, 240, "12 cannot be a pH"},
		{"acidity", RasterSpec{Unit: "pH", Scale: ptr(0.05)}, 180, ""},
		{"unscaled acidity", RasterSpec{Unit: "pH"}, 55, "cannot be a pH"},
		{"insisted", RasterSpec{Unit: "pH", MissingNone: true}, 55, ""},
		{"any number", RasterSpec{}, 9500, ""},
	} {
		f := sameCRS(10, 30, 30, sprinkled(c.odd))
		c.spec.Files = []string{f.make(t, "a.tif")}
		err := judged(t, c.spec, g, 8).Problem()
		if c.want == "" && err != nil || c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want)) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
}

// Values outside `between` are missing and counted; sentinels among them need
// no word of their own.
func TestBetweenClipsAndCounts(t *testing.T) {
	f := sameCRS(10, 40, 40, sprinkled(-9999))
	g := metricGrid(30, 30, 10)
	got := judged(t, RasterSpec{Files: []string{f.make(t, "a.tif")}, Between: &[2]float64{0, 140}}, g, 7)
	want := int64(0)
	for i := range g.Cols * g.Rows {
		if v := f.values(i%g.Cols+1, i/g.Cols+1); v < 0 || v > 140 {
			want++
		}
	}
	if got.Problem() != nil || got.Clipped != want || got.Missing != want || got.Low < 0 || got.High > 140 {
		t.Errorf("%d cells clipped, %d missing, %g to %g, %v; want %d", got.Clipped, got.Missing, got.Low, got.High, got.Problem(), want)
	}
}

func TestClassesAreCounted(t *testing.T) {
	f := sameCRS(10, 40, 40, func(c, r int) float64 { return []float64{-7, 3, 3, 70000}[(c+r)%4] })
	f.kind = godal.Int32
	g := metricGrid(32, 32, 10)
	for _, side := range []int{5, 64} {
		got := judged(t, RasterSpec{Files: []string{f.make(t, "a.tif")}, Classes: true}, g, side)
		want := []CodeCount{{-7, 256}, {3, 512}, {70000, 256}}
		if len(got.Codes) != 3 || got.Codes[0] != want[0] || got.Codes[1] != want[1] || got.Codes[2] != want[2] || got.Known != 1024 {
			t.Errorf("tiles of %d: %v, want %v", side, got.Codes, want)
		}
	}
}

func TestClassesMustBeWhole(t *testing.T) {
	f := sameCRS(10, 40, 40, sprinkled(2.5))
	g := metricGrid(30, 30, 10)
	path := f.make(t, "a.tif")
	err := judged(t, RasterSpec{Name: "cover", Files: []string{path}, Classes: true}, g, 9).Problem()
	if err == nil || !strings.Contains(err.Error(), "2.5 is no class code") {
		t.Errorf("%v", err)
	}
	f.values = sprinkled(3)
	if err := judged(t, RasterSpec{Files: []string{f.make(t, "b.tif")}, Classes: true}, g, 9).Problem(); err != nil {
		t.Errorf("whole numbers in floating point are refused: %v", err)
	}
}

func TestNothingKnownIsAProblem(t *testing.T) {
	f := sameCRS(10, 40, 40, func(c, r int) float64 { return -5 })
	f.nodata = ptr(-5)
	err := judged(t, RasterSpec{Files: []string{f.make(t, "a.tif")}}, metricGrid(30, 30, 10), 9).Problem()
	if !Elsewhere(err) {
		t.Errorf("%v", err)
	}
}

func TestSampleFindsWhatTheMapHolds(t *testing.T) {
	g := metricGrid(3000, 3000, 10)
	f := sameCRS(40, 800, 800, func(c, r int) float64 {
		if c > 500 {
			return -9999
		}
		return float64(c % 7)
	})
	r := open(t, RasterSpec{Files: []string{f.make(t, "a.tif")}}, g)
	got, err := r.Sample(4)
	must(t, err)
	if got.Problem() == nil || got.Known == 0 || got.Known > 64*64*16 {
		t.Errorf("%d cells, %v", got.Known, got.Problem())
	}
	if now := r.Judge(); now.Known != 0 || now.Problem() != nil {
		t.Errorf("the sample was counted: %+v", now)
	}
}
