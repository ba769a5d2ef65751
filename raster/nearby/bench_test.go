package nearby

import (
	"math"
	"testing"

	"likelyground/raster"
)

// patchy is ground for benchmarks: woods of some hundred cells across.
func patchy(w raster.Window) raster.Tile {
	t := raster.NewClassTile(w)
	for row := range w.Rows {
		for col := range w.Cols {
			if math.Sin(float64(col)/37)*math.Cos(float64(row)/29)+0.3*math.Sin(float64(col*row)/5000) > 0.4 {
				t.Codes[row*w.Cols+col] = 1
			}
		}
	}
	return t
}

func perCell(b *testing.B, size int) {
	b.ReportAllocs()
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(size*size), "ns/cell")
}

func BenchmarkShare(b *testing.B) {
	disc := NewDisc(10, 10, 250)
	w := raster.Window{Cols: 512, Rows: 512}
	src, dst, s := patchy(w.Grow(disc.Reach())), raster.NewTile(w), NewShare(disc)
	for b.Loop() {
		s.Classes(dst, src, member)
	}
	perCell(b, 512)
}

func BenchmarkDistance(b *testing.B) { benchDistance(b, 10) }

func BenchmarkDistanceOblong(b *testing.B) { benchDistance(b, 11) }

func benchDistance(b *testing.B, dy float64) {
	d := NewDistance(10, dy, 500)
	w := raster.Window{Cols: 512, Rows: 512}
	src, dst := patchy(w.Grow(d.Reach())), raster.NewTile(w)
	for b.Loop() {
		d.Classes(dst, src, member)
	}
	perCell(b, 512)
}

func BenchmarkMean(b *testing.B) {
	disc := NewDisc(10, 10, 250)
	w := raster.Window{Cols: 512, Rows: 512}
	src, dst, m := raster.NewTile(w.Grow(disc.Reach())), raster.NewTile(w), NewMean(disc)
	for i := range src.Values {
		src.Values[i] = 5 + float32(math.Sin(float64(i)/300))
	}
	for b.Loop() {
		m.Values(dst, src)
	}
	perCell(b, 512)
}
