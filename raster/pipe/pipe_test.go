package pipe

import (
	"context"
	"errors"
	"fmt"
	"math"
	"sync"
	"testing"

	"likelyground/raster"
)

// source makes values that depend on the cell alone; about one cell in nine
// is missing. It counts how often each cell was computed.
func source(seed uint32) *Node {
	return &Node{Name: fmt.Sprint("source ", seed), Open: Plain(func(out raster.Tile, _ []raster.Tile) error {
		for row := out.Row; row < out.EndRow(); row++ {
			for col := out.Col; col < out.EndCol(); col++ {
				out.Values[out.Index(col, row)] = cellValue(seed, col, row)
			}
		}
		return nil
	})}
}

func cellValue(seed uint32, col, row int) float32 {
	h := seed*0x9E3779B1 ^ uint32(col)*0x85EBCA77 ^ uint32(row)*0xC2B2AE3D
	h ^= h >> 15
	h *= 0x2C1B3C6D
	h ^= h >> 12
	if h%9 == 0 {
		return raster.Missing
	}
	return float32(h%1000) / 7
}

// sum adds up the known cells of a square around each cell, of every input.
func sum(name string, reach int, inputs ...*Node) *Node {
	return &Node{Name: name, Inputs: inputs, Reach: reach, Open: Plain(func(out raster.Tile, in []raster.Tile) error {
		for row := out.Row; row < out.EndRow(); row++ {
			for col := out.Col; col < out.EndCol(); col++ {
				out.Values[out.Index(col, row)] = squareSum(in, col, row, reach)
			}
		}
		return nil
	})}
}

func squareSum(in []raster.Tile, col, row, reach int) float32 {
	var total float64
	for i, t := range in {
		for r := row - reach; r <= row+reach; r++ {
			for c := col - reach; c <= col+reach; c++ {
				if v := t.Value(c, r); v == v {
					total += float64(i+1) * float64(v)
				}
			}
		}
	}
	return float32(total)
}

// parity makes a class of a quantity, so that both kinds are on the way.
func parity(in *Node) *Node {
	return &Node{Name: "parity", Kind: Class, Inputs: []*Node{in}, Open: Plain(func(out raster.Tile, in []raster.Tile) error {
		for i, v := range in[0].Values {
			out.Codes[i] = int32(math.Float32bits(v) & 1)
		}
		return nil
	})}
}

// both reads a class and a quantity, two cells beyond.
func both(class, value *Node) *Node {
	return &Node{Name: "both", Inputs: []*Node{class, value}, Reach: 2, Open: Plain(func(out raster.Tile, in []raster.Tile) error {
		for row := out.Row; row < out.EndRow(); row++ {
			for col := out.Col; col < out.EndCol(); col++ {
				out.Values[out.Index(col, row)] = float32(in[0].Code(col+2, row-1)) + in[1].Value(col-2, row+2)
			}
		}
		return nil
	})}
}

// tangle is a graph with every sort of edge: fused, kept by reach, kept by
// two readers, an output that is kept, reach behind reach.
func tangle() []*Node {
	a, b := source(1), source(2)
	near := sum("near", 3, a)
	far := sum("far", 9, near, b)
	class := parity(b)
	mix := both(class, near)
	return []*Node{sum("all", 0, near, far, mix, a), a, class, far}
}

// collector is a sink that puts tiles together.
type collector struct {
	mu   *sync.Mutex
	into []raster.Tile
}

func (c collector) Take(_ raster.Window, in []raster.Tile) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	for i, t := range in {
		c.into[i].CopyFrom(t)
	}
	return nil
}
func (c collector) Close() error { return nil }

func collect(t *testing.T, outputs []*Node, w raster.Window, o Options) []raster.Tile {
	t.Helper()
	c := collector{mu: &sync.Mutex{}}
	for _, n := range outputs {
		if n.Kind == Class {
			c.into = append(c.into, raster.NewClassTile(w))
		} else {
			c.into = append(c.into, raster.NewTile(w))
		}
	}
	g := Graph{Window: w, Outputs: outputs, Sink: func() (Sink, error) { return c, nil }}
	if err := Run(context.Background(), g, o); err != nil {
		t.Fatal(err)
	}
	return c.into
}

// whole evaluates a node over a window in one piece, by plain recursion.
func whole(t *testing.T, n *Node, w raster.Window) raster.Tile {
	t.Helper()
	out := raster.NewTile(w)
	if n.Kind == Class {
		out = raster.NewClassTile(w)
	}
	var in []raster.Tile
	for _, input := range n.Inputs {
		in = append(in, whole(t, input, w.Grow(n.Reach)))
	}
	e, err := n.Open()
	if err == nil {
		err = e.Eval(out, in)
	}
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func sameTile(a, b raster.Tile) bool {
	for i := range a.Values {
		if math.Float32bits(a.Values[i]) != math.Float32bits(b.Values[i]) {
			return false
		}
	}
	for i := range a.Codes {
		if a.Codes[i] != b.Codes[i] {
			return false
		}
	}
	return len(a.Values) == len(b.Values) && len(a.Codes) == len(b.Codes)
}

// TestSameBytes holds the engine to plain recursion over the whole window,
// whatever the workers, the tile and the memory.
func TestSameBytes(t *testing.T) {
	outputs := tangle()
	for _, w := range []raster.Window{{Cols: 1, Rows: 1}, {Cols: 83, Rows: 57}, {Col: 5, Row: 11, Cols: 40, Rows: 64}} {
		var want []raster.Tile
		for _, n := range outputs {
			want = append(want, whole(t, n, w))
		}
		for _, workers := range []int{1, 2, 5} {
			for _, tile := range []int{3, 8, 16, 64, 200} {
				for _, memory := range []int64{1, 200 << 10, 1 << 30} {
					if tile == 3 && memory != 1 {
						continue // the slowest cases once
					}
					got := collect(t, outputs, w, Options{Workers: workers, Tile: tile, Memory: memory})
					for i := range want {
						if !sameTile(want[i], got[i]) {
							t.Fatalf("output %d differs: window %v, %d workers, tile %d, memory %d", i, w, workers, tile, memory)
						}
					}
				}
			}
		}
	}
}

// TestComputedOnce shows that within a strip no kept tile is computed twice.
func TestComputedOnce(t *testing.T) {
	var mu sync.Mutex
	seen := map[[2]int]int{}
	a := source(1)
	counted := &Node{Name: "counted", Inputs: []*Node{a}, Open: Plain(func(out raster.Tile, in []raster.Tile) error {
		copy(out.Values, in[0].Values)
		mu.Lock()
		seen[[2]int{out.Col, out.Row}]++
		mu.Unlock()
		return nil
	})}
	collect(t, []*Node{sum("x", 5, counted), sum("y", 2, counted)}, raster.Window{Cols: 90, Rows: 70}, Options{Workers: 3, Tile: 16})
	if len(seen) != 7*6 {
		t.Errorf("%d tiles computed, want 42: the domain reaches 5 cells beyond", len(seen))
	}
	for at, n := range seen {
		if n != 1 {
			t.Errorf("tile at %v computed %d times", at, n)
		}
	}
}

// tally is a source that counts the cells it owns.
type tally struct {
	mine  raster.Window
	cells *int64
	mu    *sync.Mutex
}

func (t *tally) Own(w raster.Window) { t.mine = w }
func (t *tally) Close() error        { return nil }
func (t *tally) Eval(out raster.Tile, _ []raster.Tile) error {
	t.mu.Lock()
	defer t.mu.Unlock()
	*t.cells += int64(out.Window.Clip(t.mine).Size())
	return nil
}

// TestCountedOnce shows that a counting source answers for each cell once,
// beyond the rim too, however the grid is cut into strips.
func TestCountedOnce(t *testing.T) {
	for _, o := range []Options{{Tile: 64}, {Tile: 4, Memory: 1}, {Tile: 8, Memory: 40 << 10, Workers: 3}} {
		var cells int64
		var mu sync.Mutex
		n := &Node{Name: "tally", Open: func() (Evaluator, error) { return &tally{cells: &cells, mu: &mu}, nil }}
		collect(t, []*Node{sum("x", 7, n)}, raster.Window{Cols: 60, Rows: 40}, o)
		if cells != (60+14)*(40+14) {
			t.Errorf("%+v: %d cells counted, want %d", o, cells, 74*54)
		}
	}
}

// TestMemoryIsFlat shows that kept tiles are dropped: the buffers in use do
// not grow with the height of the grid.
func TestMemoryIsFlat(t *testing.T) {
	buffers := func(rows int) int {
		s := newShape([]*Node{sum("x", 5, source(1))})
		p := newPool()
		w := raster.Window{Cols: 64, Rows: rows}
		workers, err := openWorkers(context.Background(), s, Graph{Outputs: s.outputs, Sink: func() (Sink, error) { return discard{}, nil }}, Options{Workers: 1})
		if err != nil {
			t.Fatal(err)
		}
		workers[0].pool = p
		if err := newStrip(s, lattice{16}, w, p, nil).run(context.Background(), workers, func(int) {}); err != nil {
			t.Fatal(err)
		}
		n := 0
		for _, list := range p.free {
			n += len(list)
		}
		return n
	}
	if low, high := buffers(160), buffers(1600); high > low {
		t.Errorf("%d buffers for 160 rows, %d for 1600", low, high)
	}
}

type discard struct{}

func (discard) Take(raster.Window, []raster.Tile) error { return nil }
func (discard) Close() error                            { return nil }

// TestShortage: nodes that read farther than the limit can hold are refused
// before anything is opened; the need that is told is enough.
func TestShortage(t *testing.T) {
	opened := false
	a := source(1)
	far := &Node{Name: "far", Inputs: []*Node{a}, Reach: 20000, Open: func() (Evaluator, error) {
		opened = true
		return nil, errors.New("not to be opened")
	}}
	g := Graph{Window: raster.Window{Cols: 40, Rows: 40}, Outputs: []*Node{far}, Sink: func() (Sink, error) { return discard{}, nil }}
	var short *Shortage
	if err := Run(context.Background(), g, Options{Limit: 1 << 30}); !errors.As(err, &short) || opened {
		t.Fatalf("error %v, opened %v", err, opened)
	}
	if short.Need < 40000*40000*4 || short.Need > 40000*40000*64 {
		t.Errorf("needs %d bytes", short.Need)
	}
	if err := newShape(g.Outputs).fits(g.Window, Options{Workers: 1, Tile: 512, Limit: short.Need}); err != nil {
		t.Errorf("with what it needs: %v", err)
	}
	near := Graph{Window: g.Window, Outputs: []*Node{sum("near", 3, a)}, Sink: g.Sink}
	if err := Run(context.Background(), near, Options{Limit: 32 << 20}); err != nil {
		t.Errorf("a short reach: %v", err)
	}
}

func TestErrorOfFirstTile(t *testing.T) {
	boom := errors.New("boom")
	bad := &Node{Name: "rotten", Open: Plain(func(out raster.Tile, _ []raster.Tile) error {
		if out.Row >= 8 {
			return fmt.Errorf("row %d: %w", out.Row, boom)
		}
		return nil
	})}
	for _, workers := range []int{1, 4} {
		g := Graph{Window: raster.Window{Cols: 16, Rows: 64}, Outputs: []*Node{sum("x", 1, bad)}, Sink: func() (Sink, error) { return discard{}, nil }}
		err := Run(context.Background(), g, Options{Workers: workers, Tile: 8})
		if !errors.Is(err, boom) {
			t.Errorf("%d workers: %v", workers, err)
		}
	}
}

func TestCancel(t *testing.T) {
	ctx, cancel := context.WithCancelCause(context.Background())
	stop := errors.New("asked to stop")
	slow := source(1)
	g := Graph{Window: raster.Window{Cols: 640, Rows: 640}, Outputs: []*Node{slow}, Sink: func() (Sink, error) { return discard{}, nil }}
	seen := int64(0)
	err := Run(ctx, g, Options{Workers: 2, Tile: 16, Progress: func(done, total int64) {
		seen = done
		if done > total/4 {
			cancel(stop)
		}
	}})
	if !errors.Is(err, stop) || seen == 640*640 {
		t.Errorf("err %v after %d cells", err, seen)
	}
}

func TestEach(t *testing.T) {
	var mu sync.Mutex
	seen := map[int]int{}
	if err := Each(context.Background(), 100, 3, func(i int) error {
		mu.Lock()
		defer mu.Unlock()
		seen[i]++
		return nil
	}); err != nil || len(seen) != 100 {
		t.Errorf("err %v, %d numbers", err, len(seen))
	}
	boom := errors.New("boom")
	if err := Each(context.Background(), 100, 1, func(i int) error {
		if i > 10 {
			t.Error("went on after an error")
		}
		if i == 10 {
			return boom
		}
		return nil
	}); !errors.Is(err, boom) {
		t.Error(err)
	}
}

// TestSteadyState shows that a tile more costs no allocation that grows with
// its cells.
func TestSteadyState(t *testing.T) {
	per := func(size int) float64 {
		node := sum("x", 1, source(1))
		g := Graph{Window: raster.Window{Cols: size * 4, Rows: size * 4}, Outputs: []*Node{node}, Sink: func() (Sink, error) { return discard{}, nil }}
		return testing.AllocsPerRun(2, func() { Run(context.Background(), g, Options{Tile: size}) })
	}
	if small, large := per(16), per(64); large > small*1.2+20 {
		t.Errorf("%.0f allocations with tiles of 16, %.0f with tiles of 64", small, large)
	}
}

func ExampleRun() {
	ones := &Node{Name: "ones", Open: Plain(func(out raster.Tile, _ []raster.Tile) error {
		for i := range out.Values {
			out.Values[i] = 1
		}
		return nil
	})}
	around := sum("sum of 3 × 3", 1, ones)
	c := collector{mu: &sync.Mutex{}, into: []raster.Tile{raster.NewTile(raster.Window{Cols: 4, Rows: 2})}}
	g := Graph{Window: raster.Window{Cols: 4, Rows: 2}, Outputs: []*Node{around}, Sink: func() (Sink, error) { return c, nil }}
	fmt.Println(Run(context.Background(), g, Options{Workers: 2}), c.into[0].Values)
	// Output: <nil> [9 9 9 9 9 9 9 9]
}

// TestWantedTilesAlone: of the tiles, only the wanted ones come, each equal to
// what the whole window gives, and what nobody wanted reads is not computed.
func TestWantedTilesAlone(t *testing.T) {
	window := raster.Window{Cols: 96, Rows: 80}
	wanted := func(w raster.Window) bool { return (w.Col/16+2*(w.Row/16))%5 == 0 }
	for _, workers := range []int{1, 3} {
		var mu sync.Mutex
		sourceTiles := 0
		source := &Node{Name: "source", Open: Plain(func(out raster.Tile, _ []raster.Tile) error {
			mu.Lock()
			sourceTiles++
			mu.Unlock()
			for i := range out.Values {
				out.Values[i] = float32((out.Col + i%out.Cols) * (out.Row + i/out.Cols))
			}
			return nil
		})}
		shifted := &Node{Name: "shifted", Inputs: []*Node{source}, Reach: 2, Open: Plain(func(out raster.Tile, in []raster.Tile) error {
			for row := out.Row; row < out.EndRow(); row++ {
				for i := range out.ValueRow(row) {
					out.ValueRow(row)[i] = in[0].Value(out.Col+i+2, row-2)
				}
			}
			return nil
		})}
		got := map[raster.Window]bool{}
		g := Graph{Window: window, Outputs: []*Node{shifted}, Wanted: wanted, Sink: func() (Sink, error) {
			return sinkFunc(func(w raster.Window, in []raster.Tile) error {
				mu.Lock()
				defer mu.Unlock()
				got[w] = true
				for row := w.Row; row < w.EndRow(); row++ {
					for col := w.Col; col < w.EndCol(); col++ {
						if want := float32((col + 2) * (row - 2)); in[0].Value(col, row) != want {
							t.Errorf("(%d, %d) is %v, want %v", col, row, in[0].Value(col, row), want)
						}
					}
				}
				return nil
			}), nil
		}}
		if err := Run(context.Background(), g, Options{Workers: workers, Tile: 16}); err != nil {
			t.Fatal(err)
		}
		count := 0
		for row := 0; row < 80; row += 16 {
			for col := 0; col < 96; col += 16 {
				w := raster.Window{Col: col, Row: row, Cols: 16, Rows: 16}
				if wanted(w) {
					count++
				}
				if got[w] != wanted(w) {
					t.Errorf("%+v came: %v", w, got[w])
				}
			}
		}
		if len(got) != count || sourceTiles >= 8*7 {
			t.Errorf("%d tiles came, %d tiles of the source were made", len(got), sourceTiles)
		}
	}
}

// sinkFunc is a sink without state.
type sinkFunc func(w raster.Window, in []raster.Tile) error

func (f sinkFunc) Take(w raster.Window, in []raster.Tile) error { return f(w, in) }
func (f sinkFunc) Close() error                                 { return nil }
