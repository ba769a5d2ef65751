package habitat

import (
	"context"
	"os"
	"sync"
	"time"

	"likelyground/habitat/publish"
)

// grace is how long work may take to notice that its context has ended. What
// is still in a call that cannot be interrupted (GDAL or GEOS on an odd map)
// is then left to itself.
const grace = time.Second

// Promptly does the work and returns what it came to, or, about a second after
// ctx has ended, the context's cause. Work that has not noticed by then goes
// on in the background, with whatever memory it holds, until it does or the
// program ends; abandon, if not nil, is called first, to remove what the work
// would have removed.
func Promptly[T any](ctx context.Context, work func() (T, error), abandon func()) (T, error) {
	type outcome struct {
		value T
		err   error
	}
	done := make(chan outcome, 1)
	go func() {
		v, err := work()
		done <- outcome{v, err}
	}()
	select {
	case o := <-done:
		return o.value, o.err
	case <-ctx.Done():
	}
	select {
	case o := <-done:
		return o.value, o.err
	case <-time.After(grace):
	}
	if abandon != nil {
		abandon()
	}
	select {
	case o := <-done: // it was publishing: all is done
		return o.value, o.err
	default:
		var none T
		return none, context.Cause(ctx)
	}
}

// withScratch does work that writes into a scratch folder alone, promptly. The
// folder is gone when it returns.
func withScratch[T any](ctx context.Context, o Options, work func(Options) (T, error)) (T, error) {
	var none T
	if err := o.checkScratch(); err != nil {
		return none, err
	}
	dir, err := os.MkdirTemp(o.Scratch, "likelyground-")
	if err != nil {
		return none, err
	}
	defer os.RemoveAll(dir)
	o.copies, o.Scratch = o.copiesFolder(), dir
	return Promptly(ctx, func() (T, error) { return work(o) }, nil)
}

// holding is the output folder of a run, which the run itself and the one who
// waits for it may both let go of.
type holding struct {
	mu     sync.Mutex
	folder *publish.Folder
	gone   bool
}

// take keeps the folder, or lets go of it at once where nobody waits any more.
func (h *holding) take(f *publish.Folder) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.folder = f; h.gone {
		f.Abandon()
	}
}

// letGo removes the hidden folder; it waits for a publication that has begun.
func (h *holding) letGo() {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.gone = true
	if h.folder != nil {
		h.folder.Abandon()
	}
}
