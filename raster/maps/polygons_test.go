package maps

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/airbusgeo/godal"

	"likelyground/raster"
	"likelyground/vector"
)

// drawn is a feature of a test map: polygons and the JSON of its class.
type drawn struct {
	polygons []vector.Polygon
	class    string
}

// drawnMap writes features as a GeoJSON file with the field "class".
func drawnMap(t testing.TB, features []drawn) string {
	t.Helper()
	var b bytes.Buffer
	b.WriteString(`{"type":"FeatureCollection","features":[`)
	for i, f := range features {
		if i > 0 {
			b.WriteString(",\n")
		}
		fmt.Fprintf(&b, `{"type":"Feature","properties":{"class":%s},"geometry":`, f.class)
		if f.polygons == nil {
			b.WriteString(`null}`)
			continue
		}
		fmt.Fprintf(&b, `{"type":"MultiPolygon","coordinates":%s}}`, strings.ReplaceAll(strings.ReplaceAll(fmt.Sprint(jsonOf(f.polygons)), "] [", "],["), " ", ","))
	}
	b.WriteString("]}")
	path := filepath.Join(t.TempDir(), "drawn.geojson")
	must(t, os.WriteFile(path, b.Bytes(), 0o644))
	return path
}

// jsonOf prints every coordinate in full.
func jsonOf(polygons []vector.Polygon) [][][][2]string {
	var out [][][][2]string
	for _, p := range polygons {
		var rings [][][2]string
		for _, r := range p {
			var points [][2]string
			for _, at := range r {
				points = append(points, [2]string{f64(at[0]), f64(at[1])})
			}
			rings = append(rings, points)
		}
		out = append(out, rings)
	}
	return out
}

func boxRing(west, south, east, north float64) vector.Ring {
	return vector.Ring{{west, south}, {east, south}, {east, north}, {west, north}, {west, south}}
}

// plainGrid has cells of 1 with its lower left corner at 0, 0.
func plainGrid(cols, rows int) raster.Grid {
	return raster.Grid{CRS: "EPSG:25831", X0: 0, Y0: float64(rows), DX: 1, DY: 1, Cols: cols, Rows: rows}
}

func openDrawn(t testing.TB, spec PolygonSpec, g raster.Grid) *Polygons {
	t.Helper()
	if spec.Field == "" && !spec.AsMask {
		spec.Field = "class"
	}
	if spec.Name == "" {
		spec.Name = "rock"
	}
	p, err := OpenPolygons(spec, g)
	must(t, err)
	t.Cleanup(func() { p.Close() })
	return p
}

// codesOf reads a window in pieces of the given side.
func codesOf(t testing.TB, p *Polygons, w raster.Window, side int) []int32 {
	t.Helper()
	reader, err := p.Reader()
	must(t, err)
	defer reader.Close()
	whole := raster.NewClassTile(w)
	for row := w.Row; row < w.EndRow(); row += side {
		for col := w.Col; col < w.EndCol(); col += side {
			tile := raster.NewClassTile(raster.Window{Col: col, Row: row, Cols: side, Rows: side}.Clip(w))
			must(t, reader.Read(tile, nil))
			whole.CopyFrom(tile)
		}
	}
	return whole.Codes
}

func picture(codes []int32, cols int) string {
	var b strings.Builder
	for i, c := range codes {
		switch {
		case c == raster.MissingCode:
			b.WriteByte('-')
		default:
			fmt.Fprint(&b, c)
		}
		if i%cols == cols-1 {
			b.WriteByte('\n')
		}
	}
	return b.String()
}

// Check value N5, run with GDAL 3.6.2: a centre on the left border is out,
// on the right and on the lower border in.
func TestPolygonCentresOnTheBorder(t *testing.T) {
	p := openDrawn(t, PolygonSpec{File: drawnMap(t, []drawn{{[]vector.Polygon{{boxRing(.5, .5, 3.5, 2.6)}}, "7"}}), CRS: "EPSG:25831"}, plainGrid(4, 4))
	want := "----\n-777\n-777\n-777\n"
	if got := picture(codesOf(t, p, p.grid.Window(), 4), 4); got != want {
		t.Errorf("got\n%swant\n%s", got, want)
	}
	if !p.Numeric() || p.Classes() != nil {
		t.Errorf("numeric %v, classes %v", p.Numeric(), p.Classes())
	}
}

// The upper border, by the same rule, is out; positions within 1e-6 of a
// centre lie on it, positions farther off do not.
func TestPolygonTies(t *testing.T) {
	for _, c := range []struct {
		box  vector.Ring
		want string
	}{
		{boxRing(1.5, 1.5, 2.5, 2.5), "----\n----\n--1-\n----\n"},
		{boxRing(1.5+9e-7, 1.5+9e-7, 2.5-9e-7, 2.5-9e-7), "----\n----\n--1-\n----\n"},
		{boxRing(1.5-2e-6, 1.5-2e-6, 2.5+2e-6, 2.5+2e-6), "----\n-11-\n-11-\n----\n"},
		{boxRing(1.5+2e-6, 1.5+2e-6, 2.5-2e-6, 2.5-2e-6), ""},
	} {
		other := drawn{[]vector.Polygon{{boxRing(0, 3.1, 1, 4)}}, "2"}
		p := openDrawn(t, PolygonSpec{File: drawnMap(t, []drawn{other, {[]vector.Polygon{{c.box}}, "1"}}), CRS: "EPSG:25831"}, plainGrid(4, 4))
		got := strings.Replace(picture(codesOf(t, p, p.grid.Window(), 4), 4), "2", "-", 1)
		if c.want == "" {
			c.want = "----\n----\n----\n----\n"
		}
		if got != c.want {
			t.Errorf("%v: got\n%swant\n%s", c.box, got, c.want)
		}
	}
}

func TestLaterFeaturesWinAndNullIsMissing(t *testing.T) {
	file := drawnMap(t, []drawn{
		{[]vector.Polygon{{boxRing(0, 0, 6, 4), boxRing(1, 1, 2, 3)}}, `"sand"`}, // with a hole
		{[]vector.Polygon{{boxRing(3, 0, 4, 4)}}, `"clay"`},
		{[]vector.Polygon{{boxRing(4, 2, 5, 4)}}, `null`},
		{[]vector.Polygon{{boxRing(4, 0, 5, 1)}}, `""`},
		{nil, `"chalk"`},
		{[]vector.Polygon{{boxRing(5, 0, 7, 2)}, {boxRing(5.2, 1, 7, 3)}}, `"Zechstein"`}, // parts that overlap
	})
	p := openDrawn(t, PolygonSpec{File: file, CRS: "EPSG:25831"}, plainGrid(7, 4))
	if got := fmt.Sprint(p.Classes()); got != "[Zechstein clay sand]" {
		t.Errorf("classes %s", got)
	}
	want := "2221-2-\n2-21-00\n2-21200\n2221-00\n"
	if got := picture(codesOf(t, p, p.grid.Window(), 3), 7); got != want {
		t.Errorf("got\n%swant\n%s", got, want)
	}
	f := p.Facts()
	if f.Features != 6 || f.NullGeometry != 1 || f.Unclassed != 2 || f.Repaired != 1 || f.CRS != "EPSG:25831" || f.CRSFrom != "plan" || !f.Operation.Identity {
		t.Errorf("facts %+v", f)
	}
	if files := p.Files(); len(files) != 1 || files[0] != file {
		t.Errorf("files %v", files)
	}
	must(t, p.Unchanged())
}

// star is a polygon round a place; a jump of the hand makes it cross itself.
func star(r *rand.Rand, x, y, size float64, n int, wild bool) vector.Ring {
	var ring vector.Ring
	for i := range n {
		a := 2 * math.Pi * float64(i) / float64(n)
		if wild {
			a = 2 * math.Pi * r.Float64()
		}
		d := size * (0.3 + 0.7*r.Float64())
		ring = append(ring, vector.Point{x + d*math.Cos(a), y + d*math.Sin(a)})
	}
	return append(ring, ring[0])
}

func randomMap(seed uint64, features int, width, height float64) []drawn {
	r := rand.New(rand.NewPCG(seed, 1))
	var out []drawn
	for range features {
		x, y, size := r.Float64()*width, r.Float64()*height, 2+r.Float64()*r.Float64()*width/3
		p := vector.Polygon{star(r, x, y, size, 3+r.IntN(40), r.IntN(4) == 0)}
		if r.IntN(2) == 0 {
			p = append(p, star(r, x, y, size*0.2, 3+r.IntN(9), false))
		}
		parts := []vector.Polygon{p}
		if r.IntN(3) == 0 {
			parts = append(parts, vector.Polygon{star(r, x+3*size, y, size, 12, false)})
		}
		out = append(out, drawn{parts, fmt.Sprint(1 + r.IntN(200))})
	}
	return out
}

// rasterized is GDAL's own answer, in a byte a cell.
func rasterized(t *testing.T, file string, g raster.Grid) []byte {
	t.Helper()
	ds, err := godal.Create(godal.Memory, "", 1, godal.Byte, g.Cols, g.Rows)
	must(t, err)
	defer ds.Close()
	must(t, ds.SetGeoTransform([6]float64{g.X0, g.DX, 0, g.Y0, 0, -g.DY}))
	shapes, err := godal.Open(file, godal.VectorOnly())
	must(t, err)
	defer shapes.Close()
	must(t, ds.RasterizeInto(shapes, []string{"-a", "class"}, godal.ErrLogger(quiet)))
	out := make([]byte, g.Cols*g.Rows)
	must(t, ds.Bands()[0].Read(0, 0, out, g.Cols, g.Rows))
	return out
}

// GDAL's rasterizer is the referee, on polygons drawn at random, holes,
// several parts and rings that cross themselves among them. No centre is
// within 1e-6 of a border here.
func TestPolygonsAgainstRasterize(t *testing.T) {
	for seed := range uint64(4) {
		features := randomMap(seed, 60, 300, 200)
		file := drawnMap(t, features)
		p := openDrawn(t, PolygonSpec{File: file, CRS: "EPSG:25831"}, plainGrid(300, 200))
		got, want := codesOf(t, p, p.grid.Window(), 512), rasterized(t, file, p.grid)
		covered, wrong := 0, 0
		for i, code := range got {
			if code == raster.MissingCode {
				code = 0
			} else {
				covered++
			}
			if code != int32(want[i]) {
				wrong++
			}
		}
		if wrong > 0 || covered < 10000 {
			t.Errorf("seed %d: %d cells of %d differ, %d covered", seed, wrong, len(got), covered)
		}
	}
}

func TestPolygonTilesDoNotMatter(t *testing.T) {
	p := openDrawn(t, PolygonSpec{File: drawnMap(t, randomMap(9, 80, 200, 150)), CRS: "EPSG:25831"}, plainGrid(200, 150))
	w := p.grid.Window().Grow(60) // beyond the grid too
	want := codesOf(t, p, w, 1000)
	if !slices.ContainsFunc(want[:60*w.Cols], func(c int32) bool { return c != raster.MissingCode }) {
		t.Error("nothing lies beyond the grid")
	}
	for _, side := range []int{1, 7, 64, 100} {
		if got := codesOf(t, p, w, side); !slices.Equal(got, want) {
			t.Errorf("tiles of %d give other cells", side)
		}
	}
}

// coast is a winding outline of n corners that does not cross itself.
func coast(x, y, size float64, n int) vector.Ring {
	var ring vector.Ring
	for i := range n {
		a := 2 * math.Pi * float64(i) / float64(n)
		d := size * (0.7 + 0.2*math.Sin(5*a) + 0.05*math.Sin(67*a) + 0.002*math.Sin(2003*a))
		ring = append(ring, vector.Point{x + d*math.Cos(a), y + d*math.Sin(a)})
	}
	return append(ring, ring[0])
}

// A record longer than readWhole is read in two pieces.
func TestLargePolygonInSmallTiles(t *testing.T) {
	ring := coast(1500, 1500, 1500, 100000)
	p := openDrawn(t, PolygonSpec{File: drawnMap(t, []drawn{{[]vector.Polygon{{ring}}, "1"}}), CRS: "EPSG:25831"}, plainGrid(3000, 3000))
	if size := 4 * int(p.runs.parts[0].cols); size < 2*readWhole {
		t.Fatalf("the record is only %d bytes", size)
	}
	whole := rasterized(t, p.spec.File, p.grid)
	for _, w := range []raster.Window{{Col: 1400, Row: 700, Cols: 33, Rows: 5}, {Col: 0, Row: 0, Cols: 3000, Rows: 3}, {Col: 100, Row: 2990, Cols: 2000, Rows: 10}, {Col: 900, Row: 1000, Cols: 1, Rows: 1}} {
		for i, code := range codesOf(t, p, w, 5000) {
			col, row := w.Col+i%w.Cols, w.Row+i/w.Cols
			if (code == 1) != (whole[row*3000+col] == 1) {
				t.Fatalf("cell %d,%d: %d", col, row, code)
			}
		}
	}
}

func TestMask(t *testing.T) {
	file := drawnMap(t, []drawn{{[]vector.Polygon{{boxRing(1, 1, 3, 3)}}, `null`}, {[]vector.Polygon{{boxRing(2, 0, 4, 2)}}, `"x"`}})
	p := openDrawn(t, PolygonSpec{File: file, CRS: "EPSG:25831", AsMask: true}, plainGrid(5, 4))
	want := "00000\n01100\n01110\n00110\n"
	if got := picture(codesOf(t, p, p.grid.Window(), 5), 5); got != want {
		t.Errorf("got\n%s", got)
	}
	f := p.Judge()
	if f.Missing != 0 || fmt.Sprint(f.Codes) != "[{0 13} {1 7}]" || f.Problem() != nil {
		t.Errorf("%+v", f)
	}
}

// Needed cells alone are counted, and readers add up whatever each read.
func TestPolygonTally(t *testing.T) {
	file := drawnMap(t, randomMap(3, 40, 100, 100))
	var want Findings
	for _, side := range []int{100, 33, 8} {
		p := openDrawn(t, PolygonSpec{File: file, CRS: "EPSG:25831"}, plainGrid(100, 100))
		var wait sync.WaitGroup
		for part := range 3 {
			wait.Go(func() {
				r, _ := p.Reader()
				defer r.Close()
				for i, at := 0, 0; at < 100*100; i++ {
					per := (100 + side - 1) / side
					w := raster.Window{Col: i % per * side, Row: i / per * side, Cols: side, Rows: side}.Clip(p.grid.Window())
					if w.Empty() {
						break
					}
					at += w.Size()
					if i%3 != part {
						continue
					}
					tile, need := raster.NewClassTile(w), make([]bool, w.Size())
					for j := range need {
						need[j] = (w.Col+j%w.Cols+w.Row+j/w.Cols)%3 != 0
					}
					if err := r.Read(tile, need); err != nil {
						t.Error(err)
					}
				}
			})
		}
		wait.Wait()
		got := p.Judge()
		if got.Known+got.Missing != 6666 {
			t.Errorf("side %d: %d known, %d missing", side, got.Known, got.Missing)
		}
		if side == 100 {
			want = got
		}
		if fmt.Sprint(got) != fmt.Sprint(want) {
			t.Errorf("side %d: %v, want %v", side, got, want)
		}
	}
}

func TestPolygonProblems(t *testing.T) {
	square := []vector.Polygon{{boxRing(0, 0, 2, 2)}}
	one := drawnMap(t, []drawn{{square, `"sand"`}})
	g := plainGrid(4, 4)
	far := raster.Grid{CRS: "EPSG:25831", X0: 400000, Y0: 5e6, DX: 10, DY: 10, Cols: 10, Rows: 10}
	near := drawnMap(t, []drawn{{[]vector.Polygon{{boxRing(3.2, 45.1, 3.3, 45.2)}}, "1"}})
	for name, c := range map[string]struct {
		spec PolygonSpec
		grid raster.Grid
		says string
		fix  string
	}{
		"missing file":   {PolygonSpec{File: filepath.Join(filepath.Dir(one), "draw.geojson")}, g, "no such file", "drawn.geojson"},
		"no field":       {PolygonSpec{File: one, CRS: "EPSG:25831"}, g, "no field is named", `"class"`},
		"other field":    {PolygonSpec{File: one, CRS: "EPSG:25831", Field: "clas"}, g, `no field "clas"`, `did you mean "class"?`},
		"bad CRS":        {PolygonSpec{File: one, CRS: "EPSG:1", Field: "class"}, g, "EPSG:1", "EPSG:25831"},
		"a fraction":     {PolygonSpec{File: drawnMap(t, []drawn{{square, "1.5"}}), CRS: "EPSG:25831", Field: "class"}, g, "holds 1.5", "whole numbers"},
		"too large":      {PolygonSpec{File: drawnMap(t, []drawn{{square, "3000000000"}}), CRS: "EPSG:25831", Field: "class"}, g, "3000000000", "whole numbers"},
		"beside":         {PolygonSpec{File: drawnMap(t, []drawn{{[]vector.Polygon{{boxRing(0.6, 0.6, 1.4, 1.4)}}, "1"}}), CRS: "EPSG:25831", Field: "class"}, g, "cover no cell", "grid"},
		"outside":        {PolygonSpec{File: near, Field: "class"}, far, "km east", "optional: true"},
		"off the earth":  {PolygonSpec{File: one, CRS: "EPSG:4326", Field: "class"}, far, "outside the grid", "reference system"},
		"no shapes":      {PolygonSpec{File: drawnMap(t, []drawn{{nil, "1"}}), CRS: "EPSG:25831", Field: "class"}, g, "none of its features", "polygons"},
		"only ballpark":  {PolygonSpec{File: one, CRS: "EPSG:4267", Field: "class"}, far, "ballpark", "ballpark"},
		"not understood": {PolygonSpec{File: one, CRS: "hello", Field: "class"}, g, "hello", "EPSG:25831"},
	} {
		c.spec.Name = "rock"
		p, err := OpenPolygons(c.spec, c.grid)
		if err == nil {
			p.Close()
		}
		var problem *Problem
		if !errors.As(err, &problem) || !strings.Contains(err.Error(), c.says) || !strings.Contains(problem.Remedy(), c.fix) || !strings.Contains(err.Error(), `map "rock"`) {
			t.Errorf("%s: %v", name, err)
			if problem != nil {
				t.Errorf("   remedy: %s", problem.Remedy())
			}
		}
	}
	_, err := OpenPolygons(PolygonSpec{Name: "rock", File: drawnMap(t, nil), Field: "class"}, g)
	if !errors.Is(err, vector.ErrEmpty) {
		t.Errorf("empty layer: %v", err)
	}
}

func TestPolygonReaderRefusals(t *testing.T) {
	scratch := t.TempDir()
	p := openDrawn(t, PolygonSpec{File: drawnMap(t, []drawn{{[]vector.Polygon{{boxRing(0, 0, 2, 2)}}, "1"}}), CRS: "EPSG:25831", Scratch: scratch}, plainGrid(4, 4))
	if left, _ := os.ReadDir(scratch); len(left) != 0 {
		t.Errorf("the scratch file has a name: %v", left)
	}
	r, err := p.Reader()
	must(t, err)
	defer r.Close()
	if err := r.Read(raster.NewTile(p.grid.Window()), nil); err == nil || !strings.Contains(err.Error(), "quantity") {
		t.Errorf("%v", err)
	}
	far := raster.NewClassTile(raster.Window{Col: -9000, Cols: 1, Rows: 1})
	if err := r.Read(far, nil); err != nil || far.Codes[0] != raster.MissingCode {
		t.Errorf("%v, code %d", err, far.Codes[0])
	}
	if _, err := OpenPolygons(PolygonSpec{Name: "rock", File: p.spec.File, CRS: "EPSG:25831", Field: "class", Scratch: "/no/such/folder"}, p.grid); err == nil {
		t.Error("a missing scratch folder was taken")
	}
}

// An invalid polygon covers what is left of it by the referee's repair by
// linework (GEOS, through ST_MakeValid).
func TestRepairIsEvenOdd(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 4))
	var features []drawn
	for i := range 30 {
		x, y := 300*r.Float64(), 200*r.Float64()
		p := vector.Polygon{star(r, x, y, 60, 5+r.IntN(12), true), star(r, x+20, y, 30, 7, true)}
		features = append(features, drawn{[]vector.Polygon{p}, fmt.Sprint(i + 1)})
	}
	file := drawnMap(t, features)
	p := openDrawn(t, PolygonSpec{File: file, CRS: "EPSG:25831"}, plainGrid(300, 200))
	if n := p.Facts().Repaired; n != 30 {
		t.Errorf("%d repaired", n)
	}
	src, err := godal.Open(file, godal.VectorOnly())
	must(t, err)
	defer src.Close()
	repaired := filepath.Join(t.TempDir(), "repaired.geojson")
	dst, err := src.VectorTranslate(repaired, []string{"-f", "GeoJSON", "-dialect", "SQLite", "-sql", "SELECT ST_MakeValid(geometry) AS geometry, class FROM drawn"}, godal.ErrLogger(quiet))
	must(t, err)
	must(t, dst.Close())
	want := rasterized(t, repaired, p.grid)
	for i, code := range codesOf(t, p, p.grid.Window(), 512) {
		if max(code, 0) != int32(want[i]) {
			t.Fatalf("cell %d: %d, repaired %d", i, code, want[i])
		}
	}
	if notes := p.Judge().Notes; len(notes) != 1 || !strings.Contains(notes[0], "30 invalid geometries") {
		t.Errorf("notes %q", notes)
	}
}

func TestPolygonImportCanBeStopped(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err := OpenPolygons(PolygonSpec{Name: "rock", File: drawnMap(t, randomMap(1, 5, 9, 9)), Field: "class", CRS: "EPSG:25831", Context: ctx}, plainGrid(9, 9))
	if !errors.Is(err, context.Canceled) {
		t.Errorf("%v", err)
	}
}

// A polygon round the grid, its frame outside, covers no cell of it.
func TestFrameRoundTheGrid(t *testing.T) {
	file := drawnMap(t, []drawn{{[]vector.Polygon{{boxRing(-5, -5, 9, 9), boxRing(-1, -1, 5, 5)}}, "1"}})
	_, err := OpenPolygons(PolygonSpec{Name: "rock", File: file, Field: "class", CRS: "EPSG:25831"}, plainGrid(4, 4))
	if err == nil || !strings.Contains(err.Error(), "no cell") {
		t.Errorf("%v", err)
	}
}

func TestNothingKnown(t *testing.T) {
	file := drawnMap(t, []drawn{{[]vector.Polygon{{boxRing(0, 0, 2, 2)}}, `null`}, {[]vector.Polygon{{boxRing(50, 0, 52, 2)}}, `"a"`}})
	p := openDrawn(t, PolygonSpec{File: file, CRS: "EPSG:25831"}, plainGrid(4, 4))
	codesOf(t, p, p.grid.Window(), 4)
	if err := p.Judge().Problem(); err == nil || !strings.Contains(err.Error(), "known class") {
		t.Errorf("%v", err)
	}
}
