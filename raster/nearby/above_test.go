package nearby

import (
	"fmt"
	"math"
	"testing"

	"likelyground/raster"
)

// onSurface lays heights on cells of 10 m, (0, 0) in the middle of cell (0, 0).
func onSurface(reach int, z func(e, n float64) float64) raster.Tile {
	t := raster.NewTile(raster.Window{Cols: 1, Rows: 1}.Grow(reach))
	for row := t.Row; row < t.EndRow(); row++ {
		for i := range t.ValueRow(row) {
			t.ValueRow(row)[i] = float32(z(float64(10*(t.Col+i)), float64(-10*row)))
		}
	}
	return t
}

// TestAbove holds relative position to worked values: GDAL 3.6.2 and the
// definition agree on those of eight neighbours (15 m on cells of 10 m), the
// one of 20 cells is by the definition.
func TestAbove(t *testing.T) {
	plane := func(e, n float64) float64 { return 0.3*e + 0.4*n }
	bowl := func(e, n float64) float64 { return 0.01 * (e*e + n*n) }
	m := raster.Tile{Window: raster.Window{Col: -1, Row: -1, Cols: 3, Rows: 3}, Values: []float32{101, 105, 110, 98, 103, 109, 95, 100, 108}}
	for _, c := range []struct {
		name   string
		src    raster.Tile
		radius float64
		want   float64
	}{
		{"M", m, 15, -0.25},
		{"plane", onSurface(1, plane), 15, 0},
		{"bowl, 8 cells", onSurface(1, bowl), 15, -1.5},
		{"bowl, 20 cells", onSurface(2, bowl), 25, -3.4},
		{"alone", onSurface(0, bowl), 5, math.NaN()},
	} {
		dst := raster.NewTile(raster.Window{Cols: 1, Rows: 1})
		NewMean(NewDisc(10, 10, c.radius)).Above(dst, c.src)
		got := float64(dst.Values[0])
		if math.IsNaN(got) != math.IsNaN(c.want) || math.Abs(got-c.want) > 1e-6 {
			t.Errorf("%s: %g, want %g", c.name, got, c.want)
		}
	}
}

func BenchmarkAbove(b *testing.B) {
	disc := NewDisc(10, 10, 250)
	w := raster.Window{Cols: 512, Rows: 512}
	src, dst, m := raster.NewTile(w.Grow(disc.Reach())), raster.NewTile(w), NewMean(disc)
	for i := range src.Values {
		src.Values[i] = 5 + float32(math.Sin(float64(i)/300))
	}
	for b.Loop() {
		m.Above(dst, src)
	}
	perCell(b, 512)
}

func ExampleMean_Above() {
	disc := NewDisc(10, 10, 10) // a cell and its four neighbours
	src := raster.Tile{Window: raster.Window{Col: -1, Row: -1, Cols: 3, Rows: 3}, Values: []float32{0, 2, 0, 4, 8, 2, 0, 4, 0}}
	dst := raster.NewTile(raster.Window{Cols: 1, Rows: 1})
	NewMean(disc).Above(dst, src)
	fmt.Println(dst.Values)
	// Output: [5]
}
