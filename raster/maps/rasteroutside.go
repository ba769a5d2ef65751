package maps

import (
	"fmt"
	"math"

	"likelyground/raster/crs"
)

// kmPerDegree is the length of a degree of latitude on a sphere of 6371 km.
const kmPerDegree = 111.19

// outside is the problem of a map that lies wholly outside the grid: how far
// off, and where.
func (a *assembly) outside(parts []*part) error {
	p := a.spec.problem(parts[0].tiles[0].path, "the map lies wholly outside the grid", "use a map of the grid's ground, or correct area: and grid:; optional: true goes on without it")
	p.Elsewhere = true
	nearest := math.Inf(1)
	for _, part := range parts {
		if bounds := part.bounds(); bounds.swapped(part.tiles[0].crsText, a.area) {
			p.File = part.tiles[0].path
			bounds.hint(p)
			return p
		}
		box, err := part.lonLat()
		if err != nil {
			continue
		}
		if km, where := gap(a.area, box); km < nearest {
			nearest = km
			p.File = part.tiles[0].path
			p.What = fmt.Sprintf("the map lies wholly outside the grid, %s %s of it", distanceWords(km), where)
		}
	}
	return p
}

// lonLat returns the part's box in longitude and latitude.
func (p *part) lonLat() (crs.Box, error) {
	b := p.bounds()
	return crs.UsableBox(p.tiles[0].crsText, b.west, b.south, b.east, b.north)
}

// bounds returns the part's box in its own CRS.
func (p *part) bounds() bounds {
	west, south := math.Inf(1), math.Inf(1)
	east, north := math.Inf(-1), math.Inf(-1)
	for _, c := range [2]int{p.extent.Col, p.extent.EndCol()} {
		for _, r := range [2]int{p.extent.Row, p.extent.EndRow()} {
			x, y := p.affine.Place(float64(c), float64(r))
			west, east = min(west, x), max(east, x)
			south, north = min(south, y), max(north, y)
		}
	}
	return bounds{west, south, east, north}
}

// bounds is a box in the units of a CRS, x east and y north.
type bounds struct{ west, south, east, north float64 }

// swappedKm is how far off, in kilometres, a map must lie for its axes to be
// suspected: what is nearer may well be the map of the next county.
const swappedKm = 50

// swapped tells whether a box that lies far from an area, or nowhere, would
// share ground with it if x and y changed places.
func (b bounds) swapped(crsText string, area crs.Box) bool {
	own, err := crs.UsableBox(crsText, b.west, b.south, b.east, b.north)
	if err == nil {
		if km, _ := gap(area, own); km < swappedKm {
			return false
		}
	}
	other, err := crs.UsableBox(crsText, b.south, b.west, b.north, b.east)
	if err != nil {
		return false
	}
	km, _ := gap(area, other)
	return km == 0
}

// hint says in a problem that the axes are swapped.
func (b bounds) hint(p *Problem) {
	p.What = fmt.Sprintf("its axes look swapped: as it stands (x %g to %g, y %g to %g) it lies wholly outside the grid, and on it when x and y change places",
		b.west, b.east, b.south, b.north)
	p.Fix = "give a copy whose x is east (longitude) and whose y is north (latitude); optional: true goes on without it"
}

// gap returns how far apart two boxes are, and in which direction the second
// lies from the first.
func gap(a, b crs.Box) (km float64, where string) {
	up, dLat := "", 0.0
	switch {
	case b.South > a.North:
		up, dLat = "north", b.South-a.North
	case b.North < a.South:
		up, dLat = "south", a.South-b.North
	}
	side, dLon := "", 0.0
	east := math.Mod(b.West-a.East+720, 360) // way eastward from a to b
	west := math.Mod(a.West-b.East+720, 360)
	switch {
	case east+west >= 360 || width(a)+width(b) >= 360:
	case east < west:
		side, dLon = "east", east
	default:
		side, dLon = "west", west
	}
	lat := (a.South + a.North) / 2
	km = kmPerDegree * math.Hypot(dLat, dLon*math.Cos(lat*math.Pi/180))
	if up != "" && side != "" {
		// A small part of the way does not turn the direction.
		if dLat > 3*dLon {
			side = ""
		} else if dLon > 3*dLat {
			up = ""
		}
	}
	switch {
	case up != "" && side != "":
		return km, up + "-" + side
	case up+side == "":
		return km, "beside the ground"
	}
	return km, up + side
}

func width(b crs.Box) float64 { return math.Mod(b.East-b.West+360, 360) }

func distanceWords(km float64) string {
	if km < 10 {
		return fmt.Sprintf("%.1f km", km)
	}
	return fmt.Sprintf("%.0f km", km)
}
