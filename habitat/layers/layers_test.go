package layers

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"
	"testing"

	"likelyground/habitat/plan"
	"likelyground/raster"
	"likelyground/raster/nearby"
	"likelyground/raster/pipe"
	"likelyground/raster/terrain"
)

var context10 = Context{DX: 10, DY: 10, Beyond: func(string) float64 { return 300 }, Lie: func() (Lie, error) {
	return Lie{Low: 45, High: 45, Open: func() (terrain.Lie, func() error, error) {
		return middle{}, func() error { return nil }, nil
	}}, nil
}}

// middle lies at 45 degrees north, north up.
type middle struct{}

func (middle) Row(_, _ int, sinLat, cosTurn, sinTurn []float64) {
	for i := range sinLat {
		sinLat[i], cosTurn[i], sinTurn[i] = math.Sqrt2/2, 1, 0
	}
}

// made is a map of heights.
func made(unit string, height func(col, row int) float64) Layer {
	return Layer{Name: "ground", Unit: unit, Node: &pipe.Node{Name: "ground", Open: pipe.Plain(func(out raster.Tile, _ []raster.Tile) error {
		for row := out.Row; row < out.EndRow(); row++ {
			for i := range out.ValueRow(row) {
				out.ValueRow(row)[i] = float32(height(out.Col+i, row))
			}
		}
		return nil
	})}}
}

func flat() Layer { return made("m", func(int, int) float64 { return 7 }) }

// dome falls away from column 0, row 8 by 0.01 m for each square metre, so
// that at column 8, row 8 it falls to the east by steepOfDome.
func dome(unit string) Layer {
	return made(unit, func(col, row int) float64 { return 500 - float64(col*col+(row-8)*(row-8)) })
}

const steepOfDome = 0.02 * 80

// heights falls 1 m a cell to the east and 2 m a cell to the south.
func heights(unit string) Layer {
	return Layer{Name: "ground", Unit: unit, Node: &pipe.Node{Name: "ground", Open: pipe.Plain(func(out raster.Tile, _ []raster.Tile) error {
		for row := out.Row; row < out.EndRow(); row++ {
			for i := range out.ValueRow(row) {
				out.ValueRow(row)[i] = float32(1000 - (out.Col + i) - 2*row)
			}
		}
		return nil
	})}}
}

// woods is class 1 in every column that is a multiple of 4, else 0.
func woods() Layer {
	return Layer{Name: "cover", Node: &pipe.Node{Name: "cover", Kind: pipe.Class, Open: pipe.Plain(func(out raster.Tile, _ []raster.Tile) error {
		for row := out.Row; row < out.EndRow(); row++ {
			for i := range out.CodeRow(row) {
				out.CodeRow(row)[i] = 0
				if (out.Col+i)%4 == 0 {
					out.CodeRow(row)[i] = 1
				}
			}
		}
		return nil
	})}, Member: func(of []plan.Class) (*raster.CodeTable[uint8], error) {
		return raster.NewCodeTable(map[int32]uint8{of[0].Code: nearby.Yes}, nearby.Missing, nearby.No), nil
	}}
}

type keep struct {
	mu   *sync.Mutex
	into raster.Tile
}

func (k keep) Take(_ raster.Window, in []raster.Tile) error {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.into.CopyFrom(in[0])
	return nil
}
func (k keep) Close() error { return nil }

// cell evaluates a layer and returns its value at column 8, row 8.
func cell(t *testing.T, l Layer) float64 {
	t.Helper()
	w := raster.Window{Cols: 16, Rows: 16}
	k := keep{&sync.Mutex{}, raster.NewTile(w)}
	g := pipe.Graph{Window: w, Outputs: []*pipe.Node{l.Node}, Sink: func() (pipe.Sink, error) { return k, nil }}
	if err := pipe.Run(context.Background(), g, pipe.Options{Tile: 5}); err != nil {
		t.Fatal(err)
	}
	return float64(k.into.Value(8, 8))
}

// TestEveryVerb works out one value of each verb that can be told by hand.
func TestEveryVerb(t *testing.T) {
	one := []plan.Class{{Code: 1, IsCode: true}}
	steep := math.Hypot(0.1, 0.2)
	for _, c := range []struct {
		d    plan.Derived
		in   Layer
		unit string
		want float64
	}{
		{plan.Derived{Verb: plan.Slope}, heights("m"), "degrees", math.Atan(steep) * 180 / math.Pi},
		{plan.Derived{Verb: plan.Slope, Percent: true}, heights("m"), "percent", 100 * steep},
		{plan.Derived{Verb: plan.Slope, Percent: true}, heights("ft"), "percent", 100 * steep * 0.3048},
		{plan.Derived{Verb: plan.Northness}, heights("m"), "", -0.2 / steep},
		{plan.Derived{Verb: plan.Eastness}, heights("ft"), "", 0.1 / steep},
		{plan.Derived{Verb: plan.Elevation}, heights("ft"), "m", (1000 - 24) * 0.3048},
		{plan.Derived{Verb: plan.Aspect}, heights("ft"), "degrees", 180 - math.Atan(0.5)*180/math.Pi},
		{plan.Derived{Verb: plan.ProfileCurvature}, dome("m"), "1/m", 0.02 / math.Pow(1+steepOfDome*steepOfDome, 1.5)},
		{plan.Derived{Verb: plan.ContourCurvature}, dome("ft"), "1/m", 0.02 / steepOfDome},
		{plan.Derived{Verb: plan.TangentialCurvature}, dome("ft"), "1/m", 0.02 / math.Sqrt(1+float64(steepOfDome*steepOfDome*feet*feet)) * feet},
		{plan.Derived{Verb: plan.RelativePosition, Within: 10}, dome("m"), "m", 1},
		{plan.Derived{Verb: plan.RelativePosition, Within: 10}, dome("ft"), "m", feet},
		{plan.Derived{Verb: plan.Ruggedness, After: plan.Riley}, heights("m"), "m", math.Sqrt(2 * (1 + 4 + 9 + 1))},
		{plan.Derived{Verb: plan.Ruggedness, After: plan.Wilson}, heights("ft"), "m", 2 * (1 + 2 + 3 + 1) / 8.0 * feet},
		{plan.Derived{Verb: plan.HeatLoad}, flat(), "", 0.705847},
		{plan.Derived{Verb: plan.HeatLoad, Equation: 3, Warmest: plan.South}, flat(), "", 0.910342},
		{plan.Derived{Verb: plan.Radiation, Day: 80}, flat(), "MJ/m²", 26.525099},
		{plan.Derived{Verb: plan.Mean, Within: 20}, heights("m"), "m", 1000 - 24},
		{plan.Derived{Verb: plan.Share, Within: 10, Of: one}, woods(), "share", 3.0 / 5},
		{plan.Derived{Verb: plan.Distance, Of: []plan.Class{{Code: 1, IsCode: true}}}, shifted(woods(), 2), "m", 20},
		{plan.Derived{Verb: plan.Distance, Of: one, UpTo: 15}, shifted(woods(), 2), "m", 15},
		{plan.Derived{Verb: plan.EdgeDistance, Of: one}, woods(), "m", 10},
		{plan.Derived{Verb: plan.EdgeDistance, Of: one}, shifted(woods(), 2), "m", 20},
		{plan.Derived{Verb: plan.EdgeDistance, Of: one, Side: plan.Inside}, woods(), "m", 10},
		{plan.Derived{Verb: plan.EdgeDistance, Of: one, Side: plan.Inside}, shifted(woods(), 2), "m", 0},
		{plan.Derived{Verb: plan.EdgeDistance, Of: one, Side: plan.Outside}, woods(), "m", 0},
		{plan.Derived{Verb: plan.EdgeDistance, Of: one, Side: plan.Outside, UpTo: 15}, shifted(woods(), 2), "m", 15},
	} {
		c.d.Name = "layer"
		l, err := Derive(c.d, []Layer{c.in}, context10)
		if err != nil {
			t.Fatal(err)
		}
		if got := cell(t, l); math.Abs(got-c.want) > 1e-4 || l.Unit != c.unit || l.Node.Name != "layer" {
			t.Errorf("%s of %s: %g %s, want %g %s", c.d.Verb, c.in.Unit, got, l.Unit, c.want, c.unit)
		}
	}
}

// shifted is a layer of classes moved to the left by some columns.
func shifted(l Layer, by int) Layer {
	from := l.Node
	l.Node = &pipe.Node{Name: "cover", Kind: pipe.Class, Open: func() (pipe.Evaluator, error) {
		e, err := from.Open()
		if err != nil {
			return nil, err
		}
		return pipe.Plain(func(out raster.Tile, in []raster.Tile) error {
			moved := out
			moved.Col += by
			return e.Eval(moved, in)
		})()
	}}
	return l
}

// TestVerbsOfThePlan: the table knows the verbs that a plan may use, and no
// others.
func TestVerbsOfThePlan(t *testing.T) {
	schema := string(plan.Schema())
	for _, w := range Words() {
		if !strings.Contains(schema, fmt.Sprintf("%q", w)) {
			t.Errorf("the plan does not know %q", w)
		}
	}
	for _, w := range []plan.Verb{plan.Slope, plan.Northness, plan.Eastness, plan.Aspect, plan.ProfileCurvature, plan.TangentialCurvature, plan.ContourCurvature, plan.RelativePosition, plan.Ruggedness, plan.HeatLoad, plan.Radiation, plan.Elevation, plan.Share, plan.Distance, plan.EdgeDistance, plan.Mean, plan.Lasting, plan.FirstOf, plan.Filled, plan.HollowDepth, plan.HollowArea, plan.Gathered, plan.Wetness, plan.ChannelDistance, plan.ChannelHeight} {
		if !slices.Contains(Words(), w) {
			t.Errorf("the table lacks %q", w)
		}
	}
	if !Height(plan.Slope) || Height(plan.Share) {
		t.Error("which verbs read heights")
	}
}

func TestMismatches(t *testing.T) {
	endless := context10
	endless.Beyond = func(string) float64 { return math.Inf(1) }
	one := []plan.Class{{Code: 1, IsCode: true}}
	for _, c := range []struct {
		d  plan.Derived
		in Layer
	}{
		{plan.Derived{Verb: plan.Share, Of: one, Within: 10}, heights("m")},
		{plan.Derived{Verb: plan.Slope}, woods()},
		{plan.Derived{Verb: plan.Mean, Within: 10}, woods()},
		{plan.Derived{Verb: plan.Distance, Of: one}, woods()},
		{plan.Derived{Verb: plan.EdgeDistance, Of: one}, woods()},
		{plan.Derived{Verb: plan.EdgeDistance, Of: one, UpTo: 50}, heights("m")},
		{plan.Derived{Verb: plan.RelativePosition, Within: 9.9}, heights("m")},
		{plan.Derived{Verb: plan.HeatLoad}, flat()},
	} {
		endless.Lie = func() (Lie, error) { return Lie{Low: -30, High: -0.1}, nil }
		_, err := Derive(c.d, []Layer{c.in}, endless)
		var m *Mismatch
		if !errors.As(err, &m) || m.Remedy() == "" || !m.MustChange() {
			t.Errorf("%s: %v", c.d.Verb, err)
		}
	}
}

// TestTooFar: a radius that would overflow the kernels' counts is refused, and
// the remedy's radius is not.
func TestTooFar(t *testing.T) {
	one := []plan.Class{{Code: 1, IsCode: true}}
	far := context10
	far.Beyond = func(string) float64 { return math.Inf(1) }
	for _, d := range []plan.Derived{
		{Verb: plan.Share, Of: one, Within: 100_001}, {Verb: plan.Share, Of: one, Within: 1e300},
		{Verb: plan.RelativePosition, Within: 11_600}, {Verb: plan.Mean, Within: 11_600}, {Verb: plan.Mean, Within: 1e300},
		{Verb: plan.Distance, Of: one, UpTo: 100_001}, {Verb: plan.Distance, Of: one, UpTo: 1e300},
		{Verb: plan.EdgeDistance, Of: one, UpTo: 100_001},
	} {
		in := heights("m")
		if d.Of != nil {
			in = woods()
		}
		_, err := Derive(d, []Layer{in}, far)
		var m *Mismatch
		var metres float64
		if !errors.As(err, &m) {
			t.Errorf("%s within %g m, up to %g m: %v", d.Verb, d.Within, d.UpTo, err)
		} else if _, err := fmt.Sscanf(m.Remedy(), "look at most %g m", &metres); err != nil {
			t.Errorf("%q: %v", m.Remedy(), err)
		} else if d.Within, d.UpTo = min(d.Within, metres), min(d.UpTo, metres); tooFar(d, metres, far) != nil {
			t.Errorf("%s: the remedy's %g m are refused too", d.Verb, metres)
		}
	}
}

// TestRadius: how far a value looks is at least how far its node reads.
func TestRadius(t *testing.T) {
	one := []plan.Class{{Code: 1, IsCode: true}}
	for _, d := range []plan.Derived{
		{Verb: plan.Slope}, {Verb: plan.Northness}, {Verb: plan.Eastness}, {Verb: plan.Elevation},
		{Verb: plan.Aspect}, {Verb: plan.ProfileCurvature}, {Verb: plan.TangentialCurvature}, {Verb: plan.ContourCurvature}, {Verb: plan.Ruggedness}, {Verb: plan.HeatLoad}, {Verb: plan.Radiation, Day: 1},
		{Verb: plan.RelativePosition, Within: 55}, {Verb: plan.Mean, Within: 55}, {Verb: plan.Share, Within: 250, Of: one}, {Verb: plan.Distance, Of: one}, {Verb: plan.Distance, Of: one, UpTo: 80},
		{Verb: plan.EdgeDistance, Of: one}, {Verb: plan.EdgeDistance, Of: one, UpTo: 80, Side: plan.Inside},
	} {
		in := heights("m")
		if d.Of != nil {
			in = woods()
		}
		l, err := Derive(d, []Layer{in}, context10)
		if err != nil {
			t.Fatal(err)
		}
		metres := Radius(d, 10, 10, 300)
		if cells := int(metres / 10); cells != l.Node.Reach {
			t.Errorf("%s: looks %g m, its node reads %d cells", d.Verb, metres, l.Node.Reach)
		}
	}
}

func ExampleDerive() {
	d := plan.Derived{Name: "steepness", Verb: plan.Slope, Percent: true}
	steepness, err := Derive(d, []Layer{heights("m")}, context10)
	fmt.Println(steepness.Name, steepness.Unit, steepness.Node.Reach, err)
	// Output: steepness percent 1 <nil>
}
