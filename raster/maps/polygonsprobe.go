package maps

import (
	"likelyground/raster"
)

// SourcePolygon is the polygon that gives a cell of the grid its class or
// number.
type SourcePolygon struct {
	Found   bool    // false where no polygon covers the cell
	Missing bool    // the polygon's class or number is missing
	Beneath int     // other polygons that cover the cell, covered by this one
	Cells   int64   // cells of the grid's lattice that the polygon covers
	Cut     bool    // the polygon goes on beyond the ground that is kept: Cells is too small
	West    float64 // edges of the box around these cells, in the grid's CRS
	South   float64
	East    float64
	North   float64
}

// Probe tells which polygon a cell of the grid has its value from. It judges
// and counts nothing. The error is one of reading the scratch file.
func (p *Polygons) Probe(col, row int) (SourcePolygon, error) {
	top, covering := int32(-1), 0
	var buf []byte
	for _, id := range p.tree.search(nil, one(col, row)) {
		covers, err := p.covers(&buf, &p.runs.parts[id], col, row)
		if err != nil {
			return SourcePolygon{}, p.spec.about(err)
		}
		if covers {
			top = id
			covering++
		}
	}
	if top < 0 {
		return SourcePolygon{}, nil
	}
	part := &p.runs.parts[top]
	out := SourcePolygon{Found: true, Beneath: covering - 1}
	out.Missing = part.code == raster.MissingCode || p.numbers != nil && p.numbers.values[part.code] != p.numbers.values[part.code]
	out.West, out.North = p.grid.Position(float64(part.col0), float64(part.row0))
	out.East, out.South = p.grid.Position(float64(part.col1), float64(part.row1))
	s := p.served
	out.Cut = int(part.col0) <= s.Col || int(part.row0) <= s.Row || int(part.col1) >= s.EndCol() || int(part.row1) >= s.EndRow()
	var err error
	if out.Cells, err = p.covered(part); err != nil {
		return out, p.spec.about(err)
	}
	return out, nil
}

// covers tells whether a polygon holds the centre of a cell.
func (p *Polygons) covers(buf *[]byte, part *runPart, col, row int) (bool, error) {
	rec, used, err := p.runs.read(*buf, part, row, row+1)
	*buf = used
	if err != nil {
		return false, err
	}
	from, to := rec.row(row)
	cols := rec.cols[4*from : 4*to]
	n := len(cols) / 4
	i := firstRun(cols, n, col)
	return i < n && int32At(cols, i) <= col, nil
}

// covered counts the cells of a polygon.
func (p *Polygons) covered(part *runPart) (int64, error) {
	var cells int64
	var buf []byte
	for row := int(part.row0); row < int(part.row1); row++ {
		rec, used, err := p.runs.read(buf, part, row, row+1)
		if err != nil {
			return 0, err
		}
		buf = used
		from, to := rec.row(row)
		for i := from; i < to; i += 2 {
			cells += int64(int32At(rec.cols, i+1) - int32At(rec.cols, i))
		}
	}
	return cells, nil
}
