package maps

import (
	"testing"
)

// A position within 1e-6 of a cell centre lies on it, from either side; the
// weights are those of the distance.
func TestBetweenCentres(t *testing.T) {
	for _, c := range []struct {
		p    float64
		cell int
		part float64
	}{
		{3.5, 3, 0}, {3.5 + 4e-7, 3, 0}, {3.5 - 4e-7, 3, 0}, {3.75, 3, 0.25}, {3.25, 2, 0.75},
		{0, -1, 0.5}, {-0.25, -1, 0.25}, {0.5 + 2e-6, 0, 2e-6},
	} {
		cell, part := between(c.p)
		if d := part - c.part; cell != c.cell || d > 1e-12 || d < -1e-12 {
			t.Errorf("%v: cell %d and %g on, want %d and %g", c.p, cell, part, c.cell, c.part)
		}
	}
}

// Points that have no place in the map count as unknown, points outside it as
// ground beyond.
func TestVotesAndPlaces(t *testing.T) {
	var v votes
	for _, c := range []struct {
		points []int32
		want   int32
	}{
		{[]int32{5, 5, 2, 2}, 2}, {[]int32{2, 5, 5, 5}, 5}, {[]int32{-3, 4, missing, missing}, -3},
		{[]int32{4, missing, missing, missing}, missing}, {[]int32{missing, missing}, missing}, {[]int32{7}, 7},
	} {
		if got := v.winner(c.points); got != c.want {
			t.Errorf("%v: %d wins, want %d", c.points, got, c.want)
		}
	}
}

const missing = -1 << 31
