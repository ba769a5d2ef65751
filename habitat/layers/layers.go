// Package layers is the one table of layer verbs: for each word that a plan
// may say of a derived layer, its unit, what it asks of its input and the
// node that works it out.
//
// A [Layer] is a node of the engine with what the plan needs to know of it.
// Quantities are missing where they are NaN, classes where they are
// raster.MissingCode; what each verb does with missing input stands with the
// kernel that it calls, in raster/terrain and raster/nearby.
package layers

import (
	"fmt"
	"math"

	"likelyground/habitat/plan"
	"likelyground/raster"
	"likelyground/raster/nearby"
	"likelyground/raster/pipe"
	"likelyground/raster/water"
)

// Layer is a map on the grid or something worked out from one.
type Layer struct {
	Name string
	Unit string // as plan.Map.Unit; "" when not known
	Node *pipe.Node

	// Member tells which codes are of the given classes, for a layer of
	// classes; nil for a quantity.
	Member func(of []plan.Class) (*raster.CodeTable[uint8], error)

	// Fraction tells how much of the ground of each code is of the given
	// classes, 0 to 1; nil where each code is of one class.
	Fraction func(of []plan.Class) (*raster.CodeTable[float32], error)
}

// Context is what the verbs need to know of the grid and of the plan.
type Context struct {
	DX, DY float64 // cell width and height in metres

	// Beyond returns from which distance on nothing in the plan tells values
	// of a layer apart; infinite where the plan sets no bound.
	Beyond func(layer string) float64

	// Join makes one set of classes of those of several layers, by their
	// names. It returns for each layer what its codes are in that set, nil
	// where they stay as they are, and the Member of the whole.
	Join func(d plan.Derived, in []Layer) ([]*raster.CodeTable[int32], func(of []plan.Class) (*raster.CodeTable[uint8], error), error)

	// Water notes that a layer follows water and returns what gives, once it
	// is worked out, the water of the ground that the layer reads.
	Water func(d plan.Derived) func() *water.Water

	// Lie tells how the grid lies on the earth; nothing asks it but the layers
	// of sunshine.
	Lie func() (Lie, error)
}

// verb is a row of the table.
type verb struct {
	word  plan.Verb
	unit  string // of the result; "" for that of the input
	input string // what it must read: "height", "classes" or "quantity"; "any" for one of the latter two
	build func(d plan.Derived, in []Layer, c Context) (*pipe.Node, error)
}

// one makes a verb's build of one that reads a single layer.
func one(build func(d plan.Derived, in Layer, c Context) (*pipe.Node, error)) func(plan.Derived, []Layer, Context) (*pipe.Node, error) {
	return func(d plan.Derived, in []Layer, c Context) (*pipe.Node, error) { return build(d, in[0], c) }
}

var table = []verb{
	{plan.Slope, plan.UnitDegrees, "height", one(slope)},
	{plan.Northness, "", "height", one(north)},
	{plan.Eastness, "", "height", one(east)},
	{plan.Aspect, plan.UnitDegrees, "height", one(aspect)},
	{plan.ProfileCurvature, plan.UnitPerMetre, "height", one(curvature)},
	{plan.TangentialCurvature, plan.UnitPerMetre, "height", one(curvature)},
	{plan.ContourCurvature, plan.UnitPerMetre, "height", one(curvature)},
	{plan.RelativePosition, plan.UnitMetres, "height", one(relativePosition)},
	{plan.Ruggedness, plan.UnitMetres, "height", one(ruggedness)},
	{plan.HeatLoad, "", "height", one(heatLoad)},
	{plan.Radiation, plan.UnitSunshine, "height", one(radiation)},
	{plan.Elevation, plan.UnitMetres, "height", one(elevation)},
	{plan.Share, "share", "classes", one(share)},
	{plan.Distance, plan.UnitMetres, "classes", one(distance)},
	{plan.EdgeDistance, plan.UnitMetres, "classes", one(edgeDistance)},
	{plan.Mean, "", "quantity", one(mean)},
	{plan.Lasting, "", "classes", lasting},
	{plan.FirstOf, "", "any", firstQuantity},
	{plan.Filled, plan.UnitMetres, "height", one(fromWater)},
	{plan.HollowDepth, plan.UnitMetres, "height", one(fromWater)},
	{plan.HollowArea, plan.UnitHectares, "height", one(fromWater)},
	{plan.Gathered, plan.UnitHectares, "height", one(fromWater)},
	{plan.Wetness, "", "height", one(fromWater)},
	{plan.ChannelDistance, plan.UnitMetres, "height", one(fromWater)},
	{plan.ChannelHeight, plan.UnitMetres, "height", one(fromWater)},
}

// Words returns the verbs of the table.
func Words() []plan.Verb {
	var out []plan.Verb
	for _, v := range table {
		out = append(out, v.word)
	}
	return out
}

// Height reports whether a derived layer reads its input as heights.
func Height(w plan.Verb) bool {
	for _, v := range table {
		if v.word == w {
			return v.input == "height"
		}
	}
	return false
}

// Mismatch is a layer that cannot be worked out from what it reads.
type Mismatch struct{ What, Fix string }

func (m *Mismatch) Error() string    { return m.What }
func (m *Mismatch) Remedy() string   { return m.Fix }
func (m *Mismatch) MustChange() bool { return true }

// Derive returns the layer that the plan derives from in, the layers that
// d.Reads names in its order. The error is a [Mismatch] when the verb does not
// fit the input, or comes from the input's Member.
func Derive(d plan.Derived, in []Layer, c Context) (Layer, error) {
	for _, v := range table {
		if v.word == d.Verb && d.Verb == plan.FirstOf && in[0].Member != nil {
			return firstClass(d, in, c)
		}
		if v.word == d.Verb {
			return v.derive(d, in, c)
		}
	}
	return Layer{}, fmt.Errorf("no node for the verb %q", d.Verb)
}

func (v verb) derive(d plan.Derived, in []Layer, c Context) (Layer, error) {
	for _, l := range in {
		if v.input != "any" && (v.input == "classes") != (l.Member != nil) {
			return Layer{}, v.mismatch(d, l)
		}
	}
	node, err := v.build(d, in, c)
	if err != nil {
		return Layer{}, err
	}
	node.Name = d.Name
	out := Layer{Name: d.Name, Unit: v.unit, Node: node}
	switch v.word {
	case plan.Mean:
		out.Unit = in[0].Unit
	case plan.FirstOf:
		out.Unit = unitOf(in)
	case plan.Lasting:
		out.Member = lastingMember
	}
	if d.Percent {
		out.Unit = plan.UnitPercent
	}
	return out, nil
}

func (v verb) mismatch(d plan.Derived, in Layer) error {
	if v.input == "classes" {
		return &Mismatch{fmt.Sprintf("%q is worked out from classes, but the map %q holds numbers", d.Name, in.Name),
			fmt.Sprintf("give the map %q a legend, or say `classes: yes` there", in.Name)}
	}
	return &Mismatch{fmt.Sprintf("%q is worked out from numbers, but the map %q holds classes", d.Name, in.Name),
		fmt.Sprintf("let %q read a map of %s, or use `share`, `distance` or `edge distance`", d.Name, v.input+"s")}
}

// quantity makes a node from a kernel without state.
func quantity(in Layer, reach int, eval func(dst, src raster.Tile)) *pipe.Node {
	return &pipe.Node{Inputs: []*pipe.Node{in.Node}, Reach: reach, Open: pipe.Plain(func(out raster.Tile, src []raster.Tile) error {
		eval(out, src[0])
		return nil
	})}
}

// kernel makes a node from a kernel with buffers, one for each worker.
func kernel(in Layer, reach int, open func() func(dst, src raster.Tile)) *pipe.Node {
	return &pipe.Node{Inputs: []*pipe.Node{in.Node}, Reach: reach, Open: func() (pipe.Evaluator, error) {
		eval := open()
		return pipe.Plain(func(out raster.Tile, src []raster.Tile) error {
			eval(out, src[0])
			return nil
		})()
	}}
}

// mostReach is how many cells from its own a value may look: the kernels
// count in whole numbers that hold for so many, and maps are known so far
// beyond the grid.
const mostReach = 8000

// mostMeanCells is how many cells nearby.NewMean takes.
const mostMeanCells = 1 << 22

// tooFar refuses a radius in metres that goes over too many cells.
func tooFar(d plan.Derived, radius float64, c Context) error {
	return tooFarFor(d, radius, c, d.Verb == plan.Mean || d.Verb == plan.RelativePosition)
}

// tooFarFor is tooFar; mean tells that nearby.NewMean works it out.
func tooFarFor(d plan.Derived, radius float64, c Context, mean bool) error {
	most := mostReach * min(c.DX, c.DY)
	if mean {
		most = min(most, math.Sqrt(mostMeanCells*0.99*c.DX*c.DY/math.Pi))
	}
	if radius <= most {
		return nil
	}
	return &Mismatch{fmt.Sprintf("%q looks %g m around, farther than can be counted in cells of %g × %g m", d.Name, radius, c.DX, c.DY),
		fmt.Sprintf("look at most %g m around, or choose a larger cell for the grid", math.Floor(most*1000)/1000)}
}

func share(d plan.Derived, in Layer, c Context) (*pipe.Node, error) {
	if in.Fraction != nil {
		return shareOfParts(d, in, c)
	}
	member, err := in.Member(d.Of)
	if err == nil {
		err = tooFar(d, d.Within, c)
	}
	if err != nil {
		return nil, err
	}
	disc := nearby.NewDisc(c.DX, c.DY, d.Within)
	return kernel(in, disc.Reach(), func() func(dst, src raster.Tile) {
		s := nearby.NewShare(disc)
		return func(dst, src raster.Tile) { s.Classes(dst, src, member) }
	}), nil
}

func mean(d plan.Derived, in Layer, c Context) (*pipe.Node, error) {
	if err := tooFar(d, d.Within, c); err != nil {
		return nil, err
	}
	disc := nearby.NewDisc(c.DX, c.DY, d.Within)
	return kernel(in, disc.Reach(), func() func(dst, src raster.Tile) { return nearby.NewMean(disc).Values }), nil
}

// Radius returns how far, in metres, a value of a derived layer depends on
// its input around the cell; beyond is as in [Context].
func Radius(d plan.Derived, dx, dy, beyond float64) float64 {
	switch d.Verb {
	case plan.Share, plan.Mean, plan.RelativePosition:
		return d.Within
	case plan.Distance, plan.EdgeDistance:
		return reachOfDistance(d, dx, dy, beyond)
	}
	if d.Verb.Neighbours() {
		return math.Hypot(dx, dy)
	}
	if d.Verb.Water() {
		return reachOfWater(d, dx, dy)
	}
	return 0
}

// reachOfDistance is the end of a distance layer: its own `up to`, or the
// distance from which on nothing in the plan tells it apart, but at least to
// the next cell.
func reachOfDistance(d plan.Derived, dx, dy, beyond float64) float64 {
	end := max(beyond, min(dx, dy))
	if d.UpTo > 0 {
		end = min(end, d.UpTo)
	}
	return end
}

// endOf returns the end that a distance layer needs; see reachOfDistance.
func endOf(d plan.Derived, c Context) (float64, error) {
	end := reachOfDistance(d, c.DX, c.DY, c.Beyond(d.Name))
	if math.IsInf(end, 1) {
		return 0, &Mismatch{fmt.Sprintf("nothing in the plan bounds the distance %q", d.Name), "add `up to: 500 m`, or another distance beyond which it no longer matters"}
	}
	return end, tooFar(d, end, c)
}

func distance(d plan.Derived, in Layer, c Context) (*pipe.Node, error) {
	member, err := in.Member(d.Of)
	if err != nil {
		return nil, err
	}
	end, err := endOf(d, c)
	if err != nil {
		return nil, err
	}
	reach := nearby.NewDistance(c.DX, c.DY, end).Reach()
	return kernel(in, reach, func() func(dst, src raster.Tile) {
		k := nearby.NewDistance(c.DX, c.DY, end)
		return func(dst, src raster.Tile) { k.Classes(dst, src, member) }
	}), nil
}

// sides are the sides of an edge; both where the plan does not say.
var sides = map[plan.Side]nearby.Side{plan.Inside: nearby.Inside, plan.Outside: nearby.Outside}

func edgeDistance(d plan.Derived, in Layer, c Context) (*pipe.Node, error) {
	member, err := in.Member(d.Of)
	if err != nil {
		return nil, err
	}
	end, err := endOf(d, c)
	if err != nil {
		return nil, err
	}
	side := sides[d.Side]
	reach := nearby.NewEdge(c.DX, c.DY, end, side).Reach()
	return kernel(in, reach, func() func(dst, src raster.Tile) {
		k := nearby.NewEdge(c.DX, c.DY, end, side)
		return func(dst, src raster.Tile) { k.Classes(dst, src, member) }
	}), nil
}
