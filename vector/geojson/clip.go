package geojson

import (
	"math"
	"slices"
)

// chain is a stretch of a ring on the kept side of the cutting meridian, from
// where it comes in to where it goes out.
type chain struct {
	at   Ring
	next int // the chain that goes on where this one meets the meridian
	done bool
}

// clip returns what lies west (left) or east of a meridian of a polygon whose
// shell runs counter-clockwise and whose holes run clockwise.
func clip(rings []Ring, meridian float64, left bool) ([]Polygon, error) {
	var chains []chain
	var kept []Ring
	for _, r := range rings {
		parts, whole := r.chains(meridian, left)
		chains = append(chains, parts...)
		if whole {
			kept = append(kept, slices.Clone(r))
		}
	}
	if err := link(chains, left); err != nil {
		return nil, err
	}
	for i := range chains {
		if ring := tidy(follow(chains, i)); len(ring) > 2 {
			kept = append(kept, ring)
		}
	}
	return assemble(retie(kept)), nil
}

// assemble makes polygons of rings that touch themselves nowhere.
func assemble(rings []Ring) (out []Polygon) {
	var holes []Ring
	for _, r := range rings {
		switch turn := r.turn(); {
		case turn > 0:
			out = append(out, Polygon{r})
		case turn < 0:
			holes = append(holes, r)
		}
	}
	for _, h := range holes {
		if k := holder(out, h); k >= 0 {
			out[k] = append(out[k], h)
		}
	}
	return out
}

// chains cuts a ring at the meridian; whole says that all of it is kept.
// Positions on the meridian are not kept but found again as crossings, as if
// the cut lay a trifle on the kept side: what touches the meridian is cut.
func (r Ring) chains(meridian float64, left bool) (out []chain, whole bool) {
	kept := func(p Position) bool {
		if left {
			return p[0] < meridian
		}
		return p[0] > meridian
	}
	n := len(r)
	start := -1 // the first kept position after one that is not
	for i := range r {
		if kept(r[i]) && !kept(r[(i+n-1)%n]) {
			start = i
			break
		}
	}
	if start < 0 {
		return nil, kept(r[0])
	}
	for k := range n {
		p, before := r[(start+k)%n], r[(start+k+n-1)%n]
		if kept(p) && !kept(before) {
			out = append(out, chain{at: Ring{crossing(before, p, meridian)}})
		}
		if !kept(p) && kept(before) {
			last := &out[len(out)-1]
			last.at = append(last.at, crossing(before, p, meridian))
		}
		if kept(p) {
			last := &out[len(out)-1]
			last.at = append(last.at, p)
		}
	}
	return out, false
}

// crossing returns where an edge meets the meridian, the same both ways and
// in whole steps, so that equal places are known as such.
func crossing(a, b Position, meridian float64) Position {
	if b[0] < a[0] {
		a, b = b, a
	}
	t := (meridian - a[0]) / (b[0] - a[0])
	lat := a[1] + float64(t*(b[1]-a[1]))
	return Position{meridian, math.Round(lat)}
}

// end is a chain's end on the meridian.
type end struct {
	lat   float64
	chain int
	out   bool // the chain goes out here
}

// link finds the chain that goes on after each. With the area on the left
// hand, the way along the meridian leads north on its western side and south
// on its eastern side, from a chain that goes out to the next that comes in.
func link(chains []chain, left bool) error {
	var ends []end
	for i, c := range chains {
		ends = append(ends, end{c.at[0][1], i, false}, end{c.at[len(c.at)-1][1], i, true})
	}
	slices.SortStableFunc(ends, func(a, b end) int {
		if a.lat == b.lat {
			return 0
		}
		if a.lat < b.lat == left {
			return -1
		}
		return 1
	})
	for i := range ends {
		due := i%2 == 0 // out and in must take turns; equal places may be swapped
		for k := i; ends[i].out != due; {
			if k++; k == len(ends) || ends[k].lat != ends[i].lat {
				return errCrossed
			}
			if ends[k].out == due {
				ends[i], ends[k] = ends[k], ends[i]
			}
		}
		if !due {
			chains[ends[i-1].chain].next = ends[i].chain
		}
	}
	return nil
}

// follow puts chains together to a ring, nil if they are used up.
func follow(chains []chain, i int) Ring {
	var ring Ring
	for !chains[i].done {
		chains[i].done = true
		ring = append(ring, chains[i].at...)
		i = chains[i].next
	}
	return ring
}

// holder returns the polygon whose shell goes round the hole, -1 if none.
func holder(polygons []Polygon, hole Ring) int {
	if len(polygons) == 1 {
		return 0
	}
	for i, p := range polygons {
		for _, at := range hole { // a hole may touch the shell at some positions
			if side := p[0].side(at); side != 0 {
				if side > 0 {
					return i
				}
				break
			}
		}
	}
	return -1
}

// side is 1 inside the ring, 0 on it, -1 outside.
func (r Ring) side(at Position) int {
	inside := -1
	for i := range r {
		p, q := r[i], r[(i+1)%len(r)]
		if p[1] > q[1] {
			p, q = q, p
		}
		cross := float64((q[0]-p[0])*(at[1]-p[1])) - float64((at[0]-p[0])*(q[1]-p[1]))
		if cross == 0 && at[1] >= p[1] && at[1] <= q[1] && at[0] >= min(p[0], q[0]) && at[0] <= max(p[0], q[0]) {
			return 0
		}
		if p[1] <= at[1] && at[1] < q[1] && cross > 0 {
			inside = -inside
		}
	}
	return inside
}
