package terrain

import "math"

// arctan returns, in degrees, the arc tangent of g ≥ 0, given g and its
// square: within 2e-8 degrees of the exact value, NaN of NaN. It is our own so
// that every platform gives the same bytes, and faster than the general one.
// Above 1 it uses arctan g = 90° - arctan 1/g.
func arctan(g, squared float64) float64 {
	if squared > 1 {
		g = 1 / g
		return 90 - float64(g*overRoot(float64(g*g)))
	}
	return float64(g * overRoot(squared))
}

// The polynomial that meets arctan(√w)/√w, in degrees, at the Chebyshev points
// of 0 ≤ w ≤ 1; found by interpolation with numpy.
const (
	a0  = 57.295779487501406
	a1  = -19.09858695757695
	a2  = 11.458902711519524
	a3  = -8.181021424124026
	a4  = 6.33162547491251
	a5  = -5.033458796724378
	a6  = 3.8303836697139997
	a7  = -2.5169118832665967
	a8  = 1.2555187779269676
	a9  = -0.40282743966937906
	a10 = 0.06059639330771847
)

// overRoot is arctan(√w)/√w for 0 ≤ w ≤ 1. The terms are summed in groups,
// which lets the processor work on several at once.
func overRoot(w float64) float64 {
	w2 := float64(w * w)
	w4 := float64(w2 * w2)
	p0 := a0 + float64(a1*w) + float64(w2*(a2+float64(a3*w)))
	p4 := a4 + float64(a5*w) + float64(w2*(a6+float64(a7*w)))
	p8 := a8 + float64(a9*w) + float64(a10*w2)
	return p0 + float64(w4*(p4+float64(w4*p8)))
}

// bearing returns the direction of the point x to the east and y to the
// north, in degrees clockwise from north, 0 up to 360 (which rounding may
// reach). At least one must not be 0; NaN of NaN.
func bearing(x, y float64) float64 {
	ax, ay := math.Abs(x), math.Abs(y)
	q := min(ax, ay) / max(ax, ay)
	a := arctan(q, float64(q*q))
	if ax > ay {
		a = 90 - a
	}
	if y < 0 {
		a = 180 - a
	}
	if x < 0 {
		a = 360 - a
	}
	return a
}
