package vector

import (
	"math"
	"slices"
	"sort"
)

// mostOverlaps is how many pairs of overlapping boxes around monotone chains
// an outline may have and still be checked: the library compares each of them
// and cannot be stopped. Measured with GEOS 3.11: a quarter of a microsecond a
// pair, so about a second.
const mostOverlaps = 4_000_000

// span is the box around a chain that goes on in one quadrant.
type span struct{ low, high Point }

// tangler tells outlines whose check for validity could take minutes. Its
// buffers are used again.
type tangler struct {
	spans []span
}

// tangled reports whether more than a number of pairs of chains of the
// polygons lie box over box. It takes n log n steps and a bounded number
// more; the answer depends on the outlines alone.
func (t *tangler) tangled(polygons []Polygon, most int) bool {
	t.spans = t.spans[:0]
	for _, p := range polygons {
		for _, ring := range p {
			t.chains(ring)
		}
	}
	if n := len(t.spans); n*(n-1)/2 <= most {
		return false
	}
	axis := 0
	x, y := t.overlaps(0), t.overlaps(1)
	if y < x {
		axis, x = 1, y
	}
	switch {
	case x <= most:
		return false
	case x > 50*most: // even the counting would take long
		return true
	}
	return t.boxes(axis, most) > most
}

// chains adds the boxes of a ring's chains.
func (t *tangler) chains(ring Ring) {
	last := -1
	for i := 1; i < len(ring); i++ {
		a, b := ring[i-1], ring[i]
		if a == b {
			continue
		}
		if q := quadrant(a, b); q != last {
			t.spans = append(t.spans, span{a, a})
			last = q
		}
		s := &t.spans[len(t.spans)-1]
		s.low = Point{math.Min(s.low[0], b[0]), math.Min(s.low[1], b[1])}
		s.high = Point{math.Max(s.high[0], b[0]), math.Max(s.high[1], b[1])}
	}
}

func quadrant(a, b Point) int {
	q := 0
	if b[0] < a[0] {
		q = 1
	}
	if b[1] < a[1] {
		q += 2
	}
	return q
}

// overlaps counts the pairs of boxes that overlap along one axis, and sorts
// the boxes along it.
func (t *tangler) overlaps(axis int) int {
	slices.SortFunc(t.spans, func(a, b span) int {
		switch {
		case a.low[axis] < b.low[axis]:
			return -1
		case a.low[axis] > b.low[axis]:
			return 1
		}
		return 0
	})
	pairs := 0
	for i, s := range t.spans {
		begun := sort.Search(len(t.spans), func(j int) bool { return t.spans[j].low[axis] > s.high[axis] })
		pairs += begun - i - 1
	}
	return pairs
}

// boxes counts the pairs of boxes that overlap, no further than just beyond
// most.
func (t *tangler) boxes(axis, most int) int {
	if axis == 0 {
		t.overlaps(0) // they lie sorted along the other
	}
	pairs, other := 0, 1-axis
	for i := range t.spans {
		s := &t.spans[i]
		for j := i + 1; j < len(t.spans) && t.spans[j].low[axis] <= s.high[axis]; j++ {
			if o := &t.spans[j]; o.low[other] <= s.high[other] && o.high[other] >= s.low[other] {
				pairs++
			}
		}
		if pairs > most {
			break
		}
	}
	return pairs
}
