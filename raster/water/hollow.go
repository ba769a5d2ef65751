package water

import (
	"context"

	"likelyground/raster"
)

// Hollows. Cells that filling raised and that touch, over sides or corners,
// are one hollow; they all stand at one level, since a lower one would let the
// others out. Each tile finds its own; hollows at tile borders are joined and
// their cells counted together.

const hollowLayer = "hollow area"

// hollows finds the hollows of a tile for one worker.
type hollows struct {
	ground []key
	filled []key
	label  []int32 // padded: 0 outside hollows
	cells  []int64 // of each label; 0 counts nothing
	border []int32 // label to its number among those at the border, 0 for none
	stack  []int32
	area   []float32
}

// Hollows works out how large each hollow is.
func (w *Water) Hollows(ctx context.Context) error {
	return w.once(hollowLayer, func() error {
		if err := w.makeLayer(hollowLayer, 4); err != nil {
			return err
		}
		s := hollowSummary{edge: make([]int32, w.lattice.edges()), cells: make([][]int64, w.lattice.tiles())}
		err := w.each(ctx, "Finding hollows", func(k *worker, t int) error {
			if err := k.findHollows(t); err != nil {
				return err
			}
			s.cells[t] = k.hollows.atBorder(k.w.lattice, t, s.edge)
			return nil
		})
		if err != nil {
			return err
		}
		s.solve(w.lattice)
		return w.each(ctx, "Measuring hollows", func(k *worker, t int) error { return k.finishHollows(t, &s) })
	})
}

// hollowSummary is what is known of the hollows at tile borders.
type hollowSummary struct {
	edge  []int32   // of each edge cell: number among the tile's border hollows, 0 for none
	cells [][]int64 // of each tile's border hollows, from number 1
}

// find labels the hollows of a tile.
func (h *hollows) find(p padded) {
	h.label = sized(h.label, p.len())
	clear(h.label)
	const raised = -1
	n := 0
	for y := range p.h - 2 {
		for i := p.at(0, y); i < p.at(p.w-2, y); i++ {
			if h.filled[n] > h.ground[n] {
				h.label[i] = raised
			}
			n++
		}
	}
	h.cells = append(h.cells[:0], 0)
	steps := p.steps()
	for i, label := range h.label {
		if label != raised {
			continue
		}
		number, cells := int32(len(h.cells)), int64(0)
		h.label[i] = number
		h.stack = append(h.stack[:0], int32(i))
		for len(h.stack) > 0 {
			at := int(h.stack[len(h.stack)-1])
			h.stack = h.stack[:len(h.stack)-1]
			cells++
			for _, k := range steps {
				if h.label[at+k] == raised {
					h.label[at+k] = number
					h.stack = append(h.stack, int32(at+k))
				}
			}
		}
		h.cells = append(h.cells, cells)
	}
}

// atBorder numbers the hollows at the tile's border, and returns their cells.
func (h *hollows) atBorder(l *lattice, t int, edge []int32) []int64 {
	h.border = sized(h.border, len(h.cells))
	clear(h.border)
	w := l.window(t)
	e, p := edgeOf(w), pad(w)
	cells := []int64{0}
	for i := range e.len() {
		label := h.label[p.at(e.cell(i))]
		if label != 0 && h.border[label] == 0 {
			h.border[label] = int32(len(cells))
			cells = append(cells, h.cells[label])
		}
		edge[l.first[t]+i] = h.border[label]
	}
	return cells
}

// solve sets the cells of each border hollow to those of the whole hollow.
func (s *hollowSummary) solve(l *lattice) {
	first := make([]int32, len(s.cells)+1)
	for t, c := range s.cells {
		first[t+1] = first[t] + int32(len(c))
	}
	sets, total := make([]int32, first[len(s.cells)]), make([]int64, first[len(s.cells)])
	for i := range sets {
		sets[i] = int32(i)
	}
	for t := range s.cells {
		l.crossings(t, func(a, b, u int) {
			if s.edge[a] != 0 && s.edge[b] != 0 {
				sets[find(sets, first[t]+s.edge[a])] = find(sets, first[u]+s.edge[b])
			}
		})
	}
	for t, c := range s.cells {
		for n, cells := range c {
			total[find(sets, first[t]+int32(n))] += cells
		}
	}
	for t, c := range s.cells {
		for n := range c {
			c[n] = total[find(sets, first[t]+int32(n))]
		}
	}
}

// findHollows labels the hollows of a tile from the store.
func (k *worker) findHollows(t int) error {
	h, w := &k.hollows, k.w.lattice.window(t)
	h.ground, h.filled = sized(h.ground, w.Size()), sized(h.filled, w.Size())
	if err := k.w.store.Read(groundLayer, t, 0, bytesOf(h.ground)); err != nil {
		return err
	}
	if err := k.w.store.Read(filledLayer, t, 0, bytesOf(h.filled)); err != nil {
		return err
	}
	h.find(pad(w))
	return nil
}

func (k *worker) finishHollows(t int, s *hollowSummary) error {
	if err := k.findHollows(t); err != nil {
		return err
	}
	h, l := &k.hollows, k.w.lattice
	w := l.window(t)
	p, e := pad(w), edgeOf(w)
	for i := range e.len() {
		if n := s.edge[l.first[t]+i]; n != 0 {
			h.cells[h.label[p.at(e.cell(i))]] = s.cells[t][n]
		}
	}
	h.area = sized(h.area, w.Size())
	n := 0
	for y := range p.h - 2 {
		for _, label := range h.label[p.at(0, y):p.at(p.w-2, y)] {
			h.area[n] = float32(float64(h.cells[label]) * k.w.cellArea())
			if h.ground[n] == missingKey {
				h.area[n] = raster.Missing
			}
			n++
		}
	}
	return k.w.store.Write(hollowLayer, t, bytesOf(h.area))
}
