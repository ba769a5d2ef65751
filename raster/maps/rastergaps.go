package maps

import "likelyground/raster"

// fillAbsent gives cells whose centre no file of any part covers the value of
// such ground.
func (r *rasterReader) fillAbsent(dst raster.Tile) error {
	v, _ := r.source.absent()
	if !r.wanting(dst, nil) {
		return nil
	}
	if err := r.uncoverAll(dst.Window); err != nil {
		return err
	}
	for i, gap := range r.want {
		if !gap {
			continue
		}
		if dst.Codes != nil {
			dst.Codes[i] = int32(v)
		} else {
			dst.Values[i] = float32(v)
		}
	}
	return nil
}

// countGaps counts, in a map of many files, the needed cells of the grid that
// are missing because no file covers their centre. What neighbourhoods lack
// beyond the grid is no gap: maps end somewhere.
func (r *rasterReader) countGaps(dst raster.Tile, need []bool) error {
	within := dst.Clip(r.source.grid.Window())
	if _, ok := r.source.absent(); ok || len(r.source.spec.Files) < 2 || within.Empty() || !r.wanting(dst, need) {
		return nil
	}
	if err := r.uncoverAll(dst.Window); err != nil {
		return err
	}
	for row := within.Row; row < within.EndRow(); row++ {
		for _, gap := range r.want[dst.Index(within.Col, row):][:within.Cols] {
			if gap {
				r.counts.gaps++
			}
		}
	}
	return nil
}

// uncoverAll strikes from r.want the cells whose centre lies in a file of any
// part.
func (r *rasterReader) uncoverAll(w raster.Window) error {
	for i := range r.parts {
		if err := r.parts[i].ready(); err != nil {
			return err
		}
		if r.parts[i].touches(w) {
			r.uncover(&r.parts[i], w)
		}
	}
	return nil
}

// uncover strikes from r.want the cells whose centre lies in a file.
func (r *rasterReader) uncover(p *partReader, w raster.Window) {
	for row := w.Row; row < w.EndRow(); row++ {
		r.position(p, w, row, 1, 0)
		want := r.want[(row-w.Row)*w.Cols:][:w.Cols]
		for i := range want {
			if want[i] && p.part.covers(r.cols[i], r.rows[i]) {
				want[i] = false
			}
		}
	}
}

// covers tells whether a position lies in one of the part's files. Positions
// that cannot be known count as covered: nothing is said about them.
func (p *part) covers(col, row float64) bool {
	if col != col || row != row {
		return true
	}
	e := p.extent
	if col < float64(e.Col)-1 || row < float64(e.Row)-1 || col > float64(e.EndCol()) || row > float64(e.EndRow()) {
		return false
	}
	return p.fileAt(raster.CellAt(col), raster.CellAt(row)) != nil
}
