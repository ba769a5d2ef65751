package cog

import (
	"bytes"
	"errors"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"likelyground/raster"
)

func TestLayoutsRefused(t *testing.T) {
	good := Layout{Grid: gridOf(10, 10), Geo: utm31, Bands: bandsOf(1)}
	for words, change := range map[string]func(*Layout){
		"0 x 10 cells":                func(l *Layout) { l.Grid.Cols = 0 },
		"above 0":                     func(l *Layout) { l.Grid.DY = math.NaN() },
		"corner":                      func(l *Layout) { l.Grid.X0 = math.Inf(1) },
		"blocks of 500":               func(l *Layout) { l.Block = 500 },
		"-1 bytes":                    func(l *Layout) { l.Memory = -1 },
		"0 bands":                     func(l *Layout) { l.Bands = nil },
		"no such sample":              func(l *Layout) { l.Sample = Colour + 1 },
		"no such overview":            func(l *Layout) { l.Overview = -1 },
		"no such compression: 2":      func(l *Layout) { l.Compression, l.Level = 2, 1 },
		"compression level: 10":       func(l *Layout) { l.Level = 10 },
		"compression level: -2":       func(l *Layout) { l.Compression, l.Level = Zstd, -2 },
		"0.1 is no 32-bit float":      func(l *Layout) { l.Nodata = ptr(0.1) },
		"256 does not fit":            func(l *Layout) { l.Sample, l.Nodata = Byte, ptr(256) },
		"NaN does not fit":            func(l *Layout) { l.Sample, l.Nodata = Int16, ptr(math.NaN()) },
		"holds 19 numbers":            func(l *Layout) { l.Geo.Directory = utm31.Directory[:19] },
		"belong to points":            func(l *Layout) { l.Geo.Directory = []uint16{1, 1, 0, 1, 1025, 0, 1, 2} },
		"key 2057 points beyond tag":  func(l *Layout) { l.Geo.Directory = []uint16{1, 1, 0, 1, 2057, 34736, 1, 0} },
		"key 1026 points beyond tag":  func(l *Layout) { l.Geo = GeoTags{[]uint16{1, 1, 0, 1, 1026, 34737, 5, 0}, nil, "abcd"} },
		"a grid of 0 x 0 cells can":   func(l *Layout) { l.Grid = raster.Grid{DX: 1, DY: 1} },
		"a grid of 10 x 2147483648 c": func(l *Layout) { l.Grid.Rows = 1 << 31 },
	} {
		l := good
		change(&l)
		if _, err := Create(t.TempDir(), l); err == nil || !strings.Contains(err.Error(), words) {
			t.Errorf("want an error with %q, got: %v", words, err)
		}
	}
	if _, err := Create(filepath.Join(t.TempDir(), "none"), good); err == nil || !strings.Contains(err.Error(), "none") {
		t.Errorf("a scratch folder that is not there: %v", err)
	}
	if _, err := Create("", good); err == nil {
		t.Error("no scratch folder was taken")
	}
}

func TestPutsRefused(t *testing.T) {
	floats := Layout{Grid: gridOf(100, 90), Bands: []Band{{Description: "score"}, {}}, Block: 32, Nodata: ptr(-9999)}
	classes := floats
	classes.Sample, classes.Nodata = Byte, ptr(255)
	w := raster.Window{Col: 20, Row: 10, Cols: 50, Rows: 60}
	tile := func(v float32) raster.Tile {
		t := raster.NewTile(w)
		t.Values[t.Index(45, 40)] = v
		return t
	}
	codes := func(c int32) raster.Tile {
		t := raster.NewClassTile(w)
		t.Codes[t.Index(45, 40)] = c
		return t
	}
	bare := func(l Layout) Layout { l.Nodata = nil; return l }
	for _, c := range []struct {
		words  string
		layout Layout
		puts   []put
	}{
		{"no band 2", floats, []put{{2, tile(1)}}},
		{"no band -1", floats, []put{{-1, tile(1)}}},
		{"outside the grid", floats, []put{{0, raster.NewTile(raster.Window{Col: -1, Cols: 5, Rows: 5})}}},
		{"outside the grid", floats, []put{{0, raster.NewTile(raster.Window{Col: 90, Cols: 11, Rows: 5})}}},
		{"must hold values", floats, []put{{1, codes(1)}}},
		{"must hold codes", classes, []put{{1, tile(1)}}},
		{"must hold values", floats, []put{{0, raster.Tile{Window: w}}}},
		{"holds 3 cells", floats, []put{{0, raster.Tile{Window: w, Values: make([]float32, 3)}}}},
		{"band 1 (score): infinite value in columns 32 to 63, rows 32 to 63", floats, []put{{0, tile(float32(math.Inf(-1)))}}},
		{"cell (45, 40) is the nodata value -9999", floats, []put{{0, tile(-9999)}}},
		{"cell (45, 40) is the nodata value 255", classes, []put{{1, codes(255)}}},
		{"band 2: codes from 0 to 256", classes, []put{{1, codes(256)}}},
		{"codes from -1 to 0", classes, []put{{1, codes(-1)}}},
		{"no nodata value declared", bare(floats), []put{{0, tile(raster.Missing)}}},
		{"no nodata value declared", bare(classes), []put{{0, codes(raster.MissingCode)}}},
		{"columns 0 to 31, rows 0 to 31 was put twice", floats, []put{{0, tile(1)}, {1, tile(2)}, {0, tile(1)}}},
		{"was put twice", floats, []put{{0, tile(1)}, {0, raster.NewTile(raster.Window{Col: 69, Row: 69, Cols: 3, Rows: 3})}}},
		{"was put twice", floats, []put{{0, tile(1)}, {0, raster.NewTile(raster.Window{Col: 40, Row: 40, Cols: 1, Rows: 1})}}},
		{"was put twice", floats, []put{{0, raster.NewTile(raster.Window{Col: 40, Row: 40, Cols: 1, Rows: 1})}, {0, tile(1)}}},
	} {
		checkRefused(t, c.words, c.layout, c.puts)
	}
}

// checkRefused: the last put is refused, and so are all after it and the end.
func checkRefused(t *testing.T, words string, l Layout, puts []put) {
	t.Helper()
	w := create(t, l)
	e := w.Encoder()
	for i, p := range puts {
		err := e.Put(p.band, p.t)
		last := i == len(puts)-1
		if !last && err != nil || last && (err == nil || !strings.Contains(err.Error(), words)) {
			t.Errorf("want an error with %q, got: %v", words, err)
		}
	}
	if err := w.Encoder().Put(0, raster.Tile{}); err == nil {
		t.Errorf("%s: taken after an error", words)
	}
	if err := w.Finish(io.Discard); err == nil || !strings.Contains(err.Error(), words) {
		t.Errorf("%s: the end says: %v", words, err)
	}
}

func TestFinishCountsCells(t *testing.T) {
	l := Layout{Grid: gridOf(100, 90), Bands: []Band{{}, {Description: "soil"}}, Block: 32}
	w := create(t, l)
	e := w.Encoder()
	puts := []put{
		{0, raster.NewTile(l.Grid.Window())},
		{1, raster.NewTile(raster.Window{Cols: 100, Rows: 40})},
		{1, raster.NewTile(raster.Window{Row: 41, Cols: 100, Rows: 49})},
		{1, raster.NewTile(raster.Window{Row: 40, Cols: 99, Rows: 1})},
		{1, raster.Tile{Window: raster.Window{Row: 5}}},
	}
	for _, p := range puts {
		if err := e.Put(p.band, p.t); err != nil {
			t.Fatal(err)
		}
	}
	err := w.Finish(io.Discard)
	if err == nil || !strings.Contains(err.Error(), "band 2 (soil): 1 of 9000 cells were never put, the first of them in columns 96 to 99, rows 32 to 63") {
		t.Errorf("the end says: %v", err)
	}
	if err := e.Put(1, raster.NewTile(raster.Window{Col: 99, Row: 40, Cols: 1, Rows: 1})); err != nil {
		t.Fatal(err)
	}
	if first := finish(t, w); !bytes.Equal(finish(t, w), first) {
		t.Error("finishing again gives another file")
	}
}

// TestDiskFull writes to the device that is always full (Linux).
func TestDiskFull(t *testing.T) {
	for _, memory := range []int64{0, 1} {
		l := Layout{Grid: gridOf(200, 200), Bands: bandsOf(1), Block: 64, Memory: memory}
		w := create(t, l)
		whole := w.scratch.file
		full, err := os.OpenFile("/dev/full", os.O_RDWR, 0)
		if err != nil {
			t.Fatal(err)
		}
		defer full.Close()
		w.scratch.file = full
		e := w.Encoder()
		for _, at := range windows(l.Grid, 40) {
			if err = e.Put(0, raster.NewTile(at)); err != nil {
				break
			}
		}
		if !errors.Is(err, syscall.ENOSPC) || !strings.Contains(err.Error(), w.scratch.folder) || !strings.Contains(err.Error(), "free space") {
			t.Errorf("a full disk: %v", err)
		}
		if err := w.Finish(io.Discard); !errors.Is(err, syscall.ENOSPC) {
			t.Errorf("the end after a full disk: %v", err)
		}
		w.scratch.file = whole
	}
}

func TestScratchCutShort(t *testing.T) {
	l := Layout{Grid: gridOf(200, 200), Bands: bandsOf(1), Block: 64}
	w := create(t, l)
	if err := w.Encoder().Put(0, raster.NewTile(l.Grid.Window())); err != nil {
		t.Fatal(err)
	}
	if err := w.scratch.file.Truncate(w.scratch.size.Load() - 1); err != nil {
		t.Fatal(err)
	}
	err := w.Finish(io.Discard)
	if !errors.Is(err, io.ErrUnexpectedEOF) || !strings.Contains(err.Error(), w.scratch.folder) {
		t.Errorf("the end says: %v", err)
	}
}

// failing takes some bytes and then no more.
type failing struct{ left int }

var errFailing = errors.New("no more")

func (f *failing) Write(b []byte) (int, error) {
	if f.left -= len(b); f.left < 0 {
		return 0, errFailing
	}
	return len(b), nil
}

func TestOutputFails(t *testing.T) {
	l := Layout{Grid: gridOf(2000, 1500), Bands: bandsOf(1), Nodata: ptr(math.NaN())}
	w := create(t, l)
	send(t, w, way{side: 512, workers: 1}.puts(l, ground{Float32, true}), 1)
	n := len(finish(t, w))
	for _, left := range []int{0, n / 2, n - 1} {
		if err := w.Finish(&failing{left}); !errors.Is(err, errFailing) {
			t.Errorf("after %d of %d bytes: %v", left, n, err)
		}
	}
}

func TestCloseRemovesScratch(t *testing.T) {
	dir := t.TempDir()
	w, err := Create(dir, Layout{Grid: gridOf(200, 200), Bands: bandsOf(1)})
	if err != nil {
		t.Fatal(err)
	}
	if in, _ := os.ReadDir(dir); len(in) != 1 {
		t.Fatalf("scratch holds %v", in)
	}
	for range 2 {
		if err := w.Close(); err != nil {
			t.Error(err)
		}
	}
	if in, _ := os.ReadDir(dir); len(in) != 0 {
		t.Errorf("left behind: %v", in)
	}
	if err := w.Encoder().Put(0, raster.NewTile(raster.Window{Cols: 2, Rows: 2})); err == nil {
		t.Error("a closed writer took a tile")
	}
	if err := w.Finish(io.Discard); err == nil {
		t.Error("a closed writer was finished")
	}
}
