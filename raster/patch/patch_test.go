package patch

import (
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"

	"likelyground/raster"
)

// field is a small grid of scores and factors, all in memory.
type field struct {
	score   raster.Tile
	factors []raster.Tile
}

// cellAreas gives each cell an area of its own.
type cellAreas struct{}

func cellArea(col, row int) int64 { return 100_000_000 + int64(col*7+row*131) }

func (cellAreas) Row(col, cols, row int, out []int64) {
	for i := range cols {
		out[i] = cellArea(col+i, row)
	}
}

// drawn reads rows such as "1 0/0 1": member cells score 1, others 0.
func drawn(t testing.TB, text string) field {
	t.Helper()
	lines := strings.Split(text, "/")
	w := raster.Window{Cols: len(strings.Fields(lines[0])), Rows: len(lines)}
	f := field{score: raster.NewTile(w)}
	for row, line := range lines {
		for col, word := range strings.Fields(line) {
			if word == "1" {
				f.score.Values[w.Index(col, row)] = 1
			}
		}
	}
	return f
}

// random returns a field of which about share of the cells score 0.5 or
// more; some scores and factors are missing.
func random(r *rand.Rand, w raster.Window, share float64, factors int) field {
	f := field{score: raster.NewTile(w)}
	for i := range f.score.Values {
		v := float32(r.IntN(8192)) / ScoreUnit
		if r.Float64() < share {
			v = float32(8192+r.IntN(8193)) / ScoreUnit
		}
		if r.IntN(12) == 0 {
			v = raster.Missing
		}
		f.score.Values[i] = v
	}
	for range factors {
		t := raster.NewTile(w)
		for i := range t.Values {
			t.Values[i] = r.Float32()
			if r.IntN(5) == 0 {
				t.Values[i] = raster.Missing
			}
		}
		f.factors = append(f.factors, t)
	}
	return f
}

// crop copies a window of a tile.
func crop(t raster.Tile, w raster.Window) raster.Tile {
	out := raster.NewTile(w)
	out.CopyFrom(t)
	return out
}

// solve runs survey and solve over tiles of the given size.
func solve(t testing.TB, f field, rule Rule, cols, rows int) *Solution {
	t.Helper()
	store, err := NewStore(t.TempDir(), rule)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { store.Close() })
	surveyor := NewSurveyor(rule, cellAreas{})
	whole := f.score.Window
	var windows []raster.Window
	for row := whole.Row; row < whole.EndRow(); row += rows {
		for col := whole.Col; col < whole.EndCol(); col += cols {
			windows = append(windows, raster.Window{Col: col, Row: row, Cols: cols, Rows: rows}.Clip(whole))
		}
	}
	rand.Shuffle(len(windows), func(i, j int) { windows[i], windows[j] = windows[j], windows[i] })
	for _, w := range windows {
		var factors []raster.Tile
		for _, x := range f.factors {
			factors = append(factors, crop(x, w))
		}
		sum, err := surveyor.Survey(crop(f.score, w), factors)
		if err != nil {
			t.Fatal(err)
		}
		if err := store.Put(sum); err != nil {
			t.Fatal(err)
		}
	}
	solution, err := store.Solve()
	if err != nil {
		t.Fatal(err)
	}
	return solution
}

// flood finds the patches of a field the plain way: one flood fill a patch.
func flood(f field, from float32) (patches []Stats, cells [][]Cell) {
	w := f.score.Window
	seen := make([]bool, w.Size())
	member := func(c Cell) bool {
		in := c.Col >= w.Col && c.Col < w.EndCol() && c.Row >= w.Row && c.Row < w.EndRow()
		return in && !seen[w.Index(c.Col, c.Row)] && f.score.Value(c.Col, c.Row) >= from
	}
	for row := w.Row; row < w.EndRow(); row++ {
		for col := w.Col; col < w.EndCol(); col++ {
			if !member(Cell{col, row}) {
				continue
			}
			all := []Cell{{col, row}}
			seen[w.Index(col, row)] = true
			for i := 0; i < len(all); i++ {
				for d := range 9 {
					if c := (Cell{all[i].Col + d%3 - 1, all[i].Row + d/3 - 1}); member(c) {
						seen[w.Index(c.Col, c.Row)] = true
						all = append(all, c)
					}
				}
			}
			patches = append(patches, measured(f, all))
			cells = append(cells, all)
		}
	}
	return patches, cells
}

// measured adds up a patch cell by cell.
func measured(f field, cells []Cell) Stats {
	s := Stats{First: cells[0], Factors: make([]FactorSum, len(f.factors))}
	for _, c := range cells {
		units := int64(f.score.Value(c.Col, c.Row) * ScoreUnit)
		s.Cells++
		s.Area += cellArea(c.Col, c.Row)
		s.Sum += units
		s.Max = max(s.Max, units)
		s.Box = s.Box.Union(raster.Window{Col: c.Col, Row: c.Row, Cols: 1, Rows: 1})
		for i, x := range f.factors {
			if v := x.Value(c.Col, c.Row); v == v {
				s.Factors[i].Known++
				s.Factors[i].Sum += int64(float64(v)*FactorUnit + 0.5)
			}
		}
	}
	return s
}

var tileSizes = [][2]int{{1, 1}, {2, 2}, {3, 3}, {7, 7}, {1, 5}, {4, 1}, {1000, 1000}}

// TestAnyTilesMatchFloodFill holds patches, statistics and shapes against a
// flood fill of the whole grid, for many densities and tile sizes.
func TestAnyTilesMatchFloodFill(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for _, share := range []float64{0, 0.05, 0.2, 0.35, 0.45, 0.6, 0.8, 0.97} {
		for range 4 {
			w := raster.Window{Col: r.IntN(20) - 10, Row: r.IntN(20) - 10, Cols: 1 + r.IntN(24), Rows: 1 + r.IntN(24)}
			f := random(r, w, share, r.IntN(3))
			want, cells := flood(f, 0.5)
			for _, size := range tileSizes {
				got := solve(t, f, Rule{From: 0.5}, size[0], size[1])
				checkStats(t, got, want)
				checkShapes(t, got, cells)
			}
		}
	}
}

func checkStats(t *testing.T, got *Solution, want []Stats) {
	t.Helper()
	if len(got.Patches) != len(want) {
		t.Fatalf("%d patches, want %d", len(got.Patches), len(want))
	}
	for i, p := range got.Patches {
		if !reflect.DeepEqual(p.Stats, want[i]) {
			t.Fatalf("patch %d: %+v, want %+v", i, p.Stats, want[i])
		}
	}
}

func checkShapes(t *testing.T, got *Solution, cells [][]Cell) {
	t.Helper()
	for i := range got.Patches {
		shape, err := got.Trace(&got.Patches[i])
		if err != nil {
			t.Fatal(err)
		}
		want := wholeTrace(cells[i])
		if !reflect.DeepEqual(shape, want) {
			t.Fatalf("shape %+v, want %+v", shape, want)
		}
		if shape.Outline.Cells() != int64(len(cells[i])) {
			t.Fatalf("outline holds %d cells, want %d", shape.Outline.Cells(), len(cells[i]))
		}
		if !slices.Contains(cells[i], shape.Inner) {
			t.Fatalf("inner point %v is outside", shape.Inner)
		}
	}
}

// wholeTrace draws cells without store or tiles.
func wholeTrace(cells []Cell) Shape {
	var runs []run
	for _, c := range cells {
		runs = append(runs, run{int32(c.Row), int32(c.Col), int32(c.Col) + 1, 0})
	}
	runs = whole(runs)
	return Shape{trace(runs), deepest(runs), bruteLength(cells, cellSides{1, 1})}
}

// TestSmallOnesAreDropped holds the survey's early dropping against a flood
// fill: what is left, the counts and the largest of the small.
func TestSmallOnesAreDropped(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for range 20 {
		f := random(r, raster.Window{Cols: 30, Rows: 25}, 0.3, 1)
		least := int64(r.IntN(9)) * 100_000_000
		all, _ := flood(f, 0.5)
		if r.IntN(2) == 0 { // exactly as large as one of them
			least = all[r.IntN(len(all))].Area
		}
		want := Tally{Highest: raster.Missing}
		var kept []Stats
		for _, v := range f.score.Values {
			if v >= 0.5 {
				want.Cells++
			}
			if v > want.Highest || want.Highest != want.Highest {
				want.Highest = v
			}
		}
		for _, p := range all {
			if p.Area >= least {
				kept = append(kept, p)
				continue
			}
			want.Small++
			want.see(p)
		}
		for _, size := range tileSizes {
			got := solve(t, f, Rule{From: 0.5, Least: least}, size[0], size[1])
			checkStats(t, got, kept)
			if !reflect.DeepEqual(got.Tally, want) {
				t.Fatalf("tally %+v, want %+v", got.Tally, want)
			}
		}
	}
}

// TestBestOnesSurvive asks that the best patches of the grid are still there
// when a survey keeps only the best of each tile.
func TestBestOnesSurvive(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	larger := func(a, b *Stats) bool { return a.Cells > b.Cells }
	for range 20 {
		f := random(r, raster.Window{Cols: 40, Rows: 40}, 0.25, 2)
		all, _ := flood(f, 0.5)
		slices.SortFunc(all, func(a, b Stats) int { return compare(&a, &b, larger) })
		for _, size := range [][2]int{{5, 5}, {13, 40}, {40, 40}} {
			got := solve(t, f, Rule{From: 0.5, Most: 4, Better: larger}, size[0], size[1])
			if n := len(got.Patches) + int(got.Tally.Beyond); n != len(all) {
				t.Fatalf("%d patches seen, want %d", n, len(all))
			}
			if size[0] == 40 && size[1] == 40 && got.Tally.Beyond == 0 {
				t.Fatal("nothing was dropped")
			}
			left := make([]Stats, 0, len(got.Patches))
			for _, p := range got.Patches {
				left = append(left, p.Stats)
			}
			slices.SortFunc(left, func(a, b Stats) int { return compare(&a, &b, larger) })
			if !reflect.DeepEqual(left[:4], all[:4]) {
				t.Fatalf("best %+v, want %+v", left[:4], all[:4])
			}
		}
	}
}

func TestNothingThere(t *testing.T) {
	f := field{score: raster.NewTile(raster.Window{Cols: 5, Rows: 4})}
	f.score.FillMissing()
	got := solve(t, f, Rule{From: 0.5}, 2, 2)
	if len(got.Patches) != 0 || got.Tally.Cells != 0 || got.Tally.Highest == got.Tally.Highest {
		t.Fatalf("%+v", got)
	}
	f.score.Values[7] = 0.25
	if got = solve(t, f, Rule{From: 0.5}, 2, 2); got.Tally.Highest != 0.25 {
		t.Fatalf("highest %v", got.Tally.Highest)
	}
}

// TestGapsAreRefused: tiles that leave a gap, overlap or break the lattice.
func TestGapsAreRefused(t *testing.T) {
	for name, windows := range map[string][]raster.Window{
		"missing tile": {{Cols: 2, Rows: 2}, {Col: 2, Cols: 2, Rows: 2}, {Row: 2, Cols: 2, Rows: 2}},
		"twice":        {{Cols: 2, Rows: 2}, {Cols: 2, Rows: 2}},
		"shifted":      {{Cols: 2, Rows: 2}, {Col: 1, Row: 2, Cols: 2, Rows: 2}},
	} {
		store, err := NewStore(t.TempDir(), Rule{From: 1})
		if err != nil {
			t.Fatal(err)
		}
		for _, w := range windows {
			sum, err := NewSurveyor(Rule{From: 1}, cellAreas{}).Survey(raster.NewTile(w), nil)
			if err != nil {
				t.Fatal(err)
			}
			if err := store.Put(sum); err != nil {
				t.Fatal(err)
			}
		}
		if _, err := store.Solve(); err == nil {
			t.Errorf("%s: not refused", name)
		}
		store.Close()
	}
}
