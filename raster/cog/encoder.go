package cog

import (
	"fmt"

	"likelyground/raster"
)

// Encoder takes windows of cells and compresses the blocks they complete. It
// has its own buffers: one a worker, each for one goroutine at a time.
type Encoder struct {
	w      *Writer
	raw    []byte   // a block before compression
	coders [2]coder // for full resolution and for overviews; nil before the first block
}

// Encoder returns a new encoder of the file.
func (w *Writer) Encoder() *Encoder {
	return &Encoder{w: w, raw: make([]byte, 4*w.layout.Block*w.layout.Block)}
}

// Put takes the cells of a tile as those of a band, counted from 0. The tile
// must lie inside the grid and hold the kind of value the sample takes: NaN
// and raster.MissingCode are missing. Windows may come in any order and
// shape, each cell of each band once. Blocks that lie in the tile whole are
// encoded from it at once, so tiles whose edges are multiples of the block
// are quickest; the cells of others are copied. The tile is the caller's
// again when Put returns.
//
// After an error the file cannot be finished.
func (e *Encoder) Put(band int, t raster.Tile) error {
	w := e.w
	if err := w.failure(); err != nil {
		return err
	}
	if err := w.admit(band, t); err != nil {
		return w.fail(err)
	}
	if t.Empty() {
		return nil
	}
	v := w.levels[0]
	for by := t.Row / v.block; by*v.block < t.EndRow(); by++ {
		for bx := t.Col / v.block; bx*v.block < t.EndCol(); bx++ {
			if err := e.put(blockKey{0, band, by*v.across + bx}, t); err != nil {
				return w.fail(err)
			}
		}
	}
	return nil
}

// admit refuses a tile that is not of this file.
func (w *Writer) admit(band int, t raster.Tile) error {
	cells := t.Values != nil
	switch {
	case band < 0 || band >= len(w.layout.Bands):
		return fmt.Errorf("there is no band %d: the file has %d, counted from 0", band, len(w.layout.Bands))
	case t.Cols < 0 || t.Rows < 0 || !w.layout.Grid.Window().Holds(t.Window):
		return fmt.Errorf("%s: %s lie outside the grid of %d x %d cells", w.bandName(band), where(t.Window), w.layout.Grid.Cols, w.layout.Grid.Rows)
	case t.Empty():
		return nil
	case cells == (t.Codes != nil) || cells != w.layout.Sample.values():
		return fmt.Errorf("%s: the tile must hold %s", w.bandName(band), [...]string{"values", "codes", "codes", "values"}[w.layout.Sample])
	case max(len(t.Values), len(t.Codes)) != t.Size():
		return fmt.Errorf("%s: the tile holds %d cells, its window %d", w.bandName(band), max(len(t.Values), len(t.Codes)), t.Size())
	}
	return nil
}

// put takes the cells of one block that t holds.
func (e *Encoder) put(k blockKey, t raster.Tile) error {
	w := e.w
	all := w.levels[0].window(k.block)
	if !t.Holds(all) {
		return e.gather(k, t, all.Clip(t.Window))
	}
	w.mu.Lock()
	err := w.begin(k, true)
	w.mu.Unlock()
	if err != nil {
		return err
	}
	if err := e.full(k, t, all); err != nil {
		return err
	}
	return e.raise(k, t, all, nil)
}

// gather copies the cells of part to their block and encodes it when they
// were the last.
func (e *Encoder) gather(k blockKey, t raster.Tile, part raster.Window) error {
	p, err := e.hold(k, true)
	if err != nil {
		return err
	}
	fresh := p.mark(part)
	if fresh {
		p.tile.CopyFrom(t)
	}
	last := fresh && p.left == 0
	p.mu.Unlock()
	if !last {
		e.w.unpin(p)
		if !fresh {
			return e.w.twice(k)
		}
		return nil
	}
	e.w.finish(p)
	if err := e.full(k, p.tile, p.window); err != nil {
		return err
	}
	return e.raise(k, p.tile, p.window, p)
}

// full sums up and encodes a block of full resolution: the cells of all,
// which t holds.
func (e *Encoder) full(k blockKey, t raster.Tile, all raster.Window) error {
	w := e.w
	s, err := w.layout.survey(t, all)
	if err != nil {
		return fmt.Errorf("%s: %w", w.bandName(k.band), err)
	}
	w.planes[0][k.band].sums[k.block] = s
	return e.encode(k, t, all, s.known > 0)
}

// raise carries a block that was just encoded into the overviews, as far up
// as it completes blocks there. It lets go of from, the unfinished block
// that t belongs to, if any.
func (e *Encoder) raise(k blockKey, t raster.Tile, all raster.Window, from *pending) error {
	w := e.w
	for k.level+1 < len(w.levels) {
		up := w.parent(k)
		p, err := e.hold(up, false)
		if err != nil {
			return err
		}
		p.known += w.layout.Overview.halve(p.tile, t, all)
		p.left--
		last, known := p.left == 0, p.known
		p.mu.Unlock()
		if from != nil {
			w.unpin(from)
		}
		if !last {
			w.unpin(p)
			return nil
		}
		w.finish(p)
		k, t, all, from = up, p.tile, p.window, p
		if err := e.encode(k, t, all, known > 0); err != nil {
			return err
		}
	}
	if from != nil {
		w.unpin(from)
	}
	return nil
}

// parent returns the block of the next level that a block goes into.
func (w *Writer) parent(k blockKey) blockKey {
	v := w.levels[k.level]
	bx, by := k.block%v.across, k.block/v.across
	return blockKey{k.level + 1, k.band, by/2*w.levels[k.level+1].across + bx/2}
}

// encode compresses the cells of all, which t holds, and notes where the
// result lies.
func (e *Encoder) encode(k blockKey, t raster.Tile, all raster.Window, known bool) error {
	w := e.w
	at, err := place{}, error(nil)
	if known {
		at, err = e.compress(k.level, t, all)
	} else {
		at, err = e.blank()
	}
	if err != nil {
		return fmt.Errorf("%s, overview %d, %s: %w", w.bandName(k.band), k.level, where(all), err)
	}
	w.planes[k.level][k.band].index[k.block] = at
	return nil
}

// blank returns where the block without a known cell lies.
func (e *Encoder) blank() (place, error) {
	w := e.w
	w.blankOnce.Do(func() { w.blank, w.blankErr = e.compress(0, raster.Tile{}, raster.Window{}) })
	return w.blank, w.blankErr
}

func (e *Encoder) compress(level int, t raster.Tile, all raster.Window) (place, error) {
	w, l := e.w, &e.w.layout
	c, err := e.coder(level)
	if err != nil {
		return place{}, err
	}
	raw := e.raw[:l.Block*l.Block*l.Sample.bytes()]
	l.predict(raw, t, all, w.fill)
	packed, err := c.code(raw)
	if err != nil {
		return place{}, err
	}
	return w.scratch.append(packed)
}

// coder returns the compressor of a level. Overviews are looked at and not
// worked with: they are packed with the least effort.
func (e *Encoder) coder(level int) (coder, error) {
	l, which, effort := &e.w.layout, 0, e.w.layout.Level
	if level > 0 {
		which, effort = 1, 1
	}
	var err error
	if e.coders[which] == nil {
		e.coders[which], err = newCoder(l.Compression, effort)
	}
	return e.coders[which], err
}
