package geojson

import (
	"math"
	"math/rand/v2"
	"reflect"
	"testing"
)

// TestSoonerClockwise holds the exact comparison against angles (math.Atan2)
// of small vectors, which are well apart or equal.
func TestSoonerClockwise(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	some := func() (v vector) {
		for v == (vector{}) {
			v = vector{int64(r.IntN(13)) - 6, int64(r.IntN(13)) - 6}
		}
		return v
	}
	clockwise := func(from, to vector) float64 {
		d := math.Atan2(float64(from.y), float64(from.x)) - math.Atan2(float64(to.y), float64(to.x))
		for d < 1e-9 {
			d += 2 * math.Pi // straight ahead comes last
		}
		return d
	}
	for range 20000 {
		u, v, w := some(), some(), some()
		want := clockwise(u, v) < clockwise(u, w)-1e-9
		if got := v.soonerClockwise(w, u); got != want {
			t.Fatalf("from %v: %v before %v: %v", u, v, w, got)
		}
	}
}

// TestRetie: by hand. Three petals meet in one place, drawn as one walk that
// crosses nothing; and a hole that touches its shell twice and parts it.
func TestRetie(t *testing.T) {
	petals := Ring{{0, 0}, {2, 1}, {2, 2}, {0, 0}, {-2, 2}, {-3, 1}, {0, 0}, {-1, -3}, {1, -3}}
	want := []Ring{{{0, 0}, {-1, -3}, {1, -3}}, {{2, 1}, {2, 2}, {0, 0}}, {{-2, 2}, {-3, 1}, {0, 0}}}
	if got := retie([]Ring{petals}); !reflect.DeepEqual(got, want) {
		t.Errorf("petals: %v", got)
	}
	shell := Ring{{0, 0}, {2, 0}, {4, 0}, {4, 4}, {2, 4}, {0, 4}}
	hole := Ring{{2, 0}, {1, 2}, {2, 4}, {3, 2}}
	want = []Ring{{{0, 0}, {2, 0}, {1, 2}, {2, 4}, {0, 4}}, {{4, 0}, {4, 4}, {2, 4}, {3, 2}, {2, 0}}}
	got := retie([]Ring{shell, hole})
	if len(got) != 2 || !reflect.DeepEqual(got[0], want[0]) || got[1].turn() != want[1].turn() || len(got[1]) != 5 {
		t.Errorf("parted: %v", got)
	}
}
