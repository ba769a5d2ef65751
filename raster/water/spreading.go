package water

import (
	"context"
	"errors"
	"math"
	"sync"
)

// spreading is the work of all workers on all tiles while water is shared
// out: which tiles are ready, which are in memory, and what waits at their
// edges.
type spreading struct {
	w    *Water
	mu   sync.Mutex
	wake sync.Cond

	inflow  []amount  // of each edge cell, from other tiles so far
	outside []uint8   // its donors in other tiles that are still to give
	fed     []bool    // has it such donors at all
	open    [][]int32 // of each tile: edge cells opened since its last visit
	fresh   []bool
	leaving []bool // being put aside
	aside   []aside
	held    []bool // in memory

	cache  []*spreadTile
	most   int // tiles in memory
	clock  int
	busy   int
	done   int
	failed error
	loads  int
}

// spreadBytes is what a cell of a tile in memory takes.
const spreadBytes = 4 + 1 + 1 + 8 + 1

func newSpreading(w *Water) *spreading {
	l := w.lattice
	s := &spreading{
		w: w, inflow: make([]amount, l.edges()), outside: make([]uint8, l.edges()), fed: make([]bool, l.edges()),
		open: make([][]int32, l.tiles()), fresh: make([]bool, l.tiles()), leaving: make([]bool, l.tiles()),
		aside: make([]aside, l.tiles()), held: make([]bool, l.tiles()),
	}
	s.wake.L = &s.mu
	tile := min(l.size, l.ground.Cols) * min(l.size, l.ground.Rows) * spreadBytes
	s.most = int(min(max(w.o.Memory/int64(tile), int64(len(w.workers)), 1), int64(l.tiles())))
	s.most = max(s.most, len(w.workers))
	for t := range s.fresh {
		s.fresh[t] = true
		l.crossings(t, func(a, b, other int) {
			if w.gives(t, a, b) {
				s.outside[b]++
				s.fed[b] = true
			}
			if w.gives(other, b, a) {
				s.outside[a]++
				s.fed[a] = true
			}
		})
	}
	return s
}

// gives reports whether an edge cell of tile t gives water to one of another.
func (w *Water) gives(t, a, b int) bool {
	v := w.wayEdge[a]
	if v&wayOut != 0 {
		return false
	}
	if v&wayFlat != 0 {
		return w.lattice.receiver(t, a-w.lattice.first[t], v) == b
	}
	return w.filledEdge[b] < w.filledEdge[a] && w.filledEdge[b] != missingKey
}

// run works until every tile is done.
func (s *spreading) run(ctx context.Context) error {
	stop := context.AfterFunc(ctx, func() { s.fail(context.Cause(ctx)) })
	defer stop()
	var group sync.WaitGroup
	for _, k := range s.w.workers {
		group.Go(func() {
			if err := s.work(k); err != nil {
				s.fail(err)
			}
		})
	}
	group.Wait()
	return s.failed
}

func (s *spreading) fail(err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.failed == nil {
		s.failed = err
	}
	s.wake.Broadcast()
}

// work lets one worker take tile after tile.
func (s *spreading) work(k *worker) error {
	sp := &k.spreader
	sp.per = perStep(s.w.ground.DX, s.w.ground.DY)
	var open []opened
	for {
		v, err := s.take(open[:0])
		if err != nil || v.t == nil {
			return err
		}
		open = v.open
		if v.evict >= 0 {
			if err := s.putAside(k, v.t, v.evict); err != nil {
				return err
			}
		}
		l := s.w.lattice
		if v.load {
			if err := sp.load(k, v.t, v.fresh, s.fed[l.first[v.tile]:l.first[v.tile+1]], v.aside); err != nil {
				return err
			}
		}
		sp.steps = v.t.p.steps()
		sp.run(v.t, v.fresh, v.open)
		if v.t.left == 0 {
			if err := k.putDone(v.t); err != nil {
				return err
			}
		}
		s.deliver(v.t, sp.out)
	}
}

// visit is what a worker is to do with a tile.
type visit struct {
	t     *spreadTile
	tile  int
	evict int // tile to be put into the store first, -1 for none
	load  bool
	fresh bool
	open  []opened
	aside aside
}

// take waits for a tile that is ready and takes it; without a tile all are
// done.
func (s *spreading) take(open []opened) (visit, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for {
		if s.failed != nil || s.done == s.w.lattice.tiles() {
			return visit{}, s.failed
		}
		if v := s.choose(); v.t != nil {
			s.begin(&v, open)
			return v, nil
		}
		if s.busy == 0 {
			return visit{}, errors.New("water: some cells give water to each other in a circle")
		}
		s.wake.Wait()
	}
}

// begin marks a tile as taken and hands over what has opened.
func (s *spreading) begin(v *visit, open []opened) {
	first := s.w.lattice.first[v.tile]
	v.fresh, v.aside = s.fresh[v.tile], s.aside[v.tile]
	s.fresh[v.tile] = false
	for _, c := range s.open[v.tile] {
		open = append(open, opened{int(c), s.inflow[first+int(c)]})
	}
	s.open[v.tile] = s.open[v.tile][:0]
	v.open = open
	s.clock++
	v.t.busy, v.t.used = true, s.clock
	s.busy++
}

// choose finds a tile to work on: one in memory if any is ready there, else
// the one where most has opened, for which room is made.
func (s *spreading) choose() visit {
	for _, t := range s.cache {
		if !t.busy && len(s.open[t.tile]) > 0 {
			return visit{t: t, tile: t.tile, evict: -1}
		}
	}
	room := s.room()
	if room == nil {
		return visit{}
	}
	tile, best := -1, 0
	for t := range s.fresh {
		if s.leaving[t] || s.held[t] {
			continue
		}
		if n := s.weight(t); n > best {
			tile, best = t, n
		}
	}
	if tile < 0 {
		return visit{}
	}
	v := visit{t: room, tile: tile, evict: room.tile, load: true}
	if room.tile < 0 {
		s.cache = append(s.cache, room)
	} else if room.left == 0 {
		v.evict = -1
	} else {
		s.leaving[room.tile] = true
	}
	if room.tile >= 0 {
		s.held[room.tile] = false
	}
	s.held[tile] = true
	s.loads++
	room.tile = tile
	return v
}

// weight is how much there is to do in a tile.
func (s *spreading) weight(t int) int {
	if s.fresh[t] {
		return s.w.lattice.size/2 + 1 + len(s.open[t])
	}
	return len(s.open[t])
}

// room returns a new tile while there may be more, or the one in memory that
// is done or was used longest ago; nil when all are busy.
func (s *spreading) room() *spreadTile {
	if len(s.cache) < s.most {
		return &spreadTile{tile: -1}
	}
	var oldest *spreadTile
	least := math.MaxInt
	for _, t := range s.cache {
		if t.busy {
			continue
		}
		used := t.used
		if t.left == 0 {
			used = -1
		}
		if used < least {
			oldest, least = t, used
		}
	}
	return oldest
}

// putAside puts a tile aside, out of t.
func (s *spreading) putAside(k *worker, t *spreadTile, tile int) error {
	a, err := k.putAside(t, tile)
	s.mu.Lock()
	defer s.mu.Unlock()
	s.leaving[tile], s.aside[tile] = false, a
	s.wake.Broadcast()
	return err
}

// deliver brings what left a tile to the edge cells of others.
func (s *spreading) deliver(t *spreadTile, out []delivery) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, d := range out {
		s.inflow[d.cell] = plus(s.inflow[d.cell], d.amount)
		if s.outside[d.cell]--; s.outside[d.cell] == 0 {
			s.open[d.tile] = append(s.open[d.tile], int32(d.cell-s.w.lattice.first[d.tile]))
		}
	}
	t.busy = false
	s.busy--
	if t.left == 0 {
		s.done++
		s.w.o.Progress("Sharing water out", s.done, s.w.lattice.tiles())
	}
	s.wake.Broadcast()
}
