package water

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"likelyground/raster"
)

// keepingMemory keeps the first stages in memory, up to so many.
type keepingMemory struct {
	Memory
	kept map[string][]byte
	most int
	used []string
}

func (k *keepingMemory) Kept(stage string) ([]byte, bool) {
	state, ok := k.kept[stage]
	if ok {
		k.used = append(k.used, stage)
	}
	return state, ok
}

func (k *keepingMemory) Keep(stage string, state []byte) error {
	if len(k.kept) < k.most {
		k.kept[stage] = bytes.Clone(state)
	}
	return nil
}

func (k *keepingMemory) Close() error { return nil } // the layers are for another time

// TestKeptStages: whatever stages were kept, those that follow come out the
// same, and what was kept is not done again.
func TestKeptStages(t *testing.T) {
	f := random(rand.New(rand.NewPCG(5, 8)), 60)
	f.Cols, f.Rows = 57, 43
	f.Values = make([]float32, f.Size())
	for i := range f.Values {
		f.Values[i] = float32(40 + 8*math.Sin(float64(i%57)/5)*math.Cos(float64(i/57)/4) + float64(i*7919%13)/4)
	}
	f.Values[300], f.drains = raster.Missing, make([]bool, f.Size())
	f.drains[900] = true
	want := workAll(t, f.ground(), &Memory{})
	for most := 1; most <= 6; most++ {
		k := &keepingMemory{kept: map[string][]byte{}, most: most}
		if got := workAll(t, f.ground(), k); got != want {
			t.Errorf("%d stages kept: other results", most)
		}
		if len(k.used) > 0 || len(k.kept) != most {
			t.Errorf("of %d stages, %d are kept and %v used", most, len(k.kept), k.used)
		}
		ground := f.ground()
		ground.Open = func() (Reader, error) { return noReader{}, nil }
		if got := workAll(t, ground, k); got != want {
			t.Errorf("after %d kept stages: other results", most)
		}
		if len(k.used) != most {
			t.Errorf("of %d kept stages, %v are used", most, k.used)
		}
	}
}

// TestKeptElsewhere: the state of another ground is refused.
func TestKeptElsewhere(t *testing.T) {
	small, large := shape(5, 5, 1, slope), shape(50, 50, 1, slope)
	k := &keepingMemory{kept: map[string][]byte{}, most: 9}
	workAll(t, small.ground(), k)
	if _, err := New(context.Background(), large.ground(), Options{Tile: 8, Store: k}); err == nil {
		t.Error("the state of another ground is taken")
	}
}

func slope(c, r int) float64 { return float64(c + r) }

// noReader fails when the ground is read again.
type noReader struct{}

func (noReader) Read(raster.Tile, []bool) error { return errors.New("the ground is read again") }
func (noReader) Close() error                   { return nil }

// workAll does every stage and returns all layers as one text.
func workAll(t *testing.T, g Ground, s Store) string {
	t.Helper()
	return workAllBy(t, g, 16, s)
}

// workAllBy is workAll by tiles of a size.
func workAllBy(t *testing.T, g Ground, size int, s Store) string {
	t.Helper()
	ctx := context.Background()
	w, err := New(ctx, g, Options{Tile: size, Workers: 2, Store: s})
	if err != nil {
		t.Fatal(err)
	}
	defer w.Close()
	c := Channel{Least: 9, Many: true}
	if err := errors.Join(w.GatherOne(ctx), w.GatherMany(ctx), w.Hollows(ctx), w.Channels(ctx, c)); err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	tile := raster.NewTile(g.Window)
	v := w.View()
	say := func(err error) {
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range tile.Values {
			fmt.Fprintf(&out, "%08x", math.Float32bits(x))
		}
	}
	for l := Filled; l <= WetnessMany; l++ {
		say(v.Read(l, tile))
	}
	say(v.ChannelDistance(c, tile))
	say(v.ChannelHeight(c, tile))
	return out.String()
}

// W9: tiles of one cell, of three by five (what tiles of five leave of a ground
// three wide, and of three of one five high), of other sizes and the whole
// ground give the same bytes in every layer (a property, after Barnes 2017).
func TestTilesCannotBeSeen(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 9))
	grounds := []*field{serpentine(17, 0), serpentine(17, 0.25)}
	for _, size := range [][2]int{{3, 5}, {3, 25}, {25, 3}, {23, 31}} {
		f := shape(size[0], size[1], 10, func(int, int) float64 { return float64(r.IntN(9)) / 2 })
		f.Values[r.IntN(f.Size())], f.drains = raster.Missing, make([]bool, f.Size())
		f.drains[r.IntN(f.Size())] = true
		grounds = append(grounds, f)
	}
	for _, f := range grounds {
		want := workAllBy(t, f.ground(), DefaultTile, &Memory{})
		for _, tile := range []int{1, 2, 3, 5, 8, 16} {
			if workAllBy(t, f.ground(), tile, &Memory{}) != want {
				t.Errorf("tiles of %d show on a ground of %d × %d", tile, f.Cols, f.Rows)
			}
		}
	}
}
