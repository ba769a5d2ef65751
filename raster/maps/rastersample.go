package maps

import (
	"math"

	"likelyground/raster"
)

// Sample looks at n × n small windows spread evenly over the grid and returns
// what it finds there: a quick look for values, codes and numbers that cannot
// be. What it does not find may still be in the map. Nothing is added to what
// [Raster.Judge] counts. n below 1 means 4.
func (r *Raster) Sample(n int) (Findings, error) {
	if n < 1 {
		n = 4
	}
	quick := *r
	quick.tally = newTally(len(r.parts))
	reader := &rasterReader{source: &quick, parts: make([]partReader, len(r.parts))}
	for i, p := range r.parts {
		reader.parts[i].part = p
	}
	defer reader.Close()
	for _, w := range sampleWindows(r.grid, n, r.sampleSide()) {
		t := raster.NewTile(w)
		if r.spec.Classes {
			t = raster.NewClassTile(w)
		}
		if err := reader.Read(t, nil); err != nil {
			return Findings{}, err
		}
	}
	return quick.Judge(), nil
}

// sampleSide is the side of a sample window in grid cells: small enough that
// few source cells are read where these are much smaller.
func (r *Raster) sampleSide() int {
	most := 1.0
	for _, p := range r.parts {
		most = max(most, p.ratio)
	}
	return max(1, int(math.Round(64/most)))
}

// sampleWindows spreads n × n windows evenly over the grid.
func sampleWindows(g raster.Grid, n, side int) []raster.Window {
	var out []raster.Window
	for j := range n {
		for i := range n {
			col := int(float64(g.Cols) * (float64(i) + 0.5) / float64(n))
			row := int(float64(g.Rows) * (float64(j) + 0.5) / float64(n))
			w := raster.Window{Col: col - side/2, Row: row - side/2, Cols: side, Rows: side}.Clip(g.Window())
			if !w.Empty() {
				out = append(out, w)
			}
		}
	}
	return out
}
