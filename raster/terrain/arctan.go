package terrain

import "math"

// arctan returns the arc tangent of x ≥ 0, within 2e-9 of the exact value;
// NaN of NaN. It is our own so that every platform gives the same bytes, and
// faster than the general one. Above 1 it uses arctan x = π/2 - arctan 1/x.
func arctan(x float64) float64 {
	if x > 1 {
		return math.Pi/2 - small(1/x)
	}
	return small(x)
}

// The polynomial that meets arctan(√w)/√w at the Chebyshev points of 0..1;
// found by interpolation with numpy.
const (
	a0  = 0.9999999999887283
	a1  = -0.33333332951502337
	a2  = 0.199999783310288
	a3  = -0.14285225531444168
	a4  = 0.11105306102176453
	a5  = -0.0904917588909659
	a6  = 0.07495251704942628
	a7  = -0.06022172442785981
	a8  = 0.04364622506839693
	a9  = -0.026005625216594826
	a10 = 0.01142739179956082
	a11 = -0.003195334243803069
	a12 = 0.00041921277387210954
)

// small is arctan for 0 ≤ x ≤ 1. The terms are summed in pairs, which lets
// the processor work on several at once.
func small(x float64) float64 {
	w := x * x
	w2 := w * w
	w4 := w2 * w2
	w8 := w4 * w4
	p0 := a0 + float64(a1*w) + float64(w2*(a2+float64(a3*w)))
	p4 := a4 + float64(a5*w) + float64(w2*(a6+float64(a7*w)))
	p8 := a8 + float64(a9*w) + float64(w2*(a10+float64(a11*w))) + float64(a12*w4)
	return x * (p0 + float64(w4*p4) + float64(w8*p8))
}

// arctan2 returns the angle of the point (x, y) from the y axis, clockwise:
// the argument order of a compass. At least one must not be 0.
func arctan2(x, y float64) float64 {
	var a float64
	if ax, ay := math.Abs(x), math.Abs(y); ax < ay {
		a = arctan(ax / ay)
	} else if ay > 0 {
		a = math.Pi/2 - arctan(ay/ax)
	} else if ay == 0 {
		a = math.Pi / 2
	} else {
		return math.NaN()
	}
	if y < 0 {
		a = math.Pi - a
	}
	return math.Copysign(a, x)
}
