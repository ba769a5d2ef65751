package ellerdown

import (
	"math"

	"likelyground/vector/gpkg"
)

// polygon is a patch of one rock: an outer ring and its holes.
type polygon struct {
	rock  Rock
	rings []gpkg.Ring
}

// The sides of a square, in the order a ring goes round a patch with the
// patch on its left: south side eastward, east side northward, and so on.
const (
	east = iota
	north
	west
	south
)

// ahead is the step of each direction over corners; rows go south.
var ahead = [4][2]int{{1, 0}, {0, -1}, {-1, 0}, {0, 1}}

// corner is a corner of squares: (0, 0) is the map's north-western one.
type corner struct{ col, row int }

// tracer follows the borders of a rockMap.
type tracer struct {
	*rockMap
	shifts []shift // by corner, where smoothing moved it
	walked []bool  // by square: its southern side was walked by a ring
}

// shift is a move in squares, less than half of one along each axis: so far
// that borders turn smooth, not so far that any two of them could meet.
type shift struct{ dx, dy float64 }

// trace returns the patches, west to east and north to south by their first
// squares. Blank ground has none.
func (m *rockMap) trace() []polygon {
	t := &tracer{rockMap: m, walked: make([]bool, len(m.rocks))}
	t.smooth()
	var out []polygon
	var patch []int
	seen := make([]bool, len(m.rocks))
	for k, rock := range m.rocks {
		if seen[k] || rock == NoRock {
			continue
		}
		patch = m.patch(k, seen, patch[:0])
		out = append(out, t.polygon(rock, patch))
	}
	return out
}

// polygon traces the rings of one patch. Every ring walks the southern side
// of some square eastward, so looking at those finds all; the outer ring is
// the one that turns counter-clockwise.
func (t *tracer) polygon(rock Rock, patch []int) polygon {
	p := polygon{rock: rock}
	for _, k := range patch {
		col, row := k%t.Cols, k/t.Cols
		if t.walked[k] || t.at(col, row+1) == rock {
			continue
		}
		ring, turns := t.ring(rock, corner{col, row + 1})
		p.rings = append(p.rings, ring)
		if turns > 0 {
			last := len(p.rings) - 1
			p.rings[0], p.rings[last] = p.rings[last], p.rings[0]
		}
	}
	return p
}

// ring walks from a corner eastward, the rock on its left, until it is back.
// Turns is 4 round a patch and -4 round a hole.
func (t *tracer) ring(rock Rock, start corner) (ring gpkg.Ring, turns int) {
	at, heading := start, east
	for {
		if heading == east {
			t.walked[(at.row-1)*t.Cols+at.col] = true
		}
		ring = append(ring, t.position(at))
		at.col += ahead[heading][0]
		at.row += ahead[heading][1]
		turn := t.turn(rock, at, heading)
		heading = (heading + turn + 4) % 4
		turns += turn
		if at == start && heading == east {
			return append(ring, ring[0]), turns
		}
	}
}

// turn tells where a ring goes on at a corner: 1 left, 0 straight, -1 right.
func (t *tracer) turn(rock Rock, at corner, heading int) int {
	left, right := t.beside(at, heading)
	switch {
	case left != rock:
		return 1
	case right == rock:
		return -1
	}
	return 0
}

// beside returns the rocks of the two squares ahead of a corner.
func (t *tracer) beside(at corner, heading int) (left, right Rock) {
	nw, ne := t.at(at.col-1, at.row-1), t.at(at.col, at.row-1)
	sw, se := t.at(at.col-1, at.row), t.at(at.col, at.row)
	switch heading {
	case east:
		return ne, se
	case north:
		return nw, ne
	case west:
		return sw, nw
	}
	return se, sw
}

// position is where a corner came to lie, to the centimetre.
func (t *tracer) position(at corner) gpkg.Point {
	s := t.shifts[t.index(at)]
	x, y := t.Position(float64(at.col)+s.dx, float64(at.row)+s.dy)
	return gpkg.Point{cents(x), cents(y)}
}

func cents(v float64) float64 { return math.Floor(float64(v*100)+0.5) / 100 }

func (t *tracer) index(at corner) int { return at.row*(t.Cols+1) + at.col }

// smoothings is how often corners are moved.
const smoothings = 3

// smooth moves each corner of a border towards the two before and after it.
// Where three borders meet the corner stays. All patches use the same
// corners, so they still meet without gap or overlap.
func (t *tracer) smooth() {
	t.shifts = make([]shift, (t.Cols+1)*(t.Rows+1))
	next := make([]shift, len(t.shifts))
	for range smoothings {
		for row := range t.Rows + 1 {
			for col := range t.Cols + 1 {
				at := corner{col, row}
				next[t.index(at)] = t.moved(at)
			}
		}
		t.shifts, next = next, t.shifts
	}
}

// moved is the next shift of a corner.
func (t *tracer) moved(at corner) shift {
	now := t.shifts[t.index(at)]
	sum, borders := shift{}, 0
	for heading, step := range ahead {
		left, right := t.beside(at, heading)
		if left == right {
			continue
		}
		s := t.shifts[t.index(corner{at.col + step[0], at.row + step[1]})]
		sum.dx += float64(step[0]) + s.dx
		sum.dy += float64(step[1]) + s.dy
		borders++
	}
	if borders != 2 {
		return now
	}
	return shift{hold(now.dx/2 + sum.dx/4), hold(now.dy/2 + sum.dy/4)}
}

func hold(v float64) float64 { return min(max(v, -0.45), 0.45) }
