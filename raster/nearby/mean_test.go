package nearby

import (
	"math"
	"math/big"
	"math/rand/v2"
	"testing"

	"likelyground/raster"
)

// TestMeanExact holds means of values of any size to exact sums by math/big,
// rounded as a Mean says it does. Several of the trials need more than 64 bits.
func TestMeanExact(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 8))
	for _, exponents := range [][2]int{{-45, -20}, {-10, 3}, {-2, 12}, {-42, 12}, {-60, 39}, {30, 39}, {22, 22}} {
		disc := NewDisc(1, 1, 3)
		w := raster.Window{Cols: 20, Rows: 20}
		src := raster.NewTile(w.Grow(disc.Reach()))
		for i := range src.Values {
			exponent := exponents[0] + r.IntN(exponents[1]-exponents[0]+1)
			src.Values[i] = float32(math.Ldexp(r.Float64()*2-1, exponent))
		}
		for range 40 {
			src.Values[r.IntN(len(src.Values))] = raster.Missing
		}
		dst := raster.NewTile(w)
		NewMean(disc).Values(dst, src)
		for i := range dst.Values {
			if want := exactMean(src, i%w.Cols, i/w.Cols, 3); dst.Values[i] != want {
				t.Fatalf("exponents %v, cell %d: %g, want %g", exponents, i, dst.Values[i], want)
			}
		}
		NewMean(disc).Above(dst, src)
		for i := range dst.Values {
			own, others := src.Value(i%w.Cols, i/w.Cols), exactOthers(src, i%w.Cols, i/w.Cols, 3)
			if want := float32(float64(own) - others); dst.Values[i] != want && (want == want || dst.Values[i] == dst.Values[i]) {
				t.Fatalf("exponents %v, cell %d above the others: %g, want %g", exponents, i, dst.Values[i], want)
			}
		}
	}
}

// exactOthers is the mean of the cells around one, itself left out.
func exactOthers(src raster.Tile, col, row, radius int) float64 {
	sum, n := exactSum(src, col, row, radius)
	if v := src.Value(col, row); v == v {
		steps, _ := big.NewFloat(math.RoundToEven(math.Ldexp(float64(v), 40))).Int(nil)
		sum.Sub(sum, steps)
		n--
	}
	total, _ := new(big.Float).SetInt(sum).Float64()
	return math.Ldexp(total/float64(n), -40)
}

func exactMean(src raster.Tile, col, row, radius int) float32 {
	sum, n := exactSum(src, col, row, radius)
	total, _ := new(big.Float).SetInt(sum).Float64()
	return float32(math.Ldexp(total/float64(n), -40))
}

// exactSum is the sum of the known cells around one in steps, and their
// number.
func exactSum(src raster.Tile, col, row, radius int) (*big.Int, int) {
	sum, n := new(big.Int), 0
	for y := -radius; y <= radius; y++ {
		for x := -radius; x <= radius; x++ {
			v := src.Value(col+x, row+y)
			if v != v || x*x+y*y > radius*radius {
				continue
			}
			steps, _ := big.NewFloat(math.RoundToEven(math.Ldexp(float64(v), 40))).Int(nil)
			sum.Add(sum, steps)
			n++
		}
	}
	return sum, n
}

// TestTogether holds sums in two parts to math/big.
func TestTogether(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 10))
	check := func(whole, rest int64) {
		sum := new(big.Int).Lsh(big.NewInt(whole), stepBits)
		sum.Add(sum, big.NewInt(rest))
		if want, _ := new(big.Float).SetInt(sum).Float64(); together(whole, rest) != want {
			t.Fatalf("%d and %d: %g, want %g", whole, rest, together(whole, rest), want)
		}
	}
	for range 100000 {
		check(r.Int64()>>r.IntN(63)-1<<r.IntN(60), r.Int64()>>r.IntN(63))
	}
	// Half way between two float64, a last step decides.
	for _, whole := range []int64{1 << 60, -1 << 60, 1<<60 | 1<<7, 1<<60 | 1<<7 | 1<<8} {
		for _, rest := range []int64{0, 1, 1 << 39} {
			check(whole, rest)
		}
	}
}

// TestMeanLimit: what is too large counts as missing, and a tile in which
// sums need more than 64 bits gives the same means as one in which they do
// not.
func TestMeanLimit(t *testing.T) {
	disc := NewDisc(1, 1, 1)
	w := raster.Window{Cols: 8, Rows: 1}
	src, dst := raster.NewTile(w.Grow(1)), raster.NewTile(w)
	for i := range src.Values {
		src.Values[i] = 0.1
	}
	m := NewMean(disc)
	m.Values(dst, src)
	alone := dst.Values[0]
	src.Values[src.Index(6, 0)] = MeanLimit / 2
	src.Values[src.Index(4, 0)] = MeanLimit
	src.Values[src.Index(3, 0)] = float32(math.Inf(-1))
	m.Values(dst, src)
	if !m.wide {
		t.Error("2^39 and 0.1 were summed in 64 bits")
	}
	if dst.Values[0] != alone || dst.Values[3] != alone || dst.Values[6] < MeanLimit/10 {
		t.Errorf("%g, want %g but for the seventh and its neighbours", dst.Values, alone)
	}
}
