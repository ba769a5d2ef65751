package vector

import (
	"encoding/binary"
	"math"
	"testing"

	"pgregory.net/rapid"
)

// Points of a chord chain lie on the circle, and an arc drawn backwards has
// the same points.
func TestArc(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at := func(name string) Point {
			return Point{rapid.Float64Range(-1e6, 1e6).Draw(t, name+"x"), rapid.Float64Range(-1e6, 1e6).Draw(t, name+"y")}
		}
		a, b, c := at("a"), at("b"), at("c")
		there, back := appendArc(nil, a, b, c), appendArc(nil, c, b, a)
		if len(there) != len(back) || there[len(there)-1] != c || back[len(back)-1] != a {
			t.Fatalf("%d and %d points", len(there), len(back))
		}
		for i := range len(there) - 1 {
			if there[i] != back[len(back)-2-i] {
				t.Fatalf("point %d: %v and %v", i, there[i], back[len(back)-2-i])
			}
		}
	})
}

func TestQuarterCircle(t *testing.T) {
	h := 100 * math.Sqrt(0.5)
	points := appendArc(nil, Point{100, 0}, Point{h, h}, Point{0, 100})
	if len(points) != 180 {
		t.Errorf("%d chords for 90 degrees", len(points))
	}
	for _, p := range points {
		if math.Abs(math.Hypot(p[0], p[1])-100) > 1e-9 || p[0] < -1e-9 || p[1] < -1e-9 {
			t.Errorf("%v is not on the arc", p)
		}
	}
}

func TestStraightArc(t *testing.T) {
	if got := appendArc(nil, Point{0, 0}, Point{1, 1}, Point{2, 2}); len(got) != 2 || got[0] != (Point{1, 1}) {
		t.Errorf("%v", got)
	}
}

func FuzzWKB(f *testing.F) {
	f.Add([]byte{1, 3, 0, 0, 0, 0, 0, 0, 0})
	f.Add([]byte{1, 10, 0, 0, 0, 1, 0, 0, 0, 1, 8, 0, 0, 0, 0, 0, 0, 0})
	f.Add([]byte{1, 7, 0, 0, 0, 1, 0, 0, 0, 1, 1, 0, 0, 0})
	f.Add([]byte{1, 2, 0, 0, 0, 0, 0, 0, 0})
	f.Add([]byte{1, 9, 0, 0, 0, 1, 0, 0, 0, 1, 2, 0, 0, 0, 0, 0, 0, 0})
	var r wkbReader
	r.points, r.lines = true, true
	f.Fuzz(func(t *testing.T, data []byte) {
		if r.read(data) != nil {
			return
		}
		for _, p := range r.polygons {
			for _, ring := range p {
				if len(ring) < 4 || ring[0] != ring[len(ring)-1] {
					t.Errorf("ring %v", ring)
				}
			}
		}
		for _, line := range r.chains {
			if len(line) == 0 {
				t.Error("a line without places")
			}
			for _, at := range line {
				if !finite(at[0]) || !finite(at[1]) {
					t.Errorf("place %v", at)
				}
			}
		}
	})
}

// A hundred thousand full circles are some 72 million chords: refused, before
// they are laid out.
func TestArcsAreBounded(t *testing.T) {
	const circles = 100_000
	data := binary.LittleEndian.AppendUint32([]byte{1}, wkbCurvePolygon)
	data = binary.LittleEndian.AppendUint32(data, 1)
	data = append(data, 1)
	data = binary.LittleEndian.AppendUint32(data, wkbArcs)
	data = binary.LittleEndian.AppendUint32(data, 2*circles+1)
	for i := range 2*circles + 1 {
		for _, x := range []float64{float64(i % 2), 0} {
			data = binary.LittleEndian.AppendUint64(data, math.Float64bits(x))
		}
	}
	var r wkbReader
	if err := r.read(data); err == nil || cap(r.places) > 8*mostChords {
		t.Errorf("%v, room for %d points", err, cap(r.places))
	}
}
