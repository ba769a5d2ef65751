package vector

import (
	"fmt"
	"math/rand"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// The pairs are counted as one would by hand.
func TestTangledCounts(t *testing.T) {
	random := rand.New(rand.NewSource(1))
	for range 300 {
		ring := make(Ring, 3+random.Intn(20))
		for i := range ring {
			ring[i] = Point{float64(random.Intn(12)), float64(random.Intn(12))}
		}
		var x tangler
		x.chains(append(ring, ring[0]))
		pairs := 0
		for i, a := range x.spans {
			for _, b := range x.spans[i+1:] {
				if a.low[0] <= b.high[0] && b.low[0] <= a.high[0] && a.low[1] <= b.high[1] && b.low[1] <= a.high[1] {
					pairs++
				}
			}
		}
		polygons := []Polygon{{append(ring, ring[0])}}
		if pairs > 0 && !x.tangled(polygons, pairs-1) || x.tangled(polygons, pairs) {
			t.Fatalf("%d pairs: %v", pairs, ring)
		}
	}
}

// A comb of 50 000 teeth is no tangle, whichever way it lies.
func TestCombsAreNoTangle(t *testing.T) {
	var comb, lying Ring
	for i := range 100_000 {
		p := Point{float64(i), float64(100 * (i % 2))}
		comb, lying = append(comb, p), append(lying, Point{p[1], p[0]})
	}
	var x tangler
	for _, ring := range []Ring{comb, lying} {
		if x.tangled([]Polygon{{ring}}, mostOverlaps) {
			t.Error("a comb is a tangle")
		}
	}
}

// Squares within squares took GEOS 3.11 minutes; they are read at once, and
// counted as not checked.
func TestNestedHolesEnd(t *testing.T) {
	var rings []string
	const n = 30_000
	for i := range n {
		a, b := float64(i)*1e-6, 0.1-float64(i)*1e-6
		rings = append(rings, fmt.Sprintf("[[%[1]v,%[1]v],[%[2]v,%[1]v],[%[2]v,%[2]v],[%[1]v,%[2]v],[%[1]v,%[1]v]]", a, b))
	}
	path := filepath.Join(t.TempDir(), "nested.geojson")
	text := `{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"rock":"sand"},"geometry":{"type":"Polygon","coordinates":[` + strings.Join(rings, ",") + `]}}]}`
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	l, err := Open(path, "", "")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	began, rest := time.Now(), 0
	counts, err := l.Each(nil, func(f *Feature) error { rest = len(f.Polygons[0]); return nil })
	if err != nil || counts.Unchecked != 1 || counts.Invalid != 0 || rest != n {
		t.Errorf("%+v, %d rings, %v", counts, rest, err)
	}
	if took := time.Since(began); took > 20*time.Second {
		t.Errorf("it took %v", took)
	}
}
