package nearby

import "likelyground/raster"

// Side tells on which side of an edge distances are measured.
type Side int

const (
	Both    Side = iota
	Inside       // from cells of the classes; outside it is 0
	Outside      // from other cells; inside it is 0
)

// Edge works out the exact Euclidean distance to the edge of some classes, up
// to a limit. It is not for two goroutines.
//
// The distance of a cell to the edge is that from its centre to the nearest
// centre on the other side: of a known cell of other classes for a member, of
// a member for any other cell. The line between the two sides lies half a cell
// nearer. A missing cell is on neither side, so that a hole in the map makes
// no edge, and neither does the end of what is known.
//
// One of the distances to either side is 0 in every known cell; the other one
// is looked for, by the method of [Distance].
type Edge struct {
	side     Side
	distance *Distance
	outside  []float32
}

// NewEdge returns an Edge of cells of dx × dy metres with a limit in metres,
// at most 15 000 cells either way.
func NewEdge(dx, dy, limit float64, side Side) *Edge {
	return &Edge{side: side, distance: NewDistance(dx, dy, limit)}
}

// Reach returns how many cells beyond a tile are looked at.
func (e *Edge) Reach() int { return e.distance.Reach() }

// Classes sets dst to the distance in metres from each cell's centre to the
// edge of the member classes of src, whose window is dst's grown by the reach;
// to the limit where no edge is known within it; to 0 on a side that is not
// measured. A cell that is itself missing is missing.
func (e *Edge) Classes(dst, src raster.Tile, member *raster.CodeTable[uint8]) {
	n := e.distance.mark(src, member)
	switch e.side {
	case Inside:
		e.distance.to(No, dst, src, n)
	case Outside:
		e.distance.to(Yes, dst, src, n)
	default:
		e.both(dst, src, n)
	}
}

func (e *Edge) both(dst, src raster.Tile, n [3]int) {
	e.distance.to(Yes, dst, src, n)
	e.outside = room(e.outside, len(dst.Values))
	copy(e.outside, dst.Values)
	e.distance.to(No, dst, src, n)
	for i, v := range e.outside {
		if v > 0 { // a missing cell is missing already
			dst.Values[i] = v
		}
	}
}
