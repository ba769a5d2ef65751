package water

import (
	"context"
	"math"
	"os"
	"strconv"
	"sync"
	"syscall"
	"testing"

	"likelyground/raster"
)

// rolling is a ground of hills with hollows, rounded to 1 cm so that there are
// flats, some of it missing: sums of waves and of noise by a hash. It is made
// as it is read, so that its size needs no room.
type rolling struct {
	side          int
	east, south   [5][]float64 // factors of the waves
	eastGap, fall []float64    // of the holes
}

func newRolling(side int) *rolling {
	f := &rolling{side: side, eastGap: make([]float64, side), fall: make([]float64, side)}
	for k, step := range []float64{900, 310, 97, 41, 17} {
		f.east[k], f.south[k] = make([]float64, side), make([]float64, side)
		for i := range side {
			f.east[k][i] = step / 25 * math.Sin(float64(i)/step*6+float64(k))
			f.south[k][i] = math.Cos(float64(i)/step*6.4 + float64(3*k))
		}
	}
	for i := range side {
		f.eastGap[i], f.fall[i] = math.Sin(float64(i)/1300*6), math.Sin(float64(i)/1100*6)
	}
	return f
}

func (f *rolling) Read(dst raster.Tile, _ []bool) error {
	for row := dst.Row; row < dst.EndRow(); row++ {
		out := dst.ValueRow(row)
		for i := range out {
			col := dst.Col + i
			z := 200 + float64(col)/40 - float64(row)/70
			for k := range f.east {
				z += f.east[k][col] * f.south[k][row]
			}
			h := uint32(row*f.side+col) * 2654435761 // 2^32 over the golden ratio
			h ^= h >> 15
			h *= 2246822519
			out[i] = float32(math.Round((z+float64(h>>22)/10240)*100) / 100)
			if f.eastGap[col]*f.fall[row] > 0.97 {
				out[i] = raster.Missing
			}
		}
	}
	return nil
}

func (f *rolling) Close() error { return nil }

// BenchmarkWater follows water over a ground from reading it to wetness, by
// tiles on scratch with room for a sixteenth of them in memory, and gives the
// processor's time a cell for each stage: the least of some rounds, since
// others may use the machine. Bringing the ground in is timed apart. WATER_SIDE
// and WATER_MEMORY (bytes) set another size.
func BenchmarkWater(b *testing.B) {
	side := benchSide()
	f := newRolling(side)
	cells := float64(side * side)
	memory := fromEnv("WATER_MEMORY", side*side*spreadBytes/16)
	window := raster.Window{Cols: side, Rows: side}
	g := Ground{Window: window, DX: 10, DY: 10, Open: func() (Reader, error) { return f, nil }}
	scratch := int64(0)
	least := map[string]float64{}
	for b.Loop() {
		store := &measured{Store: NewScratch(b.TempDir())}
		for stage, ns := range benchRound(b, g, Options{Memory: int64(memory), Store: store}) {
			if before, ok := least[stage]; !ok || ns < before {
				least[stage] = ns
			}
		}
		scratch = store.most
	}
	least["fill"] -= least["reading"]
	total := 0.0
	for stage, ns := range least {
		b.ReportMetric(ns/cells, stage+"-ns/cell")
		if stage != "reading" && stage != "hollows" && stage != "channels" {
			total += ns / cells
		}
	}
	b.ReportMetric(total, "fill..wetness-ns/cell")
	b.ReportMetric(float64(scratch)/cells, "scratch-B/cell")
	b.ReportMetric(peakMB(), "peak-MB")
}

// measured is a Store that knows how much it has held at once.
type measured struct {
	Store
	mu         sync.Mutex
	held, most int64
	records    map[string]map[int]int // lengths
}

func (m *measured) Write(layer string, record int, bytes []byte) error {
	m.mu.Lock()
	if m.records == nil {
		m.records = map[string]map[int]int{}
	}
	if m.records[layer] == nil {
		m.records[layer] = map[int]int{}
	}
	if more := len(bytes) - m.records[layer][record]; more > 0 {
		m.records[layer][record] = len(bytes)
		m.held += int64(more)
		m.most = max(m.most, m.held)
	}
	m.mu.Unlock()
	return m.Store.Write(layer, record, bytes)
}

func (m *measured) Drop(layer string) error {
	m.mu.Lock()
	for _, length := range m.records[layer] {
		m.held -= int64(length)
	}
	delete(m.records, layer)
	m.mu.Unlock()
	return m.Store.Drop(layer)
}

// peakMB is the most memory that the process has had, in 10^6 bytes.
func peakMB() float64 {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		return 0
	}
	return float64(u.Maxrss) * 1024 / 1e6 // Linux counts in 1,024 bytes
}

// fromEnv is a number of the environment, or another.
func fromEnv(name string, other int) int {
	if n, err := strconv.Atoi(os.Getenv(name)); err == nil {
		return n
	}
	return other
}

// benchSide is the side of the ground in cells.
func benchSide() int {
	if testing.Short() {
		return 600
	}
	return fromEnv("WATER_SIDE", 3000)
}

// benchRound returns what each stage took of the processor.
func benchRound(b *testing.B, g Ground, o Options) map[string]float64 {
	ctx, took := context.Background(), map[string]float64{}
	var w *Water
	for _, stage := range []struct {
		name string
		do   func() error
	}{
		{"reading", func() error { return readGround(g) }},
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

// readGround reads the ground as [New] does, and nothing else.
func readGround(g Ground) error {
	r, err := g.Open()
	if err != nil {
		return err
	}
	l := newLattice(g.Window, DefaultTile)
	tile, drains := raster.NewTile(raster.Window{Cols: DefaultTile, Rows: DefaultTile}), make([]bool, DefaultTile*DefaultTile)
	for t := range l.tiles() {
		win := l.window(t)
		if err := r.Read(raster.Tile{Window: win, Values: tile.Values[:win.Size()]}, drains[:win.Size()]); err != nil {
			return err
		}
	}
	return r.Close()
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
