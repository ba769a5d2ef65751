package terrain

import (
	"math"

	"likelyground/raster"
)

// Bend is one of the true curvatures of the ground, in the terms of Minár,
// Evans & Jenčo (2020, A comprehensive system of definitions of land surface
// (topographic) curvatures, Earth-Science Reviews 211:103414). The derivatives
// are those of the quadric that fits nine heights best (Evans 1972, General
// geomorphometry, in: Chorley, Spatial Analysis in Geomorphology, 17–90).
type Bend int

const (
	// Profile is the curvature of the vertical section down the slope: above
	// 0 on brows, where the slope gets steeper downwards.
	Profile Bend = iota
	// Tangential is the curvature of the vertical section across the slope:
	// above 0 on spurs, below 0 in gullies.
	Tangential
	// Contour is the curvature of the contour line in the map: above 0 on
	// spurs, where ways down part; it grows without end as the ground levels
	// out.
	Contour
)

// Curvature sets dst to a curvature of src, in 1 over the unit of dx, dy and
// the heights. All are above 0 where the ground bulges and below 0 where it is
// hollow: a sphere of radius r seen from outside has the profile and
// tangential curvature 1/r. Level ground has no way down: it is missing, but
// for a plane, which has the profile and tangential curvature 0.
func Curvature(dst, src raster.Tile, dx, dy float64, b Bend) {
	f := quadric{1 / (6 * dx), 1 / (6 * dy), 1 / (3 * dx * dx), 1 / (3 * dy * dy), 1 / (4 * dx * dy)}
	for row := dst.Row; row < dst.EndRow(); row++ {
		f.row(dst.ValueRow(row), src.ValueRow(row-1), src.ValueRow(row), src.ValueRow(row+1), b)
	}
}

// quadric holds what the sums of heights are multiplied with to be the
// derivatives p = dz/dx, q = dz/dy, r = d²z/dx², t = d²z/dy², s = d²z/dxdy.
type quadric struct{ p, q, r, t, s float64 }

// row works out a row of cells from the three rows of heights around them,
// which begin one cell before.
func (f quadric) row(out, up, at, down []float32, b Bend) {
	n := len(out)
	up, at, down = up[:n+2], at[:n+2], down[:n+2]
	a, m := threeOf(up[0], at[0], down[0]), threeOf(up[1], at[1], down[1])
	for i := range out {
		z := threeOf(up[i+2], at[i+2], down[i+2])
		p := (z.sum - a.sum) * f.p
		q := (a.drop + m.drop + z.drop) * f.q
		r := (a.sum + z.sum - (m.sum + m.sum)) * f.r
		t := (a.bend + m.bend + z.bend) * f.t
		s := (z.drop - a.drop) * f.s
		out[i] = float32(b.of(p, q, r, s, t))
		a, m = m, z
	}
}

// three are sums over three heights one below the other: all, the upper less
// the lower, and the outer two less twice the middle one. All are NaN where
// one height is.
type three struct{ sum, drop, bend float64 }

func threeOf(up, at, down float32) three {
	u, a, d := float64(up), float64(at), float64(down)
	return three{u + a + d, (u - d) + (a - a), u + d - (a + a)}
}

// of works out a curvature from the derivatives.
func (b Bend) of(p, q, r, s, t float64) float64 {
	pp, qq, pq := float64(p*p), float64(q*q), float64(p*q)
	g2 := pp + qq
	if g2 == 0 {
		return b.ofLevel(r, s, t)
	}
	twist := float64(2 * pq * s)
	if b == Profile {
		w := 1 + g2
		return 0 - (float64(pp*r)+twist+float64(qq*t))/(g2*w*math.Sqrt(w))
	}
	across := 0 - (float64(qq*r) - twist + float64(pp*t))
	if b == Tangential {
		return across / (g2 * math.Sqrt(1+g2))
	}
	return across / (g2 * math.Sqrt(g2))
}

// ofLevel is the curvature where the ground is level; NaN where heights are.
func (b Bend) ofLevel(r, s, t float64) float64 {
	if b != Contour && r == 0 && s == 0 && t == 0 {
		return 0
	}
	return float64(raster.Missing)
}
