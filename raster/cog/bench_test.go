package cog

import (
	"io"
	"math"
	"syscall"
	"testing"

	"likelyground/raster"
)

// perCell runs a benchmark and reports nanoseconds a cell: by the clock, and
// of the processor, which others at work on the machine disturb less.
func perCell(b *testing.B, cells int, run func()) {
	b.ReportAllocs()
	b.ResetTimer()
	before := processor(b)
	for range b.N {
		run()
	}
	n := float64(b.N) * float64(cells)
	b.ReportMetric(float64(processor(b)-before)/n, "cpu-ns/cell")
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/n, "ns/cell")
}

// processor returns the nanoseconds of processor time used so far.
func processor(b *testing.B) int64 {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return u.Utime.Nano() + u.Stime.Nano()
}

// smooth is a surface as scores are: multiples of 1/16384 that change slowly.
func smooth(w raster.Window) raster.Tile {
	t := raster.NewTile(w)
	for row := w.Row; row < w.EndRow(); row++ {
		for col := w.Col; col < w.EndCol(); col++ {
			v := 0.5 + 0.3*math.Sin(float64(col)/40)*math.Cos(float64(row)/55) + 0.05*math.Sin(float64(col*row)/300)
			t.Values[t.Index(col, row)] = float32(math.Round(v*16384) / 16384)
			if (col/90+row/70)%9 == 0 {
				t.Values[t.Index(col, row)] = raster.Missing
			}
		}
	}
	return t
}

var benchGrid = raster.Grid{DX: 1, DY: 1, Cols: 2048, Rows: 2048}

// BenchmarkFile writes a whole file of 4 M cells with one worker, from
// windows of whole blocks and of others.
func BenchmarkFile(b *testing.B) {
	for _, c := range []struct {
		name string
		side int
		l    Layout
	}{
		{"deflate6", 512, Layout{}},
		{"deflate6/tiles of 256", 256, Layout{}},
		{"deflate6/tiles of 300", 300, Layout{}},
		{"deflate1", 512, Layout{Level: 1}},
		{"zstd3", 512, Layout{Compression: Zstd}},
	} {
		b.Run(c.name, func(b *testing.B) {
			l := c.l
			l.Grid, l.Bands, l.Nodata = benchGrid, bandsOf(1), ptr(math.NaN())
			var tiles []raster.Tile
			for _, w := range windows(l.Grid, c.side) {
				tiles = append(tiles, smooth(w))
			}
			perCell(b, int(l.Grid.Cells()), func() { b.ReportMetric(float64(benchFile(b, l, tiles)), "bytes") })
		})
	}
}

// counter counts bytes.
type counter int64

func (c *counter) Write(b []byte) (int, error) {
	*c += counter(len(b))
	return len(b), nil
}

func benchFile(b *testing.B, l Layout, tiles []raster.Tile) int64 {
	w, err := Create(b.TempDir(), l)
	if err != nil {
		b.Fatal(err)
	}
	defer w.Close()
	e := w.Encoder()
	for _, t := range tiles {
		if err := e.Put(0, t); err != nil {
			b.Fatal(err)
		}
	}
	var n counter
	if err := w.Finish(io.Writer(&n)); err != nil {
		b.Fatal(err)
	}
	return int64(n)
}

func BenchmarkKernels(b *testing.B) {
	w := raster.Window{Cols: 512, Rows: 512}
	t, up := smooth(w), raster.NewTile(raster.Window{Cols: 256, Rows: 256})
	raw := make([]byte, 4*w.Size())
	kernels := []struct {
		name string
		run  func()
	}{
		{"predict", func() { (&Layout{Sample: Float32, Block: 512}).predict(raw, t, w, filler{bits: canonicalNaN}) }},
		{"survey", func() { surveyValues(t, w) }},
		{"halve", func() { Average.halve(up, t, w) }},
	}
	for _, c := range []Compression{Deflate, Zstd} {
		coder, err := newCoder(c, defaultLevel(c))
		if err != nil {
			b.Fatal(err)
		}
		kernels = append(kernels, struct {
			name string
			run  func()
		}{[...]string{"deflate 6", "zstd 3"}[c], func() { _, _ = coder.code(raw) }}) // a buffer never fails
	}
	(&Layout{Sample: Float32, Block: 512}).predict(raw, t, w, filler{bits: canonicalNaN})
	for _, k := range kernels {
		b.Run(k.name, func(b *testing.B) { perCell(b, w.Size(), k.run) })
	}
}
