package water

import (
	"container/heap"
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"likelyground/raster"
)

// field is a small ground for tests, with its drains.
type field struct {
	raster.Tile
	drains []bool
	dx, dy float64
}

// Read makes a field a Reader of itself.
func (f *field) Read(dst raster.Tile, drains []bool) error {
	for i := range dst.Values {
		col, row := dst.Col+i%dst.Cols, dst.Row+i/dst.Cols
		dst.Values[i] = f.Value(col, row)
		drains[i] = f.drains != nil && f.drains[f.Index(col, row)]
	}
	return nil
}

func (f *field) Close() error { return nil }

func (f *field) ground() Ground {
	return Ground{Window: f.Window, DX: f.dx, DY: f.dy, Open: func() (Reader, error) { return f, nil }}
}

// parse reads rows parted by "/", missing cells as "-".
func parse(t testing.TB, text string, side float64) *field {
	t.Helper()
	f := &field{dx: side, dy: side}
	for _, row := range strings.Split(text, "/") {
		words := strings.Fields(row)
		f.Cols, f.Rows = len(words), f.Rows+1
		for _, word := range words {
			v := math.NaN()
			if word != "-" {
				var err error
				if v, err = strconv.ParseFloat(word, 64); err != nil {
					t.Fatal(err)
				}
			}
			f.Values = append(f.Values, float32(v))
		}
	}
	return f
}

// shape makes a field by a formula.
func shape(cols, rows int, side float64, height func(c, r int) float64) *field {
	f := &field{Tile: raster.NewTile(raster.Window{Cols: cols, Rows: rows}), dx: side, dy: side}
	for i := range f.Values {
		f.Values[i] = float32(height(i%cols, i/cols))
	}
	return f
}

// random is a ground with ties, flats, holes, drains and heights below 0, at
// an odd place of the grid.
func random(r *rand.Rand, most int) *field {
	w := raster.Window{Col: r.IntN(40) - 20, Row: r.IntN(40) - 20, Cols: 1 + r.IntN(most), Rows: 1 + r.IntN(most)}
	f := &field{Tile: raster.NewTile(w), dx: 10, dy: []float64{10, 7}[r.IntN(2)]}
	levels, holes := 1+r.IntN(12), []float64{0, 0.03, 0.2}[r.IntN(3)]
	for i := range f.Values {
		f.Values[i] = float32(r.IntN(levels)-3) / 4
		if f.Values[i] == 0 && r.IntN(2) == 0 {
			f.Values[i] = float32(math.Copysign(0, -1))
		}
		if r.Float64() < holes {
			f.Values[i] = raster.Missing
		}
	}
	if r.IntN(3) == 0 {
		f.drains = make([]bool, w.Size())
		for i := range f.drains {
			f.drains[i] = r.IntN(15) == 0
		}
	}
	return f
}

// serpentine is one long valley between walls, falling gently or level, whose
// only way out is its end.
func serpentine(side int, fall float64) *field {
	at := 0.0
	f := shape(side, side, 1, func(c, r int) float64 { return 1e6 })
	for r := 1; r < side-1; r += 2 {
		for i := 1; i < side-1; i++ {
			c := i
			if r%4 == 3 {
				c = side - 1 - i
			}
			f.Values[r*side+c] = float32(1000 - at)
			at += fall
		}
		turn := side - 2
		if r%4 == 3 {
			turn = 1
		}
		f.Values[(r+1)*side+turn] = float32(1000 - at)
		at += fall
	}
	return f
}

// near calls g for each known neighbour of a cell.
func (f *field) near(i int, g func(j, k int)) {
	x, y := i%f.Cols, i/f.Cols
	for k, n := range neighbours {
		if c, r := x+n.x, y+n.y; c >= 0 && r >= 0 && c < f.Cols && r < f.Rows && f.Values[r*f.Cols+c] == f.Values[r*f.Cols+c] {
			g(r*f.Cols+c, k)
		}
	}
}

func (f *field) known(i int) bool { return f.Values[i] == f.Values[i] }

func (f *field) drain(i int) bool { return f.drains != nil && f.drains[i] }

// besideNothing reports whether a cell lies at the rim or beside a hole.
func (f *field) besideNothing(i int) bool {
	n := 0
	f.near(i, func(int, int) { n++ })
	return n < 8
}

// outlet is the definition of what drains.
func (f *field) outlet(i int) bool { return f.drain(i) || f.besideNothing(i) }

// item and items are a queue of cells by height.
type item struct {
	at    int
	level float32
}
type items []item

func (q items) Len() int           { return len(q) }
func (q items) Less(i, j int) bool { return q[i].level < q[j].level }
func (q items) Swap(i, j int)      { q[i], q[j] = q[j], q[i] }
func (q *items) Push(x any)        { *q = append(*q, x.(item)) }
func (q *items) Pop() any {
	last := (*q)[len(*q)-1]
	*q = (*q)[:len(*q)-1]
	return last
}

// filled is the definition: the least, over all ways out, of the highest cell
// on the way (Dijkstra 1959 with the maximum for the sum).
func (f *field) filled() []float32 {
	out := make([]float32, len(f.Values))
	var q items
	for i, z := range f.Values {
		out[i] = raster.Missing
		if f.known(i) && f.outlet(i) {
			q = append(q, item{i, z})
		}
	}
	heap.Init(&q)
	for len(q) > 0 {
		top := heap.Pop(&q).(item)
		if out[top.at] == out[top.at] {
			continue
		}
		out[top.at] = top.level + 0 // there is one zero
		f.near(top.at, func(j, _ int) {
			if out[j] != out[j] {
				heap.Push(&q, item{j, max(top.level, f.Values[j])})
			}
		})
	}
	return out
}

// tileSizes are the tiles that every method is held to.
var tileSizes = []int{1, 2, 3, 5, 8, DefaultTile}

// look runs a stage by tiles of a size and hands over the finished Water.
func look(t testing.TB, f *field, tile int, stages ...func(w *Water, ctx context.Context) error) *Water {
	t.Helper()
	w, err := New(context.Background(), f.ground(), Options{Tile: tile, Workers: 1 + tile%3})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { w.Close() })
	for _, s := range stages {
		if err := s(w, context.Background()); err != nil {
			t.Fatal(err)
		}
	}
	return w
}

// values reads a layer of the whole ground.
func values(t testing.TB, w *Water, layer Layer) []float32 {
	t.Helper()
	out := raster.NewTile(w.ground.Window)
	if err := w.View().Read(layer, out); err != nil {
		t.Fatal(err)
	}
	return out.Values
}

// same holds values to others bit by bit; all NaN are one.
func same(t testing.TB, what string, f *field, got, want []float32) {
	t.Helper()
	for i := range want {
		if math.Float32bits(got[i]) != math.Float32bits(want[i]) && (got[i] == got[i] || want[i] == want[i]) {
			t.Fatalf("%s: cell %d,%d is %g, by the definition %g; ground\n%s", what, i%f.Cols, i/f.Cols, got[i], want[i], f.show(f.Values))
		}
	}
}

func (f *field) show(v []float32) string {
	var b strings.Builder
	for i, x := range v {
		fmt.Fprintf(&b, "%6.4g", x)
		if f.drain(i) {
			b.WriteByte('!')
		}
		if (i+1)%f.Cols == 0 {
			b.WriteByte('\n')
		}
	}
	return b.String()
}

// grounds are random ones, serpentines and other odd shapes.
func grounds(n int) []*field {
	r := rand.New(rand.NewPCG(4, 11))
	var out []*field
	for range n {
		out = append(out, random(r, 24))
	}
	hole := shape(9, 9, 10, func(c, r int) float64 { return float64(c*c + r) })
	hole.Values[40] = raster.Missing
	return append(out, serpentine(21, 0), serpentine(21, 0.25), hole,
		shape(1, 1, 10, func(int, int) float64 { return 3 }),
		shape(17, 1, 10, func(c, _ int) float64 { return float64(c % 5) }),
		shape(1, 17, 10, func(_, r int) float64 { return float64(r % 5) }),
		shape(13, 11, 10, func(int, int) float64 { return 7 }),
		shape(16, 16, 10, func(c, r int) float64 { return -math.Abs(float64(c-8)) - math.Abs(float64(r-7)) }))
}

func sum(v []float32) (cells int, total float64) {
	for _, x := range v {
		if x > 0 {
			cells++
			total += float64(x)
		}
	}
	return cells, total
}

func clone(f *field) *field {
	out := *f
	out.Values = slices.Clone(f.Values)
	return &out
}
