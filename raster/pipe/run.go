package pipe

import (
	"context"
	"errors"
	"sync"

	"likelyground/raster"
)

// Run computes the graph and hands every tile to the sinks. It returns the
// error of the earliest tile that failed, or the context's error; a
// [Shortage] when the nodes read so far that the limit of memory cannot hold
// it. Evaluators and sinks are closed before it returns.
func Run(ctx context.Context, g Graph, o Options) error {
	shape := newShape(g.Outputs)
	o = o.settled(shape)
	for o.Workers > 1 && shape.fits(g.Window, o) != nil {
		o.Workers--
	}
	if err := shape.fits(g.Window, o); err != nil {
		return err
	}
	workers, err := openWorkers(ctx, shape, g, o)
	if err != nil {
		return errors.Join(err, closeWorkers(workers))
	}
	err = runStrips(ctx, shape, g, o, workers)
	return errors.Join(err, closeWorkers(workers))
}

// settled returns the options with every default filled in.
func (o Options) settled(s *shape) Options {
	o.Workers = max(o.Workers, 1)
	if o.Memory <= 0 {
		o.Memory = DefaultMemory
	}
	if o.Tile <= 0 {
		o.Tile = DefaultTile
		for o.Tile > max(64, 2*s.farthest()) && s.stripTiles(o) < minStrip {
			o.Tile /= 2
		}
	}
	if o.Progress == nil {
		o.Progress = func(done, total int64) {}
	}
	return o
}

// minStrip is the narrowest strip, in tiles, for which a smaller tile is not
// the better choice: what lies beyond a strip's sides is computed twice.
const minStrip = 6

// stripTiles returns how many tiles wide a strip may be so that its kept
// tiles and the workers' buffers fit into the memory allowed.
func (s *shape) stripTiles(o Options) int {
	tile := int64(o.Tile) * int64(o.Tile) * 4
	free := o.Memory - int64(o.Workers)*s.workerTiles(o.Tile)*tile
	var rows, beside int64 // kept tiles of a column, and of the columns beside the strip
	for _, u := range s.units {
		far := int64((s.reachOf(u) + o.Tile - 1) / o.Tile)
		rows += 2*far + 1
		beside += 2 * max(far, 1) * (2*far + 1)
	}
	if rows == 0 {
		return 1 << 20
	}
	return int((free/tile - beside) / rows)
}

// farthest returns the farthest that any node reads.
func (s *shape) farthest() int {
	most := 0
	for _, u := range s.units {
		most = max(most, s.reachOf(u))
	}
	return most
}

// workerTiles estimates how many tiles' worth of buffers a worker holds.
func (s *shape) workerTiles(size int) int64 {
	count := func(u *unit) int64 {
		n := int64(len(u.order))
		for _, e := range u.reads {
			side := float64(size+2*e.reach) / float64(size)
			n += int64(side*side + 0.999)
		}
		return n
	}
	most := count(s.sink)
	for _, u := range s.units {
		most += count(u)
	}
	return most
}

// reachOf returns the farthest that anybody reads of u.
func (s *shape) reachOf(u *unit) int {
	most := 0
	see := func(reader *unit) {
		for _, e := range reader.reads {
			if e.from == u {
				most = max(most, e.reach)
			}
		}
	}
	see(s.sink)
	for _, r := range s.units {
		see(r)
	}
	return most
}

// runStrips cuts the window into strips of whole tiles, side by side, and
// computes one after the other.
func runStrips(ctx context.Context, s *shape, g Graph, o Options, workers []*worker) error {
	w := g.Window
	l := lattice{o.Tile}
	span := l.span(w)
	wide := min(max(s.stripTiles(o), 1), span.Cols)
	wide = (span.Cols + (span.Cols+wide-1)/wide - 1) / ((span.Cols + wide - 1) / wide) // even widths
	var done int64
	total := int64(w.Size())
	progress := func(cells int) {
		done += int64(cells)
		o.Progress(done, total)
	}
	for col := span.Col; col < span.EndCol(); col += wide {
		part := raster.Window{Col: col * o.Tile, Row: w.Row, Cols: wide * o.Tile, Rows: w.Rows}.Clip(w)
		own(workers, part, part.Col == w.Col, part.EndCol() == w.EndCol())
		st := newStrip(s, l, part, workers[0].pool, g.Wanted)
		if err := st.run(ctx, workers, progress); err != nil {
			return err
		}
	}
	return nil
}

// endless is farther than any neighbourhood reads beyond the grid.
const endless = 1 << 29

// own tells the counting evaluators which cells a strip answers for: its own
// columns, and all that lies beyond the window on its outer sides.
func own(workers []*worker, part raster.Window, first, last bool) {
	from, to := part.Col, part.EndCol()
	if first {
		from = -endless
	}
	if last {
		to = endless
	}
	mine := raster.Window{Col: from, Row: -endless, Cols: to - from, Rows: 2 * endless}
	for _, w := range workers {
		for _, e := range w.evals {
			if o, ok := e.(Owner); ok {
				o.Own(mine)
			}
		}
	}
}

// run lets all workers work on the strip until it is done.
func (st *strip) run(ctx context.Context, workers []*worker, progress func(cells int)) error {
	var group sync.WaitGroup
	stop := context.AfterFunc(ctx, func() { st.fail(-1, context.Cause(ctx)) })
	defer stop()
	for _, w := range workers {
		group.Go(func() {
			for at, col, row, ok := st.hand(); ok; at, col, row, ok = st.hand() {
				if ctx.Err() != nil {
					st.fail(-1, context.Cause(ctx))
					return
				}
				cells, err := w.output(st, col, row)
				if err != nil {
					st.fail(at, err)
					return
				}
				st.mu.Lock()
				progress(cells)
				st.mu.Unlock()
			}
		})
	}
	group.Wait()
	return st.err.err
}
