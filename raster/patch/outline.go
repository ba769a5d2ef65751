package patch

import (
	"cmp"
	"slices"
)

// Corner is a corner of cells: (Col, Row) is the north-western corner of the
// cell of that column and row.
type Corner struct{ Col, Row int32 }

// Ring is a closed line along the edges of cells; the first corner is not
// repeated at the end. It turns at each corner, touches itself nowhere, and
// begins at its northernmost, then westernmost corner.
type Ring []Corner

// Polygon is one part of a patch: cells joined over sides. The shell runs
// counter-clockwise as seen on a north-up map, the holes clockwise; a hole may
// touch the shell or another hole at single corners.
type Polygon struct {
	Shell Ring
	Holes []Ring
}

// Outline is a patch as a multipolygon. Parts touch at most at corners. Parts
// and holes stand in the order of their first corners, north before south,
// then west before east.
type Outline []Polygon

// The sides of runs are numbered: 2i is the western side of run i, walked
// southward, 2i+1 the eastern side, walked northward. So the patch lies on the
// left hand, and a walk comes round each part against the clock.
//
// Between two rows the walk goes on sideways to the side that follows on the
// line between them. Where four sides meet in a corner of two cells that touch
// only there, each cell keeps its own: walks never cross, and a walk that
// comes twice through such a pinch is cut there into rings that do not.
type tracer struct {
	runs  []run
	next  []int32 // side after each side
	pinch []uint8 // of each side, see below
	part  sets    // runs joined over sides
}

const (
	pinchNorth = 1 << iota // the side's northern end is a pinch
	pinchSouth
)

// trace returns the outline of whole runs.
func trace(runs []run) Outline {
	t := tracer{
		runs:  runs,
		next:  make([]int32, 2*len(runs)),
		pinch: make([]uint8, 2*len(runs)),
	}
	for range runs {
		t.part.add()
	}
	rows(runs, func(above, here, below span) {
		t.line(above, here)
		t.unite(above, here)
		if below.from == below.to {
			t.line(here, below)
		}
	})
	return t.collect()
}

// col returns the column line of a side.
func (t *tracer) col(side int) int32 {
	r := t.runs[side/2]
	if side%2 == 0 {
		return r.from
	}
	return r.to
}

// unite joins the runs of two rows that share sides of cells.
func (t *tracer) unite(above, here span) {
	for a, h := above.from, here.from; a < above.to && h < here.to; {
		ra, rh := t.runs[a], t.runs[h]
		if ra.from < rh.to && rh.from < ra.to {
			t.part.join(int32(a), int32(h))
		}
		if ra.to < rh.to {
			a++
		} else {
			h++
		}
	}
}

// line links the sides that end at the line between two rows: going along it,
// each first side is followed by the second, the third by the fourth.
func (t *tracer) line(above, below span) {
	a, aEnd := 2*above.from, 2*above.to
	b, bEnd := 2*below.from, 2*below.to
	open, openAbove := -1, false // the side that waits for its partner
	for a < aEnd || b < bEnd {
		takeAbove := b >= bEnd || a < aEnd && t.col(a) < t.col(b)
		if a < aEnd && b < bEnd && t.col(a) == t.col(b) {
			takeAbove = a%2 == 1 // the row that is inside goes on to its own side
			if open >= 0 {
				t.pinch[a] |= pinchSouth
				t.pinch[b] |= pinchNorth
			}
		}
		side := b
		if takeAbove {
			side = a
			a++
		} else {
			b++
		}
		if open < 0 {
			open, openAbove = side, takeAbove
			continue
		}
		t.link(open, openAbove, side)
		open = -1
	}
}

// link makes one of two sides follow the other, as their directions ask.
func (t *tracer) link(p int, pAbove bool, q int) {
	if pAbove == (p%2 == 0) { // p's walk ends at this line
		t.next[p] = int32(q)
	} else {
		t.next[q] = int32(p)
	}
}

// collect walks all sides and sorts the rings into polygons.
func (t *tracer) collect() Outline {
	polygons := map[int32]*Polygon{}
	done := make([]bool, len(t.next))
	for side := range t.next {
		if done[side] {
			continue
		}
		part := t.part.find(int32(side / 2))
		poly := polygons[part]
		if poly == nil {
			poly = &Polygon{}
			polygons[part] = poly
		}
		for _, ring := range t.walk(side, done) {
			if ring.isHole() {
				poly.Holes = append(poly.Holes, ring)
			} else {
				poly.Shell = ring
			}
		}
	}
	out := make(Outline, 0, len(polygons))
	for _, p := range polygons { // put in order below
		slices.SortFunc(p.Holes, compareRings)
		out = append(out, *p)
	}
	slices.SortFunc(out, func(a, b Polygon) int { return compareRings(a.Shell, b.Shell) })
	return out
}

func compareRings(a, b Ring) int { return compareCorners(a[0], b[0]) }

func compareCorners(a, b Corner) int {
	return cmp.Or(cmp.Compare(a.Row, b.Row), cmp.Compare(a.Col, b.Col))
}

// walk follows the sides from one of them until it is back, and returns the
// rings of the walk.
func (t *tracer) walk(start int, done []bool) []Ring {
	var c cutter
	for side := start; !done[side]; {
		done[side] = true
		next := int(t.next[side])
		if t.col(side) != t.col(next) {
			row, end := t.runs[side/2].row, uint8(pinchNorth)
			if side%2 == 0 {
				row, end = row+1, pinchSouth
			}
			begin := uint8(pinchNorth)
			if next%2 == 1 {
				begin = pinchSouth
			}
			c.add(Corner{t.col(side), row}, t.pinch[side]&end != 0)
			c.add(Corner{t.col(next), row}, t.pinch[next]&begin != 0)
		}
		side = next
	}
	return c.finish()
}

// cutter cuts a walk into rings where it comes twice through a pinch. Walks do
// not cross themselves, so a pinch within a ring that was cut off does not come
// again.
type cutter struct {
	open  Ring
	seen  map[Corner]int // pinches on open
	rings []Ring
}

func (c *cutter) add(at Corner, pinch bool) {
	if !pinch {
		c.open = append(c.open, at)
		return
	}
	begin, again := c.seen[at]
	if !again {
		if c.seen == nil {
			c.seen = map[Corner]int{}
		}
		c.seen[at] = len(c.open)
		c.open = append(c.open, at)
		return
	}
	c.rings = append(c.rings, c.open[begin:].fromTop())
	c.open = c.open[:begin+1]
}

func (c *cutter) finish() []Ring {
	return append(c.rings, c.open.fromTop())
}

// fromTop returns a copy that begins at the northernmost, then westernmost
// corner.
func (r Ring) fromTop() Ring {
	first := 0
	for i := range r {
		if compareCorners(r[i], r[first]) < 0 {
			first = i
		}
	}
	return append(append(make(Ring, 0, len(r)), r[first:]...), r[:first]...)
}

// isHole reports whether the ring runs clockwise on a north-up map. From its
// northernmost, westernmost corner a ring goes either south, and is a shell,
// or east.
func (r Ring) isHole() bool { return r[1].Row == r[0].Row }

// Area returns the number of cells the ring goes round.
func (r Ring) Area() int64 {
	var twice int64
	for i, p := range r {
		q := r[(i+1)%len(r)]
		twice += int64(p.Col-r[0].Col)*int64(q.Row-r[0].Row) - int64(q.Col-r[0].Col)*int64(p.Row-r[0].Row)
	}
	return max(twice, -twice) / 2
}

// Cells returns the number of cells inside the outline.
func (o Outline) Cells() int64 {
	var n int64
	for _, p := range o {
		n += p.Shell.Area()
		for _, h := range p.Holes {
			n -= h.Area()
		}
	}
	return n
}
