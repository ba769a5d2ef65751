package water

import (
	"math"

	"likelyground/raster"
)

// Filling by the watershed graph. Point each cell at the lowest of itself and
// its neighbours, ties by position; follow to a pit, or to a cell that drains.
// The cells of one pit are a watershed; all that drains is one more, number 0.
// Two watersheds that touch are joined at the higher of two neighbouring
// cells; the least such height between two of them is a link. Joining the
// links from the lowest up (Kruskal 1956) gives each pit the level at which
// its water first gets out, and a cell's filled height is the higher of its
// own and its pit's. The way down from a cell to its pit never climbs, so the
// result is the minimax level of the definition, whatever the watersheds.
//
// By tiles: a watershed that touches the tile's border is a terminal. A pit
// inside is first joined to one terminal, at the inner level; what its level
// is depends on that terminal alone. Links between terminals go out if a
// second union of sets still keeps their ends apart.

// key turns a height into a number of the same order; missing is 0.
type key = uint32

const (
	missingKey key = 0
	unknownKey key = math.MaxUint32 // beyond the tile, to be seen to by the solution
)

func keyOf(v float32) key {
	b := math.Float32bits(v)
	k := b ^ (uint32(int32(b)>>31) | 1<<31)
	if b&^(1<<31) >= 0xff<<23 { // not a number, or infinite
		k = missingKey
	}
	if b == 1<<31 { // there is one zero
		k = 1 << 31
	}
	return k
}

func heightOf(k key) float32 {
	if k == missingKey {
		return raster.Missing
	}
	return math.Float32frombits(k ^ (uint32(int32(^k)>>31) | 1<<31))
}

// link joins two watersheds at a height.
type link struct {
	a, b  int32
	level key
}

// fillSummary is what the solution needs to know of a tile. Terminals are
// numbered from 1 in the order of the edge cells; 0 is what drains.
type fillSummary struct {
	edge      []key    // heights of the edge cells
	terminal  []uint16 // of the edge cells
	terminals int
	links     []link // between terminals
}

// filler fills tiles for one worker.
type filler struct {
	key   []key    // padded
	pit   []int32  // padded: where a cell points, then ^label
	label []uint16 // label to terminal of its own, noTerminal for none
	pairs pairs
	links []uint64
	sets  []int32
	inner []key    // of each label: its inner level
	term  []uint16 // of each label: the terminal it hangs on
	outer []int32  // sets of terminals
}

const noTerminal = math.MaxUint16

// load sets the padded keys of a tile from those of its cells. Cells beyond
// the ground are missing, those of other tiles unknown.
func (f *filler) load(p padded, keys []key, ring []ringCell) {
	f.key = sized(f.key, p.len())
	spread(p, f.key, keys)
	for _, c := range ring {
		f.key[c.pad] = unknownKey
		if c.cell < 0 {
			f.key[c.pad] = missingKey
		}
	}
}

// survey fills a tile as far as the tile alone allows. The filled height of a
// cell is the highest of its own, the inner level of its label and the level
// of the terminal that its label hangs on.
func (f *filler) survey(p padded, keys []key, drains []bool, ring []ringCell, edgePads []int) *fillSummary {
	f.load(p, keys, ring)
	f.point(p, drains)
	labels := f.follow(p)
	sum := f.findTerminals(edgePads, labels)
	f.findLinks(p)
	f.join(sum, labels)
	return sum
}

// column is the lowest of three cells above each other, with its place among
// nine in rows.
func column(up, mid, down key) uint64 {
	return min(uint64(up)<<4, uint64(mid)<<4|3, uint64(down)<<4|6)
}

// point points each cell at its lowest neighbour, a draining one at label 0.
func (f *filler) point(p padded, drains []bool) {
	f.pit = sized(f.pit, p.len())
	order := [16]int32{-int32(p.w) - 1, -int32(p.w), -int32(p.w) + 1, -1, 0, 1, int32(p.w) - 1, int32(p.w), int32(p.w) + 1}
	for y := range p.h - 2 {
		at := p.at(0, y)
		up, mid, down := f.key[at-p.w-1:][:p.w], f.key[at-1:][:p.w], f.key[at+p.w-1:][:p.w]
		out := f.pit[at:][:p.w-2]
		a, b := column(up[0], mid[0], down[0]), column(up[1], mid[1], down[1])
		up, mid, down = up[2:][:len(out)], mid[2:][:len(out)], down[2:][:len(out)]
		for x := range out {
			c := column(up[x], mid[x], down[x])
			low := min(a, b+1, c+2)
			a, b = b, c
			to := int32(at+x) + order[low&15]
			if low < 16 { // beside a missing cell, or missing
				to = ^0
			}
			out[x] = to
		}
	}
	for i, drain := range drains {
		if drain {
			f.pit[p.at(i%(p.w-2), i/(p.w-2))] = ^0
		}
	}
}

// follow turns pointers into labels and returns how many there are.
func (f *filler) follow(p padded) int {
	pit, labels := f.pit, int32(1)
	for y := range p.h - 2 {
		for i := p.at(0, y); i < p.at(p.w-2, y); i++ {
			if pit[i] < 0 {
				continue
			}
			end := i
			for pit[end] >= 0 && pit[end] != int32(end) {
				end = int(pit[end])
			}
			if pit[end] >= 0 {
				pit[end] = ^labels
				labels++
			}
			label := pit[end]
			for j := i; pit[j] >= 0; {
				pit[j], j = label, int(pit[j])
			}
		}
	}
	return int(labels)
}

// findTerminals numbers the watersheds at the tile's border.
func (f *filler) findTerminals(edgePads []int, labels int) *fillSummary {
	f.label = sized(f.label, labels)
	for i := range f.label {
		f.label[i] = noTerminal
	}
	f.label[0] = 0
	sum := &fillSummary{edge: make([]key, len(edgePads)), terminal: make([]uint16, len(edgePads))}
	for i, at := range edgePads {
		label := ^f.pit[at]
		if f.label[label] == noTerminal {
			sum.terminals++
			f.label[label] = uint16(sum.terminals)
		}
		sum.edge[i], sum.terminal[i] = f.key[at], f.label[label]
	}
	return sum
}

// findLinks gathers the least level between any two watersheds that touch.
// Missing cells and those around them are one watershed, so no link leads to a
// missing cell.
func (f *filler) findLinks(p padded) {
	f.pairs.reset()
	w := p.w - 2
	for y := range p.h - 2 {
		at := p.at(0, y)
		if y == p.h-3 {
			for i := at; i < at+w-1; i++ {
				f.see(i, i+1)
			}
			return
		}
		f.see(at, at+p.w)
		if w == 1 {
			continue
		}
		f.see(at, at+1)
		f.see(at, at+p.w+1)
		row, below := f.pit[at+1:][:w-1], f.pit[at+p.w:][:w]
		east, southEast := row[1:], below[2:]
		row, below = row[:len(east)], below[:len(east)+1]
		for x, a := range row[:len(southEast)] {
			if (a^east[x])|(a^below[x])|(a^below[x+1])|(a^southEast[x]) != 0 {
				i := at + 1 + x
				f.see(i, i+1)
				f.see(i, i+p.w-1)
				f.see(i, i+p.w)
				f.see(i, i+p.w+1)
			}
		}
		end := at + w - 1
		f.see(end, end+p.w-1)
		f.see(end, end+p.w)
	}
}

// see notes what two neighbouring cells tell of their watersheds.
func (f *filler) see(i, j int) {
	if a, b := f.pit[i], f.pit[j]; a != b {
		f.pairs.add(^a, ^b, max(f.key[i], f.key[j]))
	}
}

// join works out each label's inner level and terminal, and the links that
// go out.
func (f *filler) join(sum *fillSummary, labels int) {
	f.sets, f.inner, f.term = sized(f.sets, labels), sized(f.inner, labels), sized(f.term, labels)
	for i := range f.sets {
		f.sets[i], f.inner[i], f.term[i] = int32(i), 0, f.label[i]
	}
	f.outer = sized(f.outer, sum.terminals+1)
	for i := range f.outer {
		f.outer[i] = int32(i)
	}
	f.links = f.pairs.sorted(f.links[:0])
	for _, packed := range f.links {
		l := f.pairs.link(packed)
		f.joinLink(sum, find(f.sets, l.a), find(f.sets, l.b), l.level)
	}
	for i := range f.sets {
		root := find(f.sets, int32(i))
		f.inner[i], f.term[i] = f.inner[root], f.term[root]
	}
}

func (f *filler) joinLink(sum *fillSummary, a, b int32, level key) {
	ta, tb := f.term[a], f.term[b]
	switch {
	case a == b:
	case ta == noTerminal && tb == noTerminal:
		f.sets[a] = b
	case ta == noTerminal: // a's pits hang on b's terminal from this level up
		f.term[a], f.inner[a] = tb, level
	case tb == noTerminal:
		f.term[b], f.inner[b] = ta, level
	default:
		if x, y := find(f.outer, int32(ta)), find(f.outer, int32(tb)); x != y {
			f.outer[x] = y
			sum.links = append(sum.links, link{int32(ta), int32(tb), level})
		}
	}
}

// find returns the root of i's set.
func find(sets []int32, i int32) int32 {
	for sets[i] != i {
		sets[i] = sets[sets[i]]
		i = sets[i]
	}
	return i
}

// solveFill gives each terminal of each tile its level; levels[t][0], of what
// drains, is below all heights.
func solveFill(l *lattice, sums []*fillSummary) (levels [][]key) {
	first := make([]int32, len(sums)+1) // number of a tile's terminal 0; 0 for all of them
	for t, s := range sums {
		first[t+1] = first[t] + int32(s.terminals)
	}
	node := func(t int, terminal uint16) int32 {
		if terminal == 0 {
			return 0
		}
		return first[t] + int32(terminal)
	}
	var all pairs
	all.reset()
	for t, s := range sums {
		for _, k := range s.links {
			all.add(node(t, uint16(k.a)), node(t, uint16(k.b)), k.level)
		}
		l.crossings(t, func(a, b, u int) {
			za, zb := s.edge[a-l.first[t]], sums[u].edge[b-l.first[u]]
			na, nb := node(t, s.terminal[a-l.first[t]]), node(u, sums[u].terminal[b-l.first[u]])
			switch {
			case za == missingKey && zb == missingKey:
			case za == missingKey:
				all.add(0, nb, zb)
			case zb == missingKey:
				all.add(na, 0, za)
			default:
				all.add(na, nb, max(za, zb))
			}
		})
	}
	level := all.levels(int(first[len(sums)]) + 1)
	levels = make([][]key, len(sums))
	for t, s := range sums {
		levels[t] = make([]key, s.terminals+1)
		copy(levels[t][1:], level[first[t]+1:])
	}
	return levels
}

// levels returns for each of n nodes the lowest level at which it is joined
// to node 0.
func (p *pairs) levels(n int) []key {
	sets, level, out := make([]int32, n), make([]key, n), make([]bool, n)
	for i := range sets {
		sets[i] = int32(i)
	}
	out[0] = true
	for _, packed := range p.sorted(nil) {
		l := p.link(packed)
		a, b := find(sets, l.a), find(sets, l.b)
		switch {
		case a == b || out[a] && out[b]:
		case out[a]:
			out[b], level[b] = true, l.level
		case out[b]:
			out[a], level[a] = true, l.level
		default:
			sets[a] = b
		}
	}
	for i := range level {
		level[i] = level[find(sets, int32(i))]
	}
	return level
}

// raise sets each key to the level of its label where that is higher.
func raise[L uint16 | int32](keys []key, labels []L, levels []key) {
	labels = labels[:len(keys)]
	for i, k := range keys {
		keys[i] = max(k, levels[labels[i]])
	}
}

// sized returns a slice of n elements, s's memory where it suffices.
func sized[T any](s []T, n int) []T {
	if cap(s) < n {
		return make([]T, n)
	}
	return s[:n]
}
