package vector

import (
	"math"
	"slices"
)

// arcStep is the largest angle of a chord.
const arcStep = 0.5 * math.Pi / 180

// appendArc appends chords along the arc from a through b to c, a itself left
// out. Where a and c are one point it is the circle with b opposite. An arc
// drawn the other way round gives the same points, so that two neighbours
// who share it share every chord.
func appendArc(to []Point, a, b, c Point) []Point {
	if after(a, c) {
		back := chords(nil, c, b, a)
		inner := back[:len(back)-1]
		slices.Reverse(inner)
		return append(append(to, inner...), c)
	}
	return chords(to, a, b, c)
}

func after(a, c Point) bool { return a[0] > c[0] || a[0] == c[0] && a[1] > c[1] }

// chords does the work of appendArc for a before c.
func chords(to []Point, a, b, c Point) []Point {
	centre, ok := arcCentre(a, b, c)
	if !ok {
		return append(to, b, c)
	}
	radius := math.Hypot(a[0]-centre[0], a[1]-centre[1])
	start, sweep := arcAngles(centre, a, b, c)
	n := int(math.Ceil(math.Abs(sweep) / arcStep))
	for i := 1; i < n; i++ {
		sin, cos := math.Sincos(start + sweep*float64(i)/float64(n))
		to = append(to, Point{centre[0] + float64(radius*cos), centre[1] + float64(radius*sin)})
	}
	return append(to, c)
}

// arcCentre returns the centre of the circle through three points; false
// means that they lie on a line.
func arcCentre(a, b, c Point) (Point, bool) {
	if a == c {
		return Point{(a[0] + b[0]) / 2, (a[1] + b[1]) / 2}, a != b
	}
	bx, by, cx, cy := b[0]-a[0], b[1]-a[1], c[0]-a[0], c[1]-a[1]
	area := float64(bx*cy) - float64(by*cx)
	b2, c2 := float64(bx*bx)+float64(by*by), float64(cx*cx)+float64(cy*cy)
	if math.Abs(area) <= 1e-12*math.Sqrt(float64(b2*c2)) {
		return Point{}, false
	}
	x := (float64(cy*b2) - float64(by*c2)) / (2 * area)
	y := (float64(bx*c2) - float64(cx*b2)) / (2 * area)
	return Point{a[0] + x, a[1] + y}, true
}

// arcAngles returns the angle of a seen from the centre and the angle to go
// from there through b to c, against the clock where it is positive.
func arcAngles(centre, a, b, c Point) (start, sweep float64) {
	angle := func(p Point) float64 { return math.Atan2(p[1]-centre[1], p[0]-centre[0]) }
	start = angle(a)
	if a == c {
		return start, 2 * math.Pi
	}
	turn := func(p Point) float64 { return math.Mod(angle(p)-start+4*math.Pi, 2*math.Pi) }
	if turn(b) < turn(c) {
		return start, turn(c)
	}
	return start, turn(c) - 2*math.Pi
}
