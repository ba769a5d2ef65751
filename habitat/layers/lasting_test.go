package layers

import (
	"math"
	"testing"

	"likelyground/habitat/plan"
	"likelyground/raster"
	"likelyground/raster/nearby"
	"likelyground/raster/pipe"
)

// dated is a map of classes that shows one code everywhere, of which some are
// looked for; codes of maps differ.
func dated(name string, code int32) Layer {
	return Layer{Name: name, Node: &pipe.Node{Name: name, Kind: pipe.Class, Open: pipe.Plain(func(out raster.Tile, _ []raster.Tile) error {
		for i := range out.Codes {
			out.Codes[i] = code
		}
		return nil
	})}, Member: func(of []plan.Class) (*raster.CodeTable[uint8], error) {
		in := map[int32]uint8{}
		for _, c := range of {
			in[c.Code] = nearby.Yes
		}
		return raster.NewCodeTable(in, nearby.Missing, nearby.No), nil
	}}
}

// TestLasting goes through every pair and triple of yes, no and missing: one
// no decides, else one missing, whatever the order of the maps.
func TestLasting(t *testing.T) {
	const yes, no, missing = 7, 8, int32(raster.MissingCode)
	wood := []plan.Class{{Code: yes, IsCode: true}}
	want := func(codes ...int32) float64 {
		out := 1.0
		for _, c := range codes {
			switch {
			case c == no:
				return 0
			case c == missing:
				out = math.NaN()
			}
		}
		return out
	}
	try := func(codes ...int32) {
		d := plan.Derived{Name: "old wood", Verb: plan.Lasting}
		var in []Layer
		for _, c := range codes {
			in = append(in, dated("cover", c))
			d.On = append(d.On, plan.Witness{Map: "cover", Of: wood})
		}
		l, err := Derive(d, in, context10)
		if err != nil || l.Member == nil || l.Node.Kind != pipe.Class {
			t.Fatal(l, err)
		}
		share := l
		share.Node = l.Share()
		if got, w := cell(t, share), want(codes...); got != w && (got == got || w == w) {
			t.Errorf("maps that show %v: %g, want %g", codes, got, w)
		}
	}
	states := []int32{yes, no, missing}
	for _, a := range states {
		for _, b := range states {
			try(a, b)
			for _, c := range states {
				try(a, b, c)
			}
		}
	}
}

// TestLastingFurther: what is worked out from a lasting layer. Of every four
// columns the old map shows wood in all but the first, the new one in all but
// the last.
func TestLastingFurther(t *testing.T) {
	wood := []plan.Class{{Code: 0, IsCode: true}}
	d := plan.Derived{Name: "old wood", Verb: plan.Lasting, On: []plan.Witness{{Map: "then", Of: wood}, {Map: "now", Of: wood}}}
	l, err := Derive(d, []Layer{woods(), shifted(woods(), 1)}, context10)
	if err != nil {
		t.Fatal(err)
	}
	lasting, other := []plan.Class{{Name: "lasting"}}, []plan.Class{{Name: "other"}}
	for _, c := range []struct {
		d    plan.Derived
		want float64
	}{
		{plan.Derived{Verb: plan.Share, Of: lasting, Within: 10}, 1.0 / 5},
		{plan.Derived{Verb: plan.Share, Of: other, Within: 10}, 4.0 / 5},
		{plan.Derived{Verb: plan.Distance, Of: other}, 0},
		{plan.Derived{Verb: plan.Distance, Of: lasting}, 10},
		{plan.Derived{Verb: plan.EdgeDistance, Of: lasting}, 10},
	} {
		got, err := Derive(c.d, []Layer{l}, context10)
		if err != nil {
			t.Fatal(err)
		}
		if v := cell(t, got); math.Abs(v-c.want) > 1e-6 {
			t.Errorf("%s of %v: %g, want %g", c.d.Verb, c.d.Of, v, c.want)
		}
	}
}
