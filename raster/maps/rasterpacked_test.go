package maps

import (
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"sync"
	"testing"

	"github.com/airbusgeo/godal"

	"likelyground/raster"
)

// packedFile makes a file of 200 × 150 numbers, some missing, as the options
// say, and opens it.
func packedFile(t *testing.T, options ...string) *rasterFile {
	t.Helper()
	r := rand.New(rand.NewPCG(3, 4))
	f := sameCRS(10, 200, 150, func(col, row int) float64 {
		if r.IntN(50) == 0 {
			return math.NaN()
		}
		return 200 + 40*math.Sin(float64(col)/30) + float64(row)/7
	})
	f.options = options
	file, err := openHeader(&RasterSpec{Name: "ground"}, f.make(t, "a.tif"))
	must(t, err)
	return file
}

// What is unpacked here is what the library reads, whichever reader comes
// first and however few tiles are kept.
func TestPackedIsWhatTheLibraryReads(t *testing.T) {
	defer func(n int) { mostKept = n }(mostKept)
	for _, options := range [][]string{
		{"TILED=YES", "BLOCKXSIZE=64", "BLOCKYSIZE=32", "COMPRESS=DEFLATE", "PREDICTOR=3"},
		{"TILED=YES", "BLOCKXSIZE=16", "BLOCKYSIZE=16", "COMPRESS=DEFLATE", "PREDICTOR=1"},
		{"TILED=YES", "BLOCKXSIZE=64", "BLOCKYSIZE=64", "COMPRESS=DEFLATE", "PREDICTOR=3", "BIGTIFF=YES"},
	} {
		for _, mostKept = range []int{0, 10_000, 1 << 20} {
			file := packedFile(t, options...)
			var all sync.WaitGroup
			for worker := range 4 {
				all.Go(func() { comparePacked(t, file, uint64(worker)) })
			}
			all.Wait()
		}
	}
}

// comparePacked reads windows both ways.
func comparePacked(t *testing.T, file *rasterFile, seed uint64) {
	var own handles
	defer own.close()
	open, err := own.open(file)
	if err != nil || open.packed == nil {
		t.Errorf("%v, %v", open.packed, err)
		return
	}
	r := rand.New(rand.NewPCG(seed, 1))
	for range 40 {
		w := raster.Window{Col: r.IntN(200), Row: r.IntN(150)}
		w.Cols, w.Rows = 1+r.IntN(200-w.Col), 1+r.IntN(150-w.Row)
		got, want := make([]float32, w.Size()), make([]float32, w.Size())
		if !open.packed.values(got, w) {
			t.Errorf("%+v is not read", w)
		}
		if err := open.ds.Bands()[0].Read(w.Col, w.Row, want, w.Cols, w.Rows); err != nil {
			t.Error(err)
		}
		if !slices.EqualFunc(got, want, func(a, b float32) bool { return math.Float32bits(a) == math.Float32bits(b) }) {
			t.Errorf("%+v differs", w)
		}
	}
}

// So are whole numbers, as quantities and as classes.
func TestPackedWholeNumbers(t *testing.T) {
	for _, kind := range []godal.DataType{godal.Byte, godal.Int16, godal.UInt16, godal.Int32} {
		for _, predictor := range []string{"PREDICTOR=1", "PREDICTOR=2"} {
			for _, classes := range []bool{false, true} {
				r := rand.New(rand.NewPCG(3, 4))
				f := sameCRS(10, 200, 150, func(col, row int) float64 { return float64(r.IntN(256)) })
				f.kind, f.options = kind, []string{"TILED=YES", "BLOCKXSIZE=64", "BLOCKYSIZE=64", "COMPRESS=DEFLATE", predictor}
				file, err := openHeader(&RasterSpec{Name: "cover", Classes: classes}, f.make(t, "a.tif"))
				must(t, err)
				compareWhole(t, file, classes || kind != godal.Int32)
			}
		}
	}
}

// compareWhole reads a window both ways.
func compareWhole(t *testing.T, file *rasterFile, here bool) {
	t.Helper()
	var own handles
	defer own.close()
	open, err := own.open(file)
	must(t, err)
	w := raster.Window{Col: 5, Row: 7, Cols: 180, Rows: 140}
	values, codes := make([]float32, w.Size()), make([]int32, w.Size())
	if open.packed.values(values, w) != (here && file.form == asFloat32) || open.packed.codes(codes, w) != (here && file.form == asInt32) {
		t.Errorf("%v, form %d: not read, or read wrongly", file.kind, file.form)
	}
	wantValues, wantCodes := make([]float32, w.Size()), make([]int32, w.Size())
	must(t, open.ds.Bands()[0].Read(w.Col, w.Row, wantValues, w.Cols, w.Rows))
	must(t, open.ds.Bands()[0].Read(w.Col, w.Row, wantCodes, w.Cols, w.Rows))
	if here && file.form == asFloat32 && !slices.Equal(values, wantValues) || here && file.form == asInt32 && !slices.Equal(codes, wantCodes) {
		t.Errorf("%v, form %d: differs", file.kind, file.form)
	}
}

// All other forms are left to the library.
func TestPackedOtherwise(t *testing.T) {
	for name, options := range map[string][]string{
		"strips":    {"COMPRESS=DEFLATE", "PREDICTOR=3"},
		"plain":     {"TILED=YES", "BLOCKXSIZE=64", "BLOCKYSIZE=64"},
		"LZW":       {"TILED=YES", "BLOCKXSIZE=64", "BLOCKYSIZE=64", "COMPRESS=LZW", "PREDICTOR=3"},
		"half":      {"TILED=YES", "BLOCKXSIZE=64", "BLOCKYSIZE=64", "COMPRESS=DEFLATE", "NBITS=16"},
		"big first": {"TILED=YES", "BLOCKXSIZE=64", "BLOCKYSIZE=64", "COMPRESS=DEFLATE", "ENDIANNESS=BIG"},
	} {
		var own handles
		open, err := own.open(packedFile(t, options...))
		if err != nil || open.packed != nil {
			t.Errorf("%s: %v, %v", name, open.packed, err)
		}
		must(t, own.close())
	}
}

// Tiles that are not there, and damaged ones, are left to the library too.
func TestPackedDamaged(t *testing.T) {
	file := packedFile(t, "TILED=YES", "BLOCKXSIZE=64", "BLOCKYSIZE=64", "COMPRESS=DEFLATE", "PREDICTOR=3")
	data, err := os.ReadFile(file.path)
	must(t, err)
	must(t, os.Truncate(file.path, int64(len(data)*3/4)))
	var own handles
	defer own.close()
	open, err := own.open(file)
	must(t, err)
	out := make([]float32, 200*150)
	if open.packed.values(out, raster.Window{Cols: 200, Rows: 150}) {
		t.Error("a file cut short is read")
	}
	if !open.packed.values(out, raster.Window{Cols: 20, Rows: 20}) {
		t.Error("its first tile is not")
	}
}

func TestPackedSparse(t *testing.T) {
	f := sameCRS(10, 200, 150, func(int, int) float64 { return 0 })
	f.options = []string{"TILED=YES", "BLOCKXSIZE=64", "BLOCKYSIZE=64", "COMPRESS=DEFLATE", "SPARSE_OK=TRUE"}
	path := f.make(t, "a.tif")
	file, err := openHeader(&RasterSpec{Name: "ground"}, path)
	must(t, err)
	var own handles
	defer own.close()
	open, err := own.open(file)
	must(t, err)
	if open.packed.values(make([]float32, 400), raster.Window{Cols: 20, Rows: 20}) {
		t.Error("a tile that is not there is read")
	}
	must(t, open.ds.Bands()[0].Read(0, 0, make([]float32, 400), 20, 20, godal.ErrLogger(quiet)))
}
