package hotspot

import (
	"errors"
	"math"
	"math/big"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"

	"likelyground/raster"
	"likelyground/raster/patch"
)

// areas gives the cells of each row one area, in mm².
type areas []int64

func (a areas) Row(col, cols, row int, out []int64) {
	for i := range out[:cols] {
		out[i] = a[row]
	}
}

// even makes every cell a hectare.
var even = areas{mm2PerHa, mm2PerHa, mm2PerHa, mm2PerHa, mm2PerHa, mm2PerHa}

const gap = -1 // a missing value in tile

func tile(rows ...[]float32) raster.Tile {
	t := raster.NewTile(raster.Window{Cols: len(rows[0]), Rows: len(rows)})
	for i, row := range rows {
		for k, v := range row {
			if v == gap {
				v = raster.Missing
			}
			t.ValueRow(i)[k] = v
		}
	}
	return t
}

// search ranks one small grid, surveyed in one piece.
func search(t *testing.T, rule Rule, a areas, names []string, score raster.Tile, factors ...raster.Tile) Result {
	t.Helper()
	store, err := patch.NewStore(t.TempDir(), rule.Patches())
	if err != nil {
		t.Fatal(err)
	}
	defer store.Close()
	sum, err := patch.NewSurveyor(rule.Patches(), a).Survey(score, factors)
	if err != nil {
		t.Fatal(err)
	}
	if err := store.Put(sum); err != nil {
		t.Fatal(err)
	}
	solution, err := store.Solve()
	if err != nil {
		t.Fatal(err)
	}
	out, err := Rank(solution, names, rule)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// TestRank: by hand. The patch of four cells at 0.5 (area × mean 2) stands
// behind the one of three at 0.75 (2.25) and before that of two at 0.875 (1.75).
func TestRank(t *testing.T) {
	got := search(t, Rule{From: 0.5, LeastHa: 2}, even, []string{"soil", "host"},
		tile(
			[]float32{0.5, 0.5, 0.0, 0.750, 0},
			[]float32{0.5, 0.5, 0.0, 0.625, 0},
			[]float32{0.0, 0.0, 0.0, 0.875, 0},
			[]float32{0.0, 0.0, 0.0, 0.000, 0},
			[]float32{1.0, 0.75, 0.0, gap, 0.5}),
		tile(
			[]float32{0, 0, 0, 0.25, 0},
			[]float32{0, 0, 0, gap, 0},
			[]float32{0, 0, 0, 0.75, 0},
			[]float32{0, 0, 0, 0, 0},
			[]float32{1, 1, 0, 0, 0}),
		tile(
			[]float32{1, 1, 0, gap, 0},
			[]float32{1, 0, 0, gap, 0},
			[]float32{0, 0, 0, gap, 0},
			[]float32{0, 0, 0, 0, 0},
			[]float32{0, 1, 0, 0, 0}))
	want := []struct {
		area, mean, max float64
		point           patch.Cell
		soil, host      FactorMean
	}{
		{3, 0.75, 0.875, patch.Cell{Col: 3, Row: 1}, FactorMean{"soil", 0.5, 2. / 3}, FactorMean{"host", math.NaN(), 0}},
		{4, 0.5, 0.5, patch.Cell{Col: 0, Row: 0}, FactorMean{"soil", 0, 1}, FactorMean{"host", 0.75, 1}},
		{2, 0.875, 1, patch.Cell{Col: 0, Row: 4}, FactorMean{"soil", 1, 1}, FactorMean{"host", 0.5, 1}},
	}
	if len(got.Hotspots) != len(want) {
		t.Fatalf("%d hotspots", len(got.Hotspots))
	}
	for i, h := range got.Hotspots {
		w := want[i]
		if h.Rank != i+1 || h.AreaHa != w.area || h.Mean != w.mean || h.Max != w.max || h.Point != w.point {
			t.Errorf("rank %d: %+v", i+1, h)
		}
		for k, f := range []FactorMean{w.soil, w.host} {
			if g := h.Factors[k]; g.Name != f.Name || g.Known != f.Known || g.Mean != f.Mean && !math.IsNaN(f.Mean) {
				t.Errorf("rank %d: %+v, want %+v", i+1, g, f)
			}
		}
		if h.Outline.Cells() != h.Cells {
			t.Errorf("rank %d: outline of %d cells", i+1, h.Outline.Cells())
		}
	}
	a := got.Account
	if a.Found != 4 || a.TooSmall != 1 || a.BeyondMost != 0 || a.Cells != 10 || a.Highest != 1 || a.Shown() != 3 || a.Advice() != "" {
		t.Errorf("%+v", a)
	}
	if want := (&Small{1, 0.5, 0.5, 1, patch.Cell{Col: 4, Row: 4}}); !reflect.DeepEqual(a.Largest, want) {
		t.Errorf("%+v", a.Largest)
	}
}

// TestEllipsoidDecides: two patches of one cell each; the southern cell is
// larger on the ground and ranks first, and alone reaches the least area.
func TestEllipsoidDecides(t *testing.T) {
	a := areas{mm2PerHa - 1, mm2PerHa, mm2PerHa}
	score := tile([]float32{1}, []float32{0}, []float32{1})
	got := search(t, Rule{From: 1}, a, nil, score).Hotspots
	if len(got) != 2 || got[0].Point.Row != 2 {
		t.Errorf("%+v", got)
	}
	got = search(t, Rule{From: 1, LeastHa: 1}, a, nil, score).Hotspots
	if len(got) != 1 || got[0].Point.Row != 2 {
		t.Errorf("%+v", got)
	}
}

// TestOrLength: a row of four cells of 20 × 10 m stays for its length, the
// diagonal of 80 × 10 m, behind the larger patch; a block of four does not.
func TestOrLength(t *testing.T) {
	score := tile(
		[]float32{1, 1, 1, 1, 0, 0.75, 0.75},
		[]float32{0, 0, 0, 0, 0, 0.75, 0.75},
		[]float32{1, 1, 0, 0, 0, 0.75, 0.75},
		[]float32{1, 1, 0, 0, 0, 0.75, 0.75})
	rule := Rule{From: 0.5, LeastHa: 5, OrLength: math.Sqrt(80*80 + 10*10), CellX: 20, CellY: 10}
	got := search(t, rule, even, nil, score)
	if len(got.Hotspots) != 2 || got.Hotspots[0].AreaHa != 8 || got.Hotspots[1].Box != (raster.Window{Cols: 4, Rows: 1}) {
		t.Fatalf("%+v", got.Hotspots)
	}
	if h := got.Hotspots[1]; h.Length != rule.OrLength || h.AreaHa != 4 {
		t.Errorf("%+v", h)
	}
	if a := got.Account; a.Found != 3 || a.TooSmall != 1 || a.Shown() != 2 || a.OrLength != rule.OrLength || a.Largest.First != (patch.Cell{Row: 2}) {
		t.Errorf("%+v", a)
	}
	rule.OrLength += 0.001
	if got = search(t, rule, even, nil, score); len(got.Hotspots) != 1 || got.Account.TooSmall != 2 {
		t.Errorf("%+v", got.Account)
	}
	rule.LeastHa, rule.OrLength = 9, 100
	want := "there are 3 patches of cells that score 0.5 or more, but none reaches 9 ha or a length of 100 m, the largest has 8 ha: lower `least` to at most that, or lower `from`"
	if got = search(t, rule, even, nil, score); got.Account.Advice() != want {
		t.Errorf("%q", got.Account.Advice())
	}
}

// TestMost: five equal patches; the first by position are kept.
func TestMost(t *testing.T) {
	got := search(t, Rule{From: 0.5, Most: 3}, even, nil, tile(
		[]float32{0, 0, 0, 0, 0, 1, 0},
		[]float32{0, 1, 0, 1, 0, 0, 0},
		[]float32{0, 0, 0, 0, 0, 0, 0},
		[]float32{0, 1, 0, 0, 0, 1, 0},
		[]float32{0, 0, 0, 0, 0, 0, 0}))
	var points []patch.Cell
	for _, h := range got.Hotspots {
		points = append(points, h.Point)
	}
	if want := []patch.Cell{{Col: 5, Row: 0}, {Col: 1, Row: 1}, {Col: 3, Row: 1}}; !reflect.DeepEqual(points, want) {
		t.Errorf("%v", points)
	}
	if a := got.Account; a.Found != 5 || a.BeyondMost != 2 || a.Shown() != 3 {
		t.Errorf("%+v", a)
	}
}

// TestAdvice: what is said where nothing is found.
func TestAdvice(t *testing.T) {
	for _, c := range []struct {
		name  string
		rule  Rule
		score raster.Tile
		want  string
	}{
		{"no score", Rule{From: 0.5}, tile([]float32{gap, gap}),
			"no cell has a score: see which maps are missing here"},
		{"too high", Rule{From: 0.3}, tile([]float32{0.125, 0.25, gap}),
			"no cell scores 0.3 or more, the highest scores 0.25: lower `from` to at most that"},
		{"too small", Rule{From: 0.7, LeastHa: 2.5}, tile([]float32{1, 0.875, 0.25, 0.75, gap}),
			"there are 2 patches of cells that score 0.7 or more, but none reaches 2.5 ha, the largest has 2 ha: lower `least` to at most that, or lower `from`"},
	} {
		got := search(t, c.rule, even, nil, c.score)
		if got.Account.Advice() != c.want || len(got.Hotspots) > 0 {
			t.Errorf("%s: %q", c.name, got.Account.Advice())
		}
	}
}

func TestThreshold(t *testing.T) {
	for from, want := range map[float64]float32{0.7: 11469. / 16384, 0.5: 0.5, 1: 1, 0.00002: 0, 0.00004: 1. / 16384} {
		if got := (Rule{From: from}).Threshold(); got != want {
			t.Errorf("%v: %v", from, got)
		}
	}
}

func TestCheck(t *testing.T) {
	for _, r := range []Rule{{From: 1.2}, {From: math.NaN()}, {LeastHa: -1}, {LeastHa: math.Inf(1)}, {OrLength: -1}, {OrLength: math.NaN()}, {Most: -1}} {
		var change interface {
			Remedy() string
			MustChange() bool
		}
		if err := r.Check(); !errors.As(err, &change) || change.Remedy() == "" || !change.MustChange() {
			t.Errorf("%+v: %v", r, err)
		}
	}
	if err := (Rule{From: 0.7, LeastHa: 0.5, Most: 40}).Check(); err != nil {
		t.Error(err)
	}
}

// TestNamesMustFit: the names must be as many as the factors surveyed.
func TestNamesMustFit(t *testing.T) {
	p := patch.Patch{Stats: patch.Stats{Cells: 1, Area: 1, Sum: 1}}
	_, err := Rank(&patch.Solution{Patches: []patch.Patch{p}}, []string{"soil"}, Rule{})
	if err == nil || !strings.Contains(err.Error(), "hotspot 1") {
		t.Error(err)
	}
}

// TestBetterIsExact holds the comparison against rational arithmetic
// (math/big), with numbers from tiny to the largest and near ties.
func TestBetterIsExact(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	value := func(s patch.Stats) *big.Rat {
		n := new(big.Int).Mul(big.NewInt(s.Area), big.NewInt(s.Sum))
		return new(big.Rat).SetFrac(n, big.NewInt(s.Cells))
	}
	some := func() int64 { return 1 + r.Int64()>>r.IntN(63) }
	for range 20000 {
		a := patch.Stats{Area: some(), Sum: some(), Cells: some()}
		b := patch.Stats{Area: some(), Sum: some(), Cells: some()}
		if r.IntN(2) == 0 {
			b = patch.Stats{Area: a.Sum, Sum: a.Area, Cells: max(a.Cells+int64(r.IntN(3))-1, 1)}
		}
		if got, want := Better(&a, &b), value(a).Cmp(value(b)) > 0; got != want {
			t.Fatalf("%+v %+v: %v", a, b, got)
		}
	}
}
