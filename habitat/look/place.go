package look

import (
	"fmt"
	"math"

	"likelyground/raster/crs"
	"likelyground/raster/maps"
)

// place tells where a box of a CRS lies, and what is odd about it.
func (m *Map) place(where, crsText string, box *Box) Place {
	p := Place{Extent: box}
	if crsText == "" {
		m.noCRS(where, box)
		return p
	}
	info, err := crs.Describe(crsText)
	if err != nil {
		m.suspect(where, "its coordinate reference system is not understood: "+err.Error(), "find out in which system the map was made and say crs: with its code")
		return p
	}
	p.CRS = &CRS{Name: info.Name, Code: info.ID, Unit: unitWord(info), Geographic: info.Geographic}
	if box == nil || m.nonsense(where, info, crsText, *box) {
		return p
	}
	lonLat, err := crs.UsableBox(crsText, box.West, box.South, box.East, box.North)
	if err != nil {
		m.suspect(where, "its bounds lie nowhere on the earth in its own coordinate reference system", "find out in which system the map was made and say crs: with its code")
		return p
	}
	p.LonLat = &Box{lonLat.West, lonLat.South, lonLat.East, lonLat.North}
	m.elsewhere(where, info, crsText, *box, lonLat)
	m.shift(where, crsText, lonLat)
	return p
}

func unitWord(info crs.Info) string {
	switch {
	case info.Geographic:
		return "degrees"
	case info.MetresPerUnit == 1:
		return "m"
	case math.Abs(info.MetresPerUnit-0.3048) < 1e-6:
		return "ft"
	}
	return fmt.Sprintf("units of %g m", info.MetresPerUnit)
}

// degrees tells whether a box could be one of longitude and latitude.
func (b Box) degrees() bool {
	return b.West >= -180 && b.East <= 360 && b.South >= -90 && b.North <= 90
}

func (m *Map) noCRS(where string, box *Box) {
	fix := "find out in which system the map was made and say crs: with its code, such as crs: EPSG:27700"
	if box != nil && box.degrees() {
		fix = "its bounds look like degrees of longitude and latitude: say crs: EPSG:4326 if so"
	}
	m.suspect(where, "it does not say in which coordinate reference system it lies", fix)
}

// nonsense tells of bounds that no place has in the CRS.
func (m *Map) nonsense(where string, info crs.Info, crsText string, b Box) bool {
	const eps = 1e-6
	switch {
	case info.Geographic && b.South >= -90-eps && b.North <= 90+eps && b.West >= -360-eps && b.East <= 540+eps:
		return false
	case info.Geographic && b.West >= -90 && b.East <= 90 && b.South >= -180 && b.North <= 360:
		m.suspect(where, fmt.Sprintf("its axes look swapped: it reaches from %s to %s in latitude", number(b.South), number(b.North)), "give a copy whose x is longitude and whose y is latitude")
	case info.Geographic:
		m.suspect(where, fmt.Sprintf("it says it lies in degrees, but its bounds (%s) are none", b.words()), "find out in which system the map was made and say crs: with its code")
	case b.degrees() && info.MetresPerUnit > 0:
		m.suspect(where, fmt.Sprintf("it says it lies in %s, but its bounds (%s) look like degrees", info.Name, b.words()), "say crs: EPSG:4326 if they are longitude and latitude")
	default:
		return false
	}
	return true
}

// elsewhere tells of a map outside the ground that its CRS is meant for, as
// one with swapped axes mostly is.
func (m *Map) elsewhere(where string, info crs.Info, crsText string, b Box, lonLat crs.Box) {
	meant, ok, err := crs.MeantFor(crsText)
	if err != nil || !ok || overlap(meant, lonLat) {
		return
	}
	other, err := crs.UsableBox(crsText, b.South, b.West, b.North, b.East)
	if err == nil && overlap(meant, other) {
		m.suspect(where, fmt.Sprintf("its axes look swapped: it lies outside the ground that %s is meant for, and within it when x and y change places", info.Name), "give a copy whose x is east and whose y is north")
		return
	}
	m.suspect(where, fmt.Sprintf("it lies outside the ground that %s is meant for", info.Name), "find out in which system the map was made and say crs: with its code")
}

// overlap tells whether two boxes share ground.
func overlap(a, b crs.Box) bool {
	if a.South > b.North || b.South > a.North {
		return false
	}
	width := func(x crs.Box) float64 {
		if w := x.East - x.West; w >= 0 {
			return w
		}
		return x.East - x.West + 360
	}
	gap := func(x, y crs.Box) float64 { return math.Mod(math.Mod(y.West-x.West, 360)+360, 360) } // from x's west edge to y's
	return gap(a, b) <= width(a) || gap(b, a) <= width(b)
}

// shift tells whether the way to a grid in metres lacks a datum shift.
func (m *Map) shift(where, crsText string, area crs.Box) {
	op, err := crs.Choose(crsText, crs.SuggestProjected(area), area, crs.Options{AllowBallpark: true})
	switch {
	case err != nil:
		m.suspect(where, "there is no way from its coordinate reference system to a common one: "+err.Error(), "use a grid in the map's own system")
	case op.Ballpark:
		fix := "use a grid in the map's own system, or say accept ballpark: yes where an error of some hundred metres does no harm"
		if op.Better != "" {
			fix = "install the missing grid file for " + op.Better + "; or " + fix
		}
		m.suspect(where, "only a ballpark transformation, without datum shift, leads to other systems here", fix)
	case op.Better != "":
		m.suspect(where, fmt.Sprintf("in a grid of another system it lies up to %g m off", op.Accuracy), "that is good enough for most; for more install the missing grid file for "+op.Better)
	}
}

// lattice tells where the cells of a raster lie.
func (m *Map) lattice(in *maps.Inspection) *Lattice {
	l := &Lattice{Columns: in.Cols, Rows: in.Rows}
	if !in.Placed {
		m.suspect("", "it does not say where on earth its cells lie", "give a georeferenced copy of the map, or put its world file beside it")
		return l
	}
	a := in.Affine
	l.Cell = &Cell{Width: math.Hypot(a[1], a[4]), Height: math.Hypot(a[2], a[5])}
	l.Place = m.place("", in.CRS, corners(in))
	if l.LonLat != nil {
		x, y := a.Place(float64(in.Cols)/2, float64(in.Rows)/2)
		if w, h, err := crs.CellMetres(in.CRS, x, y, a); err == nil {
			l.Cell.WidthMetres, l.Cell.HeightMetres = w, h
		}
	}
	m.lie(l, a)
	return l
}

// corners returns the box around a raster.
func corners(in *maps.Inspection) *Box {
	b := Box{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	for _, c := range [2]int{0, in.Cols} {
		for _, r := range [2]int{0, in.Rows} {
			x, y := in.Affine.Place(float64(c), float64(r))
			b.West, b.East, b.South, b.North = min(b.West, x), max(b.East, x), min(b.South, y), max(b.North, y)
		}
	}
	return &b
}

// lie tells of cells that a grid cannot take over. A web map's cells are off
// by more than the 2 % that a grid may be.
func (m *Map) lie(l *Lattice, a crs.Affine) {
	if a[2] != 0 || a[4] != 0 {
		m.suspect("", "its cells lie aslant", "it is read right, but give the grid by another map or by crs: and cell:")
	}
	if l.CRS == nil || l.LonLat == nil {
		return
	}
	suggestion := crs.SuggestProjected(crs.Box{West: l.LonLat.West, South: l.LonLat.South, East: l.LonLat.East, North: l.LonLat.North})
	if l.CRS.Geographic {
		m.suspect("", "its cells are in degrees, and a grid needs metres", fmt.Sprintf("it is read right, but give the grid by another map or by grid: {crs: %s, cell: %s}", suggestion, cellWords(l.Cell)))
		return
	}
	info, err := crs.Describe(l.CRS.Code)
	if err != nil || l.Cell.WidthMetres == 0 {
		return
	}
	off := l.Cell.WidthMetres/(l.Cell.Width*info.MetresPerUnit) - 1
	if math.Abs(off) > 0.02 && a[2] == 0 {
		m.suspect("", fmt.Sprintf("a metre of its coordinate reference system is %.2f m on the ground here", 1+off), fmt.Sprintf("it is read right, but give the grid by another map or by grid: {crs: %s, cell: %s}", suggestion, cellWords(l.Cell)))
	}
}

// cellWords proposes a cell of about the same size, in round metres.
func cellWords(c *Cell) string {
	side := math.Sqrt(c.WidthMetres * c.HeightMetres)
	step := math.Pow(10, math.Floor(math.Log10(max(side, 1e-3))))
	return number(math.Max(math.Round(side/step), 1)*step) + " m"
}
