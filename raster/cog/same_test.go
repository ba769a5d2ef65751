package cog

import (
	"bytes"
	"math"
	"testing"

	"likelyground/raster"
)

// TestSameBytes: whatever windows the cells come in, by however many
// workers, in whatever order and with however little memory, the file is the
// same.
func TestSameBytes(t *testing.T) {
	floats := Layout{Grid: gridOf(1050, 700), Geo: utm31, Bands: bandsOf(2), Nodata: ptr(math.NaN()), Level: 1}
	classes := Layout{Grid: gridOf(700, 650), Sample: Byte, Bands: bandsOf(1), Nodata: ptr(255), Overview: Mode, Block: 128}
	for _, l := range []Layout{floats, classes} {
		g := ground{l.Sample, true}
		want := file(t, l, g, way{side: 2000, workers: 1})
		for _, side := range []int{17, 64, 256, 512, 1000} {
			rows := way{side: side}.puts(l, g)
			mixed := way{side: side, shuffle: true}.puts(l, g)
			checkSame(t, l, rows, 1, want)
			checkSame(t, l, mixed, 1, want)
			checkSame(t, l, rows, 2, want)
			checkSame(t, l, mixed, 8, want)
			l.Memory = 1
			checkSame(t, l, rows, 1, want)
			checkSame(t, l, mixed, 8, want)
			l.Memory = 0
		}
	}
}

func checkSame(t *testing.T, l Layout, puts []put, workers int, want []byte) {
	t.Helper()
	w := create(t, l)
	send(t, w, puts, workers)
	if !bytes.Equal(finish(t, w), want) {
		t.Errorf("sample %d, %d tiles, %d workers, memory %d: the bytes differ", l.Sample, len(puts), workers, l.Memory)
	}
}

// TestSameBytesByUsedCompressor: what a compressor did before leaves no
// trace in a block.
func TestSameBytesByUsedCompressor(t *testing.T) {
	blocks := make([][]byte, 12)
	for i := range blocks {
		l := Layout{Sample: Float32, Block: 256}
		blocks[i] = make([]byte, 4*256*256)
		w := raster.Window{Col: 300 * i, Row: 40 * i, Cols: 256, Rows: 256}
		l.predict(blocks[i], ground{Float32, i%2 == 0}.tile(0, w), w, filler{bits: canonicalNaN})
	}
	for _, c := range []Compression{Deflate, Zstd} {
		for level := 1; level <= 9; level++ {
			used, _ := newCoder(c, level)
			for i, b := range blocks {
				fresh, _ := newCoder(c, level)
				want, err := fresh.code(b)
				got, err2 := used.code(b)
				if err != nil || err2 != nil || !bytes.Equal(got, want) {
					t.Fatalf("compression %d, level %d, block %d differs (%v, %v)", c, level, i, err, err2)
				}
			}
		}
	}
}

// TestMemoryIsBounded: unfinished blocks hold no more buffers than fit in
// the memory given and one for each encoder at work.
func TestMemoryIsBounded(t *testing.T) {
	l := Layout{Grid: gridOf(3000, 700), Bands: bandsOf(2), Block: 64, Nodata: ptr(math.NaN()), Memory: 10 * 64 * 64 * 4}
	w := create(t, l)
	send(t, w, way{side: 100, workers: 4}.puts(l, ground{Float32, true}), 4)
	if held := w.store.held; held > 10+4*3 {
		t.Errorf("%d buffers held", held)
	}
	if n := len(w.store.open); n > 0 {
		t.Errorf("%d blocks are unfinished", n)
	}
	if len(w.store.slots) == 0 {
		t.Error("nothing went to scratch: the test shows nothing")
	}
	finish(t, w)
}

// TestStripsNeedLittleMemory: blocks that come in strips of columns leave
// few overview blocks unfinished.
func TestStripsNeedLittleMemory(t *testing.T) {
	l := Layout{Grid: gridOf(64*256, 256), Block: 16, Bands: bandsOf(1), Nodata: ptr(math.NaN())}
	w := create(t, l)
	e := w.Encoder()
	for col := 0; col < l.Grid.Cols; col += 64 {
		for row := 0; row < l.Grid.Rows; row += 64 {
			if err := e.Put(0, ground{Float32, true}.tile(0, raster.Window{Col: col, Row: row, Cols: 64, Rows: 64})); err != nil {
				t.Fatal(err)
			}
		}
	}
	if w.store.held > 32 {
		t.Errorf("%d buffers held for a grid of %d blocks", w.store.held, w.levels[0].blocks())
	}
}

// TestNoAllocationPerTile: in steady state a whole block costs a handful of
// small allocations at most.
func TestNoAllocationPerTile(t *testing.T) {
	l := Layout{Grid: gridOf(512*64, 512), Bands: bandsOf(1), Nodata: ptr(math.NaN()), Level: 1}
	w := create(t, l)
	e := w.Encoder()
	tile := ground{Float32, true}.tile(0, raster.Window{Cols: 512, Rows: 512})
	next := func() {
		if err := e.Put(0, tile); err != nil {
			t.Fatal(err)
		}
		tile.Col += 512
	}
	for range 16 {
		next()
	}
	if n := testing.AllocsPerRun(40, next); n > 5 {
		t.Errorf("%v allocations a tile", n)
	}
}
