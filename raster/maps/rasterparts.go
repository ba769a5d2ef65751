package maps

import (
	"errors"
	"fmt"
	"math"

	"likelyground/raster"
	"likelyground/raster/crs"
)

// part is one lattice of source cells: a file, or several that continue it.
// Its cells are counted from the corner of them all.
type part struct {
	number int
	tiles  []*rasterFile // in the order in which they win
	affine crs.Affine
	extent raster.Window
	op     crs.Operation
	// lattice gives the source positions of grid cells.
	lattice *crs.Lattice
	ratio   float64
	points  int // k; 1 where the map is refined
	width   float64
	height  float64
	// shift is the source cell of grid cell (0, 0) where the cells coincide.
	shift *[2]int
}

// refined tells whether grid cells are no larger than source cells.
func (p *part) refined() bool { return p.ratio <= 1 }

// upright tells whether source columns depend on grid columns alone, and rows
// on rows.
func (p *part) upright() bool {
	return p.op.Identity && p.affine[2] == 0 && p.affine[4] == 0
}

// fileAt returns the first file that covers a source cell.
func (p *part) fileAt(col, row int) *rasterFile {
	for _, f := range p.tiles {
		if f.at.Holds(raster.Window{Col: col, Row: row, Cols: 1, Rows: 1}) {
			return f
		}
	}
	return nil
}

// assembly turns headers into parts.
type assembly struct {
	spec  *RasterSpec
	grid  raster.Grid
	area  crs.Box
	unit  float64 // metres per unit of the grid's CRS
	paths []*path
}

// path is the way from the grid's CRS to one source CRS.
type path struct {
	crsText string
	info    crs.Info
	op      crs.Operation
	t       *crs.Transformer
}

func (a *assembly) close() {
	for _, p := range a.paths {
		p.t.Close()
	}
}

// parts groups the files into lattices, in the order of their first files.
func (a *assembly) parts(files []*rasterFile) ([]*part, error) {
	if err := a.gridArea(); err != nil {
		return nil, err
	}
	var parts []*part
	for _, f := range files {
		way, err := a.path(f)
		if err != nil {
			return nil, err
		}
		for _, copy := range roundTheEarth(f, way.info) {
			if !a.join(parts, copy, way) {
				p := &part{number: len(parts), affine: copy.affine, op: way.op}
				p.add(copy, 0, 0)
				parts = append(parts, p)
			}
		}
	}
	return parts, a.settle(parts)
}

// roundTheEarth returns a file and, where it reaches 180 degrees, counts
// longitudes beyond them or goes all round, the same file laid a full circle to
// the side, beside what lies on the other side of 180 degrees.
func roundTheEarth(f *rasterFile, info crs.Info) []*rasterFile {
	files := []*rasterFile{f}
	if !info.Geographic {
		return files
	}
	west, east := math.Inf(1), math.Inf(-1)
	for _, col := range [2]float64{0, float64(f.cols)} {
		for _, row := range [2]float64{0, float64(f.rows)} {
			x, _ := f.affine.Place(col, row)
			west, east = min(west, x), max(east, x)
		}
	}
	whole := east-west >= 360-raster.Snap // its ends meet
	snap := math.Abs(f.affine[1]) / 1000  // headers write 180 to so many digits
	for _, circle := range [2]float64{-360, 360} {
		if whole || circle < 0 && east >= 180-snap || circle > 0 && west <= -180+snap {
			other := *f
			other.affine[0] += circle
			files = append(files, &other)
		}
	}
	return files
}

// gridArea finds the grid's place on earth.
func (a *assembly) gridArea() error {
	info, err := crs.Describe(a.grid.CRS)
	if err != nil {
		return err
	}
	a.unit = info.MetresPerUnit
	west, south, east, north := a.grid.Bounds()
	a.area, err = crs.UsableBox(a.grid.CRS, west, south, east, north)
	return err
}

// path returns the way to the CRS of a file, chosen once for each CRS.
func (a *assembly) path(f *rasterFile) (*path, error) {
	for _, p := range a.paths {
		if p.crsText == f.crsText {
			return p, nil
		}
	}
	info, err := crs.Describe(f.crsText)
	if err != nil {
		return nil, a.about(f, "its coordinate reference system is not understood", "say crs: with the system the map was made in (EPSG:27700, say)", err)
	}
	op, err := crs.Choose(a.grid.CRS, f.crsText, a.area, crs.Options{AllowBallpark: a.spec.AllowBallpark})
	if err != nil {
		return nil, a.about(f, "it cannot be brought onto the grid", "use a map in another coordinate reference system", err)
	}
	t, err := op.Open()
	if err != nil {
		return nil, fmt.Errorf("map %q: %s: %w", a.spec.Name, f.path, err)
	}
	p := &path{f.crsText, info, op, t}
	a.paths = append(a.paths, p)
	return p, nil
}

// about adds map and file to an error, and keeps the remedy it carries. An
// error that is not the plan's or the data's fault stays plain.
func (a *assembly) about(f *rasterFile, what, fix string, err error) error {
	var refusal interface {
		Remedy() string
		MustChange() bool
	}
	if !errors.As(err, &refusal) || !refusal.MustChange() {
		return fmt.Errorf("map %q: %s: %w", a.spec.Name, f.path, err)
	}
	if refusal.Remedy() != "" {
		fix = refusal.Remedy()
	}
	return &Problem{Map: a.spec.Name, File: f.path, What: what, Fix: fix, Err: err}
}

// join adds a file to the first part whose lattice it continues.
func (a *assembly) join(parts []*part, f *rasterFile, way *path) bool {
	for _, p := range parts {
		if p.op != way.op {
			if same, err := crs.Same(p.tiles[0].crsText, f.crsText); err != nil || !same {
				continue
			}
		}
		if col, row, ok := p.continues(f, a.tolerance(p, way)); ok {
			p.add(f, col, row)
			return true
		}
	}
	return false
}

// tolerance is how far, in source cells, a file may lie off a lattice that it
// continues: 1/10000 of a cell of the map or the grid, whichever is smaller.
func (a *assembly) tolerance(p *part, way *path) float64 {
	middle := float64(p.tiles[0].cols) / 2
	side := a.cellSide(p, way, middle, float64(p.tiles[0].rows)/2)
	if !(side > 0) {
		return 1e-6
	}
	return 1e-4 * min(1, math.Sqrt(a.grid.DX*a.grid.DY)/side)
}

// continues returns the place of a file's first cell in the part's lattice.
func (p *part) continues(f *rasterFile, tolerance float64) (col, row int, ok bool) {
	c0, r0 := p.affine.Cell(f.affine[0], f.affine[3])
	c, r := math.Round(c0), math.Round(r0)
	if math.Abs(c) > math.MaxInt32 || math.Abs(r) > math.MaxInt32 {
		return 0, 0, false
	}
	for _, corner := range [4][2]float64{{0, 0}, {1, 0}, {0, 1}, {1, 1}} {
		fc, fr := corner[0]*float64(f.cols), corner[1]*float64(f.rows)
		pc, pr := p.affine.Cell(f.affine.Place(fc, fr))
		if math.Abs(pc-c-fc) > tolerance || math.Abs(pr-r-fr) > tolerance {
			return 0, 0, false
		}
	}
	return int(c), int(r), true
}

// add places a file in the part.
func (p *part) add(f *rasterFile, col, row int) {
	f.at = raster.Window{Col: col, Row: row, Cols: f.cols, Rows: f.rows}
	p.tiles = append(p.tiles, f)
	p.extent = p.extent.Union(f.at)
}

// rebase counts the part's cells from its outer corner, so that the order of
// its files changes no position.
func (p *part) rebase() {
	col, row := p.extent.Col, p.extent.Row
	p.affine[0], p.affine[3] = p.affine.Place(float64(col), float64(row))
	for _, f := range p.tiles {
		f.at.Col -= col
		f.at.Row -= row
	}
	p.extent.Col, p.extent.Row = 0, 0
}

// settle measures every part against the grid and readies its lattice.
func (a *assembly) settle(parts []*part) error {
	inside := false
	for _, p := range parts {
		p.rebase()
		way, err := a.path(p.tiles[0])
		if err != nil {
			return err
		}
		overlaps, err := a.measure(p, way)
		if err != nil {
			return err
		}
		inside = inside || overlaps
	}
	if !inside {
		return a.outside(parts)
	}
	for _, p := range parts {
		var err error
		if p.lattice, err = crs.NewLattice(a.grid, p.op, p.affine); err != nil {
			return a.about(p.tiles[0], "its cells cannot be placed on the grid", "use a map whose coordinate reference system covers the grid", err)
		}
		p.shift = a.coincide(p)
	}
	return nil
}

// rim is how far beyond the grid, in cells, neighbourhoods may read.
const rim = 8192

// coincide returns the source cell of grid cell (0, 0) where every cell of
// the grid, and of the ground around it, is a cell of the source.
func (a *assembly) coincide(p *part) *[2]int {
	m := p.affine
	if !p.op.Identity || m[2] != 0 || m[4] != 0 || m[1] <= 0 || m[5] >= 0 {
		return nil
	}
	const near = raster.Snap / 4
	col, row := (a.grid.X0-m[0])/m[1], (a.grid.Y0-m[3])/m[5]
	farCol, farRow := float64(a.grid.Cols+rim), float64(a.grid.Rows+rim)
	if math.Abs(a.grid.DX/m[1]-1)*farCol > near || math.Abs(-a.grid.DY/m[5]-1)*farRow > near {
		return nil
	}
	c, r := math.Round(col), math.Round(row)
	if math.Abs(col-c) > near || math.Abs(row-r) > near {
		return nil
	}
	return &[2]int{int(c), int(r)}
}

// facts describes the files in their order.
func (a *assembly) facts(files []*rasterFile, parts []*part) []Facts {
	home := map[*rasterFile]*part{}
	for _, p := range parts {
		for _, f := range p.tiles {
			home[f] = p
		}
	}
	out := make([]Facts, len(files))
	for i, f := range files {
		p := home[f]
		out[i] = Facts{Path: f.path, Cols: f.cols, Rows: f.rows, Band: f.band + 1, Bands: f.bands,
			Type: f.kindName(), CRS: a.crsName(f), CRSFrom: "file", CellX: p.width, CellY: p.height,
			Nodata: f.nodata, Masked: f.masked, Scale: f.scale, Offset: f.offset, ScaleFrom: f.scaleFrom,
			Operation: p.op, Ratio: p.ratio, Points: p.points, SameLattice: p.shift != nil, Part: p.number, Notes: f.notes}
		if a.spec.CRS != "" {
			out[i].CRSFrom = "plan"
		}
	}
	return out
}

func (a *assembly) crsName(f *rasterFile) string {
	way, err := a.path(f)
	if err != nil {
		return f.crsText
	}
	if way.info.ID != "" {
		return way.info.ID
	}
	return way.info.Name
}
