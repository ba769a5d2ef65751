package ellerdown

import "math"

// Lakes and towns stand one to a square of a coarse lattice, some squares
// being empty, at a hashed place in it and of a hashed size: so the country
// can be drawn from any corner without a list of its places.

// sites is one kind of place.
type sites struct {
	side  float64 // of a square, metres
	seed  uint32
	share float64 // of squares that hold a place
	least float64 // radius, metres
	most  float64
	shore wave // frays the outline
}

var (
	lakes = sites{side: 2300, seed: 101, share: 0.5, least: 55, most: 260, shore: wave{210, 102}}
	towns = sites{side: 2900, seed: 111, share: 0.62, least: 120, most: 520, shore: wave{190, 112}}
)

// site is one place.
type site struct{ x, y, radius float64 }

// in returns the place of a square, if it holds one.
func (k sites) in(i, j int32) (site, bool) {
	if unit(scramble(i, j, k.seed)) >= k.share {
		return site{}, false
	}
	u, v, w := unit(scramble(i, j, k.seed+1)), unit(scramble(i, j, k.seed+2)), unit(scramble(i, j, k.seed+3))
	return site{
		x:      float64((float64(i) + 0.2 + float64(0.6*u)) * k.side),
		y:      float64((float64(j) + 0.2 + float64(0.6*v)) * k.side),
		radius: k.least + float64(float64(w*w)*(k.most-k.least)),
	}, true
}

// reach is how many radii from its middle a place is felt.
const reach = 2.6

// nearest returns the place felt most at x, y and how far out that is: 0 in
// its middle, 1 at its edge. Without a place the distance is reach.
func (k sites) nearest(x, y float64) (site, float64) {
	best, far := site{}, reach
	i, j := int32(math.Floor(x/k.side)), int32(math.Floor(y/k.side))
	for dj := int32(-1); dj <= 1; dj++ {
		for di := int32(-1); di <= 1; di++ {
			s, ok := k.in(i+di, j+dj)
			if !ok {
				continue
			}
			dx, dy := x-s.x, y-s.y
			if q := math.Sqrt(float64(dx*dx)+float64(dy*dy)) / s.radius; q < far {
				best, far = s, q
			}
		}
	}
	if far < reach {
		far /= 1 + float64(0.38*k.shore.at(x, y))
	}
	return best, min(far, reach)
}

// settle finds the lake and the town that are felt at a place, and shapes
// the ground round the lake.
func (s *spot) settle(x, y float64) {
	s.settleLake(x, y)
	_, s.town = towns.nearest(x, y)
}

// settleLake levels a lake and its shore: the water stands at the height its
// middle would have, a little sunk.
func (s *spot) settleLake(x, y float64) {
	at, out := lakes.nearest(x, y)
	s.lake = out
	if out >= reach {
		return
	}
	s.level = reliefAt(at.x, at.y).height - 3
	shore := ramp(out, 1, reach)
	s.height = blend(s.level, s.height, shore)
	if out > 1 {
		s.height += float64(float64(1.2*min(out-1, 0.5)) * (1 - shore))
	}
}
