package patch

import (
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"likelyground/raster"
)

// bruteLength measures from every corner of every cell to every other.
func bruteLength(cells []Cell, s cellSides) float64 {
	var corners []Cell
	for _, c := range cells {
		for d := range 4 {
			corners = append(corners, Cell{c.Col + d%2, c.Row + d/2})
		}
	}
	longest := 0.0
	for i, a := range corners {
		for _, b := range corners[:i] {
			x, y := float64(a.Col-b.Col)*s.dx, float64(a.Row-b.Row)*s.dy
			longest = max(longest, math.Sqrt(float64(x*x)+float64(y*y)))
		}
	}
	return longest
}

// TestLengthByHand: a cell has the length of its diagonal; a row of 15 cells
// of 10 m is as long as the diagonal of 150 × 10 m; a ring, an angle and a
// staircase are measured straight across.
func TestLengthByHand(t *testing.T) {
	for _, c := range []struct {
		drawn  string
		dx, dy float64
		want   float64
	}{
		{"1", 10, 10, math.Sqrt(200)},
		{"1", 30, 40, 50},
		{"1 1 1 1 1 1 1 1 1 1 1 1 1 1 1", 10, 10, math.Sqrt(150*150 + 10*10)},
		{"1/1/1", 10, 40, math.Sqrt(10*10 + 120*120)},
		{"1 1 1/1 0 1/1 1 1", 1, 1, math.Sqrt(18)},
		{"1 0 0 0/1 0 0 0/1 1 1 1", 1, 1, 5},
		{"1 0 0/0 1 0/0 0 1", 3, 4, 15},
	} {
		f := drawn(t, c.drawn)
		s := solve(t, f, Rule{From: 1, DX: c.dx, DY: c.dy}, 2, 2)
		shape, err := s.Trace(&s.Patches[0])
		if err != nil || len(s.Patches) != 1 {
			t.Fatal(err, len(s.Patches))
		}
		if math.Abs(shape.Length-c.want) > 1e-9 {
			t.Errorf("%s of cells %g × %g m: %g m, want %g", c.drawn, c.dx, c.dy, shape.Length, c.want)
		}
	}
}

// TestHullOfManyCells holds hulls of scattered cells, worked out anew again
// and again as cells come in any order, to brute force, to the last bit.
func TestHullOfManyCells(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 12))
	for range 200 {
		var h hull
		var cells []Cell
		wide, high := 1+r.IntN(60), 1+r.IntN(60)
		for range 1 + r.IntN(300) {
			c := Cell{r.IntN(wide) - 30, r.IntN(high) - 30}
			if x, y := c.Col, c.Row; r.IntN(2) == 0 && x*x+y*y > 600 {
				continue // round ones, whose hulls have many corners
			}
			cells = append(cells, c)
			h.add(run{int32(c.Row), int32(c.Col), int32(c.Col + 1), 0})
		}
		s := cellSides{0.1 + r.Float64(), 0.1 + r.Float64()}
		if got, want := h.length(s), bruteLength(cells, s); got != want {
			t.Fatalf("%d cells of %v: %v, want %v", len(cells), s, got, want)
		}
	}
}

// TestFarCorners: cells at the ends of what a grid may number.
func TestFarCorners(t *testing.T) {
	var h hull
	h.add(run{-1 << 30, -1 << 30, -1<<30 + 1, 0})
	h.add(run{1<<30 - 1, 1<<30 - 1, 1 << 30, 0})
	h.add(run{0, 5, 6, 0})
	if got, want := h.length(cellSides{1, 1}), math.Sqrt2*(1<<31); math.Abs(got-want) > 1e-6 {
		t.Errorf("%v, want %v", got, want)
	}
}

// TestLongOnesStay holds what a least length lets stay to a flood fill: the
// patches, the counts and the largest of those dropped, whatever the tiles.
func TestLongOnesStay(t *testing.T) {
	r := rand.New(rand.NewPCG(13, 14))
	byLength := 0
	for range 30 {
		f := random(r, raster.Window{Cols: 40, Rows: 33}, 0.25+0.15*r.Float64(), 1)
		rule := Rule{From: 0.5, Least: int64(4+r.IntN(30)) * 100_000_000, DX: 10, DY: []float64{10, 7}[r.IntN(2)]}
		all, cells := flood(f, 0.5)
		rule.Length = 20 + 100*r.Float64()
		if r.IntN(2) == 0 { // exactly as long as one of them
			rule.Length = bruteLength(cells[r.IntN(len(cells))], rule.sides())
		}
		want := Tally{Highest: raster.Missing}
		var kept []Stats
		var keptCells [][]Cell
		for i, p := range all {
			switch {
			case p.Area >= rule.Least:
			case bruteLength(cells[i], rule.sides()) >= rule.Length:
				byLength++
			default:
				want.Small++
				want.see(p)
				continue
			}
			kept, keptCells = append(kept, p), append(keptCells, cells[i])
		}
		for _, size := range tileSizes {
			got := solve(t, f, rule, size[0], size[1])
			checkStats(t, got, kept)
			if got.Tally.Small != want.Small || !reflect.DeepEqual(got.Tally.Largest, want.Largest) {
				t.Fatalf("tiles %v: tally %+v, want %+v", size, got.Tally, want)
			}
			for i := range got.Patches {
				shape, err := got.Trace(&got.Patches[i])
				if want := bruteLength(keptCells[i], rule.sides()); err != nil || shape.Length != want {
					t.Fatalf("tiles %v, patch %d: %v m (%v), want %v", size, i, shape.Length, err, want)
				}
			}
		}
	}
	if byLength < 50 {
		t.Errorf("only %d patches stayed for their length", byLength)
	}
}

// TestSiftAllocates: finding the long ones takes no memory once it is there.
func TestSiftAllocates(t *testing.T) {
	f := random(rand.New(rand.NewPCG(15, 16)), raster.Window{Cols: 64, Rows: 64}, 0.35, 0)
	s := NewSurveyor(Rule{From: 0.5, Least: 1 << 40, Length: 6.5}, cellAreas{})
	s.reset(f.score.Window, 0)
	s.scan(f.score)
	s.measure(f.score, nil)
	s.sift()
	if n := testing.AllocsPerRun(20, s.sift); n > 0 {
		t.Errorf("%v allocations a tile", n)
	}
	if len(s.hulls) < 3 || !slices.Contains(s.verdicts, long) {
		t.Errorf("%d hulls, verdicts %v", len(s.hulls), s.verdicts)
	}
}

// ExampleSolution_Trace: a ride three cells wide is longer than it is large.
func ExampleSolution_Trace() {
	rule := Rule{From: 0.5, Least: 5000e6, Length: 150, DX: 10, DY: 10} // 0.5 ha
	store, _ := NewStore("", rule)
	defer store.Close()
	score := raster.NewTile(raster.Window{Cols: 16, Rows: 3})
	for i := range score.Values {
		score.Values[i] = 1
	}
	sum, _ := NewSurveyor(rule, evenAreas(100e6)).Survey(score, nil) // cells of 100 m²
	_ = store.Put(sum)
	found, _ := store.Solve()
	ride := &found.Patches[0]
	shape, _ := found.Trace(ride)
	fmt.Printf("%.2f ha, %.1f m long\n", float64(ride.Area)/1e10, shape.Length)
	// Output: 0.48 ha, 162.8 m long
}

type evenAreas int64

func (a evenAreas) Row(_, cols, _ int, out []int64) {
	for i := range out[:cols] {
		out[i] = int64(a)
	}
}
