package habitat

import (
	"fmt"
	"math"

	"likelyground/habitat/plan"
	"likelyground/raster"
	"likelyground/raster/crs"
	"likelyground/raster/maps"
)

// ground is the grid of a run with what else must be known of it.
type ground struct {
	raster.Grid
	info   crs.Info
	metres float64 // metres in a unit of the CRS
}

// DXm and DYm return the cell's sides in metres.
func (g *ground) DXm() float64 { return g.DX * g.metres }
func (g *ground) DYm() float64 { return g.DY * g.metres }

// cellHa returns the area of a cell in hectares, in the plane of the grid.
func (g *ground) cellHa() float64 { return g.DXm() * g.DYm() / 1e4 }

// layGrid works out the grid that a plan asks for.
func layGrid(p *plan.Plan, dir string) (*ground, error) {
	if p.Grid.Like != "" {
		return gridLike(p, dir)
	}
	return gridOfCells(p, dir)
}

// gridLike takes the lattice of a map, cropped to the area if one is given.
func gridLike(p *plan.Plan, dir string) (*ground, error) {
	m := findMap(p, p.Grid.Like)
	spec, err := rasterSpec(p, m, dir)
	if err != nil {
		return nil, pointed(p, m.Pos, err)
	}
	h, err := maps.ReadHeader(spec)
	if err != nil {
		return nil, pointed(p, m.Pos, err)
	}
	if h.Affine[2] != 0 || h.Affine[4] != 0 {
		return nil, p.PointAt(p.Grid.Pos, fmt.Sprintf("the map %q is rotated, so it cannot be the grid", m.Name), "name another map, or give the grid a CRS and a cell of its own")
	}
	g, err := newGround(p, uprightGrid(h))
	if err != nil || p.Area == nil {
		return g, err
	}
	w, s, e, n, err := areaBounds(p, dir, g.CRS)
	if err != nil {
		return nil, err
	}
	cropped := g.CropTo(w, s, e, n)
	part := windowIn(cropped, g.Grid).Clip(g.Window())
	if part.Empty() {
		return nil, p.PointAt(p.Area.Pos, fmt.Sprintf("the area lies wholly outside the map %q, %s", m.Name, apart(cropped, g)), "check the area's coordinates and their order (west, south, east, north), and its crs")
	}
	g.X0, g.Y0 = g.Position(float64(part.Col), float64(part.Row))
	g.Cols, g.Rows = part.Cols, part.Rows
	return g, nil
}

// uprightGrid returns a header's lattice with north up and east to the right.
func uprightGrid(h maps.Header) raster.Grid {
	g := raster.Grid{CRS: h.CRS, X0: h.Affine[0], Y0: h.Affine[3], DX: h.Affine[1], DY: -h.Affine[5], Cols: h.Cols, Rows: h.Rows}
	if g.DX < 0 {
		g.X0 += g.DX * float64(g.Cols)
		g.DX = -g.DX
	}
	if g.DY < 0 {
		g.Y0 -= g.DY * float64(g.Rows)
		g.DY = -g.DY
	}
	return g
}

// windowIn returns where a grid of the same lattice lies in another one.
func windowIn(g, in raster.Grid) raster.Window {
	c, r := in.Cell(g.X0, g.Y0)
	return raster.Window{Col: int(math.Round(c)), Row: int(math.Round(r)), Cols: g.Cols, Rows: g.Rows}
}

// apart says how far, and in which direction, a grid lies from the ground.
func apart(g raster.Grid, from *ground) string {
	w, s, e, n := g.Bounds()
	fw, fs, fe, fn := from.Bounds()
	dx := max(w-fe, 0) - max(fw-e, 0)
	dy := max(s-fn, 0) - max(fs-n, 0)
	return fmt.Sprintf("%.0f km to the %s", math.Hypot(dx, dy)*from.metres/1000, direction(dx, dy))
}

func direction(dx, dy float64) string {
	names := []string{"east", "north-east", "north", "north-west", "west", "south-west", "south", "south-east"}
	eighth := int(math.Round(math.Atan2(dy, dx)/(math.Pi/4))+8) % 8
	return names[eighth]
}

// mostCell is the largest side of a cell, in metres.
const mostCell = 100e3

// gridOfCells lays cells of a given size over the area, outward from
// multiples of the cell.
func gridOfCells(p *plan.Plan, dir string) (*ground, error) {
	info, err := crs.Describe(p.Grid.CRS)
	if err != nil {
		return nil, p.PointAt(p.Grid.CRSPos, err.Error(), remedyOf(err))
	}
	w, s, e, n, err := areaBounds(p, dir, p.Grid.CRS)
	if err != nil {
		return nil, err
	}
	if info.Geographic {
		return nil, geographicGrid(p, info, raster.Grid{CRS: p.Grid.CRS, X0: w, Y0: n, DX: e - w, DY: n - s, Cols: 1, Rows: 1}, p.Grid.CRSPos)
	}
	if side := max(p.Grid.DX, p.Grid.DY); side > mostCell {
		return nil, p.PointAt(p.Grid.Pos, fmt.Sprintf("cells of %.0f km are larger than any ground to search", side/1000), "write the side of a cell with its unit, such as cell: 10 m")
	}
	lattice := raster.Grid{CRS: p.Grid.CRS, DX: p.Grid.DX / info.MetresPerUnit, DY: p.Grid.DY / info.MetresPerUnit}
	return newGround(p, lattice.CropTo(w, s, e, n))
}

// newGround checks that a grid is fit for slopes, radii and areas.
func newGround(p *plan.Plan, g raster.Grid) (*ground, error) {
	info, err := crs.Describe(g.CRS)
	if err != nil {
		return nil, p.PointAt(p.Grid.Pos, err.Error(), remedyOf(err))
	}
	if info.Geographic {
		return nil, geographicGrid(p, info, g, p.Grid.Pos)
	}
	const most = 1 << 31
	if g.Cols <= 0 || g.Rows <= 0 || int64(g.Cols) >= most || int64(g.Rows) >= most || g.Cells() >= 1<<44 {
		return nil, p.PointAt(p.Grid.Pos, fmt.Sprintf("the grid would have %d × %d cells", g.Cols, g.Rows), "choose a larger cell or a smaller area; check that the area's crs is right")
	}
	out := &ground{Grid: g, info: info, metres: info.MetresPerUnit}
	return out, out.checkScale(p)
}

func geographicGrid(p *plan.Plan, info crs.Info, g raster.Grid, pos plan.Pos) error {
	fix := "give the grid a projected CRS in metres"
	if g.Cols > 0 {
		w, s, e, n := g.Bounds()
		if box, err := crs.UsableBox(g.CRS, w, s, e, n); err == nil {
			if name := crs.SuggestProjected(box); name != "" {
				fix = fmt.Sprintf("give the grid a projected CRS and a cell, such as grid: {crs: %s, cell: 20 m}; it needs an area too", name)
			}
		}
	}
	return p.PointAt(pos, fmt.Sprintf("the grid would be in degrees (%s), where slopes, distances and areas cannot be measured", info.Name), fix)
}

// worstScale is how far off, relatively, lengths on the grid may be.
const worstScale = 0.02

func (g *ground) checkScale(p *plan.Plan) error {
	off, err := crs.ScaleError(g.Grid)
	if err != nil {
		return p.PointAt(p.Grid.Pos, fmt.Sprintf("the grid does not lie where its CRS (%s) can be used", g.info.Name), "choose a CRS made for this region, and check the coordinates")
	}
	if off <= worstScale || p.Grid.AcceptScaleError {
		return nil
	}
	return p.PointAt(p.Grid.Pos, fmt.Sprintf("lengths on this grid are off by %.0f %%, so slopes, distances and areas would be wrong", off*100),
		"choose a CRS made for this region (a national grid or UTM), or say `accept scale error: yes` under grid")
}

// areaBounds returns the extent of the plan's area in a CRS.
func areaBounds(p *plan.Plan, dir, crsText string) (w, s, e, n float64, err error) {
	if p.Area.IsBox {
		c := p.Area.Corners
		w, s, e, n, err = maps.BoxBounds(c.West, c.South, c.East, c.North, p.Area.CRS, crsText)
	} else {
		w, s, e, n, err = maps.AreaBounds(areaSpec(p, dir), crsText)
	}
	if err != nil {
		return 0, 0, 0, 0, p.PointAt(p.Area.Pos, err.Error(), remedyOf(err))
	}
	return w, s, e, n, nil
}

func areaSpec(p *plan.Plan, dir string) maps.PolygonSpec {
	return maps.PolygonSpec{Name: "area", File: areaFile(p, dir), Layer: p.Area.Layer, CRS: p.Area.CRS, AsMask: true}
}

func findMap(p *plan.Plan, name string) *plan.Map {
	for i := range p.Maps {
		if p.Maps[i].Name == name {
			return &p.Maps[i]
		}
	}
	return nil
}
