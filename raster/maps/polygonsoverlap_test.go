package maps

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"likelyground/raster"
	"likelyground/vector"
)

// TestOverlap counts, cell by cell, where a polygon lies over another one of
// another class, whatever the tile, and only where cells are needed.
func TestOverlap(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 11))
	const side = 150
	var features []drawn
	var boxes [][4]int
	var classes []int
	for range 60 {
		w, s := rng.IntN(side-1), rng.IntN(side-1)
		e, n := w+1+rng.IntN(min(80, side-w)), s+1+rng.IntN(min(80, side-s))
		class := rng.IntN(3)
		text := fmt.Sprintf(`"c%d"`, class)
		if class == 2 {
			text = "null"
		}
		features = append(features, drawn{[]vector.Polygon{{boxRing(float64(w), float64(s), float64(e), float64(n))}}, text})
		boxes, classes = append(boxes, [4]int{w, s, e, n}), append(classes, class)
	}
	p := openDrawn(t, PolygonSpec{File: drawnMap(t, features), CRS: "EPSG:25831"}, plainGrid(side, side))
	needed := func(col, row int) bool { return (col+2*row)%5 != 0 }
	var want, all, covered int64
	for row := range side {
		for col := range side {
			hidden, top := false, -1
			for i, b := range boxes {
				if north := side - row; col >= b[0] && col < b[2] && north > b[1] && north <= b[3] {
					hidden = hidden || top >= 0 && classes[i] != top
					top = classes[i]
				}
			}
			if top >= 0 {
				covered++
			}
			if hidden {
				all++
				if needed(col, row) {
					want++
				}
			}
		}
	}
	for _, tile := range []int{7, 64, 100, side} {
		p.tally = polygonTally{}
		r, err := p.Reader()
		must(t, err)
		for row := 0; row < side; row += tile {
			for col := 0; col < side; col += tile {
				dst := raster.NewClassTile(raster.Window{Col: col, Row: row, Cols: tile, Rows: tile}.Clip(p.grid.Window()))
				var need []bool
				for y := dst.Row; y < dst.EndRow(); y++ {
					for x := dst.Col; x < dst.EndCol(); x++ {
						need = append(need, needed(x, y))
					}
				}
				must(t, r.Read(dst, need))
			}
		}
		must(t, r.Close())
		if got := p.Judge().Hidden; got != want || want == 0 {
			t.Errorf("tiles of %d: %d cells, want %d", tile, got, want)
		}
	}
	small := openDrawn(t, PolygonSpec{File: drawnMap(t, features), CRS: "EPSG:25831"}, p.grid)
	seen, hidden, err := small.Overlap()
	must(t, err)
	if share, is := float64(hidden)/float64(seen), float64(all)/float64(covered); share < is*0.8 || share > is*1.25 || small.Judge().Missing != 0 {
		t.Errorf("the sample tells %g, the whole is %g", share, is)
	}
}
