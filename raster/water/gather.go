package water

import "context"

// amount is how much ground drains through a cell, itself included, in units
// of the computation, with cutMark where some of that ground lies beside the
// rim or a hole, so that more may drain there than is known.
type amount = uint64

const cutMark amount = 1 << 63

// plus adds amounts; the sum is cut where a part is.
func plus(a, b amount) amount { return (a&^cutMark + b&^cutMark) | (a|b)&cutMark }

// own returns what a cell has without any neighbour.
func own(v way, unit amount) amount {
	if v&wayNone != 0 {
		return 0
	}
	if v&wayCut != 0 {
		return unit | cutMark
	}
	return unit
}

const oneLayer = "one receiver" // amounts in cells

// GatherOne counts the cells whose water runs through each cell when all of
// it goes the one way of [Water.Drain] (accumulation by tiles after Barnes
// 2017).
func (w *Water) GatherOne(ctx context.Context) error {
	if err := w.Drain(ctx); err != nil {
		return err
	}
	return w.once(oneLayer, func() error {
		if err := w.makeLayer(oneLayer, 8); err != nil {
			return err
		}
		s := gatherSummary{total: make([]amount, w.lattice.edges()), exit: make([]int32, w.lattice.edges())}
		if err := w.each(ctx, "Following the water", func(k *worker, t int) error { return k.surveyOne(t, &s) }); err != nil {
			return err
		}
		inflow := s.solve(w.lattice, w.wayEdge)
		return w.each(ctx, "Gathering water", func(k *worker, t int) error { return k.finishOne(t, inflow) })
	})
}

// gatherSummary is what the solution needs to know of all tiles.
type gatherSummary struct {
	total []amount // of each edge cell, from its own tile alone
	exit  []int32  // number in its tile of the edge cell where its water leaves the tile; -1 for nowhere
}

// gatherer adds up amounts for one worker.
type gatherer struct {
	way     []way    // padded, wayRing around
	amount  []amount // padded
	waiting []uint8  // padded: how many neighbours are still to give
	exit    []int32  // padded
	edges   []int
}

const given = 255 // waiting, for a cell that has given

// load sets the padded ways from those of a tile, row by row.
func (g *gatherer) load(p padded, ways []way) {
	g.way = sized(g.way, p.len())
	ringOf(p, g.way)
	spread(p, g.way, ways)
}

// gather adds up the amounts of a tile; inflow, of the tile's edge cells, may
// be nil.
func (g *gatherer) gather(p padded, inflow []amount) {
	g.amount, g.waiting = sized(g.amount, p.len()), sized(g.waiting, p.len())
	clear(g.waiting)
	steps := p.steps()
	for y := range p.h - 2 {
		for i := p.at(0, y); i < p.at(p.w-2, y); i++ {
			v := g.way[i]
			g.amount[i] = own(v, 1)
			if v&wayOut == 0 {
				g.waiting[i+steps[v&wayTo]]++
			}
		}
	}
	e := edge{p.w - 2, p.h - 2}
	for i, in := range inflow {
		at := p.at(e.cell(i))
		g.amount[at] = plus(g.amount[at], in)
	}
	for y := range p.h - 2 {
		for i := p.at(0, y); i < p.at(p.w-2, y); i++ {
			if g.waiting[i] == 0 {
				g.pass(&steps, i)
			}
		}
	}
}

// pass lets a cell give to its receiver, which gives in its turn when it is
// the last one that was waited for. What is given to the ring is lost there.
func (g *gatherer) pass(steps *[8]int, i int) {
	for {
		g.waiting[i] = given
		v := g.way[i]
		if v&wayOut != 0 {
			return
		}
		to := i + steps[v&wayTo]
		g.amount[to] = plus(g.amount[to], g.amount[i])
		if g.waiting[to]--; g.waiting[to] != 0 {
			return
		}
		i = to
	}
}

// findExits follows the water of each edge cell to where it leaves the tile.
func (g *gatherer) findExits(p padded, out []int32) {
	const unset, nowhere = -2, -1
	g.exit = sized(g.exit, p.len())
	for i := range g.exit {
		g.exit[i] = unset
	}
	steps := p.steps()
	e := edge{p.w - 2, p.h - 2}
	for n := range out {
		start := p.at(e.cell(n))
		end, exit := start, int32(unset)
		for exit == unset {
			v := g.way[end]
			switch to := end + steps[v&wayTo]; {
			case g.exit[end] != unset:
				exit = g.exit[end]
			case v&wayOut != 0:
				exit = nowhere
			case g.way[to] == wayRing:
				exit = int32(e.at(end%p.w-1, end/p.w-1))
			default:
				end = to
			}
		}
		for i := start; i != end; i += steps[g.way[i]&wayTo] {
			g.exit[i] = exit
		}
		g.exit[end] = exit
		out[n] = exit
	}
}

// loadWays reads the ways of a tile.
func (k *worker) loadWays(t int) (padded, error) {
	p := pad(k.w.lattice.window(t))
	k.bytes = sized(k.bytes, (p.w-2)*(p.h-2))
	err := k.w.store.Read(wayLayer, t, 0, k.bytes)
	k.gatherer.load(p, k.bytes)
	return p, err
}

func (k *worker) surveyOne(t int, s *gatherSummary) error {
	p, err := k.loadWays(t)
	if err != nil {
		return err
	}
	g, l := &k.gatherer, k.w.lattice
	g.gather(p, nil)
	g.edges = l.edgePads(g.edges[:0], t)
	for i, at := range g.edges {
		s.total[l.first[t]+i] = g.amount[at]
	}
	g.findExits(p, s.exit[l.first[t]:l.first[t+1]])
	return nil
}

func (k *worker) finishOne(t int, inflow []amount) error {
	p, err := k.loadWays(t)
	if err != nil {
		return err
	}
	g, l := &k.gatherer, k.w.lattice
	g.gather(p, inflow[l.first[t]:l.first[t+1]])
	return k.putAmounts(oneLayer, t, p, g.amount)
}

// putAmounts keeps padded amounts as a layer's record.
func (k *worker) putAmounts(layer string, t int, p padded, padded []amount) error {
	k.bytes = sized(k.bytes, 8*(p.w-2)*(p.h-2))
	for y := range p.h - 2 {
		copy(k.bytes[8*y*(p.w-2):], bytesOf(padded[p.at(0, y):p.at(p.w-2, y)]))
	}
	return k.w.store.Write(layer, t, k.bytes)
}

// receiver returns the number of the edge cell of another tile that an edge
// cell's water goes to, or -1.
func (l *lattice) receiver(t, i int, v way) int {
	if v&wayOut != 0 {
		return -1
	}
	w := l.window(t)
	x, y := edgeOf(w).cell(i)
	n := neighbours[v&wayTo]
	x, y = x+n.x, y+n.y
	if x >= 0 && y >= 0 && x < w.Cols && y < w.Rows {
		return -1
	}
	cell, _ := l.number(w.Col+x, w.Row+y)
	return cell
}

// solve returns what flows into each edge cell from other tiles. It is done
// with the summary, which it changes.
func (s *gatherSummary) solve(l *lattice, ways []way) []amount {
	n := len(s.total)
	inflow, to := make([]amount, n), make([]int32, n)
	givers := make([]uint8, n)  // other tiles' cells that are still to give to a cell
	through := make([]int32, n) // cells of the same tile with such givers whose water leaves here
	for t := range l.tiles() {
		for i := l.first[t]; i < l.first[t+1]; i++ {
			to[i] = int32(l.receiver(t, i-l.first[t], ways[i]))
			if to[i] >= 0 {
				givers[to[i]]++
			}
		}
	}
	for t := range l.tiles() {
		for i := l.first[t]; i < l.first[t+1]; i++ {
			if givers[i] > 0 && s.exit[i] >= 0 {
				through[l.first[t]+int(s.exit[i])]++
			}
			if s.exit[i] >= 0 {
				s.exit[i] += int32(l.first[t])
			}
		}
	}
	for i := range to {
		if to[i] >= 0 && through[i] == 0 {
			s.give(i, inflow, to, givers, through)
		}
	}
	return inflow
}

// give hands on the total of an edge cell from which water leaves the tile,
// and goes on as long as the next one has waited for it alone.
func (s *gatherSummary) give(i int, inflow []amount, to []int32, givers []uint8, through []int32) {
	for to[i] >= 0 {
		in := to[i]
		to[i] = -1
		inflow[in] = plus(inflow[in], s.total[i])
		if givers[in]--; givers[in] > 0 {
			return
		}
		exit := s.exit[in]
		if exit < 0 {
			return
		}
		s.total[exit] = plus(s.total[exit], inflow[in])
		if through[exit]--; through[exit] > 0 {
			return
		}
		i = int(exit)
	}
}
