package water

import (
	"context"
	"slices"
)

const oneLayer = "one receiver" // amounts in cells

// GatherOne counts the cells whose water runs through each cell when all of
// it goes the one way of [Water.Drain] (accumulation by tiles after Barnes
// 2017).
func (w *Water) GatherOne(ctx context.Context) error {
	if err := w.Drain(ctx); err != nil {
		return err
	}
	return w.once(oneLayer, func() error {
		if err := w.makeAmounts(oneLayer); err != nil {
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
	word    []uint32 // padded: amounts of a tile alone
	waiting []uint8  // padded: how many neighbours are still to give
	exit    []int32  // padded
	edges   []int

	// For what flows in, padded and all 0 between tiles.
	extra []amount
	donor []uint8 // 1 and how many cells of the path are still to give; 0 off the path
	path  []int32
}

const given = 255 // waiting, for a cell that has given

// load sets the padded ways from those of a tile, row by row.
func (g *gatherer) load(p padded, ways []way) {
	g.way = sized(g.way, p.len())
	ringOf(p, g.way)
	spread(p, g.way, ways)
}

// gather adds up the amounts of a tile on its own.
func (g *gatherer) gather(p padded) {
	g.word, g.waiting = sized(g.word, p.len()), sized(g.waiting, p.len())
	clear(g.waiting)
	steps := p.steps()
	for y := range p.h - 2 {
		at := p.at(0, y)
		words, ways := g.word[at:][:p.w-2], g.way[at:][:p.w-2]
		for x, v := range ways {
			words[x] = 1
			if v&(wayCut|wayNone) != 0 {
				words[x] = wordOf(own(v, 1))
			}
			if v&wayOut == 0 {
				g.waiting[at+x+steps[v&wayTo]]++
			}
		}
	}
	for y := range p.h - 2 {
		at := p.at(0, y)
		for x, n := range g.waiting[at:][:p.w-2] {
			if n == 0 {
				g.pass(&steps, at+x)
			}
		}
	}
}

// pass lets a cell give to its receiver, which gives in its turn when it is
// the last one that was waited for. What is given to the ring is lost there.
func (g *gatherer) pass(steps *[8]int, i int) {
	ways, words, waiting := g.way, g.word[:len(g.way)], g.waiting[:len(g.way)]
	for {
		waiting[i] = given
		v := ways[i]
		if v&wayOut != 0 {
			return
		}
		to := i + steps[v&wayTo]
		a, b := words[i], words[to]
		words[to] = (a&^wordCut + b&^wordCut) | (a|b)&wordCut
		waiting[to]--
		if waiting[to] != 0 {
			return
		}
		i = to
	}
}

// follow adds what flows in, of the tile's edge cells, to the cells it passes.
// Only these are looked at: they are in g.path, and what flows in is in
// g.extra.
func (g *gatherer) follow(p padded, inflow []amount) {
	g.extra, g.donor, g.path = grown(g.extra, p.len()), grown(g.donor, p.len()), g.path[:0]
	steps, e := p.steps(), edge{p.w - 2, p.h - 2}
	next := func(i int) int { // -1 for nowhere in the tile
		v := g.way[i]
		if to := i + steps[v&wayTo]; v&wayOut == 0 && g.way[to] != wayRing {
			return to
		}
		return -1
	}
	for n, in := range inflow {
		if in == 0 {
			continue
		}
		at := p.at(e.cell(n))
		g.extra[at] = in
		for ; at >= 0 && g.donor[at] == 0; at = next(at) {
			g.donor[at] = 1
			g.path = append(g.path, int32(at))
		}
	}
	for _, at := range g.path {
		if to := next(int(at)); to >= 0 {
			g.donor[to]++
		}
	}
	for _, start := range g.path {
		for at := int(start); at >= 0 && g.donor[at] == 1; {
			g.donor[at] = given
			to := next(at)
			if to >= 0 {
				g.extra[to] = plus(g.extra[to], g.extra[at])
				g.donor[to]--
			}
			at = to
		}
	}
}

// grown returns a slice of at least n elements, all 0 if those of s are.
func grown[T any](s []T, n int) []T {
	if len(s) < n {
		return make([]T, n)
	}
	return s
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
	g.gather(p)
	g.edges = l.edgePads(g.edges[:0], t)
	for i, at := range g.edges {
		s.total[l.first[t]+i] = amountOf(g.word[at])
	}
	g.findExits(p, s.exit[l.first[t]:l.first[t+1]])
	k.words = sized(k.words, (p.w-2)*(p.h-2))
	compact(p, k.words, g.word)
	return k.w.store.Write(oneLayer, t, bytesOf(k.words))
}

// finishOne adds what flows into a tile to what it has alone.
func (k *worker) finishOne(t int, inflow []amount) error {
	g, l := &k.gatherer, k.w.lattice
	inflow = inflow[l.first[t]:l.first[t+1]]
	if !slices.ContainsFunc(inflow, func(a amount) bool { return a != 0 }) {
		return nil
	}
	p, err := k.loadWays(t)
	if err != nil {
		return err
	}
	k.words, k.large = sized(k.words, (p.w-2)*(p.h-2)), k.large[:0]
	if err := k.w.store.Read(oneLayer, t, 0, bytesOf(k.words)); err != nil {
		return err
	}
	g.follow(p, inflow)
	for _, at := range g.path {
		n := (int(at)/p.w-1)*(p.w-2) + int(at)%p.w - 1
		a := plus(amountOf(k.words[n]), g.extra[at])
		k.words[n] = wordOf(a)
		if a&^cutMark >= wordLarge {
			k.large = append(k.large, placed{a, uint64(n)})
		}
		g.extra[at], g.donor[at] = 0, 0
	}
	return k.putAmounts(oneLayer, t, k.words, k.large)
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
