package ellerdown

import (
	"context"
	"fmt"
	"math"

	"likelyground/raster"
	"likelyground/vector/gpkg"
)

// rockMap is the geology by squares, before its borders are smoothed.
type rockMap struct {
	raster.Grid
	rocks []Rock
}

func (m *rockMap) at(col, row int) Rock {
	if col < 0 || row < 0 || col >= m.Cols || row >= m.Rows {
		return NoRock
	}
	return m.rocks[row*m.Cols+col]
}

// writeGeology writes the geological map: polygons that share their borders,
// blank in places.
func writeGeology(ctx context.Context, path string, country box) error {
	m, err := surveyRock(ctx, country.grow(rimWidth))
	if err != nil {
		return fmt.Errorf("draw %s: %w", path, err)
	}
	m.mergeSpecks()
	m.partDiagonals()
	layer := gpkg.Layer{Name: "geology", CRS: m.CRS, Fields: []gpkg.Field{{Name: "rock", Kind: gpkg.Text}}}
	for _, p := range m.trace() {
		layer.Features = append(layer.Features, gpkg.Feature{
			Polygons: [][]gpkg.Ring{p.rings}, Values: []any{p.rock.String()},
		})
	}
	return gpkg.Write(path, []gpkg.Layer{layer})
}

// squareSide is the side of the squares in which rock is looked for, metres:
// 50 for a small country, more for a large one, so that no more than about a
// thousand lie along a side.
func squareSide(country box) float64 {
	longest := max(country.east-country.west, country.north-country.south)
	return max(50, 10*math.Ceil(longest/10_000))
}

func surveyRock(ctx context.Context, country box) (*rockMap, error) {
	at, err := place(country, "EPSG:3034", squareSide(country))
	if err != nil {
		return nil, err
	}
	r, err := at.lattice.Reader()
	if err != nil {
		return nil, err
	}
	defer r.Close()
	m := &rockMap{Grid: at.grid, rocks: make([]Rock, at.grid.Cells())}
	x, y := make([]float64, m.Cols), make([]float64, m.Cols)
	for row := range m.Rows {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		r.Row(0, m.Cols, row, 1, 0, x, y)
		for i := range x {
			if country.holds(x[i], y[i]) && gapRock.at(x[i], y[i]) < 0.66 {
				m.rocks[row*m.Cols+i] = surveyed(x[i], y[i])
			}
		}
	}
	return m, nil
}

// surveyed is the rock a geologist would map at a place.
func surveyed(x, y float64) Rock {
	s := spot{relief: reliefAt(x, y)}
	s.settleLake(x, y)
	return s.rockAt(x, y)
}

// speck is the least number of squares of one rock that is drawn.
const speck = 8

// mergeSpecks gives patches too small to draw to the rock west of them, or
// north, where that is not blank.
func (m *rockMap) mergeSpecks() {
	seen := make([]bool, len(m.rocks))
	var patch []int
	for k := range m.rocks {
		if seen[k] {
			continue
		}
		patch = m.patch(k, seen, patch[:0])
		if len(patch) >= speck {
			continue
		}
		to := m.at(k%m.Cols-1, k/m.Cols)
		if to == NoRock {
			to = m.at(k%m.Cols, k/m.Cols-1)
		}
		for _, c := range patch {
			m.rocks[c] = to
		}
	}
}

// patch returns the squares of one rock that hang together by sides with k,
// and marks them as seen.
func (m *rockMap) patch(k int, seen []bool, patch []int) []int {
	rock := m.rocks[k]
	seen[k] = true
	patch = append(patch, k)
	for next := 0; next < len(patch); next++ {
		col, row := patch[next]%m.Cols, patch[next]/m.Cols
		for _, d := range [4][2]int{{1, 0}, {0, 1}, {-1, 0}, {0, -1}} {
			c, r := col+d[0], row+d[1]
			if c < 0 || r < 0 || c >= m.Cols || r >= m.Rows {
				continue
			}
			if n := r*m.Cols + c; !seen[n] && m.rocks[n] == rock {
				seen[n] = true
				patch = append(patch, n)
			}
		}
	}
	return patch
}

// partDiagonals takes away the places where two squares of a rock touch by a
// corner alone: a polygon's ring would pass there twice.
func (m *rockMap) partDiagonals() {
	for changed := true; changed; {
		changed = false
		for row := range m.Rows - 1 {
			for col := range m.Cols - 1 {
				changed = m.partDiagonal(row*m.Cols+col) || changed
			}
		}
	}
}

// partDiagonal looks at four squares. It fills towards the lower rock, so
// that going over the map again and again comes to an end.
func (m *rockMap) partDiagonal(k int) bool {
	nw, ne, sw, se := &m.rocks[k], &m.rocks[k+1], &m.rocks[k+m.Cols], &m.rocks[k+m.Cols+1]
	switch {
	case *nw == *se && *ne != *nw && *sw != *nw:
		join(nw, se, ne, sw)
	case *ne == *sw && *nw != *ne && *se != *ne:
		join(ne, sw, nw, se)
	default:
		return false
	}
	return true
}

// join makes the pair a, b and the squares c, d between them meet by sides:
// the greater rock of the four gives way to the lesser.
func join(a, b, c, d *Rock) {
	if *a < max(*c, *d) {
		if *c > *d {
			*c = *a
		} else {
			*d = *a
		}
		return
	}
	*b = min(*c, *d)
}
