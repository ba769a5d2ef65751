package water

import (
	"context"
	"math"
	"os"
	"strconv"
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

// BenchmarkWater follows water over a ground from reading it to wetness, by
// tiles on scratch with room for a sixteenth of them in memory, and gives the
// processor's time a cell for each stage: the least of some rounds, since
// others may use the machine.
func BenchmarkWater(b *testing.B) {
	side := benchSide()
	f := fast{rolling(side)}
	cells := float64(side * side)
	g := Ground{Window: f.Window, DX: 10, DY: 10, Open: func() (Reader, error) { return f, nil }}
	least := map[string]float64{}
	for b.Loop() {
		for stage, ns := range benchRound(b, g, Options{Memory: int64(cells * spreadBytes / 16), Store: NewScratch(b.TempDir())}) {
			if before, ok := least[stage]; !ok || ns < before {
				least[stage] = ns
			}
		}
	}
	total := 0.0
	for stage, ns := range least {
		b.ReportMetric(ns/cells, stage+"-ns/cell")
		if stage != "hollows" && stage != "channels" {
			total += ns / cells
		}
	}
	b.ReportMetric(total, "fill..wetness-ns/cell")
}

// benchSide is the side of the ground in cells; WATER_SIDE sets another.
func benchSide() int {
	if side, err := strconv.Atoi(os.Getenv("WATER_SIDE")); err == nil {
		return side
	}
	if testing.Short() {
		return 600
	}
	return 3000
}

// benchRound returns what each stage took of the processor.
func benchRound(b *testing.B, g Ground, o Options) map[string]float64 {
	ctx, took := context.Background(), map[string]float64{}
	var w *Water
	for _, stage := range []struct {
		name string
		do   func() error
	}{
		{"fill", func() (err error) { w, err = New(ctx, g, o); return err }},
		{"drain", func() error { return w.Drain(ctx) }},
		{"one", func() error { return w.GatherOne(ctx) }},
		{"many", func() error { return w.GatherMany(ctx) }},
		{"wetness", func() error { return readAll(w, WetnessMany) }},
		{"hollows", func() error { return w.Hollows(ctx) }},
		{"channels", func() error { return w.Channels(ctx, Channel{Least: 1e5}) }},
	} {
		before := cpu()
		if err := stage.do(); err != nil {
			b.Fatal(err)
		}
		took[stage.name] = float64(cpu() - before)
	}
	if err := w.Close(); err != nil {
		b.Fatal(err)
	}
	return took
}

// readAll reads a layer by windows as large as tiles.
func readAll(w *Water, layer Layer) error {
	v, out := w.View(), raster.NewTile(raster.Window{Cols: DefaultTile, Rows: DefaultTile})
	for out.Row = 0; out.Row < w.ground.Window.Rows; out.Row += DefaultTile {
		for out.Col = 0; out.Col < w.ground.Window.Cols; out.Col += DefaultTile {
			if err := v.Read(layer, out); err != nil {
				return err
			}
		}
	}
	return nil
}

// cpu is the time that the process has had of the processors.
func cpu() int64 {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		return 0
	}
	return u.Utime.Nano() + u.Stime.Nano()
}
