package inflate

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// pack does as the technical note says (Adobe Photoshop TIFF Technical Note
// 3, 2005, "Floating Point Predictor"): per row, the bytes of all numbers are
// put by significance, then each is replaced by its difference to the one
// before.
func pack(t testing.TB, numbers []float32, width int, p Predictor) []byte {
	t.Helper()
	var out bytes.Buffer
	w := zlib.NewWriter(&out)
	for at := 0; at < len(numbers); at += width {
		row := make([]byte, 4*width)
		for i, x := range numbers[at:][:width] {
			var be [4]byte
			binary.BigEndian.PutUint32(be[:], math.Float32bits(x))
			for k, b := range be {
				if p == Floating {
					row[k*width+i] = b
				} else {
					row[4*i+3-k] = b
				}
			}
		}
		for i := len(row) - 1; p == Floating && i > 0; i-- {
			row[i] -= row[i-1]
		}
		if _, err := w.Write(row); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// hills are numbers as heights are, and some that are none.
func hills(n int) []float32 {
	r := rand.New(rand.NewPCG(1, 2))
	out := make([]float32, n)
	for i := range out {
		out[i] = float32(200+50*math.Sin(float64(i)/90)) + float32(r.IntN(100))/100
	}
	out[0], out[n/2], out[n-1] = float32(math.NaN()), float32(math.Inf(1)), -9999
	return out
}

func TestFloat32(t *testing.T) {
	d := NewDecoder()
	defer d.Close()
	for _, p := range []Predictor{Plain, Floating} {
		for _, size := range [][2]int{{1, 1}, {1, 7}, {7, 1}, {16, 16}, {33, 5}, {512, 64}} {
			want := hills(size[0] * size[1])
			got := make([]float32, len(want))
			if err := Unpack(d, got, size[0], pack(t, want, size[0], p), Float32, p); err != nil {
				t.Fatal(err)
			}
			for i := range want {
				if math.Float32bits(got[i]) != math.Float32bits(want[i]) {
					t.Fatalf("predictor %d, %d × %d: number %d is %v, want %v", p, size[0], size[1], i, got[i], want[i])
				}
			}
		}
	}
}

// Whole numbers are differences within the row, in their own width (TIFF 6.0,
// section 14): they wrap around.
func TestWhole(t *testing.T) {
	d := NewDecoder()
	defer d.Close()
	r := rand.New(rand.NewPCG(5, 6))
	for k, limits := range map[Kind][2]int64{Byte: {0, 255}, Int16: {-32768, 32767}, Uint16: {0, 65535}, Int32: {math.MinInt32, math.MaxInt32}} {
		for _, p := range []Predictor{Plain, Whole} {
			const width, n = 37, 37 * 11
			want := make([]int32, n)
			var raw []byte
			for i := range want {
				want[i] = int32(limits[0] + r.Int64N(limits[1]-limits[0]+1))
				x := want[i]
				if p == Whole && i%width > 0 {
					x -= want[i-1]
				}
				raw = append(raw, binary.LittleEndian.AppendUint32(nil, uint32(x))[:k.size()]...)
			}
			var packed bytes.Buffer
			w := zlib.NewWriter(&packed)
			w.Write(raw)
			w.Close()
			codes, values := make([]int32, n), make([]float32, n)
			if err := errors.Join(Unpack(d, codes, width, packed.Bytes(), k, p), Unpack(d, values, width, packed.Bytes(), k, p)); err != nil {
				t.Fatal(err)
			}
			for i := range want {
				if codes[i] != want[i] || values[i] != float32(want[i]) {
					t.Fatalf("kind %d, predictor %d: number %d is %d and %v, want %d", k, p, i, codes[i], values[i], want[i])
				}
			}
		}
	}
	if err := Unpack(d, make([]int32, 4), 2, []byte{1}, Byte, Floating); !errors.Is(err, ErrDamaged) {
		t.Error("bytes with the predictor of floating point:", err)
	}
}

func TestDamaged(t *testing.T) {
	d := NewDecoder()
	defer d.Close()
	sound := pack(t, hills(256), 16, Floating)
	flipped := bytes.Clone(sound)
	flipped[len(flipped)/2] ^= 0xff
	for name, c := range map[string]struct {
		packed []byte
		size   int
	}{
		"cut":         {sound[:len(sound)/2], 256},
		"empty":       {nil, 256},
		"flipped":     {flipped, 256},
		"too small":   {sound, 272},
		"too large":   {sound, 240},
		"no rows":     {sound, 0},
		"broken rows": {sound, 250},
	} {
		if err := Unpack(d, make([]float32, c.size), 16, c.packed, Float32, Floating); !errors.Is(err, ErrDamaged) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func FuzzUnpack(f *testing.F) {
	f.Add(pack(f, hills(256), 16, Floating), 16, 3)
	f.Add([]byte{0x78, 0x9c}, 16, 1)
	d := NewDecoder()
	f.Fuzz(func(t *testing.T, packed []byte, width, p int) {
		if width < 1 || width > 256 {
			return
		}
		for k := Byte; k <= Float32; k++ {
			_ = Unpack(d, make([]float32, 256), width, packed, k, Predictor(p))
			_ = Unpack(d, make([]int32, 256), width, packed, k, Predictor(p))
		}
	})
}

func BenchmarkUnpack(b *testing.B) {
	d := NewDecoder()
	defer d.Close()
	numbers := hills(512 * 512)
	packed := pack(b, numbers, 512, Floating)
	b.ReportAllocs()
	for b.Loop() {
		if err := Unpack(d, numbers, 512, packed, Float32, Floating); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*len(numbers)), "ns/cell")
}

func ExampleUnpack() {
	var packed bytes.Buffer
	w := zlib.NewWriter(&packed)
	binary.Write(w, binary.LittleEndian, []float32{210.5, 211, -9999, 212.25})
	w.Close()

	d := NewDecoder()
	defer d.Close()
	block := make([]float32, 4)
	fmt.Println(Unpack(d, block, 2, packed.Bytes(), Float32, Plain), block)
	// Output: <nil> [210.5 211 -9999 212.25]
}
