package geojson

import "slices"

// A hole that touches its shell is cut open where the meridian runs through
// the shell, or it touches a hole that is; then rings touch in ways that a
// polygon's rings must not. Retying walks all edges anew: where several rings
// meet, each walk turns as sharply left as it can, so that it stays with one
// connected piece of the area, and is then cut where it comes twice to one
// place.

// pass is a ring's way through a place.
type pass struct{ in, at, out int } // indices of positions

// retie returns the boundary of the same area in rings that touch themselves
// nowhere, each belonging to one connected piece. Shells run
// counter-clockwise, holes clockwise, as before.
func retie(rings []Ring) (out []Ring) {
	flat := slices.Concat(rings...)
	next := make([]int, len(flat))
	places := make(map[Position][]pass, len(flat))
	begin := 0
	for _, r := range rings {
		n := len(r)
		for i := range n {
			p := pass{begin + (i+n-1)%n, begin + i, begin + (i+1)%n}
			next[p.at] = p.out
			places[flat[p.at]] = append(places[flat[p.at]], p)
		}
		begin += n
	}
	for i := range flat {
		if passes := places[flat[i]]; len(passes) > 1 && passes[0].at == i {
			turnSharply(flat, next, passes)
		}
	}
	done := make([]bool, len(flat))
	for i := range flat {
		var walk Ring
		for k := i; !done[k]; k = next[k] {
			done[k] = true
			walk = append(walk, flat[k])
		}
		if walk != nil {
			out = append(out, walk.untouched()...)
		}
	}
	return out
}

// turnSharply links each way into a place with the first way out that comes
// clockwise from it, which bounds the same wedge of the area.
func turnSharply(flat Ring, next []int, passes []pass) {
	for _, p := range passes {
		back := direction(flat[p.at], flat[p.in])
		best, found := vector{}, false
		for _, q := range passes {
			out := direction(flat[q.at], flat[q.out])
			if !found || out.soonerClockwise(best, back) {
				best, found = out, true
				next[p.at] = q.out
			}
		}
	}
}

// vector is a direction in whole steps, at most a turn in longitude and half a
// turn in latitude, so that products of the two fit.
type vector struct{ x, y int64 }

func direction(from, to Position) vector {
	return vector{int64(to[0] - from[0]), int64(to[1] - from[1])}
}

// leftOf reports how v lies to u: 1 on its left hand, -1 on its right, 0 on
// one line with it.
func (v vector) leftOf(u vector) int {
	a, b := u.x*v.y, u.y*v.x
	switch {
	case a > b:
		return 1
	case a < b:
		return -1
	}
	return 0
}

// sector says how far clockwise from u the direction v lies: 0 less than half
// a turn, 1 half a turn, 2 more, 3 a whole one.
func (v vector) sector(u vector) int {
	switch v.leftOf(u) {
	case -1:
		return 0
	case 1:
		return 2
	}
	if (v.x > 0) == (u.x > 0) && (v.x < 0) == (u.x < 0) && (v.y > 0) == (u.y > 0) {
		return 3
	}
	return 1
}

// soonerClockwise reports whether v is met before w when turning clockwise
// from u.
func (v vector) soonerClockwise(w, u vector) bool {
	a, b := v.sector(u), w.sector(u)
	if a != b {
		return a < b
	}
	return v.leftOf(w) > 0
}

// untouched cuts a walk where it comes twice to one place.
func (r Ring) untouched() (out []Ring) {
	var open Ring
	seen := make(map[Position]int, len(r)) // where on open
	for _, p := range r {
		if k, again := seen[p]; again {
			out = append(out, slices.Clone(open[k:]))
			for _, q := range open[k:] {
				delete(seen, q)
			}
			open = open[:k]
		}
		seen[p] = len(open)
		open = append(open, p)
	}
	return append(out, open)
}
