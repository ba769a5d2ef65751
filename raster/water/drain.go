package water

import (
	"context"
	"math"
	"slices"
	"sync"
)

// way is where the water of a cell goes: the number of a neighbour, with
// marks. It stands in scratch and in memory only, never in a result.
type way = uint8

const (
	wayTo   way = 7  // the neighbour's number
	wayOut  way = 8  // no neighbour: it drains, or is missing, or is not known yet
	wayFlat way = 16 // no neighbour is lower: the way goes over the flat
	wayCut  way = 32 // beside the rim or a hole: water from there is not known of
	wayNone way = 64 // the cell is missing

	wayRing way = 255 // around a tile, in memory
)

const (
	drainStage = "drain"
	wayLayer   = "ways" // a byte a cell
	unknown    = math.MaxUint32
)

// drainer finds ways for one worker.
type drainer struct {
	key   []key    // padded, of filled heights
	way   []way    // padded, wayRing around
	step  []uint32 // padded; see flats
	flats []int32  // places of the flat cells to be crossed
	seeds []uint64
	queue []int32
}

// ringOf marks the cells around a tile.
func ringOf(p padded, ways []way) {
	for x := range p.w {
		ways[x], ways[p.len()-1-x] = wayRing, wayRing
	}
	for y := range p.h - 2 {
		ways[(y+1)*p.w], ways[(y+2)*p.w-1] = wayRing, wayRing
	}
}

// perStep returns the inverse of the length of the way to each neighbour.
func perStep(dx, dy float64) [8]float64 {
	d := 1 / math.Sqrt(float64(dx*dx)+float64(dy*dy))
	return [8]float64{1 / dy, 1 / dx, 1 / dx, 1 / dy, d, d, d, d}
}

// gradient packs how steeply the surface falls to a neighbour with the
// neighbour's number, so that the greatest is the way, ties going to the first
// in order. Gradients that differ by less than eight parts in 2^52 may tie.
func gradient(here float64, there key, k int, per float64) int64 {
	fall := (here - float64(heightOf(there))) * per
	return int64(math.Float64bits(fall))&^7 | int64(7-k)
}

// descend points each cell of a tile at the neighbour to which the filled
// surface falls most steeply, ties by the order of neighbours (O'Callaghan &
// Mark 1984), and lists the flat ones. Neighbours that are equally far away
// compete by height alone. drains may be nil.
func (d *drainer) descend(p padded, drains []bool, dx, dy float64) {
	d.way = sized(d.way, p.len())
	ringOf(p, d.way)
	d.flats = d.flats[:0]
	per := perStep(dx, dy)
	perX, perY, perD := per[1], per[0], per[4]
	w := p.w - 2
	for y := range p.h - 2 {
		at := p.at(0, y)
		up, mid, down := d.key[at-p.w-1:][:p.w], d.key[at-1:][:p.w], d.key[at+p.w-1:][:p.w]
		out := d.way[at:][:w]
		for x := range out {
			ns := min(uint64(up[x+1])<<3, uint64(down[x+1])<<3|3)
			we := min(uint64(mid[x])<<3|1, uint64(mid[x+2])<<3|2)
			corner := min(uint64(up[x])<<3|4, uint64(up[x+2])<<3|5, uint64(down[x])<<3|6, uint64(down[x+2])<<3|7)
			low, z := key(min(ns, we, corner)>>3), mid[x+1]
			if low == missingKey || z == missingKey {
				out[x] = d.besideNothing(p, at+x, &per)
				continue
			}
			if low >= z {
				out[x] = wayOut | wayFlat
				d.flats = append(d.flats, int32(at+x))
				continue
			}
			here := float64(heightOf(z))
			best := max(gradient(here, key(ns>>3), int(ns&7), perY), gradient(here, key(we>>3), int(we&7), perX), gradient(here, key(corner>>3), int(corner&7), perD))
			out[x] = way(7 - best&7)
		}
	}
	for i, drain := range drains {
		if at := p.at(i%w, i/w); drain { // keeps what reaches it
			d.way[at] = d.way[at]&(wayCut|wayNone) | wayOut
		}
	}
	if drains != nil {
		d.flats = slices.DeleteFunc(d.flats, func(at int32) bool { return d.way[at]&wayFlat == 0 })
	}
}

// besideNothing is the way of a cell that is missing, or beside one that is.
func (d *drainer) besideNothing(p padded, i int, per *[8]float64) way {
	z := d.key[i]
	if z == missingKey {
		return wayOut | wayNone
	}
	best, to := int64(-1), wayOut
	for k, step := range p.steps() {
		there := d.key[i+step]
		if there == missingKey || there >= z {
			continue
		}
		if g := gradient(float64(heightOf(z)), there, k, per[k]); g > best {
			best, to = g, way(k)
		}
	}
	return to | wayCut
}

// Drain finds the way of each cell's water over the filled surface: to the
// neighbour to which it falls most steeply, and over flats along the fewest
// steps to where the ground goes on falling or the water leaves. Other stages
// call it where they need it; calling it twice does nothing.
func (w *Water) Drain(ctx context.Context) error {
	return w.once(drainStage, func() error {
		if err := w.makeLayer(wayLayer, 1); err != nil {
			return err
		}
		w.wayEdge = make([]way, w.lattice.edges())
		s := w.newFlatSteps()
		if err := w.each(ctx, "Finding the way down", func(k *worker, t int) error { return k.descend(t, s) }); err != nil {
			return err
		}
		for {
			var dirty []int
			for t, d := range s.dirty {
				if d {
					dirty = append(dirty, t)
				}
			}
			if dirty == nil {
				return nil
			}
			if err := w.eachOf(ctx, "Crossing flats", dirty, func(k *worker, t int) error { return k.cross(t, s) }); err != nil {
				return err
			}
		}
	})
}

// loadFilled reads the filled heights of a tile and those around it.
func (k *worker) loadFilled(t int) (padded, error) {
	k.keys = sized(k.keys, k.w.lattice.window(t).Size())
	err := k.w.store.Read(filledLayer, t, 0, bytesOf(k.keys))
	l, d := k.w.lattice, &k.drainer
	p := pad(l.window(t))
	d.key = sized(d.key, p.len())
	spread(p, d.key, k.keys)
	k.ring = l.ring(k.ring[:0], t)
	for _, c := range k.ring {
		d.key[c.pad] = missingKey
		if c.cell >= 0 {
			d.key[c.pad] = k.w.filledEdge[c.cell]
		}
	}
	return p, err
}

// descend finds the ways of a tile as far as what is known of the tiles around
// it allows.
func (k *worker) descend(t int, s *flatSteps) error {
	p, err := k.loadFilled(t)
	if err != nil {
		return err
	}
	drains, err := k.getDrains(t)
	if err != nil {
		return err
	}
	d := &k.drainer
	d.descend(p, drains, k.w.ground.DX, k.w.ground.DY)
	d.clearSteps(p)
	for _, at := range d.flats {
		d.step[at] = unknown
	}
	return k.crossFlats(t, p, s)
}

// flatSteps is what the tiles know of each other while flats are crossed: how
// many steps each edge cell has to go until it is off its flat, 0 off flats,
// unknown where no way was found yet. A tile is dirty when it must be done
// again. Each tile alone finds the fewest steps that its own cells and those
// around it allow; steps only ever get fewer, and when no tile is dirty they
// are the fewest there are.
type flatSteps struct {
	mu    sync.Mutex
	edge  []uint32
	dirty []bool
}

func (w *Water) newFlatSteps() *flatSteps {
	s := &flatSteps{edge: make([]uint32, w.lattice.edges()), dirty: make([]bool, w.lattice.tiles())}
	for i := range s.edge {
		s.edge[i] = unknown
	}
	return s
}

// cross finds the ways over the flats at the border of a tile once more.
func (k *worker) cross(t int, s *flatSteps) error {
	p, err := k.loadFilled(t)
	if err != nil {
		return err
	}
	n := (p.w - 2) * (p.h - 2)
	k.bytes = sized(k.bytes, n)
	if err := k.w.store.Read(wayLayer, t, 0, k.bytes); err != nil {
		return err
	}
	d := &k.drainer
	d.way = sized(d.way, p.len())
	ringOf(p, d.way)
	spread(p, d.way, k.bytes)
	d.listBorderFlats(p)
	return k.crossFlats(t, p, s)
}

// listBorderFlats lists the cells of the flats that touch the tile's border,
// and forgets their ways.
func (d *drainer) listBorderFlats(p padded) {
	steps, e := p.steps(), edge{p.w - 2, p.h - 2}
	d.clearSteps(p)
	d.flats = d.flats[:0]
	take := func(at int) {
		if v := d.way[at]; v&wayFlat != 0 && v != wayRing && d.step[at] == 0 {
			d.step[at], d.way[at] = unknown, wayOut|wayFlat
			d.flats = append(d.flats, int32(at))
		}
	}
	for i := range e.len() {
		take(p.at(e.cell(i)))
	}
	for n := 0; n < len(d.flats); n++ {
		at := int(d.flats[n])
		for _, by := range steps {
			if d.key[at+by] == d.key[at] {
				take(at + by)
			}
		}
	}
}

func (d *drainer) clearSteps(p padded) {
	d.step = sized(d.step, p.len())
	clear(d.step)
}

// crossFlats finds the ways over the listed flats of a tile, keeps the tile's
// ways and tells the others.
func (k *worker) crossFlats(t int, p padded, s *flatSteps) error {
	d := &k.drainer
	s.mu.Lock()
	s.dirty[t] = false
	for _, c := range k.ring {
		d.step[c.pad] = unknown
		if c.cell >= 0 {
			d.step[c.pad] = s.edge[c.cell]
		}
	}
	s.mu.Unlock()
	d.findSteps(p)
	k.publish(t, p, s)
	k.bytes = sized(k.bytes, (p.w-2)*(p.h-2))
	compact(p, k.bytes, d.way)
	return k.w.store.Write(wayLayer, t, k.bytes)
}

// findSteps walks into the listed flats from all sides at once, fewest steps
// first, and points each cell at its first neighbour that has one step less to
// go. Two cells of one flat are neighbours of the same filled height.
func (d *drainer) findSteps(p padded) {
	steps := p.steps()
	d.findSeeds(&steps)
	for q, s := 0, 0; q < len(d.queue) || s < len(d.seeds); {
		var at int
		if s < len(d.seeds) && (q == len(d.queue) || d.seeds[s]>>32 < uint64(d.step[d.queue[q]])) {
			at = int(uint32(d.seeds[s]))
			step := uint32(d.seeds[s] >> 32)
			s++
			if step >= d.step[at] {
				continue
			}
			d.step[at] = step
		} else {
			at = int(d.queue[q])
			q++
		}
		d.leave(at, &steps)
	}
}

// leave points a cell that knows its steps, and tells those around it.
func (d *drainer) leave(at int, steps *[8]int) {
	z, step, to := d.key[at], d.step[at], wayOut
	for k, by := range steps {
		j := at + by
		if d.key[j] != z {
			continue
		}
		switch there := d.step[j]; {
		case there == step-1 && to == wayOut:
			to = way(k)
		case there > step+1 && d.way[j] != wayRing:
			d.step[j] = step + 1
			d.queue = append(d.queue, int32(j))
		}
	}
	d.way[at] = wayFlat | to
}

// findSeeds gathers the flat cells beside a cell that knows its steps: in the
// queue those with one step to go, in seeds those beside other tiles with more,
// in the order of their steps.
func (d *drainer) findSeeds(steps *[8]int) {
	d.seeds, d.queue = d.seeds[:0], d.queue[:0]
	for _, at := range d.flats {
		z, least := d.key[at], uint32(unknown)
		for _, by := range steps {
			if j := int(at) + by; d.key[j] == z && d.step[j] < least {
				least = d.step[j]
				if least == 0 {
					break
				}
			}
		}
		switch least {
		case 0:
			d.queue = append(d.queue, at)
		case unknown:
		default:
			d.seeds = append(d.seeds, uint64(least+1)<<32|uint64(at))
		}
	}
	for _, at := range d.queue {
		d.step[at] = 1
	}
	slices.Sort(d.seeds)
}

// publish tells the other tiles what a tile found for its edge cells. A tile
// around it is dirty when one of its own edge cells can get off its flat
// through here in fewer steps, or in as many, which may settle a tie.
func (k *worker) publish(t int, p padded, s *flatSteps) {
	l := k.w.lattice
	win, e := l.window(t), edge{p.w - 2, p.h - 2}
	s.mu.Lock()
	defer s.mu.Unlock()
	for i := range e.len() {
		x, y := e.cell(i)
		at := p.at(x, y)
		cell := l.first[t] + i
		k.w.wayEdge[cell] = k.drainer.way[at]
		if k.drainer.step[at] == s.edge[cell] {
			continue
		}
		s.edge[cell] = k.drainer.step[at]
		for _, n := range neighbours {
			if nx, ny := x+n.x, y+n.y; nx >= 0 && ny >= 0 && nx < e.w && ny < e.h {
				continue
			}
			other, tile := l.number(win.Col+x+n.x, win.Row+y+n.y)
			if other >= 0 && k.w.filledEdge[other] == k.w.filledEdge[cell] && s.edge[other] > s.edge[cell] {
				s.dirty[tile] = true
			}
		}
	}
}
