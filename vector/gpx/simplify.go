package gpx

import (
	"math"
	"slices"
)

// Ring is a closed line in metres on a plane; its last point is not the first
// one again.
type Ring [][2]float64

// Simplified is what [Simplify] makes of an outline.
type Simplified struct {
	// Kept has for each ring the numbers of the points that stay, in order;
	// none where the ring is too small to be drawn.
	Kept [][]int
	// Off is how far, in metres, a point of a drawn ring may lie from its line
	// at most.
	Off float64
}

// Simplify chooses the points to draw outlines with: no point of a ring that
// is drawn lies more than a tolerance, in metres, from its line. Rings that
// become flat are left out, but never the first, of which three points stay at
// least. Where more than most points would stay, the tolerance is doubled as
// often as it takes; the first ring keeps at least four, if it has so many.
//
// Each point is given the tolerance at which it goes, by the method of Ramer
// (1972) and Douglas and Peucker (1973) from the two points of the ring that
// lie furthest along it and across it; both papers are cited from memory.
func Simplify(rings []Ring, tolerance float64, most int) Simplified {
	weights := make([][]float64, len(rings))
	for i, r := range rings {
		weights[i] = weigh(r)
	}
	for {
		s := Simplified{Off: tolerance, Kept: make([][]int, len(rings))}
		count := 0
		for i, w := range weights {
			s.Kept[i] = keep(w, tolerance, i == 0)
			count += len(s.Kept[i])
		}
		if count <= max(most, 4) {
			return s
		}
		tolerance *= 2
	}
}

// keep returns the points that count for more than the tolerance.
func keep(weights []float64, tolerance float64, needed bool) []int {
	var out []int
	for i, w := range weights {
		if w > tolerance {
			out = append(out, i)
		}
	}
	if len(out) >= 3 || !needed {
		if len(out) < 3 {
			return nil
		}
		return out
	}
	return heaviest(weights, 4)
}

// heaviest returns the n points that count most, in order.
func heaviest(weights []float64, n int) []int {
	order := make([]int, len(weights))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case weights[a] > weights[b]:
			return -1
		case weights[a] < weights[b]:
			return 1
		}
		return 0
	})
	out := order[:min(n, len(order))]
	slices.Sort(out)
	return out
}

// weigh returns for each point of a ring the tolerance from which on it is
// not needed.
func weigh(r Ring) []float64 {
	weights := make([]float64, len(r))
	if len(r) < 3 {
		return weights
	}
	a := furthest(r, r[0])
	b := furthest(r, r[a])
	a, b = min(a, b), max(a, b)
	if a == b {
		return weights
	}
	weights[a], weights[b] = math.Inf(1), math.Inf(1)
	w := weigher{r, weights, nil}
	w.between(a, b)
	w.between(b, a+len(r))
	return weights
}

func furthest(r Ring, from [2]float64) (at int) {
	most := -1.0
	for i, p := range r {
		if d := squared(p, from); d > most {
			at, most = i, d
		}
	}
	return at
}

func squared(p, q [2]float64) float64 {
	x, y := p[0]-q[0], p[1]-q[1]
	return float64(x*x) + float64(y*y)
}

// stretch is a part of a ring between two points that stay as long as bound;
// last may be counted on past the ring's end.
type stretch struct {
	first, last int
	bound       float64
	depth       int
}

// deepest is how often stretches are halved at their furthest point. Beyond
// it, on rows of teeth alike, they are halved in the middle, where the point
// stays for as long as the furthest one would have: no tolerance is exceeded,
// a few points more stay, and the work stays in proportion to the points.
const deepest = 40

type weigher struct {
	ring    Ring
	weights []float64
	todo    []stretch
}

func (w *weigher) at(i int) [2]float64 { return w.ring[i%len(w.ring)] }

func (w *weigher) between(first, last int) {
	w.todo = append(w.todo[:0], stretch{first, last, math.Inf(1), 0})
	for len(w.todo) > 0 {
		s := w.todo[len(w.todo)-1]
		w.todo = w.todo[:len(w.todo)-1]
		if s.last-s.first < 2 {
			continue
		}
		at, off := w.farthest(s)
		if s.depth > deepest {
			at = s.first + (s.last-s.first)/2
		}
		bound := min(s.bound, off)
		w.weights[at%len(w.ring)] = bound
		if bound > 0 {
			w.todo = append(w.todo, stretch{s.first, at, bound, s.depth + 1}, stretch{at, s.last, bound, s.depth + 1})
		}
	}
}

// farthest returns the point of a stretch that lies furthest from the straight
// line between its ends, and how far.
func (w *weigher) farthest(s stretch) (at int, off float64) {
	a, b := w.at(s.first), w.at(s.last)
	at, most := s.first+1, -1.0
	for i := s.first + 1; i < s.last; i++ {
		if d := fromLine(w.at(i), a, b); d > most {
			at, most = i, d
		}
	}
	return at, math.Sqrt(most)
}

// fromLine returns the squared distance of a point from the line a to b.
func fromLine(p, a, b [2]float64) float64 {
	dx, dy := b[0]-a[0], b[1]-a[1]
	long := float64(dx*dx) + float64(dy*dy)
	if long == 0 {
		return squared(p, a)
	}
	t := (float64((p[0]-a[0])*dx) + float64((p[1]-a[1])*dy)) / long
	t = min(max(t, 0), 1)
	return squared(p, [2]float64{a[0] + float64(t*dx), a[1] + float64(t*dy)})
}
