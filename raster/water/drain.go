package water

import (
	"context"
	"math"
	"slices"
	"sync"

	"likelyground/raster"
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
	z     []float32 // padded filled heights, NaN where missing or beyond
	way   []way     // row by row
	step  []uint32  // padded; see flats
	seeds []uint64
	queue []int32
}

// descend points each cell of a tile at the neighbour to which the filled
// surface falls most steeply, ties by the order of neighbours (O'Callaghan &
// Mark 1984). z is padded; drains may be nil.
func descend(p padded, z []float32, drains []bool, dx, dy float64, out []way) {
	steps, per := p.steps(), perStep(dx, dy)
	n := 0
	for y := range p.h - 2 {
		for i := p.at(0, y); i < p.at(p.w-2, y); i++ {
			out[n] = steepest(z, i, &steps, &per)
			n++
		}
	}
	for i, d := range drains {
		if d { // keeps what reaches it
			out[i] = out[i]&(wayCut|wayNone) | wayOut
		}
	}
}

// perStep returns the inverse of the length of the way to each neighbour.
func perStep(dx, dy float64) [8]float64 {
	d := 1 / math.Sqrt(float64(dx*dx)+float64(dy*dy))
	return [8]float64{1 / dy, 1 / dx, 1 / dx, 1 / dy, d, d, d, d}
}

func steepest(z []float32, i int, steps *[8]int, per *[8]float64) way {
	here := z[i]
	if here != here {
		return wayOut | wayNone
	}
	best, to := 0.0, wayOut|wayFlat
	cut := way(0)
	for k := range steps {
		there := z[i+steps[k]]
		if there != there {
			cut = wayCut
			continue
		}
		if drop := (float64(here) - float64(there)) * per[k]; drop > best {
			best, to = drop, way(k)
		}
	}
	if cut != 0 {
		to &^= wayFlat
	}
	return to | cut
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
		steps := flatSteps{edge: make([]uint32, w.lattice.edges()), dirty: make([]bool, w.lattice.tiles()), flat: make([]bool, w.lattice.tiles())}
		if err := w.each(ctx, "Finding the way down", func(k *worker, t int) error { return k.descend(t, &steps) }); err != nil {
			return err
		}
		copy(steps.dirty, steps.flat)
		for {
			var dirty []int
			for t, d := range steps.dirty {
				if d {
					dirty = append(dirty, t)
				}
			}
			if dirty == nil {
				return nil
			}
			if err := w.eachOf(ctx, "Crossing flats", dirty, func(k *worker, t int) error { return k.cross(t, &steps) }); err != nil {
				return err
			}
		}
	})
}

// loadFilled reads the filled heights of a tile and those around it.
func (k *worker) loadFilled(t int) (padded, error) {
	l := k.w.lattice
	win := l.window(t)
	p := pad(win)
	k.filled = sized(k.filled, win.Size())
	if err := k.getHeights(filledLayer, t, k.filled); err != nil {
		return p, err
	}
	d := &k.drainer
	d.z = sized(d.z, p.len())
	for y := range win.Rows {
		copy(d.z[p.at(0, y):], k.filled[y*win.Cols:][:win.Cols])
	}
	k.ring = l.ring(k.ring[:0], t)
	for _, c := range k.ring {
		d.z[c.pad] = raster.Missing
		if c.cell >= 0 {
			d.z[c.pad] = k.w.filledEdge[c.cell]
		}
	}
	return p, nil
}

// descend does the first pass over a tile.
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
	d.way = sized(d.way, (p.w-2)*(p.h-2))
	descend(p, d.z, drains, k.w.ground.DX, k.w.ground.DY, d.way)
	for _, v := range d.way {
		if v&wayFlat != 0 {
			s.flat[t] = true
			break
		}
	}
	first := k.w.lattice.first[t]
	e := edge{p.w - 2, p.h - 2}
	for i := range e.len() {
		v := d.way[e.inTile(i)]
		k.w.wayEdge[first+i] = v
		if v&wayFlat != 0 {
			s.edge[first+i] = unknown
		}
	}
	return k.w.store.Write(wayLayer, t, d.way)
}

// inTile returns the place of an edge cell among the cells of its tile.
func (e edge) inTile(i int) int {
	x, y := e.cell(i)
	return y*e.w + x
}

// flatSteps is what the tiles know of each other while flats are crossed: how
// many steps each edge cell has to go until it is off its flat, 0 off flats,
// unknown where no way was found yet. A tile is dirty when it must be done
// (again). Each tile alone finds the fewest steps that its own cells and those
// around it allow; steps only ever get fewer, and when no tile is dirty they
// are the fewest there are.
type flatSteps struct {
	mu    sync.Mutex
	edge  []uint32
	dirty []bool
	flat  []bool // tiles that have flats
}

// cross finds the ways over the flats of a tile.
func (k *worker) cross(t int, s *flatSteps) error {
	p, err := k.loadFilled(t)
	if err != nil {
		return err
	}
	d := &k.drainer
	d.way = sized(d.way, (p.w-2)*(p.h-2))
	if err := k.w.store.Read(wayLayer, t, 0, d.way); err != nil {
		return err
	}
	d.startSteps(p)
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
	d.pointOver(p)
	k.publish(t, p, s)
	return k.w.store.Write(wayLayer, t, d.way)
}

// startSteps sets the steps of a tile's cells as they are before any flat is
// crossed.
func (d *drainer) startSteps(p padded) {
	d.step = sized(d.step, p.len())
	n := 0
	for y := range p.h - 2 {
		for i := p.at(0, y); i < p.at(p.w-2, y); i++ {
			d.step[i] = 0
			if d.way[n]&wayFlat != 0 {
				d.step[i] = unknown
			}
			n++
		}
	}
}

// findSteps walks into the flats from all sides at once, fewest steps first.
// Two cells of one flat are neighbours of the same filled height.
func (d *drainer) findSteps(p padded) {
	steps := p.steps()
	d.findSeeds(p, &steps)
	d.queue = d.queue[:0]
	inside := func(i int) bool {
		x, y := i%p.w, i/p.w
		return x > 0 && y > 0 && x < p.w-1 && y < p.h-1
	}
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
		next := d.step[at] + 1
		for _, k := range steps {
			if j := at + k; d.z[j] == d.z[at] && d.step[j] > next && inside(j) {
				d.step[j] = next
				d.queue = append(d.queue, int32(j))
			}
		}
	}
}

// findSeeds gathers the flat cells beside a cell that knows its steps, in the
// order of their own.
func (d *drainer) findSeeds(p padded, steps *[8]int) {
	d.seeds = d.seeds[:0]
	for y := range p.h - 2 {
		for i := p.at(0, y); i < p.at(p.w-2, y); i++ {
			if d.step[i] != unknown {
				continue
			}
			least := uint32(unknown)
			for _, k := range steps {
				if d.z[i+k] == d.z[i] {
					least = min(least, d.step[i+k])
				}
			}
			if least != unknown {
				d.seeds = append(d.seeds, uint64(least+1)<<32|uint64(i))
			}
		}
	}
	slices.Sort(d.seeds)
}

// pointOver points each flat cell at its first neighbour that has one step
// less to go.
func (d *drainer) pointOver(p padded) {
	steps := p.steps()
	n := 0
	for y := range p.h - 2 {
		for i := p.at(0, y); i < p.at(p.w-2, y); i++ {
			if d.way[n]&wayFlat != 0 && d.step[i] != unknown {
				for k, to := range steps {
					if d.z[i+to] == d.z[i] && d.step[i+to] == d.step[i]-1 {
						d.way[n] = wayFlat | way(k)
						break
					}
				}
			}
			n++
		}
	}
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
		k.w.wayEdge[cell] = k.drainer.way[y*e.w+x]
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
