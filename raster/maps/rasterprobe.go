package maps

import (
	"errors"
	"math"

	"likelyground/raster"
)

// How a cell of the grid got its value from a file's cells.
const (
	Copied    = "copied"    // the cells coincide
	Between   = "between"   // a quantity between the centres of the cells around it
	Holding   = "holding"   // a class from the cell that holds the grid cell's centre
	MeanOf    = "mean"      // a quantity from points all over the grid cell
	MostOf    = "most"      // a class from points all over the grid cell
	Uncovered = "uncovered" // no file covers the centre
)

// SourceCell is the cell of a raster file that holds the centre of a cell of
// the grid.
type SourceCell struct {
	How           string  // Copied, Between, …
	File          string  // "" where Uncovered
	Band          int     // from 1
	Col, Row      int     // in the file, from 0
	Number        float64 // as the file has it, before scale
	Missing       bool    // the number, or a mask, says that nothing is known
	Width, Height float64 // of the cell in metres, as measured at the middle of the overlap
	Points        int     // k of the k × k points of MeanOf and MostOf; else 1
	Cells         int     // different source cells that took part, this one included
	Files         int     // files that cover the centre
}

// Probe tells where a cell of the grid has its value from: the first file
// that knows the cell, or failing that the first one that covers its centre.
// It judges and counts nothing. The error is one of reading.
func (r *Raster) Probe(col, row int) (out SourceCell, err error) {
	opened, err := r.Reader()
	if err != nil {
		return SourceCell{}, err
	}
	defer func() { err = errors.Join(err, opened.Close()) }()
	reader := opened.(*rasterReader)
	out = SourceCell{How: Uncovered, Number: math.NaN()}
	known := false
	for i := range reader.parts {
		p := &reader.parts[i]
		if err := p.ready(); err != nil {
			return out, err
		}
		at, covered, err := reader.sourceCell(p, col, row)
		if err != nil {
			return out, err
		}
		if !covered {
			continue
		}
		at.Files += out.Files
		says, err := reader.knows(p, col, row)
		if err != nil {
			return out, err
		}
		if out.How == Uncovered || says && !known {
			out = at
		}
		out.Files, known = at.Files, known || says
	}
	return out, nil
}

// one is the window of a single cell.
func one(col, row int) raster.Window { return raster.Window{Col: col, Row: row, Cols: 1, Rows: 1} }

// knows reports whether a part has a value for a cell of the grid.
func (r *rasterReader) knows(p *partReader, col, row int) (bool, error) {
	t := raster.NewTile(one(col, row))
	if r.source.spec.Classes {
		t = raster.NewClassTile(one(col, row))
	}
	t.FillMissing()
	if !p.touches(t.Window) {
		return false, nil
	}
	if err := r.align(p, t, t.Window, []bool{false}); err != nil {
		return false, err
	}
	if t.Codes != nil {
		return t.Codes[0] != raster.MissingCode, nil
	}
	return t.Values[0] == t.Values[0], nil
}

// sourceCell finds the cell of a part that holds the centre of a grid cell,
// and whether there is one.
func (r *rasterReader) sourceCell(p *partReader, col, row int) (SourceCell, bool, error) {
	c, y, ok := r.centre(p, col, row)
	if !ok {
		return SourceCell{}, false, nil
	}
	f := p.part.fileAt(c, y)
	if f == nil {
		return SourceCell{}, false, nil
	}
	out := SourceCell{
		How: p.part.how(r.source.spec.Classes), File: f.path, Band: f.band + 1, Col: c - f.at.Col, Row: y - f.at.Row,
		Width: p.part.width, Height: p.part.height, Points: p.part.points, Cells: r.cellsUsed(p, col, row),
	}
	for _, tile := range p.part.tiles {
		if tile.at.Holds(one(c, y)) {
			out.Files++
		}
	}
	if err := r.fetch(f, one(c, y)); err != nil {
		return out, true, r.source.readFailure(f, err)
	}
	out.Number, out.Missing = r.fetched(f)
	return out, true, nil
}

// centre returns the part's cell that holds the centre of a grid cell.
func (r *rasterReader) centre(p *partReader, col, row int) (c, y int, ok bool) {
	if s := p.part.shift; s != nil {
		return col + s[0], row + s[1], true
	}
	if !p.touches(one(col, row)) {
		return 0, 0, false
	}
	r.position(p, one(col, row), row, 1, 0)
	if r.cols[0] != r.cols[0] || r.rows[0] != r.rows[0] {
		return 0, 0, false
	}
	return raster.CellAt(r.cols[0]), raster.CellAt(r.rows[0]), true
}

// how names the way a part's cells come onto the grid.
func (p *part) how(classes bool) string {
	switch {
	case p.shift != nil:
		return Copied
	case p.refined() && classes:
		return Holding
	case p.refined():
		return Between
	case classes:
		return MostOf
	}
	return MeanOf
}

// cellsUsed counts the different cells of a part that a grid cell draws on,
// as far as they lie in the part.
func (r *rasterReader) cellsUsed(p *partReader, col, row int) int {
	used := map[[2]int]bool{}
	add := func(c, y int) {
		if p.part.extent.Holds(one(c, y)) {
			used[[2]int{c, y}] = true
		}
	}
	w := one(col, row)
	how := p.part.how(r.source.spec.Classes)
	switch how {
	case Copied, Holding:
		return 1
	case Between:
		r.position(p, w, row, 1, 0)
		c, x := between(r.cols[0])
		y, z := between(r.rows[0])
		for _, corner := range [4]struct {
			c, y  int
			takes bool
		}{{c, y, true}, {c + 1, y, x > 0}, {c, y + 1, z > 0}, {c + 1, y + 1, x > 0 && z > 0}} {
			if corner.takes {
				add(corner.c, corner.y)
			}
		}
		return len(used)
	}
	for j := range p.part.points {
		r.position(p, w, row, p.part.points, j)
		for i := range r.cols {
			if r.cols[i] == r.cols[i] {
				add(raster.CellAt(r.cols[i]), raster.CellAt(r.rows[i]))
			}
		}
	}
	return len(used)
}

// fetched returns the number of the one cell that was fetched, and whether it
// means that nothing is known.
func (r *rasterReader) fetched(f *rasterFile) (number float64, missing bool) {
	switch f.form {
	case asFloat32:
		number = float64(r.raw.f32[0])
	case asFloat64:
		number = r.raw.f64[0]
	default:
		number = float64(r.raw.i32[0])
	}
	if f.signed {
		number = signedByte(number)
	}
	masked := f.masked && r.raw.mask[0] == 0
	v := f.physical(number)
	return number, masked || f.isMissing(number) || !r.source.spec.Classes && (!r.source.rules.within(v) || math.IsInf(v, 0))
}
