package water

import (
	"context"
	"math"
	"testing"

	"likelyground/raster"
)

// channels is the definition: follow the way of each cell, step by step, to
// the first cell through which enough ground drains.
func (f *field) channels(gathered []float32, least float64) (distance, height []float32) {
	z := f.filled()
	to, by := f.receivers(z)
	distance, height = make([]float32, len(z)), make([]float32, len(z))
	for i := range z {
		distance[i], height[i] = raster.Missing, raster.Missing
		way := 0.0
		for j := i; j >= 0 && f.known(i); j = to[j] {
			if float64(gathered[j]) >= least {
				distance[i], height[i] = float32(way), z[i]-z[j]
				break
			}
			if by[j] >= 0 {
				way += math.Hypot(float64(neighbours[by[j]].x)*f.dx, float64(neighbours[by[j]].y)*f.dy)
			}
		}
	}
	return distance, height
}

func TestChannelsAreFollowed(t *testing.T) {
	for n, f := range grounds(200) {
		c := Channel{Least: []float64{0, 150, 450, 2000}[n%4], Many: n%3 == 0}
		layer := GatheredOne
		if c.Many {
			layer = GatheredMany
		}
		stage := func(w *Water, ctx context.Context) error { return w.Channels(ctx, c) }
		whole := look(t, f, DefaultTile, stage)
		distance, height := f.channels(values(t, whole, layer), c.Least)
		first := raster.NewTile(f.Window)
		for _, tile := range []int{DefaultTile, 1, 2, 3, 5, 8} {
			v := look(t, f, tile, stage).View()
			out := raster.NewTile(f.Window)
			if err := v.ChannelDistance(c, out); err != nil {
				t.Fatal(err)
			}
			if tile == DefaultTile {
				copy(first.Values, out.Values)
			}
			same(t, "distance to a channel", f, out.Values, first.Values)
			for i, d := range out.Values {
				if d != distance[i] && !(math.Abs(float64(d-distance[i])) < 1e-6*float64(distance[i])) && (d == d || distance[i] == distance[i]) {
					t.Fatalf("cell %d,%d: %g to a channel, by the definition %g", i%f.Cols, i/f.Cols, d, distance[i])
				}
			}
			if err := v.ChannelHeight(c, out); err != nil {
				t.Fatal(err)
			}
			same(t, "height above a channel", f, out.Values, height)
		}
	}
}
