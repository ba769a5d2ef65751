package water

import (
	"context"
	"sync"
)

// each does a stage: f for every tile, each worker in its turn taking the
// next. It returns the error of the first tile that failed, or the context's.
func (w *Water) each(ctx context.Context, stage string, f func(k *worker, t int) error) error {
	tiles := make([]int, w.lattice.tiles())
	for t := range tiles {
		tiles[t] = t
	}
	return w.eachOf(ctx, stage, tiles, f)
}

// eachOf is each for a list of tiles.
func (w *Water) eachOf(ctx context.Context, stage string, tiles []int, f func(k *worker, t int) error) error {
	var mu sync.Mutex
	next, done, failed := 0, 0, len(tiles)
	var first error
	take := func() int {
		mu.Lock()
		defer mu.Unlock()
		if first == nil && ctx.Err() != nil {
			first, failed = context.Cause(ctx), -1
		}
		if first != nil || next == len(tiles) {
			return -1
		}
		next++
		return next - 1
	}
	note := func(i int, err error) {
		mu.Lock()
		defer mu.Unlock()
		if err == nil {
			done++
			w.o.Progress(stage, done, len(tiles))
		} else if i < failed {
			first, failed = err, i
		}
	}
	var group sync.WaitGroup
	for _, k := range w.workers {
		group.Go(func() {
			for i := take(); i >= 0; i = take() {
				note(i, f(k, tiles[i]))
			}
		})
	}
	group.Wait()
	return first
}
