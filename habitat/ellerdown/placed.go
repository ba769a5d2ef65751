package ellerdown

import (
	"math"

	"likelyground/raster"
	"likelyground/raster/crs"
)

// countryCRS is the system of the ground map, in which the country lies.
const countryCRS = "EPSG:25831"

// placed is a map in a system of its own: it can tell where its cells lie in
// the country.
type placed struct {
	grid    raster.Grid
	lattice *crs.Lattice
	country box
}

// box is a rectangle in EPSG:25831.
type box struct{ west, south, east, north float64 }

func (b box) grow(by float64) box {
	return box{b.west - by, b.south - by, b.east + by, b.north + by}
}

func (b box) holds(x, y float64) bool {
	return x >= b.west && x < b.east && y >= b.south && y < b.north
}

// place lays a grid of the given cell over the country in another system,
// its corner on a multiple of the cell.
func place(country box, system string, cell float64) (*placed, error) {
	area, err := crs.UsableBox(countryCRS, country.west, country.south, country.east, country.north)
	if err != nil {
		return nil, err
	}
	op, err := crs.Choose(system, countryCRS, area, crs.Options{})
	if err != nil {
		return nil, err
	}
	west, south, east, north, err := rim(op, country)
	if err != nil {
		return nil, err
	}
	g := raster.Grid{CRS: system, DX: cell, DY: cell}
	left, top := math.Floor(west/cell), math.Ceil(north/cell)
	g.X0, g.Y0 = float64(left*cell), float64(top*cell)
	g.Cols, g.Rows = int(math.Ceil(east/cell)-left), int(top-math.Floor(south/cell))
	// The identity: positions in the "source" are metres in EPSG:25831.
	l, err := crs.NewLattice(g, op, crs.Affine{0, 1, 0, 0, 0, 1})
	return &placed{g, l, country}, err
}

// rim returns the bounds, in the operation's source system, of a box.
func rim(op crs.Operation, b box) (west, south, east, north float64, err error) {
	t, err := op.Open()
	if err != nil {
		return 0, 0, 0, 0, err
	}
	defer t.Close()
	var x, y []float64
	const steps = 64
	for k := range steps + 1 {
		u := float64(k) / steps
		mx, my := blend(b.west, b.east, u), blend(b.south, b.north, u)
		x = append(x, mx, mx, b.west, b.east)
		y = append(y, b.south, b.north, my, my)
	}
	t.Inverse(x, y)
	west, south, east, north = x[0], y[0], x[0], y[0]
	for k := range x {
		west, east = min(west, x[k]), max(east, x[k])
		south, north = min(south, y[k]), max(north, y[k])
	}
	return west, south, east, north, nil
}

// coverMap draws cover.
type coverMap struct {
	*placed
	reader *crs.LatticeReader
	nodes  lattice
	x, y   []float64
}

func (m *coverMap) close() { m.reader.Close() }

// draw fills a tile. What lies beyond the country is blank.
func (m *coverMap) draw(t raster.Tile) error {
	west, south, east, north, ok := m.reader.SourceWindow(t.Window)
	west, east = max(west, m.country.west), min(east, m.country.east)
	south, north = max(south, m.country.south), min(north, m.country.north)
	if !ok || west >= east || south >= north {
		t.FillMissing()
		return nil
	}
	m.nodes.cover(west, south, east, north, 1)
	m.nodes.workSpots()
	m.x, m.y = sized(m.x, t.Cols), sized(m.y, t.Cols)
	for row := t.Row; row < t.EndRow(); row++ {
		m.reader.Row(t.Col, t.Cols, row, 1, 0, m.x, m.y)
		for i, x := range m.x {
			t.Codes[(row-t.Row)*t.Cols+i] = m.code(x, m.y[i])
		}
	}
	return nil
}

func (m *coverMap) code(x, y float64) int32 {
	if !m.country.holds(x, y) || gapCover.at(x, y) > 0.68 {
		return raster.MissingCode
	}
	s, slope := m.nodes.between(x, y)
	return int32(s.coverAt(x, y, slope, edgeWave.at(x, y)))
}

// soilMap draws the pH of the soil in tenths.
type soilMap struct {
	*placed
	reader *crs.LatticeReader
	x, y   []float64
	sums   []soilSum
}

func (m *soilMap) close() { m.reader.Close() }

// soilSum gathers the samples of one cell.
type soilSum struct {
	ph    float64
	known int
}

// samples is how many places a cell of the soil map is sampled at, along
// each side.
const samples = 2

// soilSlope is the slope that the makers of the soil map took for granted.
const soilSlope = 0.1

// draw fills a tile with the mean of each cell's samples; it stays blank
// where fewer than half of them have soil.
func (m *soilMap) draw(t raster.Tile) error {
	m.x, m.y, m.sums = sized(m.x, samples*t.Cols), sized(m.y, samples*t.Cols), sized(m.sums, t.Cols)
	for row := t.Row; row < t.EndRow(); row++ {
		clear(m.sums)
		for j := range samples {
			m.reader.Row(t.Col, t.Cols, row, samples, j, m.x, m.y)
			for i, x := range m.x {
				m.sums[i/samples].add(m.country, x, m.y[i])
			}
		}
		for i, s := range m.sums {
			t.Codes[(row-t.Row)*t.Cols+i] = s.tenths()
		}
	}
	return nil
}

func (s *soilSum) add(country box, x, y float64) {
	if !country.holds(x, y) || gapSoil.at(x, y) > 0.66 {
		return
	}
	p := spotAt(x, y)
	c := p.coverAt(x, y, soilSlope, 0)
	if c == OpenWater || c == BuiltGround {
		return
	}
	s.ph += p.soilAt(x, y, c)
	s.known++
}

func (s soilSum) tenths() int32 {
	if 2*s.known < samples*samples {
		return raster.MissingCode
	}
	return int32(math.Floor(float64(s.ph/float64(s.known)*10) + 0.5))
}
