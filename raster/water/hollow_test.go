package water

import (
	"context"
	"testing"

	"likelyground/raster"
)

func hollow(w *Water, ctx context.Context) error { return w.Hollows(ctx) }

// hollowAreas is the definition: flood each hollow and count it.
func (f *field) hollowAreas() []float32 {
	z := f.filled()
	out := make([]float32, len(z))
	seen := make([]bool, len(z))
	for i := range z {
		if !f.known(i) {
			out[i] = raster.Missing
		}
		if seen[i] || !(z[i] > f.Values[i]) {
			continue
		}
		seen[i] = true
		all := []int{i}
		for n := 0; n < len(all); n++ {
			f.near(all[n], func(j, _ int) {
				if z[j] > f.Values[j] && !seen[j] {
					seen[j] = true
					all = append(all, j)
				}
			})
		}
		for _, j := range all {
			out[j] = float32(float64(len(all)) * f.dx * f.dy)
		}
	}
	return out
}

func TestHollowsAreFloods(t *testing.T) {
	for _, f := range grounds(200) {
		want := f.hollowAreas()
		for _, tile := range tileSizes {
			same(t, "hollow area", f, values(t, look(t, f, tile, hollow), HollowArea), want)
		}
	}
}
