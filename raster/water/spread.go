package water

import (
	"context"
	"math/bits"
)

// Many receivers. A cell deals its water out to all lower neighbours of the
// filled surface once all its donors have dealt out theirs; then each cell is
// worked once, its shares come from its final amount alone, and whole numbers
// make the order of the work invisible. A tile is worked as far as it can be;
// what leaves it waits, added up, at the edge cells of the tiles around it,
// and a tile is ready for another visit when one of its edge cells has had
// all it gets from outside. Tiles stay in memory as long as there is room; of
// the one used longest ago only the cells that wait are put aside: what these
// give to waits as well, so they are all that later visits need.

const (
	manyLayer  = "many receivers" // amounts in units
	asideLayer = "put aside"      // cells that wait

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
		if err := w.makeAmounts(manyLayer); err != nil {
			return err
		}
		if err := w.makeLayer(asideLayer, asideBytes); err != nil {
			return err
		}
		if err := newSpreading(w).run(ctx); err != nil {
			return err
		}
		return w.store.Drop(asideLayer)
	})
}

// spreadTile is a tile in memory while water is shared out. What is padded
// holds all cells of a tile on its first visit, later those that wait.
type spreadTile struct {
	tile    int
	p       padded
	key     []key    // padded, of filled heights
	way     []way    // padded
	mask    []uint8  // padded: a bit for each receiver's number
	amount  []amount // padded
	waiting []uint8  // padded: donors of this tile that are still to give, given, or beyond
	ring    []ringCell
	left    int // cells that have not given yet

	again  bool     // the tile was put aside before
	places []int32  // then: of the cells that waited
	late   []placed // and those that have given since, by their padded places

	busy bool
	used int // when it was last taken
}

// spreader shares water out for one worker.
type spreader struct {
	shares shares
	steps  [8]int
	per    [8]float64
	stack  []int32
	flats  []int32
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

// begin sets up a tile for its first visit: the receivers of each cell, and how
// many donors it waits for: those within the tile, and one more for all
// outside.
func (s *spreader) begin(t *spreadTile, drains []bool, fed []bool) {
	p, e := t.p, edge{t.p.w - 2, t.p.h - 2}
	t.left, t.again, t.late, s.flats = e.w*e.h, false, t.late[:0], s.flats[:0]
	t.mask, t.amount, t.waiting = sized(t.mask, p.len()), sized(t.amount, p.len()), sized(t.waiting, p.len())
	for y := range e.h {
		s.beginRow(t, p.at(0, y), e.w)
	}
	for n := range e.len() { // the row has counted the ring's
		at, donors := p.at(e.cell(n)), 0
		for _, by := range s.steps {
			if t.key[at+by] > t.key[at] && t.way[at+by] != wayRing && t.key[at] != missingKey {
				donors++
			}
		}
		t.waiting[at] = uint8(donors)
	}
	for i, drain := range drains { // they give nothing, though some are lower
		if at := p.at(i%e.w, i/e.w); drain && t.key[at] != missingKey {
			for _, by := range s.steps {
				if there := t.key[at+by]; there < t.key[at] && there != missingKey && t.way[at+by] != wayRing {
					t.waiting[at+by]--
				}
			}
		}
	}
	for _, at := range s.flats {
		if to := int(at) + s.steps[t.way[at]&wayTo]; t.way[to] != wayRing {
			t.waiting[to]++
		}
	}
	for n, f := range fed {
		if f {
			t.waiting[p.at(e.cell(n))]++
		}
	}
}

// lower is 1 if a is lower than b, else 0.
func lower(a, b key) uint64 { return (uint64(a) - uint64(b)) >> 63 }

// beginRow sets the receivers of a row of cells, and counts the neighbours
// that are higher: all of these give, but for drains.
func (s *spreader) beginRow(t *spreadTile, at, w int) {
	pw := t.p.w
	up, mid, down := t.key[at-pw-1:][:w+2], t.key[at-1:][:w+2], t.key[at+pw-1:][:w+2]
	ways, amounts, masks, waiting := t.way[at:][:w], t.amount[at:][:w], t.mask[at:][:w], t.waiting[at:][:w]
	for x, v := range ways {
		z := mid[x+1]
		n, we, e, so := up[x+1], mid[x], mid[x+2], down[x+1]
		nw, ne, sw, se := up[x], up[x+2], down[x], down[x+2]
		waiting[x] = uint8(lower(z, n) + lower(z, we) + lower(z, e) + lower(z, so) + lower(z, nw) + lower(z, ne) + lower(z, sw) + lower(z, se))
		masks[x] = uint8(lower(n, z) | lower(we, z)<<1 | lower(e, z)<<2 | lower(so, z)<<3 | lower(nw, z)<<4 | lower(ne, z)<<5 | lower(sw, z)<<6 | lower(se, z)<<7)
		amounts[x] = unit
		if v > wayTo {
			s.beginOther(t, at+x, v)
		}
	}
}

// beginOther sets up a cell that does not simply give to its lower neighbours.
func (s *spreader) beginOther(t *spreadTile, at int, v way) {
	t.amount[at] = own(v, unit)
	switch {
	case v&wayNone != 0:
		t.mask[at], t.waiting[at] = 0, 0
	case v&wayOut != 0:
		t.mask[at] = 0
	case v&wayFlat != 0:
		t.mask[at] = 1 << (v & wayTo)
		s.flats = append(s.flats, int32(at))
	default: // beside missing cells
		for k, by := range s.steps {
			if t.key[at+by] == missingKey {
				t.mask[at] &^= 1 << k
			}
		}
	}
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
		a, mask := t.amount[i], t.mask[i]
		if t.again {
			t.late = append(t.late, placed{a, uint64(i)})
		}
		if mask == 0 {
			continue
		}
		if mask&(mask-1) == 0 {
			s.give(t, i+s.steps[bits.TrailingZeros8(mask)&7], a)
			continue
		}
		to := s.shares.deal(t.key, i, mask, &s.steps, &s.per, int(t.way[i]&wayTo), a)
		for k, share := range s.shares.amount[:to] {
			s.give(t, s.shares.to[k], share)
		}
	}
}

func (s *spreader) give(t *spreadTile, to int, a amount) {
	waits := t.waiting[to]
	if waits == beyond {
		c := t.ring[ringNumber(t.p, to)]
		s.out = append(s.out, delivery{c.cell, c.tile, a})
		return
	}
	t.amount[to] = plus(t.amount[to], a)
	t.waiting[to] = waits - 1
	if waits == 1 {
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
func (s *spreader) load(k *worker, t *spreadTile, fresh bool, fed []bool, a aside) error {
	t.p = pad(k.w.lattice.window(t.tile))
	s.steps = t.p.steps()
	if !fresh {
		return k.getAside(t, a)
	}
	if _, err := k.loadFilled(t.tile); err != nil {
		return err
	}
	if _, err := k.loadWays(t.tile); err != nil {
		return err
	}
	drains, err := k.getDrains(t.tile)
	if err != nil {
		return err
	}
	// What was loaded changes hands, so that nothing is copied.
	t.key, k.drainer.key = k.drainer.key, t.key
	t.way, k.gatherer.way = k.gatherer.way, t.way
	t.ring, k.ring = k.ring, t.ring
	s.begin(t, drains, fed)
	return nil
}
