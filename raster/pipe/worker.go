package pipe

import (
	"context"
	"errors"
	"fmt"

	"likelyground/raster"
)

// errStopped is what a worker says when another one has failed.
var errStopped = errors.New("stopped")

// worker evaluates units; it owns its evaluators, its sink and its buffers.
type worker struct {
	evals   map[*Node]Evaluator
	sink    Sink
	outputs []*Node
	pool    *pool
	inputs  []raster.Tile // windows handed to the sink
}

func openWorkers(ctx context.Context, s *shape, g Graph, o Options) ([]*worker, error) {
	p := newPool()
	var workers []*worker
	for range o.Workers {
		if ctx.Err() != nil {
			return workers, context.Cause(ctx)
		}
		w := &worker{evals: map[*Node]Evaluator{}, outputs: g.Outputs, pool: p}
		workers = append(workers, w)
		for _, n := range sorted(g.Outputs) {
			e, err := n.Open()
			if err != nil {
				return workers, fmt.Errorf("%s: %w", n.Name, err)
			}
			w.evals[n] = e
		}
		var err error
		if w.sink, err = g.Sink(); err != nil {
			return workers, err
		}
	}
	return workers, nil
}

// closeWorkers closes every evaluator in the order of the workers and of the
// graph, so that what they add up on closing comes in one order.
func closeWorkers(workers []*worker) error {
	var errs []error
	for _, w := range workers {
		for _, n := range sorted(w.outputs) {
			if e := w.evals[n]; e != nil {
				errs = append(errs, e.Close())
			}
		}
		if w.sink != nil {
			errs = append(errs, w.sink.Close())
		}
	}
	return errors.Join(errs...)
}

// output computes one tile of the outputs and hands it to the sink.
func (w *worker) output(st *strip, col, row int) (cells int, err error) {
	u := st.shape.sink
	window := st.lattice.cells(col, row, st.domain[u])
	tiles, err := w.evaluate(st, u, col, row)
	if err != nil {
		return 0, err
	}
	w.inputs = w.inputs[:0]
	for i, n := range w.outputs {
		w.inputs = append(w.inputs, tiles.of(edgeKey{nil, i}, n))
	}
	err = w.sink.Take(window, w.inputs)
	tiles.free(w.pool)
	return window.Size(), err
}

// edgeKey names an input of a fused node, or, with no reader, an output.
type edgeKey struct {
	reader *Node
	input  int
}

// made holds the tiles of one evaluation of a unit.
type made struct {
	nodes map[*Node]raster.Tile   // fused nodes
	reads map[edgeKey]raster.Tile // windows of kept nodes
	owned []raster.Tile           // buffers to give back

	release func() // says that the kept tiles have been read
}

func (m *made) of(k edgeKey, n *Node) raster.Tile {
	if t, ok := m.reads[k]; ok {
		return t
	}
	return m.nodes[n]
}

func (m *made) own(t raster.Tile) raster.Tile {
	m.owned = append(m.owned, t)
	return t
}

// free gives back what the evaluation used; its tiles are not to be read
// any more.
func (m *made) free(p *pool) {
	m.release()
	for _, t := range m.owned {
		p.put(t)
	}
}

// evaluate computes the fused nodes of a unit on one tile.
func (w *worker) evaluate(st *strip, u *unit, col, row int) (*made, error) {
	if err := w.fetch(st, u, col, row); err != nil {
		return nil, err
	}
	window := st.lattice.cells(col, row, st.domain[u])
	m := &made{nodes: map[*Node]raster.Tile{}, reads: map[edgeKey]raster.Tile{}}
	for _, e := range u.reads {
		t, kept := st.whole(e, window, col, row)
		if !kept {
			t = m.own(w.pool.get(e.from.root.Kind, window.Grow(e.reach)))
			st.gather(t, e.from)
		}
		m.reads[edgeKey{e.reader, e.input}] = t
	}
	m.release = func() { st.eachRead(u, col, row, func(k *keptTile, _ *unit, _, _ int) { st.release(k) }) }
	for _, n := range u.order {
		out := m.own(w.pool.get(n.Kind, window))
		in := make([]raster.Tile, len(n.Inputs))
		for i, input := range n.Inputs {
			in[i] = m.of(edgeKey{n, i}, input)
		}
		if err := w.evals[n].Eval(out, in); err != nil {
			return nil, fmt.Errorf("%s: %w", n.Name, err)
		}
		m.nodes[n] = out
	}
	return m, nil
}

// whole returns the kept tile itself where it is just what is read.
func (st *strip) whole(e edge, w raster.Window, col, row int) (raster.Tile, bool) {
	t := st.kept[e.from][st.span[e.from].Index(col, row)].tile
	return t, e.reach == 0 && t.Window == w
}

// gather copies a window of a kept unit together from its tiles.
func (st *strip) gather(t raster.Tile, from *unit) {
	need, span, tiles := st.lattice.span(t.Window), st.span[from], st.kept[from]
	for r := need.Row; r < need.EndRow(); r++ {
		for c := need.Col; c < need.EndCol(); c++ {
			t.CopyFrom(tiles[span.Index(c, r)].tile)
		}
	}
}

// fetch sees to it that every kept tile that a tile of u reads is there: it
// computes those that nobody has begun, then waits for the others.
func (w *worker) fetch(st *strip, u *unit, col, row int) error {
	var err error
	st.eachRead(u, col, row, func(k *keptTile, from *unit, c, r int) {
		if err == nil && st.claim(k) {
			err = w.make(st, k, from, c, r)
		}
	})
	if err != nil {
		return err
	}
	st.eachRead(u, col, row, func(k *keptTile, _ *unit, _, _ int) {
		if err == nil && !st.wait(k) {
			err = errStopped
		}
	})
	return err
}

// make computes one tile of a kept unit.
func (w *worker) make(st *strip, k *keptTile, u *unit, col, row int) error {
	m, err := w.evaluate(st, u, col, row)
	if err != nil {
		return err
	}
	result := m.nodes[u.root]
	m.owned = m.owned[:len(m.owned)-1] // the root's own buffer comes last
	m.free(w.pool)
	st.publish(k, result)
	return nil
}
