package crs

import (
	"math"

	"likelyground/raster"
)

// A mesh stands for a field of two smooth components over the cells of a grid.
// The grid plane is cut into blocks of 64 x 64 cells, counted from the grid's
// corner. In a block the field is exact at nodes 32 cells apart and bilinear
// between. Whether that is good enough is measured, not assumed: nodes twice
// as far apart would have to be good enough at the nodes left out. Where they
// are not, the block's nodes are set at 16, 8, 4, 2, 1 cells; where that fails
// too, every point is computed.
//
// All values depend on cell numbers alone, so they are the same whatever
// window is asked for.
const (
	blockBits  = 6
	blockCells = 1 << blockBits
	nodeStep   = blockCells / 2
	exactNodes = blockCells + 1 // nodes along a block's side at a step of 1
)

// field computes what a mesh stands for.
type field interface {
	// at turns grid positions, in cells from the grid's corner, into the
	// field's components in place; both are +Inf where there is none.
	at(u, v []float64)
	// good reports whether an error (du, dv) at a place does no harm.
	good(p slope, du, dv float64) bool
}

// slope is a field near a place: its value and its change a cell.
type slope struct{ u, uc, ur, vc, vr float64 }

// block is the part of a mesh over 64 x 64 cells. Its nodes stand in rows of
// the given stride.
type block struct {
	step   int // cells between nodes; 0: every point is computed
	void   bool
	stride int
	u, v   []float64
	margin [2]float64 // how far a computed point may lie from the nodes at its cell
}

// meshReader holds the blocks of one window at a time.
type meshReader struct {
	f      field
	col    int // of the first block, in blocks
	row    int
	cols   int
	rows   int
	u, v   []float64 // nodes 32 cells apart over all blocks
	blocks []block
	spare  [][]float64 // node storage of finer blocks, for use again
}

func newMeshReader(f field) *meshReader { return &meshReader{f: f} }

// hold makes sure that the blocks of a window are at hand.
func (m *meshReader) hold(w raster.Window) {
	c0, r0 := w.Col>>blockBits, w.Row>>blockBits
	c1, r1 := (w.EndCol()-1)>>blockBits+1, (w.EndRow()-1)>>blockBits+1
	if c0 >= m.col && c1 <= m.col+m.cols && r0 >= m.row && r1 <= m.row+m.rows {
		return
	}
	m.release()
	m.col, m.row, m.cols, m.rows = c0, r0, c1-c0, r1-r0
	stride, n := 2*m.cols+1, (2*m.cols+1)*(2*m.rows+1)
	m.u, m.v = resized(m.u, n), resized(m.v, n)
	placeNodes(m.u, m.v, stride, c0*blockCells, r0*blockCells, nodeStep)
	m.f.at(m.u, m.v)
	for j := range m.rows {
		for i := range m.cols {
			from := 2*j*stride + 2*i
			m.blocks = append(m.blocks, m.settle(block{step: nodeStep, stride: stride, u: m.u[from:], v: m.v[from:]}, c0+i, r0+j))
		}
	}
}

func (m *meshReader) release() {
	for _, b := range m.blocks {
		if b.step != nodeStep {
			m.spare = append(m.spare, b.u, b.v)
		}
	}
	m.blocks = m.blocks[:0]
}

func resized(s []float64, n int) []float64 {
	if cap(s) < n {
		return make([]float64, n)
	}
	return s[:n]
}

func (m *meshReader) storage(n int) []float64 {
	if last := len(m.spare) - 1; last >= 0 {
		s := m.spare[last]
		m.spare = m.spare[:last]
		return s[:n]
	}
	return make([]float64, exactNodes*exactNodes)[:n]
}

// placeNodes fills u and v with grid positions of nodes, row by row.
func placeNodes(u, v []float64, stride, col, row, step int) {
	for i := range u {
		u[i] = float64(col + i%stride*step)
		v[i] = float64(row + i/stride*step)
	}
}

// settle finds the widest step of nodes that is good enough for a block.
func (m *meshReader) settle(b block, col, row int) block {
	if m.fits(&b) {
		return b
	}
	step := nodeStep / 2
	if !b.whole() {
		step = 1
	}
	n := blockCells/step + 1
	fine := block{u: m.storage(n * n), v: m.storage(n * n)}
	for ; step >= 1; step /= 2 {
		n = blockCells/step + 1
		fine.step, fine.stride, fine.u, fine.v = step, n, fine.u[:n*n], fine.v[:n*n]
		placeNodes(fine.u, fine.v, n, col*blockCells, row*blockCells, step)
		m.f.at(fine.u, fine.v)
		if m.fits(&fine) {
			return fine
		}
		if step > 1 && !fine.whole() {
			step = 2
		}
	}
	fine.step = 0
	fine.measure()
	return fine
}

// side returns the number of nodes along a side of the block.
func (b *block) side() int {
	if b.step == 0 {
		return exactNodes
	}
	return blockCells/b.step + 1
}

// whole reports whether all nodes have a value.
func (b *block) whole() bool {
	n := b.side()
	for j := range n {
		for i := range n {
			if !finite(b.u[j*b.stride+i], b.v[j*b.stride+i]) {
				return false
			}
		}
	}
	return true
}

// fits reports whether nodes twice as far apart would be good enough.
func (m *meshReader) fits(b *block) bool {
	if !b.whole() {
		return false
	}
	n := b.side()
	for j := 0; j+2 < n; j += 2 {
		for i := 0; i+2 < n; i += 2 {
			if !m.fitsPart(b, j*b.stride+i) {
				return false
			}
		}
	}
	return true
}

// fitsPart looks at the five nodes that a square of 2 x 2 steps would lose.
func (m *meshReader) fitsPart(b *block, at int) bool {
	a, c, d, e := at, at+2, at+2*b.stride, at+2*b.stride+2
	left, right, top, bottom, middle := at+b.stride, at+b.stride+2, at+1, at+2*b.stride+1, at+b.stride+1
	w := 1 / float64(4*b.step)
	p := slope{
		u:  b.u[middle],
		uc: (b.u[c] - b.u[a] + b.u[e] - b.u[d]) * w, ur: (b.u[d] - b.u[a] + b.u[e] - b.u[c]) * w,
		vc: (b.v[c] - b.v[a] + b.v[e] - b.v[d]) * w, vr: (b.v[d] - b.v[a] + b.v[e] - b.v[c]) * w,
	}
	halfway := func(k, i, j int) bool {
		return m.f.good(p, b.u[k]-(b.u[i]+b.u[j])/2, b.v[k]-(b.v[i]+b.v[j])/2)
	}
	centre := m.f.good(p, b.u[middle]-(b.u[a]+b.u[c]+b.u[d]+b.u[e])/4, b.v[middle]-(b.v[a]+b.v[c]+b.v[d]+b.v[e])/4)
	return centre && halfway(top, a, c) && halfway(bottom, d, e) && halfway(left, a, d) && halfway(right, c, e)
}

// measure finds out, for a block whose points are computed, whether it has any
// value and how far neighbouring nodes lie apart.
func (b *block) measure() {
	b.void = true
	for j := range exactNodes {
		for i := range exactNodes {
			k := j*exactNodes + i
			if !finite(b.u[k], b.v[k]) {
				continue
			}
			b.void = false
			if i > 0 {
				b.widen(k, k-1)
			}
			if j > 0 {
				b.widen(k, k-exactNodes)
			}
		}
	}
}

func (b *block) widen(k, l int) {
	if finite(b.u[l], b.v[l]) {
		b.margin[0] = max(b.margin[0], math.Abs(b.u[k]-b.u[l]))
		b.margin[1] = max(b.margin[1], math.Abs(b.v[k]-b.v[l]))
	}
}

// fill sets outU and outV, each of length cols·k, to the field at the centres
// of the k x k parts of cells: columns col to col+cols, part j of row.
func (m *meshReader) fill(col, cols, row, k, j int, outU, outV []float64) {
	if cols <= 0 {
		return
	}
	m.hold(raster.Window{Col: col, Row: row, Cols: cols, Rows: 1})
	line := m.blocks[(row>>blockBits-m.row)*m.cols:]
	for c := col; c < col+cols; {
		stop := min((c>>blockBits+1)<<blockBits, col+cols)
		b := &line[c>>blockBits-m.col]
		from, to := (c-col)*k, (stop-col)*k
		part := stretch{col: c & (blockCells - 1), cols: stop - c, row: row & (blockCells - 1), k: k, j: j}
		if b.step == 0 {
			m.compute(b, part, c-part.col, row-part.row, outU[from:to], outV[from:to])
		} else {
			b.interpolate(b.u, part, outU[from:to])
			b.interpolate(b.v, part, outV[from:to])
		}
		c = stop
	}
}

// stretch is a run of cells within one block, counted from the block's corner.
type stretch struct{ col, cols, row, k, j int }

// interpolate is bilinear between nodes; what it gives depends on the place in
// the block alone, not on where the stretch begins.
func (b *block) interpolate(nodes []float64, s stretch, out []float64) {
	parts := b.step * s.k
	w := 1 / float64(parts)
	above := s.row / b.step
	t := (float64((s.row-above*b.step)*s.k+s.j) + 0.5) * w
	top := nodes[above*b.stride:]
	bottom := nodes[(above+1)*b.stride:]
	for c := s.col; c < s.col+s.cols; {
		i := c / b.step
		stop := min((i+1)*b.step, s.col+s.cols)
		left := top[i] + float64(t*(bottom[i]-top[i]))
		right := top[i+1] + float64(t*(bottom[i+1]-top[i+1]))
		ramp(out[(c-s.col)*s.k:(stop-s.col)*s.k], left, (right-left)*w, (c-i*b.step)*s.k)
		c = stop
	}
}

// ramp fills out with a straight line, its first value at part n after left.
func ramp(out []float64, left, rise float64, n int) {
	for i := range out {
		out[i] = left + float64((float64(n+i)+0.5)*rise)
	}
}

// compute fills a stretch point by point; (col, row) is the block's corner.
func (m *meshReader) compute(b *block, s stretch, col, row int, outU, outV []float64) {
	if b.void {
		blank(outU, outV)
		return
	}
	w := 1 / float64(s.k)
	y := float64(row+s.row) + float64((float64(s.j)+0.5)*w)
	for i := range outU {
		c := i / s.k
		outU[i] = float64(col+s.col+c) + float64((float64(i-c*s.k)+0.5)*w)
		outV[i] = y
	}
	m.f.at(outU, outV)
	for i := range outU {
		if !b.near(s.col+i/s.k, s.row, outU[i], outV[i]) {
			outU[i], outV[i] = math.NaN(), math.NaN()
		}
	}
}

func blank(u, v []float64) {
	for i := range u {
		u[i], v[i] = math.NaN(), math.NaN()
	}
}

// near reports whether a computed point lies by the nodes of its cell, which
// are all that bounds can look at. A cell whose nodes all fail has no value.
func (b *block) near(col, row int, u, v float64) bool {
	low, high, ok := b.cellRange(col, row)
	return ok && finite(u, v) && u >= low[0]-b.margin[0] && u <= high[0]+b.margin[0] &&
		v >= low[1]-b.margin[1] && v <= high[1]+b.margin[1]
}

func (b *block) cellRange(col, row int) (low, high [2]float64, ok bool) {
	r := newExtent()
	at := row*exactNodes + col
	for _, k := range [4]int{at, at + 1, at + exactNodes, at + exactNodes + 1} {
		r.add(b.u[k], b.v[k])
	}
	return r.low, r.high, !r.empty()
}
