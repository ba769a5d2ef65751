package patch

import (
	"math/rand/v2"
	"os"
	"reflect"
	"strings"
	"sync"
	"testing"

	"likelyground/raster"
)

// TestWorkers surveys with several workers at once and traces all patches at
// once; what comes out is what one worker gives.
func TestWorkers(t *testing.T) {
	f := random(rand.New(rand.NewPCG(9, 9)), raster.Window{Cols: 60, Rows: 60}, 0.4, 2)
	rule := Rule{From: 0.5, Least: 3 * 100_000_000}
	want := solve(t, f, rule, 60, 60)
	store, err := NewStore(t.TempDir(), rule)
	if err != nil {
		t.Fatal(err)
	}
	defer store.Close()
	windows := make(chan raster.Window, 100)
	for i := range 100 {
		windows <- raster.Window{Col: i % 10 * 6, Row: i / 10 * 6, Cols: 6, Rows: 6}
	}
	close(windows)
	var group sync.WaitGroup
	for range 4 {
		group.Go(func() {
			s := NewSurveyor(rule, cellAreas{})
			for w := range windows {
				sum, err := s.Survey(crop(f.score, w), []raster.Tile{crop(f.factors[0], w), crop(f.factors[1], w)})
				if err == nil {
					err = store.Put(sum)
				}
				if err != nil {
					t.Error(err)
				}
			}
		})
	}
	group.Wait()
	got, err := store.Solve()
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(got.Tally, want.Tally) || len(got.Patches) != len(want.Patches) {
		t.Fatalf("%+v, want %+v", got.Tally, want.Tally)
	}
	for i := range got.Patches {
		group.Go(func() {
			a, err := got.Trace(&got.Patches[i])
			b, err2 := want.Trace(&want.Patches[i])
			if err != nil || err2 != nil || !reflect.DeepEqual(a, b) {
				t.Errorf("patch %d: %v %v", i, err, err2)
			}
		})
	}
	group.Wait()
}

// TestLeavesNothing: the scratch folder is empty while the store is in use,
// so that nothing stays behind however the program ends.
func TestLeavesNothing(t *testing.T) {
	folder := t.TempDir()
	store, err := NewStore(folder, Rule{From: 1})
	if err != nil {
		t.Fatal(err)
	}
	defer store.Close()
	if left, err := os.ReadDir(folder); err != nil || len(left) > 0 {
		t.Errorf("%v %v", left, err)
	}
}

func TestScratchFails(t *testing.T) {
	if _, err := NewStore("/nowhere/at/all", Rule{}); err == nil {
		t.Error("a folder that is not there was taken")
	}
	store, err := NewStore(t.TempDir(), Rule{From: 0.5})
	if err != nil {
		t.Fatal(err)
	}
	f := drawn(t, "1 1/0 1")
	sum, err := NewSurveyor(Rule{From: 0.5}, cellAreas{}).Survey(f.score, nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := store.Put(sum); err != nil {
		t.Fatal(err)
	}
	solution, err := store.Solve()
	if err != nil {
		t.Fatal(err)
	}
	store.Close()
	if err := store.Put(sum); err == nil || !strings.Contains(err.Error(), "scratch") {
		t.Errorf("put: %v", err)
	}
	if _, err := store.Solve(); err == nil {
		t.Error("solved without scratch")
	}
	if _, err := solution.Trace(&solution.Patches[0]); err == nil || !strings.Contains(err.Error(), "scratch") {
		t.Errorf("trace: %v", err)
	}
}

// TestUnlikeTiles: tiles of a survey that do not belong together.
func TestUnlikeTiles(t *testing.T) {
	f := random(rand.New(rand.NewPCG(1, 1)), raster.Window{Cols: 4, Rows: 4}, 0.5, 1)
	s := NewSurveyor(Rule{From: 0.5}, cellAreas{})
	if _, err := s.Survey(f.score, []raster.Tile{raster.NewTile(raster.Window{Cols: 4, Rows: 3})}); err == nil {
		t.Error("a factor tile of another window was taken")
	}
	store, err := NewStore(t.TempDir(), Rule{From: 0.5})
	if err != nil {
		t.Fatal(err)
	}
	defer store.Close()
	for i, factors := range [][]raster.Tile{nil, f.factors} {
		sum, err := s.Survey(f.score, factors)
		if err != nil {
			t.Fatal(err)
		}
		if err := store.Put(sum); (err != nil) != (i == 1) {
			t.Errorf("tile %d: %v", i, err)
		}
	}
}

// TestDamagedScratch: bytes cut short or changed give an error or other
// numbers, never a panic; cut short always an error.
func TestDamagedScratch(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 2))
	f := random(r, raster.Window{Cols: 12, Rows: 12}, 0.4, 2)
	sum, err := NewSurveyor(Rule{From: 0.5}, cellAreas{}).Survey(f.score, f.factors)
	if err != nil {
		t.Fatal(err)
	}
	bytes := sum.appendHead(nil)
	body := sum.appendBody(nil)
	wanted := make([]bool, len(sum.parts))
	var h head
	if err := h.decode(bytes, 2, 0); err != nil || !reflect.DeepEqual(h.parts, sum.parts) || !reflect.DeepEqual(h.sums, sum.sums) {
		t.Fatalf("%v: %+v, want %+v", err, h, sum)
	}
	for n := range bytes {
		if err := h.decode(bytes[:n], 2, 0); err == nil {
			t.Errorf("head of %d bytes of %d taken", n, len(bytes))
		}
	}
	for range 2000 {
		at := r.IntN(len(bytes))
		old := bytes[at]
		bytes[at] = byte(r.Uint32())
		_ = h.decode(bytes, 2, 0)
		bytes[at] = old
		at = r.IntN(len(body))
		old = body[at]
		body[at] = byte(r.Uint32())
		d := decoder{b: body}
		_, _ = d.body(nil, 0, 0, wanted)
		body[at] = old
	}
}
