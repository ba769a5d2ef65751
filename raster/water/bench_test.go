package water

import (
	"context"
	"math"
	"syscall"
	"testing"

	"likelyground/raster"
)

// rolling is a ground of hills with hollows, rounded to 1 cm so that there are
// flats, some of it missing: sums of waves and of noise by a hash.
func rolling(side int) *field {
	f := &field{Tile: raster.NewTile(raster.Window{Cols: side, Rows: side}), dx: 10, dy: 10}
	for i := range f.Values {
		x, y := float64(i%side), float64(i/side)
		z := 200 + x/40 - y/70
		for k, step := range []float64{900, 310, 97, 41, 17} {
			z += step / 25 * math.Sin(x/step*6+float64(k)) * math.Cos(y/step*6.4+float64(3*k))
		}
		h := uint32(i) * 2654435761 // 2^32 over the golden ratio
		h ^= h >> 15
		h *= 2246822519
		f.Values[i] = float32(math.Round((z+float64(h>>22)/10240)*100) / 100)
		if math.Sin(x/1300*6)*math.Sin(y/1100*6) > 0.97 {
			f.Values[i] = raster.Missing
		}
	}
	return f
}

// fast reads rows at a time, so that bringing the ground in is not measured.
type fast struct{ *field }

func (f fast) Read(dst raster.Tile, drains []bool) error {
	dst.CopyFrom(f.Tile)
	return nil
}

// BenchmarkStages gives the time a cell of each stage, by tiles of 512 with
// room for a quarter of them, in memory.
func BenchmarkStages(b *testing.B) {
	side := 3000
	if testing.Short() {
		side = 600
	}
	f := fast{rolling(side)}
	cells := float64(side * side)
	g := Ground{Window: f.Window, DX: 10, DY: 10, Open: func() (Reader, error) { return f, nil }}
	var w *Water
	for _, stage := range []struct {
		name string
		do   func() error
	}{
		{"fill", func() (err error) {
			if w != nil {
				w.Close()
			}
			w, err = New(context.Background(), g, Options{Memory: int64(cells * spreadBytes / 4)})
			return err
		}},
		{"drain", func() error { return w.Drain(context.Background()) }},
		{"one", func() error { return w.GatherOne(context.Background()) }},
		{"many", func() error { return w.GatherMany(context.Background()) }},
		{"hollows", func() error { return w.Hollows(context.Background()) }},
		{"channels", func() error { return w.Channels(context.Background(), Channel{Least: 1e5}) }},
		{"wetness", func() error {
			v, out := w.View(), raster.NewTile(raster.Window{Cols: 512, Rows: 512})
			for out.Row = 0; out.Row < side; out.Row += 512 {
				for out.Col = 0; out.Col < side; out.Col += 512 {
					if err := v.Read(WetnessMany, out); err != nil {
						return err
					}
				}
			}
			return nil
		}},
	} {
		b.Run(stage.name, func(b *testing.B) {
			before := cpu()
			for b.Loop() {
				if w != nil && stage.name != "wetness" {
					done := map[string]bool{}
					for name, d := range w.done {
						done[name] = d && name != lastDone(stage.name)
					}
					w.done = done
				}
				if err := stage.do(); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(cpu()-before)/float64(b.N)/cells, "cpu-ns/cell")
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/cells, "ns/cell")
		})
	}
	w.Close()
}

// cpu is the time that the process has had of the processors.
func cpu() int64 {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		return 0
	}
	return u.Utime.Nano() + u.Stime.Nano()
}

// lastDone is the name under which a stage notes that it is done.
func lastDone(stage string) string {
	switch stage {
	case "one":
		return oneLayer
	case "many":
		return manyLayer
	case "hollows":
		return hollowLayer
	case "channels":
		return Channel{Least: 1e5}.layer("distance")
	}
	return stage
}
