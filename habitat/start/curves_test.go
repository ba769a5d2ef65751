package start

import (
	"math/rand/v2"
	"slices"
	"testing"
)

func TestCurve(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{curve(point{5, 1}, point{4, 0.4}, point{6, 1}), "{4: 0.4, 5: 1, 6: 1}"},
		{curve(point{0, 0.4}, point{0, 1}, point{40, 1}), "{0: 1, 40: 1}"},
		{curve(point{-0.5, 1}), "{-0.5: 1}"},
		{spreadOf{low: 3.9, high: 7.2, step: 0.2}.like(4.3, 5.1, [2]float64{0, 14}), "{3.6: 0.2, 4.2: 1, 5.2: 1, 5.8: 0.2}"},
		{spreadOf{low: 0, high: 20, step: 1}.like(0, 11, [2]float64{0, 90}), "{0: 1, 11: 1, 17: 0.2}"},
	} {
		if c.got != c.want {
			t.Errorf("%s, want %s", c.got, c.want)
		}
	}
}

func TestRoundStep(t *testing.T) {
	for x, want := range map[float64]float64{0.11: 0.2, 0.2: 0.2, 1: 1, 3: 5, 7: 10, 0: 1, 1e-9: 1e-9, 12: 20} {
		if got := roundStep(x); got != want {
			t.Errorf("%v: %v, want %v", x, got, want)
		}
	}
}

// n places picked blindly span (n-1)/(n+1) of the ground on average: tried
// out on ten thousand draws.
func TestBlindSpan(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 9))
	for _, n := range []int{3, 7, 20} {
		const draws = 10000
		sum := 0.0
		for range draws {
			x := make([]float64, n)
			for i := range x {
				x[i] = r.Float64()
			}
			sum += slices.Max(x) - slices.Min(x)
		}
		if got, want := sum/draws, float64(n-1)/float64(n+1); got < want-0.01 || got > want+0.01 {
			t.Errorf("%d places span %v, want %v", n, got, want)
		}
	}
}

func TestPattern(t *testing.T) {
	if pattern("a/Copernicus_DSM_COG_10_N50_00_E003_00_DEM.tif") != pattern("Copernicus_DSM_COG_10_S07_00_W113_00_DEM.tif") {
		t.Error("tiles of one map are told apart")
	}
	if pattern("soil_ph.tif") == pattern("soil_clay.tif") {
		t.Error("two maps are taken for one")
	}
}

func TestMapAt(t *testing.T) {
	text := []byte("format: 1\nmaps:\n  # a remark\n  ground:\n    file: a.tif\n\n  \"odd: name\":\n    file: b.tif\nfactors:\n  x:\n")
	for line, want := range map[int]string{1: "", 5: "ground", 8: "odd: name", 10: ""} {
		if got := mapAt(text, line); got != want {
			t.Errorf("line %d: %q, want %q", line, got, want)
		}
	}
}
