package layers

import (
	"context"
	"errors"
	"math"
	"testing"

	"likelyground/habitat/plan"
	"likelyground/raster"
	"likelyground/raster/water"
)

// pond is a plane that falls 1 m a cell to the south, on cells of 10 m, with
// a hollow 3 m deep and 2 cells wide.
type pond struct{}

func (pond) Read(dst raster.Tile, _ []bool) error {
	for i := range dst.Values {
		col, row := dst.Col+i%dst.Cols, dst.Row+i/dst.Cols
		dst.Values[i] = float32(100 - row)
		if row == 8 && (col == 8 || col == 9) {
			dst.Values[i] = 88
		}
	}
	return nil
}

func (pond) Close() error { return nil }

// TestWaterVerbs works out one value of each verb that can be told by hand.
func TestWaterVerbs(t *testing.T) {
	ctx := context.Background()
	w, err := water.New(ctx, water.Ground{Window: raster.Window{Cols: 16, Rows: 16}, DX: 10, DY: 10, Open: func() (water.Reader, error) { return pond{}, nil }}, water.Options{Tile: 7})
	if err != nil {
		t.Fatal(err)
	}
	defer w.Close()
	c := context10
	c.Water = func(plan.Derived) func() *water.Water { return func() *water.Water { return w } }

	for _, k := range []struct {
		d    plan.Derived
		unit string
		want float64
	}{
		{plan.Derived{Verb: plan.Filled}, "m", 91},
		{plan.Derived{Verb: plan.HollowDepth}, "m", 3},
		{plan.Derived{Verb: plan.HollowArea}, "ha", 0.02},
		{plan.Derived{Verb: plan.Gathered, Flow: plan.OneWay}, "ha", math.NaN()},
		{plan.Derived{Verb: plan.Gathered}, "ha", math.NaN()},
		{plan.Derived{Verb: plan.Wetness}, "", math.NaN()},
		{plan.Derived{Verb: plan.ChannelDistance, Channel: 100, Flow: plan.OneWay}, "m", 0},
		{plan.Derived{Verb: plan.ChannelHeight, Channel: 100}, "m", 0},
	} {
		k.d.Name = "layer"
		if err := WorkOut(ctx, w, k.d); err != nil {
			t.Fatal(err)
		}
		l, err := Derive(k.d, []Layer{heights("m")}, c)
		if err != nil {
			t.Fatal(err)
		}
		if math.IsNaN(k.want) {
			k.want = byView(t, w, k.d)
		}
		if got := cell(t, l); math.Abs(got-k.want) > 1e-4 || l.Unit != k.unit || l.Node.Name != "layer" || got != got {
			t.Errorf("%s: %g %s, want %g %s", k.d.Verb, got, l.Unit, k.want, k.unit)
		}
	}
}

// byView reads the hollow's cell from the layer that a verb should show.
func byView(t *testing.T, w *water.Water, d plan.Derived) float64 {
	t.Helper()
	layer, unit := water.WetnessMany, 1.0
	switch {
	case d.Verb == plan.Gathered && d.Flow == plan.OneWay:
		layer, unit = water.GatheredOne, 1e4
	case d.Verb == plan.Gathered:
		layer, unit = water.GatheredMany, 1e4
	}
	out := raster.NewTile(raster.Window{Col: 8, Row: 8, Cols: 1, Rows: 1})
	if err := w.View().Read(layer, out); err != nil {
		t.Fatal(err)
	}
	return float64(out.Values[0]) / unit
}

func TestWaterRefused(t *testing.T) {
	c := context10
	c.Water = func(plan.Derived) func() *water.Water { return func() *water.Water { return nil } }
	d := plan.Derived{Name: "wet", Verb: plan.Wetness}
	l, err := Derive(d, []Layer{heights("m")}, c)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := l.Node.Open(); err == nil {
		t.Error("a layer opens before its water is worked out")
	}
	d.Margin = 1e6
	var m *Mismatch
	if _, err := Derive(d, []Layer{heights("m")}, c); !errors.As(err, &m) {
		t.Errorf("a margin of 1000 km: %v", err)
	}
	if got := Radius(plan.Derived{Verb: plan.Wetness}, 10, 10, 0); got != 2000 {
		t.Errorf("without a margin water reads on for %g m", got)
	}
}
