package crs

import (
	"testing"

	"likelyground/raster"
)

// BenchmarkLattice reads tiles of 512 x 512 cells, nodes and their check
// included: the nodes are made anew for each tile.
func BenchmarkLattice(b *testing.B) {
	for _, name := range []string{"utm from degrees", "national grid, datum shift", "UTM from interrupted"} {
		for _, p := range pairs {
			if p.name == name {
				b.Run(name, func(b *testing.B) { benchmarkTiles(b, p.reader(b)) })
			}
		}
	}
	b.Run("own CRS", func(b *testing.B) { benchmarkTiles(b, own(1, 0).reader(b)) })
}

func benchmarkTiles(b *testing.B, r *LatticeReader) {
	const side = 512
	u, v := make([]float64, side), make([]float64, side)
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		w := raster.Window{Col: i % 7 * side, Row: i % 5 * side, Cols: side, Rows: side}
		r.SourceWindow(w)
		for row := w.Row; row < w.EndRow(); row++ {
			r.Row(w.Col, w.Cols, row, 1, 0, u, v)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/side/side, "ns/cell")
}

func BenchmarkAreas(b *testing.B) {
	a, err := NewAreas(raster.Grid{CRS: "EPSG:25831", X0: 400000, Y0: 5800000, DX: 10, DY: 10, Cols: 4096, Rows: 4096})
	if err != nil {
		b.Fatal(err)
	}
	defer a.Close()
	const side = 512
	r, out := a.Reader(), make([]int64, side)
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		col, top := i%7*side, i%5*side
		for row := top; row < top+side; row++ {
			r.Row(col, side, row, out)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/side/side, "ns/cell")
}

func BenchmarkTransformer(b *testing.B) {
	op, err := Choose("EPSG:25831", "EPSG:4326", Box{}, Options{})
	if err != nil {
		b.Fatal(err)
	}
	t, err := op.Open()
	if err != nil {
		b.Fatal(err)
	}
	defer t.Close()
	x, y := make([]float64, 1000), make([]float64, 1000)
	for b.Loop() {
		for i := range x {
			x[i], y[i] = 4e5+float64(i)*10, 57e5
		}
		t.Forward(x, y)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/1000, "ns/point")
}
