package water

import (
	"context"
)

// Many receivers. A cell deals its water out to all lower neighbours of the
// filled surface once all its donors have dealt out theirs; then each cell is
// worked once, its shares come from its final amount alone, and whole numbers
// make the order of the work invisible. A tile is worked as far as it can be;
// what leaves it waits, added up, at the edge cells of the tiles around it,
// and a tile is ready for another visit when one of its edge cells has had
// all it gets from outside. Tiles stay in memory as long as there is room;
// the one used longest ago is put into the store.

const (
	manyLayer    = "many receivers" // amounts in units
	waitingLayer = "waiting"        // a byte a cell

	beyond = 254 // waiting, for the ring around a tile
)

// GatherMany works out how much ground drains through each cell when water
// goes to all lower neighbours, shared out by the 1.1th power of the gradient
// (Freeman 1991). Over flats it goes the one way of [Water.Drain].
func (w *Water) GatherMany(ctx context.Context) error {
	if err := w.Drain(ctx); err != nil {
		return err
	}
	return w.once(manyLayer, func() error {
		if err := w.makeLayer(manyLayer, 8); err != nil {
			return err
		}
		if err := w.makeLayer(waitingLayer, 1); err != nil {
			return err
		}
		if err := newSpreading(w).run(ctx); err != nil {
			return err
		}
		return w.store.Drop(waitingLayer)
	})
}

// spreadTile is a tile in memory while water is shared out.
type spreadTile struct {
	tile    int
	p       padded
	key     []key    // padded, of filled heights
	way     []way    // padded
	amount  []amount // padded
	waiting []uint8  // padded: donors of this tile that are still to give, given, or beyond
	ring    []ringCell
	left    int // cells that have not given yet

	busy bool
	used int // when it was last taken
}

// spreader shares water out for one worker.
type spreader struct {
	shares shares
	steps  [8]int
	per    [8]float64
	stack  []int32
	out    []delivery
}

// delivery is water on its way to an edge cell of another tile.
type delivery struct {
	cell, tile int
	amount     amount
}

// opened is an edge cell that has had all it gets from outside.
type opened struct {
	cell   int // number in its tile
	inflow amount
}

// findDonors counts for each cell of a fresh tile the donors it waits for:
// those within the tile, and one more for all outside.
func (s *spreader) findDonors(t *spreadTile, fed []bool) {
	clear(t.waiting)
	p, e := t.p, edge{t.p.w - 2, t.p.h - 2}
	for y := range e.h {
		for i := p.at(0, y); i < p.at(e.w, y); i++ {
			v := t.way[i]
			t.amount[i] = own(v, unit)
			switch {
			case v&wayOut != 0:
			case v&wayFlat != 0:
				t.waiting[i+s.steps[v&wayTo]]++
			default:
				for _, k := range s.steps {
					if t.key[i+k] < t.key[i] && t.key[i+k] != missingKey {
						t.waiting[i+k]++
					}
				}
			}
		}
	}
	for n, f := range fed {
		if f {
			t.waiting[p.at(e.cell(n))]++
		}
	}
	t.left = e.w * e.h
}

// run works a tile as far as it can be; what leaves it is in s.out.
func (s *spreader) run(t *spreadTile, fresh bool, open []opened) {
	p := t.p
	e := edge{p.w - 2, p.h - 2}
	for _, c := range t.ring {
		t.waiting[c.pad] = beyond
	}
	s.stack, s.out = s.stack[:0], s.out[:0]
	for _, o := range open {
		at := p.at(e.cell(o.cell))
		t.amount[at] = plus(t.amount[at], o.inflow)
		if t.waiting[at]--; t.waiting[at] == 0 {
			s.stack = append(s.stack, int32(at))
		}
	}
	s.empty(t)
	if !fresh {
		return
	}
	for y := range e.h {
		for i := p.at(0, y); i < p.at(e.w, y); i++ {
			if t.waiting[i] == 0 {
				s.stack = append(s.stack, int32(i))
				s.empty(t)
			}
		}
	}
}

// empty lets all cells on the stack give, and those that become ready by it.
func (s *spreader) empty(t *spreadTile) {
	for len(s.stack) > 0 {
		i := int(s.stack[len(s.stack)-1])
		s.stack = s.stack[:len(s.stack)-1]
		t.waiting[i] = given
		t.left--
		v := t.way[i]
		switch {
		case v&wayOut != 0:
		case v&wayFlat != 0:
			s.give(t, i+s.steps[v&wayTo], t.amount[i])
		default:
			s.shares.find(t.key, i, &s.steps, &s.per, int(v&wayTo))
			s.shares.deal(t.amount[i])
			for k := range s.shares.n {
				s.give(t, s.shares.to[k], s.shares.amount[k])
			}
		}
	}
}

func (s *spreader) give(t *spreadTile, to int, a amount) {
	if t.waiting[to] == beyond {
		c := t.ring[ringNumber(t.p, to)]
		s.out = append(s.out, delivery{c.cell, c.tile, a})
		return
	}
	t.amount[to] = plus(t.amount[to], a)
	if t.waiting[to]--; t.waiting[to] == 0 {
		s.stack = append(s.stack, int32(to))
	}
}

// ringNumber returns the place in [lattice.ring] of a cell around a tile.
func ringNumber(p padded, i int) int {
	x, y := i%p.w, i/p.w
	switch {
	case y == 0:
		return 2 * x
	case y == p.h-1:
		return 2*x + 1
	case x == 0:
		return 2 * (p.w + y - 1)
	}
	return 2*(p.w+y-1) + 1
}

// load brings a tile into memory; a fresh one starts with its own ground.
func (s *spreader) load(k *worker, t *spreadTile, fresh bool, fed []bool) error {
	p, err := k.loadFilled(t.tile)
	if err == nil {
		_, err = k.loadWays(t.tile)
	}
	if err != nil {
		return err
	}
	t.p, s.steps = p, p.steps()
	t.key, t.way = append(t.key[:0], k.drainer.key...), append(t.way[:0], k.gatherer.way...)
	t.ring = append(t.ring[:0], k.ring...)
	t.amount, t.waiting = sized(t.amount, p.len()), sized(t.waiting, p.len())
	if fresh {
		s.findDonors(t, fed)
		return nil
	}
	return k.getSpread(t)
}

// putSpread keeps the amounts of t, which holds the given tile, and what it
// waits for if it is not done.
func (k *worker) putSpread(t *spreadTile, tile int) error {
	if err := k.putAmounts(manyLayer, tile, t.p, t.amount); err != nil || t.left == 0 {
		return err
	}
	w, h := t.p.w-2, t.p.h-2
	k.bytes = sized(k.bytes, w*h)
	for y := range h {
		copy(k.bytes[y*w:], t.waiting[t.p.at(0, y):t.p.at(w, y)])
	}
	return k.w.store.Write(waitingLayer, tile, k.bytes)
}

// getSpread is the inverse of putSpread for a tile that is not done.
func (k *worker) getSpread(t *spreadTile) error {
	w, h := t.p.w-2, t.p.h-2
	k.bytes = sized(k.bytes, 8*w*h)
	if err := k.w.store.Read(manyLayer, t.tile, 0, k.bytes); err != nil {
		return err
	}
	for y := range h {
		copy(bytesOf(t.amount[t.p.at(0, y):t.p.at(w, y)]), k.bytes[8*y*w:])
	}
	if err := k.w.store.Read(waitingLayer, t.tile, 0, k.bytes[:w*h]); err != nil {
		return err
	}
	t.left = w * h
	for y := range h {
		row := k.bytes[y*w:][:w]
		copy(t.waiting[t.p.at(0, y):], row)
		for _, v := range row {
			if v == given {
				t.left--
			}
		}
	}
	return nil
}
