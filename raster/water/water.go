// Package water works out where water gathers on the ground: how high
// hollows fill before they spill, which way each cell drains, how much ground
// drains through it, and what follows from that.
//
// Everything is exact and works on ground far larger than memory. The ground
// is cut into tiles; each quantity is surveyed tile by tile into a small
// summary of the tile's border, solved for all summaries at once and finished
// tile by tile. Where there is no direct solution (flats, many receivers) the
// tiles whose border changed are done again until none does. All that is
// added up is whole numbers, so the results are the same bytes whatever the
// tile size, the order of the tiles and the number of workers. What is held
// in memory grows with the tiles' borders, some tens of bytes for each border
// cell; the rest lies in a [Store].
//
// Methods. Filling: the lowest level at which water gets out (Barnes, Lehman &
// Mulla 2014, Priority-flood, gives the definition), found by watersheds
// instead; see fill.go. One receiver: the steepest descent of eight (O'Callaghan
// & Mark 1984), accumulated by tiles after Barnes (2017). Many receivers:
// shares by the 1.1th power of the gradient (Freeman 1991). Wetness: ln(a / tan
// b) (Beven & Kirkby 1979), b after Horn (1981) from the ground as it is.
// Height above the channel: after Rennó et al. (2008). Years from memory.
//
// Left out: directions of any angle (D∞, Tarboton 1997), since shares among all
// lower neighbours serve the index of wetness better and cost no more to keep
// exact; and steps away from higher ground on flats (Barnes, Lehman & Mulla
// 2014b), whose ways differ from the ones here, by the fewest steps, though both
// let every cell of a flat drain.
//
// In the store a cell takes 4 bytes each for the ground, the filled ground and
// each kind of amount, and 1 for its way; 2 for watersheds while hollows are
// filled, and what is put aside while water is shared out.
//
// What drains: cells at the rim of the ground, cells beside a missing cell,
// and cells that the [Reader] marks as drains (the sea, a known outlet). A
// drain keeps all that reaches it; a cell that drains otherwise passes its
// water on where it has a lower neighbour. Missing cells (NaN) stay missing in
// every layer.
//
// Units: heights, DX and DY are in one unit, metres as a rule; areas are in
// its square. How a layer is used, and where the heights come from, is left
// to others.
package water

import (
	"context"
	"fmt"

	"likelyground/raster"
)

// Ground is what water runs over.
type Ground struct {
	Window raster.Window // of the grid; its rim drains
	DX, DY float64       // sides of a cell, in the unit of the heights

	// Open is called once a worker. Each Reader is used by one goroutine.
	Open func() (Reader, error)
}

// Reader brings in the ground of windows that lie in the ground's window.
type Reader interface {
	// Read sets the height of every cell, NaN where it is missing; infinite
	// heights count as missing. drains has an element for each cell, all false
	// when it comes; true marks a drain.
	Read(heights raster.Tile, drains []bool) error
	Close() error
}

// Options say how to work; none of them changes a result. The zero value is
// usable.
type Options struct {
	Workers int   // 0: one
	Tile    int   // cells a side, at most MostTile; 0: DefaultTile
	Memory  int64 // bytes for the tiles of a computation with many receivers; 0: DefaultMemory
	Store   Store // where layers are kept, closed with the Water; nil: in memory; see Keeper

	// Progress tells how far a stage is, in tiles; calls do not overlap.
	Progress func(stage string, done, total int)
}

const (
	DefaultTile   = 512
	MostTile      = 8192
	DefaultMemory = 64 << 20
)

// Names of what the store keeps, one record a tile.
const (
	groundLayer = "ground" // keys of heights
	drainLayer  = "drains" // a byte a cell, for tiles that have any
	labelLayer  = "labels" // watersheds, and what they hang on, until the hollows are filled
	filledLayer = "filled" // keys of filled heights
)

// Water is a ground with the layers that were worked out for it. Its stages
// are to be called by one goroutine.
type Water struct {
	ground  Ground
	o       Options
	lattice *lattice
	workers []*worker
	store   Store

	drains     []bool  // of each tile: has it any
	labels     []int   // of each tile: its watersheds
	levels     [][]key // of each tile's terminals
	filledEdge []key   // of each edge cell
	wayEdge    []way
	large      map[string][]int32 // of each layer of amounts and tile: how many are large
	done       map[string]bool
}

// worker is what one worker needs; buffers are kept from tile to tile.
type worker struct {
	w        *Water
	reader   Reader
	filler   filler
	drainer  drainer
	gatherer gatherer
	spreader spreader
	hollows  hollows
	tracer   tracer

	heights []float32
	keys    []key
	drains  []bool
	small   []uint16 // labels of a tile with few
	many    []int32  // and with more
	levels  []key
	bytes   []byte
	row     []amount
	words   []uint32
	large   []placed
	ring    []ringCell
	edges   []int
}

// New looks at the ground of a window: it reads the heights once, tile by
// tile, keeps them in the store, and works out how high water stands in the
// hollows. The Water must be closed, even after an error of a later stage.
func New(ctx context.Context, g Ground, o Options) (*Water, error) {
	o = o.settled()
	if err := g.check(o); err != nil {
		o.Store.Close()
		return nil, err
	}
	w := &Water{ground: g, o: o, store: o.Store, lattice: newLattice(g.Window, o.Tile), done: map[string]bool{}, large: map[string][]int32{}}
	w.drains = make([]bool, w.lattice.tiles())
	err := w.open()
	if err == nil {
		err = w.once(FillStage, func() error { return w.fill(ctx) })
	}
	if err != nil {
		w.Close()
		return nil, err
	}
	return w, nil
}

func (o Options) settled() Options {
	if o.Workers <= 0 {
		o.Workers = 1
	}
	if o.Tile <= 0 {
		o.Tile = DefaultTile
	}
	if o.Memory <= 0 {
		o.Memory = DefaultMemory
	}
	if o.Store == nil {
		o.Store = &Memory{}
	}
	if o.Progress == nil {
		o.Progress = func(string, int, int) {}
	}
	return o
}

func (g Ground) check(o Options) error {
	switch {
	case g.Window.Empty():
		return fmt.Errorf("water: the ground's window %+v is empty", g.Window)
	case !(g.DX > 0) || !(g.DY > 0):
		return fmt.Errorf("water: a cell of %g × %g", g.DX, g.DY)
	case o.Tile > MostTile:
		return fmt.Errorf("water: a tile of %d cells a side, at most %d are possible", o.Tile, MostTile)
	}
	return nil
}

// cellArea is the area of a cell.
func (w *Water) cellArea() float64 { return w.ground.DX * w.ground.DY }

func (w *Water) open() error {
	for range w.o.Workers {
		r, err := w.ground.Open()
		if err != nil {
			return err
		}
		w.workers = append(w.workers, &worker{w: w, reader: r})
	}
	return nil
}

// Close gives back the readers and the store.
func (w *Water) Close() error {
	var first error
	for _, k := range w.workers {
		if err := k.reader.Close(); err != nil && first == nil {
			first = err
		}
	}
	w.workers = nil
	if err := w.store.Close(); err != nil && first == nil {
		first = err
	}
	return first
}

// makeLayer begins a layer of so many bytes a cell.
func (w *Water) makeLayer(name string, bytes int) error {
	return w.store.Make(name, w.lattice.tiles(), bytes*min(w.lattice.size, w.ground.Window.Cols)*min(w.lattice.size, w.ground.Window.Rows))
}

// fill reads the ground and fills its hollows.
func (w *Water) fill(ctx context.Context) error {
	for _, l := range []struct {
		name  string
		bytes int
	}{{groundLayer, 4}, {drainLayer, 1}, {labelLayer, 16}, {filledLayer, 4}} {
		if err := w.makeLayer(l.name, l.bytes); err != nil {
			return err
		}
	}
	w.labels = make([]int, w.lattice.tiles())
	sums := make([]*fillSummary, w.lattice.tiles())
	err := w.each(ctx, "Reading the ground", func(k *worker, t int) error {
		var err error
		sums[t], err = k.surveyFill(t)
		return err
	})
	if err != nil {
		return err
	}
	w.levels = solveFill(w.lattice, sums)
	w.filledEdge = make([]key, w.lattice.edges())
	for t, s := range sums {
		edge := w.filledEdge[w.lattice.first[t]:w.lattice.first[t+1]]
		copy(edge, s.edge)
		raise(edge, s.terminal, w.levels[t])
	}
	if err := w.each(ctx, "Filling hollows", func(k *worker, t int) error { return k.fill(t) }); err != nil {
		return err
	}
	w.labels, w.levels = nil, nil
	return w.store.Drop(labelLayer)
}

func (k *worker) surveyFill(t int) (*fillSummary, error) {
	l := k.w.lattice
	win := l.window(t)
	n := win.Size()
	k.heights, k.drains, k.keys = sized(k.heights, n), sized(k.drains, n), sized(k.keys, n)
	clear(k.drains)
	if err := k.reader.Read(raster.Tile{Window: win, Values: k.heights}, k.drains); err != nil {
		return nil, err
	}
	for i, z := range k.heights {
		k.keys[i] = keyOf(z)
	}
	if err := k.w.store.Write(groundLayer, t, bytesOf(k.keys)); err != nil {
		return nil, err
	}
	if err := k.putDrains(t, k.drains); err != nil {
		return nil, err
	}
	k.ring, k.edges = l.ring(k.ring[:0], t), l.edgePads(k.edges[:0], t)
	sum := k.filler.survey(pad(win), k.keys, k.drains, k.ring, k.edges)
	return sum, k.putLabels(t)
}

// putLabels keeps the labels of a tile's cells, in two bytes if they fit, and
// for each label the inner level and the terminal.
func (k *worker) putLabels(t int) error {
	f, win := &k.filler, k.w.lattice.window(t)
	n, p := win.Size(), pad(win)
	k.w.labels[t] = len(f.inner)
	k.bytes = k.bytes[:0]
	if len(f.inner) <= 1<<16 {
		k.small = sized(k.small, n)
		for y := range win.Rows {
			row := k.small[y*win.Cols:][:win.Cols]
			for x, label := range f.pit[p.at(0, y):][:len(row)] {
				row[x] = uint16(^label)
			}
		}
		k.bytes = append(k.bytes, bytesOf(k.small)...)
	} else {
		k.many = sized(k.many, n)
		compact(p, k.many, f.pit)
		for i, label := range k.many {
			k.many[i] = ^label
		}
		k.bytes = append(k.bytes, bytesOf(k.many)...)
	}
	k.bytes = append(append(k.bytes, bytesOf(f.inner)...), bytesOf(f.term)...)
	return k.w.store.Write(labelLayer, t, k.bytes)
}

// fill sets k.keys to the filled heights of a tile and keeps them.
func (k *worker) fill(t int) error {
	n, labels := k.w.lattice.window(t).Size(), k.w.labels[t]
	k.keys = sized(k.keys, n)
	if err := k.w.store.Read(groundLayer, t, 0, bytesOf(k.keys)); err != nil {
		return err
	}
	size := 2
	if labels > 1<<16 {
		size = 4
	}
	k.levels, k.small, k.many = sized(k.levels, labels), sized(k.small, max(n, labels)), sized(k.many, n)
	term := k.small[:labels]
	if err := k.w.store.Read(labelLayer, t, n*size, bytesOf(k.levels)); err != nil {
		return err
	}
	if err := k.w.store.Read(labelLayer, t, n*size+4*labels, bytesOf(term)); err != nil {
		return err
	}
	raise(k.levels, term, k.w.levels[t])
	if size == 2 {
		if err := k.w.store.Read(labelLayer, t, 0, bytesOf(k.small[:n])); err != nil {
			return err
		}
		raise(k.keys, k.small[:n], k.levels)
	} else {
		if err := k.w.store.Read(labelLayer, t, 0, bytesOf(k.many)); err != nil {
			return err
		}
		raise(k.keys, k.many, k.levels)
	}
	return k.w.store.Write(filledLayer, t, bytesOf(k.keys))
}

// putDrains keeps the marks of a tile that has any.
func (k *worker) putDrains(t int, drains []bool) error {
	k.bytes = sized(k.bytes, len(drains))
	any := false
	for i, d := range drains {
		k.bytes[i] = 0
		if d {
			any, k.bytes[i] = true, 1
		}
	}
	k.w.drains[t] = any
	if !any {
		return nil
	}
	return k.w.store.Write(drainLayer, t, k.bytes)
}

// getDrains returns the marks of a tile, nil where it has none.
func (k *worker) getDrains(t int) ([]bool, error) {
	if !k.w.drains[t] {
		return nil, nil
	}
	n := k.w.lattice.window(t).Size()
	k.bytes, k.drains = sized(k.bytes, n), sized(k.drains, n)
	err := k.w.store.Read(drainLayer, t, 0, k.bytes)
	for i, b := range k.bytes {
		k.drains[i] = b != 0
	}
	return k.drains, err
}
