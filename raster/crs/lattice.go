package crs

import (
	"math"

	"likelyground/raster"
)

// Affine places the cells of a map in its CRS, in GDAL's order: x = a[0] +
// col·a[1] + row·a[2], y = a[3] + col·a[4] + row·a[5], where col 0, row 0 is
// the outer corner of the first cell. It may be rotated or south-up.
type Affine [6]float64

// Cell returns the position, in cells, of a place in the map's CRS: the
// inverse of the affine.
func (a Affine) Cell(x, y float64) (col, row float64) {
	dx, dy := x-a[0], y-a[3]
	if a[2] == 0 && a[4] == 0 {
		return dx / a[1], dy / a[5]
	}
	det := a.det()
	return (float64(dx*a[5]) - float64(dy*a[2])) / det, (float64(dy*a[1]) - float64(dx*a[4])) / det
}

// Place returns the place in the map's CRS of a position in cells.
func (a Affine) Place(col, row float64) (x, y float64) {
	return a[0] + float64(col*a[1]) + float64(row*a[2]), a[3] + float64(col*a[4]) + float64(row*a[5])
}

func (a Affine) det() float64 { return float64(a[1]*a[5]) - float64(a[2]*a[4]) }

func (a Affine) check() error {
	for _, v := range a {
		if !finite(v, 0) {
			return refuse("set the map's geotransform", "the map's cells have no place: %v", [6]float64(a))
		}
	}
	if det := a.det(); det == 0 || !finite(det, 0) {
		return refuse("set the map's geotransform", "the map's cells have no area: %v", [6]float64(a))
	}
	return nil
}

// positionError is the largest error of a lattice, in grid cells.
const positionError = 1e-3

// Lattice tells for every cell of a grid where it lies in a map: the position
// in the map's cells, (0, 0) being the outer corner of its first cell. The
// error is at most 1/1000 of a grid cell, measured block by block; see mesh.
// Where grid and map share the CRS nothing is interpolated. A Lattice is plain
// data and may serve any number of readers.
type Lattice struct {
	grid   raster.Grid
	op     Operation
	source Affine
}

// NewLattice returns the lattice of a grid over a map whose cells are placed
// by source in the CRS that toSource leads to. An affine without inverse is a
// [Refusal].
func NewLattice(g raster.Grid, toSource Operation, source Affine) (*Lattice, error) {
	if err := source.check(); err != nil {
		return nil, err
	}
	return &Lattice{grid: g, op: toSource, source: source}, nil
}

// Reader returns a reader of the lattice for one worker, which closes it.
func (l *Lattice) Reader() (*LatticeReader, error) {
	if l.op.Identity {
		return &LatticeReader{direct: newDirect(l.grid, l.source)}, nil
	}
	t, err := l.op.Open()
	if err != nil {
		return nil, err
	}
	return &LatticeReader{t: t, m: newMeshReader(&positions{l: l, t: t})}, nil
}

// positions is the field of a lattice.
type positions struct {
	l *Lattice
	t *Transformer
}

func (p *positions) at(u, v []float64) {
	g, source := p.l.grid, p.l.source
	for i := range u {
		u[i], v[i] = g.X0+float64(u[i]*g.DX), g.Y0-float64(v[i]*g.DY)
	}
	p.t.Forward(u, v)
	for i := range u {
		if finite(u[i], v[i]) {
			u[i], v[i] = source.Cell(u[i], v[i])
		}
	}
}

func (p *positions) good(s slope, du, dv float64) bool {
	det := float64(s.uc*s.vr) - float64(s.ur*s.vc)
	dc := (float64(du*s.vr) - float64(dv*s.ur)) / det
	dr := (float64(dv*s.uc) - float64(du*s.vc)) / det
	return math.Abs(dc) <= positionError && math.Abs(dr) <= positionError && math.Hypot(dc, dr) <= positionError
}

// LatticeReader reads a [Lattice]. It keeps the nodes of one window at a time:
// rows asked in order within the window last given to SourceWindow cost
// nothing but the interpolation. It is not for two goroutines.
type LatticeReader struct {
	direct *direct
	m      *meshReader
	t      *Transformer
}

// Close frees what the reader holds.
func (r *LatticeReader) Close() {
	if r.t != nil {
		r.t.Close()
	}
}

// Row fills outCol and outRow with positions in the map's cells: for each of
// the cells col to col+cols of a grid row, the centres of the k parts along
// part row j, 0 <= j < k. Both get cols·k values, NaN where the place cannot
// be known. The cells may lie beyond the grid.
func (r *LatticeReader) Row(col, cols, row, k, j int, outCol, outRow []float64) {
	if r.direct != nil {
		r.direct.fill(col, cols, row, k, j, outCol, outRow)
		return
	}
	r.m.fill(col, cols, row, k, j, outCol[:cols*k], outRow[:cols*k])
}

// SourceWindow returns the range, in the map's cells, of all positions that
// Row gives within a window, its rim included. ok is false when there are
// none. It also readies the reader for the window's rows.
func (r *LatticeReader) SourceWindow(w raster.Window) (minCol, minRow, maxCol, maxRow float64, ok bool) {
	var e extent
	if r.direct != nil {
		e = r.direct.extentOf(w)
	} else {
		e = r.m.extentOf(w)
	}
	if e.empty() {
		return 0, 0, 0, 0, false
	}
	return e.low[0] - raster.Snap, e.low[1] - raster.Snap, e.high[0] + raster.Snap, e.high[1] + raster.Snap, true
}

// direct is the lattice of a map in the grid's own CRS: an affine.
type direct struct {
	col, row axis
}

// axis gives one source coordinate: offset + c·col + r·row.
type axis struct{ offset, c, r float64 }

func newDirect(g raster.Grid, source Affine) *direct {
	at := func(x, y float64) [2]float64 { c, r := source.Cell(x, y); return [2]float64{c, r} }
	corner := at(g.X0, g.Y0)
	flat := source
	flat[0], flat[3] = 0, 0
	stepC, stepR := [2]float64{}, [2]float64{}
	stepC[0], stepC[1] = flat.Cell(g.DX, 0)
	stepR[0], stepR[1] = flat.Cell(0, -g.DY)
	reach := float64(max(g.Cols, g.Rows, 1))
	return &direct{
		col: axis{corner[0], stepC[0], stepR[0]}.snapped(reach),
		row: axis{corner[1], stepC[1], stepR[1]}.snapped(reach),
	}
}

// snapped rids the axis of rounding noise: steps that are whole to within
// raster.Snap over the whole grid, and an offset whole to within raster.Snap,
// become whole, so that cells of one lattice meet cell on cell.
func (a axis) snapped(reach float64) axis {
	return axis{nearWhole(a.offset, raster.Snap), nearWhole(a.c, raster.Snap/reach), nearWhole(a.r, raster.Snap/reach)}
}

func nearWhole(v, tolerance float64) float64 {
	if w := math.Round(v); math.Abs(v-w) <= tolerance {
		return w
	}
	return v
}

func (a axis) at(col, row float64) float64 {
	return a.offset + float64(row*a.r) + float64(col*a.c)
}

func (a axis) fill(col, cols, row, k, j int, out []float64) {
	out = out[:cols*k]
	w := 1 / float64(k)
	base := a.offset + float64((float64(row)+float64((float64(j)+0.5)*w))*a.r)
	if k == 1 {
		for i := range out {
			out[i] = base + float64((float64(col+i)+0.5)*a.c)
		}
		return
	}
	for i := range out {
		out[i] = base + float64((float64(col*k+i)+0.5)*w*a.c)
	}
}

func (d *direct) fill(col, cols, row, k, j int, outCol, outRow []float64) {
	d.col.fill(col, cols, row, k, j, outCol)
	d.row.fill(col, cols, row, k, j, outRow)
}

func (d *direct) extentOf(w raster.Window) extent {
	e := newExtent()
	if w.Empty() {
		return e
	}
	for _, c := range [2]int{w.Col, w.EndCol()} {
		for _, r := range [2]int{w.Row, w.EndRow()} {
			e.add(d.col.at(float64(c), float64(r)), d.row.at(float64(c), float64(r)))
		}
	}
	return e
}
