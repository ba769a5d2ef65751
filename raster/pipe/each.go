package pipe

import (
	"context"
	"sync"
	"sync/atomic"
)

// Each calls f for every number from 0 to n-1, by several workers, each in
// its turn taking the next number. It is how the last step of a wide
// computation goes over tiles or patches. It returns the error of the lowest
// number that failed, or the context's; after an error no new number is begun.
func Each(ctx context.Context, n, workers int, f func(i int) error) error {
	var next atomic.Int64
	var mu sync.Mutex
	var first firstError
	failed := func() bool {
		mu.Lock()
		defer mu.Unlock()
		return first.err != nil
	}
	note := func(i int, err error) {
		mu.Lock()
		defer mu.Unlock()
		first.note(i, err)
	}
	var group sync.WaitGroup
	for range max(workers, 1) {
		group.Go(func() {
			for !failed() {
				i := int(next.Add(1)) - 1
				if i >= n {
					return
				}
				if ctx.Err() != nil {
					note(-1, context.Cause(ctx))
				} else if err := f(i); err != nil {
					note(i, err)
				}
			}
		})
	}
	group.Wait()
	return first.err
}
