package cog

import (
	"bytes"
	"math"
	"math/rand/v2"
	"testing"

	"likelyground/raster"
)

// utm31 holds the GeoTIFF keys of EPSG:25831: projected, cells are areas,
// the code, metres (OGC 19-008r4).
var utm31 = GeoTags{Directory: []uint16{1, 1, 0, 4, 1024, 0, 1, 1, 1025, 0, 1, 1, 3072, 0, 1, 25831, 3076, 0, 1, 9001}}

func gridOf(cols, rows int) raster.Grid {
	return raster.Grid{CRS: "EPSG:25831", X0: 300000, Y0: 6400000, DX: 10, DY: 12.5, Cols: cols, Rows: rows}
}

func ptr(v float64) *float64 { return &v }

func bandsOf(n int) []Band {
	out := make([]Band, n)
	for b := range out {
		out[b] = Band{Description: string(rune('a'+b)) + " band", Unit: "m"}
	}
	return out
}

// ground is an invented surface with waves, noise and holes: a function of
// column, row and band.
type ground struct {
	sample Sample
	holes  bool
}

func (g ground) cell(band, col, row int) (float64, bool) {
	h := uint32(col)*2654435761 ^ uint32(row)*2246822519 ^ uint32(band)*3266489917
	h ^= h >> 15
	h *= 2246822519
	h ^= h >> 13
	lake := math.Hypot(float64(col%700-300), float64(row%900-500)) < 190
	if g.holes && (lake || h%97 == 0) {
		return 0, false
	}
	switch g.sample {
	case Float32:
		return float64(float32(120 + 90*math.Sin(float64(col)/60) + 45*math.Cos(float64(row+31*band)/47) + float64(h%1000)/500)), true
	case Int16:
		return float64(int(h>>8)%4000 - 2000 + col), true
	}
	return float64((col/9+row/7+band)%11) + float64(h%3), true
}

func (g ground) tile(band int, w raster.Window) raster.Tile {
	t := raster.NewTile(w)
	if g.sample != Float32 {
		t = raster.NewClassTile(w)
	}
	t.FillMissing()
	for row := w.Row; row < w.EndRow(); row++ {
		for col := w.Col; col < w.EndCol(); col++ {
			v, known := g.cell(band, col, row)
			switch {
			case !known:
			case t.Codes != nil:
				t.Codes[t.Index(col, row)] = int32(v)
			default:
				t.Values[t.Index(col, row)] = float32(v)
			}
		}
	}
	return t
}

// windows cuts a grid into square windows, row by row.
func windows(g raster.Grid, side int) []raster.Window {
	var out []raster.Window
	for row := 0; row < g.Rows; row += side {
		for col := 0; col < g.Cols; col += side {
			out = append(out, raster.Window{Col: col, Row: row, Cols: side, Rows: side}.Clip(g.Window()))
		}
	}
	return out
}

// way is how the cells of a grid come to the writer.
type way struct {
	side    int
	workers int
	shuffle bool
}

// put is one tile of one band to be put.
type put struct {
	band int
	t    raster.Tile
}

func (y way) puts(l Layout, g ground) []put {
	var out []put
	for _, w := range windows(l.Grid, y.side) {
		for b := range l.Bands {
			out = append(out, put{b, g.tile(b, w)})
		}
	}
	if y.shuffle {
		r := rand.New(rand.NewPCG(1, uint64(y.side)))
		r.Shuffle(len(out), func(i, j int) { out[i], out[j] = out[j], out[i] })
	}
	return out
}

// send puts all tiles with the given number of workers, each taking the next
// one that is left.
func send(t testing.TB, w *Writer, puts []put, workers int) {
	t.Helper()
	todo := make(chan put, len(puts))
	for _, p := range puts {
		todo <- p
	}
	close(todo)
	errs := make(chan error)
	for range workers {
		go func() {
			e := w.Encoder()
			var err error
			for p := range todo {
				if err == nil {
					err = e.Put(p.band, p.t)
				}
			}
			errs <- err
		}()
	}
	for range workers {
		if err := <-errs; err != nil {
			t.Fatal(err)
		}
	}
}

// file writes ground to a GeoTIFF and returns its bytes.
func file(t testing.TB, l Layout, g ground, y way) []byte {
	t.Helper()
	w := create(t, l)
	send(t, w, y.puts(l, g), y.workers)
	return finish(t, w)
}

func create(t testing.TB, l Layout) *Writer {
	t.Helper()
	w, err := Create(t.TempDir(), l)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := w.Close(); err != nil {
			t.Error(err)
		}
	})
	return w
}

func finish(t testing.TB, w *Writer) []byte {
	t.Helper()
	var out bytes.Buffer
	if err := w.Finish(&out); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}
