package terrain

import "math"

// arctan returns the arc tangent of x ≥ 0, within 1e-9 of the exact value;
// NaN of NaN. It is our own so that every platform gives the same bytes, and
// faster than the general one.
//
// The argument is brought to at most tan(π/16) by arctan x = kπ/8 +
// arctan((x - t)/(1 + xt)), t = tan(kπ/8); there the series x - x³/3 + x⁵/5 -
// … is broken off after x¹¹, whose next term is below 2e-11.
func arctan(x float64) float64 {
	k := 0
	switch {
	case x < tan1:
	case x < tan3:
		k = 1
	case x < tan5:
		k = 2
	case x < tan7:
		k = 3
	case x != x:
		return x
	default: // π/2 - arctan(1/x)
		return math.Pi/2 - series(1/x)
	}
	t := tangents[k]
	return float64(k)*(math.Pi/8) + series((x-t)/(1+float64(x*t)))
}

// tan1, tan3, … are the tangents of 1, 3, 5 and 7 times π/16.
const (
	tan1 = 0.19891236737965800691
	tan3 = 0.66817863791929891999
	tan5 = 1.49660576266548901760
	tan7 = 5.02733949212584810451
)

// tangents are the tangents of 0, 1, 2 and 3 times π/8.
var tangents = [4]float64{0, 0.41421356237309504880, 1, 2.41421356237309504880}

func series(z float64) float64 {
	w := z * z
	p := -1.0 / 11
	p = float64(p*w) + 1.0/9
	p = float64(p*w) - 1.0/7
	p = float64(p*w) + 1.0/5
	p = float64(p*w) - 1.0/3
	return z + float64(z*float64(w*p))
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
