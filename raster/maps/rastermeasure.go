package maps

import (
	"math"
	"slices"

	"likelyground/raster/crs"
)

// measure finds where part and grid overlap and how large the source cells
// are there; without overlap, how large they are nearest to it.
func (a *assembly) measure(p *part, way *path) (overlaps bool, err error) {
	seen := a.gridInSource(p, way)
	west, north, east, south, ok := seen.box()
	left, top := float64(p.extent.Col), float64(p.extent.Row)
	right, bottom := float64(p.extent.EndCol()), float64(p.extent.EndRow())
	if !ok {
		west, north, east, south = left, top, right, bottom
	}
	w, n, e, s := max(west, left), max(north, top), min(east, right), min(south, bottom)
	overlaps = ok && w < e && n < s
	col := min(max((w+e)/2, left), right)
	row := min(max((n+s)/2, top), bottom)
	side := a.cellSide(p, way, col, row)
	if overlaps && (a.astray(p, way, col, row) || !measured(side)) {
		for _, at := range seen.inside(left, top, right, bottom) {
			if v := a.cellSide(p, way, at[0], at[1]); measured(v) {
				col, row, side = at[0], at[1], v
				break
			}
		}
	}
	if !measured(side) {
		if overlaps {
			return false, a.about(p.tiles[0], "its cells cannot be measured in the grid's coordinate reference system", "use a grid that lies inside the area its system is made for", &crs.Refusal{What: "no position comes back from the transformation"})
		}
		side = math.Sqrt(a.grid.DX * a.grid.DY)
	}
	p.ratio = math.Round(math.Sqrt(a.grid.DX*a.grid.DY)/side*1000) / 1000
	p.points = 1
	if p.ratio > 1 {
		p.points = int(math.Ceil(2 * p.ratio))
	}
	p.width, p.height = a.cellSize(p, way, col, row)
	return overlaps, nil
}

// measured tells whether a cell has a size: a cell across an interruption of
// the map's projection has none.
func measured(side float64) bool { return side > 0 && !math.IsInf(side, 0) }

// seenGrid is where points all over the grid lie in a map, in source cells;
// infinite where they have no place there.
type seenGrid struct{ cols, rows []float64 }

// seenSteps is how many steps are made along each side of the grid.
const seenSteps = 32

func (a *assembly) gridInSource(p *part, way *path) seenGrid {
	const n = seenSteps
	var x, y []float64
	for j := range n + 1 {
		for i := range n + 1 {
			px, py := a.grid.Position(float64(a.grid.Cols)*float64(i)/n, float64(a.grid.Rows)*float64(j)/n)
			x, y = append(x, px), append(y, py)
		}
	}
	way.t.Forward(x, y)
	for i := range x {
		if !math.IsInf(x[i], 0) {
			x[i], y[i] = p.affine.Cell(x[i], y[i])
		}
	}
	return seenGrid{x, y}
}

// box returns the box of the points; not ok where none of them has a place.
func (s seenGrid) box() (west, north, east, south float64, ok bool) {
	west, north, east, south = math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for i, c := range s.cols {
		if math.IsInf(c, 0) {
			continue
		}
		west, east = min(west, c), max(east, c)
		north, south = min(north, s.rows[i]), max(south, s.rows[i])
		ok = true
	}
	return west, north, east, south, ok
}

// inside returns the points that lie in a box of source cells, those nearest
// to the middle of the grid first.
func (s seenGrid) inside(left, top, right, bottom float64) [][2]float64 {
	type point struct {
		at   [2]float64
		away int
	}
	var all []point
	for i, c := range s.cols {
		r := s.rows[i]
		if math.IsInf(c, 0) || c < left || c > right || r < top || r > bottom {
			continue
		}
		across, down := i%(seenSteps+1)-seenSteps/2, i/(seenSteps+1)-seenSteps/2
		all = append(all, point{[2]float64{c, r}, across*across + down*down})
	}
	slices.SortStableFunc(all, func(a, b point) int { return a.away - b.away })
	out := make([][2]float64, len(all))
	for i, p := range all {
		out[i] = p.at
	}
	return out
}

// astray tells whether a place of the map, in source cells, lies nowhere or
// far from the grid, as the middle of the overlap does where the map is
// interrupted there or goes on at its other end.
func (a *assembly) astray(p *part, way *path, col, row float64) bool {
	x, y := a.inGrid(p, way, [][2]float64{{col, row}})
	west, south, east, north := a.grid.Bounds()
	far := math.Hypot(east-west, north-south)
	return !(x[0] >= west-far && x[0] <= east+far && y[0] >= south-far && y[0] <= north+far)
}

// cellSide is the root of the area of a source cell around a place given in
// source cells, in units of the grid's CRS.
func (a *assembly) cellSide(p *part, way *path, col, row float64) float64 {
	x, y := a.inGrid(p, way, [][2]float64{{col - 0.5, row - 0.5}, {col + 0.5, row - 0.5}, {col + 0.5, row + 0.5}, {col - 0.5, row + 0.5}})
	area := 0.0
	for i := range x {
		j := (i + 1) % len(x)
		area += float64((x[i]-x[0])*(y[j]-y[0])) - float64((x[j]-x[0])*(y[i]-y[0]))
	}
	return math.Sqrt(math.Abs(area) / 2)
}

// cellSize returns width and height of a source cell in metres.
func (a *assembly) cellSize(p *part, way *path, col, row float64) (width, height float64) {
	x, y := a.inGrid(p, way, [][2]float64{{col - 0.5, row}, {col + 0.5, row}, {col, row - 0.5}, {col, row + 0.5}})
	return a.unit * math.Hypot(x[1]-x[0], y[1]-y[0]), a.unit * math.Hypot(x[3]-x[2], y[3]-y[2])
}

// inGrid transforms places given in source cells to the grid's CRS.
func (a *assembly) inGrid(p *part, way *path, places [][2]float64) (x, y []float64) {
	for _, at := range places {
		px, py := p.affine.Place(at[0], at[1])
		x, y = append(x, px), append(y, py)
	}
	way.t.Inverse(x, y)
	return x, y
}
