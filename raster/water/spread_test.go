package water

import (
	"context"
	"math"
	"math/bits"
	"math/rand/v2"
	"slices"
	"testing"
)

func many(w *Water, ctx context.Context) error { return w.GatherMany(ctx) }

// amounts reads the amounts of the whole ground, to the last unit.
func amounts(t testing.TB, w *Water, layer string) []amount {
	t.Helper()
	out := make([]amount, w.ground.Window.Size())
	if err := w.View().amounts(layer, w.ground.Window, func(at int, row []amount) { copy(out[at:], row) }); err != nil {
		t.Fatal(err)
	}
	return out
}

// gatheredMany is the definition in floating point: cells from the highest
// down, those of a flat from the farthest on, each dealing out by the 1.1th
// power of its gradients.
func (f *field) gatheredMany(power float64) (cells []float64, cut []bool) {
	z := f.filled()
	to, _ := f.receivers(z)
	flat := f.flatSteps(z)
	cells, cut = make([]float64, len(z)), make([]bool, len(z))
	var order []int
	for i := range z {
		if f.known(i) {
			order = append(order, i)
			cells[i], cut[i] = 1, f.besideNothing(i)
		}
	}
	slices.SortStableFunc(order, func(i, j int) int {
		if z[i] != z[j] {
			return int(math.Copysign(1, float64(z[j])-float64(z[i])))
		}
		return flat[j] - flat[i]
	})
	for _, i := range order {
		if f.drain(i) || to[i] < 0 {
			continue
		}
		total := 0.0
		f.near(i, func(j, k int) { total += math.Pow(max(f.slopeTo(z, i, j, k), 0), power) })
		f.near(i, func(j, k int) {
			if total > 0 && z[j] < z[i] {
				cells[j] += cells[i] * math.Pow(f.slopeTo(z, i, j, k), power) / total
				cut[j] = cut[j] || cut[i]
			}
		})
		if total == 0 {
			cells[to[i]] += cells[i]
			cut[to[i]] = cut[to[i]] || cut[i]
		}
	}
	return cells, cut
}

func TestGatherManyIsFreeman(t *testing.T) {
	for _, f := range grounds(200) {
		cells, cut := f.gatheredMany(1.1)
		whole := amounts(t, look(t, f, DefaultTile, many), manyLayer)
		for i, a := range whole {
			got := float64(a&^cutMark) / float64(unit)
			// A share is cut off at 1e-6 of a cell, the power is within 2e-8;
			// a cell of these grounds passes at most some hundred of each.
			if math.Abs(got-cells[i]) > 2e-4+1e-5*cells[i] || cut[i] != (a&cutMark != 0) {
				t.Fatalf("cell %d,%d gathers %g (cut %v), by the definition %g (%v); ground\n%s", i%f.Cols, i/f.Cols, got, a&cutMark != 0, cells[i], cut[i], f.show(f.Values))
			}
		}
		for _, tile := range tileSizes {
			for _, memory := range []int64{1, int64(3 * tile * tile * spreadBytes), 0} {
				w, err := New(context.Background(), f.ground(), Options{Tile: tile, Workers: 1 + tile%3, Memory: memory})
				if err != nil {
					t.Fatal(err)
				}
				if err := w.GatherMany(context.Background()); err != nil {
					t.Fatal(err)
				}
				if got := amounts(t, w, manyLayer); !slices.Equal(got, whole) {
					t.Fatalf("tile %d, %d bytes: not the bytes of the whole ground", tile, memory)
				}
				w.Close()
			}
		}
	}
}

// Nothing is lost and nothing made, to the last unit.
func TestGatherManyKeepsAll(t *testing.T) {
	for _, f := range grounds(100) {
		known := amount(0)
		for i := range f.Values {
			if f.known(i) {
				known++
			}
		}
		w := look(t, f, 5, many)
		v, total := ways(t, w), amount(0)
		for i, a := range amounts(t, w, manyLayer) {
			if v[i]&wayOut != 0 {
				total += a &^ cutMark
			}
		}
		if total != known*unit {
			t.Fatalf("%d units gather where water leaves, the ground has %d", total, known*unit)
		}
	}
}

// W6, Freeman (1991) with the power 1.1, from the definition: a plane to the
// south of 5 × 5 cells, and the table of W4.
func TestGatherManyOnShapes(t *testing.T) {
	south := shape(5, 5, 1, func(c, r int) float64 { return float64(-r) })
	want := []float64{4.372011, 5.48884, 5.278298, 5.48884, 4.372011}
	for i, a := range amounts(t, look(t, south, 2, many), manyLayer)[20:] {
		if got := float64(a&^cutMark) / float64(unit); math.Abs(got-want[i]) > 1e-5 {
			t.Errorf("plane to the south: %g gathers in column %d, not %g", got, i, want[i])
		}
	}
	f := parse(t, "101 105 110/98 103 109/95 100 108", 10)
	per, p := perStep(10, 10), padded{3, 3}
	steps := p.steps()
	var s shares
	keys := make([]key, len(f.Values))
	for i, z := range f.Values {
		keys[i] = keyOf(z)
	}
	n := s.deal(keys, 4, 1<<1|1<<3|1<<4|1<<6, &steps, &per, 6, 1<<40)
	part := map[int]float64{}
	for k, a := range s.amount[:n] {
		part[s.to[k]] = float64(a) / (1 << 40)
	}
	for j, want := range map[int]float64{7: .192294, 6: .386337, 3: .337288, 0: .084081} {
		if math.Abs(part[j]-want) > 1e-6 {
			t.Errorf("table: cell %d has the part %g, not %g", j, part[j], want)
		}
	}
	if n != 4 {
		t.Errorf("table: %d receivers", n)
	}
}

func TestFreeman(t *testing.T) {
	for x := 1e-30; x < 1e30; x *= 1.0371 {
		if want := math.Pow(x, 1.1); math.Abs(freeman(x)-want) > 2e-8*want {
			t.Fatalf("%g to the power of 1.1 is %g, not %g", x, freeman(x), want)
		}
	}
}

func TestDealKeepsAll(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 6))
	per, p := perStep(10, 7), padded{3, 3}
	steps := p.steps()
	var s shares
	for _, a := range []amount{0, 1, 2, unit, 1<<53 + 1, 1<<63 - 1} {
		for range 200 {
			keys := make([]key, 9)
			for i := range keys {
				keys[i] = keyOf(float32(r.IntN(1000)) / 100)
			}
			keys[4] = keyOf(10)
			mask, over := uint8(r.IntN(256)), r.IntN(8)
			mask |= 1 << over
			n := s.deal(keys, 4, mask, &steps, &per, over, a|cutMark)
			sum := amount(0)
			for k, share := range s.amount[:n] {
				if share&cutMark == 0 {
					t.Errorf("share %d of %d has lost its mark", k, a)
				}
				sum += share &^ cutMark
			}
			if sum != a || n != bits.OnesCount8(mask) || s.to[n-1] != 4+steps[over] {
				t.Fatalf("%d is dealt out as %d to %d of %08b, the last of them %d", a, sum, n, mask, s.to[n-1])
			}
		}
	}
}
