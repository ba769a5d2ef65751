package layers

import (
	"errors"
	"math"
	"strings"
	"testing"

	"likelyground/habitat/plan"
	"likelyground/raster"
	"likelyground/raster/nearby"
	"likelyground/raster/pipe"
)

// steady is a quantity that has one value everywhere.
func steady(name, unit string, value float32) Layer {
	return Layer{Name: name, Unit: unit, Node: &pipe.Node{Name: name, Open: pipe.Plain(func(out raster.Tile, _ []raster.Tile) error {
		for i := range out.Values {
			out.Values[i] = value
		}
		return nil
	})}}
}

// TestFirstQuantity goes through every triple of two values and missing.
func TestFirstQuantity(t *testing.T) {
	missing := raster.Missing
	d := plan.Derived{Name: "either", Verb: plan.FirstOf, First: []string{"a", "b", "c"}}
	for _, a := range []float32{1, missing} {
		for _, b := range []float32{2, missing} {
			for _, c := range []float32{3, missing} {
				l, err := Derive(d, []Layer{steady("a", "", a), steady("b", "m", b), steady("c", "m", c)}, context10)
				if err != nil || l.Unit != "m" || l.Member != nil {
					t.Fatal(l, err)
				}
				want := math.NaN()
				for _, v := range []float32{c, b, a} {
					if v == v {
						want = float64(v)
					}
				}
				if got := cell(t, l); got != want && (got == got || want == want) {
					t.Errorf("%g, %g, %g: %g", a, b, c, got)
				}
			}
		}
	}
}

// TestFirstClass: three maps name sand by different codes; what comes out
// goes by the joined ones, and a code that has no name is known all the same.
func TestFirstClass(t *testing.T) {
	const none = int32(raster.MissingCode)
	c := context10
	c.Join = func(_ plan.Derived, in []Layer) ([]*raster.CodeTable[int32], func([]plan.Class) (*raster.CodeTable[uint8], error), error) {
		tables := []*raster.CodeTable[int32]{
			raster.NewCodeTable(map[int32]int32{7: 0, 8: 1}, none, -1),
			nil,
		}
		return tables, func([]plan.Class) (*raster.CodeTable[uint8], error) {
			return raster.NewCodeTable(map[int32]uint8{0: nearby.Yes}, nearby.Missing, nearby.No), nil
		}, nil
	}
	d := plan.Derived{Name: "rock", Verb: plan.FirstOf, First: []string{"a", "b"}}
	for _, x := range []struct{ a, b, want int32 }{
		{7, 5, 0}, {8, none, 1}, {none, 5, 5}, {none, none, none}, {99, 5, -1},
	} {
		l, err := Derive(d, []Layer{dated("a", x.a), dated("b", x.b)}, c)
		if err != nil || l.Node.Kind != pipe.Class || l.Member == nil {
			t.Fatal(l, err)
		}
		want := 0.0
		if x.want == 0 {
			want = 1
		}
		if x.want == none {
			want = math.NaN()
		}
		share, err := Derive(plan.Derived{Name: "near", Verb: plan.Share, Within: 30}, []Layer{l}, c)
		if err != nil {
			t.Fatal(err)
		}
		if got := cell(t, share); got != want && (got == got || want == want) {
			t.Errorf("%d, else %d: share %g, want %g", x.a, x.b, got, want)
		}
		out := make([]int32, 5)
		for i := range out {
			out[i] = none
		}
		tables, _, _ := c.Join(d, nil)
		fallThrough(out, []int32{x.a, x.a, none, x.a, none}, tables[0])
		fallThrough(out, []int32{x.b, x.b, x.b, x.b, none}, tables[1])
		if out[0] != x.want || out[3] != x.want || out[2] != x.b || out[4] != none {
			t.Errorf("%d, else %d: %v, want %d", x.a, x.b, out, x.want)
		}
	}
}

func TestFirstOfUnlikeLayers(t *testing.T) {
	d := plan.Derived{Name: "either", Verb: plan.FirstOf}
	for _, in := range [][]Layer{{woods(), heights("m")}, {heights("m"), woods()}} {
		_, err := Derive(d, in, context10)
		var m *Mismatch
		if !errors.As(err, &m) || !strings.Contains(m.What, `"ground" holds numbers and "cover" classes`) || m.Fix == "" {
			t.Errorf("%v", err)
		}
	}
}
