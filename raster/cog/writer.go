package cog

import (
	"errors"
	"fmt"
	"sync"

	"likelyground/raster"
)

// Writer gathers the blocks of one file. Its encoders may be used by as many
// goroutines, one each; Finish and Close are for when they are done.
type Writer struct {
	layout  Layout
	levels  []level
	planes  [][]plane // by level and band
	scratch *scratch
	fill    filler

	blankOnce sync.Once
	blank     place // the block without a known cell, encoded once
	blankErr  error

	mu     sync.Mutex // for what follows
	store  store
	failed error // the first failure
}

// plane is one band of one level.
type plane struct {
	index []place   // where each compressed block lies; size 0: not yet
	sums  []summary // of each block; full resolution only
	begun []bool    // some cell of the block has come; full resolution only
}

// Create opens a writer of a file of the given layout. Compressed blocks
// wait in a file that it makes in the folder scratch; Close removes it. The
// layout is checked in full: the error names all that is wrong.
func Create(scratch string, l Layout) (*Writer, error) {
	l, err := l.normal()
	if err != nil {
		return nil, fmt.Errorf("this GeoTIFF cannot be written: %w", err)
	}
	s, err := createScratch(scratch)
	if err != nil {
		return nil, err
	}
	w := &Writer{layout: l, levels: l.levels(), scratch: s, fill: l.filler(), store: newStore(l)}
	w.planes = make([][]plane, len(w.levels))
	for k, v := range w.levels {
		w.planes[k] = newPlanes(v.blocks(), len(l.Bands), k == 0)
	}
	return w, nil
}

func newPlanes(blocks, bands int, full bool) []plane {
	out := make([]plane, bands)
	for b := range out {
		out[b].index = make([]place, blocks)
		if full {
			out[b].sums = make([]summary, blocks)
			out[b].begun = make([]bool, blocks)
		}
	}
	return out
}

// Close removes the scratch file. It may be called at any time after the
// encoders are done, and more than once.
func (w *Writer) Close() error {
	w.mu.Lock()
	if w.failed == nil {
		w.failed = errors.New("the writer was closed")
	}
	w.mu.Unlock()
	return w.scratch.remove()
}

// fail remembers the first error: after it nothing more is taken.
func (w *Writer) fail(err error) error {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.failed == nil {
		w.failed = err
	}
	return err
}

func (w *Writer) failure() error {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.failed
}

// begin notes that cells of a block of full resolution come: all at once, or
// some of them. The caller holds mu.
func (w *Writer) begin(k blockKey, all bool) error {
	begun := w.planes[0][k.band].begun
	if begun[k.block] && (all || w.store.open[k] == nil) {
		return w.twice(k)
	}
	begun[k.block] = true
	return nil
}

func (w *Writer) twice(k blockKey) error {
	return fmt.Errorf("%s: a cell within %s was put twice", w.bandName(k.band), where(w.levels[0].window(k.block)))
}

func (w *Writer) bandName(band int) string {
	if d := w.layout.Bands[band].Description; d != "" {
		return fmt.Sprintf("band %d (%s)", band+1, d)
	}
	return fmt.Sprintf("band %d", band+1)
}

// complete returns an error unless every cell of every band has come.
func (w *Writer) complete() error {
	if err := w.failure(); err != nil {
		return err
	}
	for b := range w.layout.Bands {
		if err := w.completeBand(b); err != nil {
			return err
		}
	}
	return nil
}

func (w *Writer) completeBand(band int) error {
	v := w.levels[0]
	missing, first := int64(0), raster.Window{}
	for i, at := range w.planes[0][band].index {
		if at.size > 0 {
			continue
		}
		if first.Empty() {
			first = v.window(i)
		}
		if p := w.store.open[blockKey{0, band, i}]; p != nil {
			missing += int64(p.missingCells())
		} else {
			missing += int64(v.window(i).Size())
		}
	}
	if missing > 0 {
		return fmt.Errorf("%s: %d of %d cells were never put, the first of them in %s",
			w.bandName(band), missing, w.layout.Grid.Cells(), where(first))
	}
	return nil
}

// summary returns the statistics of a band, joined in order of its blocks.
func (w *Writer) summary(band int) summary {
	var s summary
	for _, b := range w.planes[0][band].sums {
		s = s.join(b)
	}
	return s
}
