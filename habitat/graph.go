package habitat

import (
	"fmt"
	"math"
	"slices"

	"likelyground/habitat/layers"
	"likelyground/habitat/plan"
	"likelyground/raster"
	"likelyground/raster/maps"
	"likelyground/raster/nearby"
	"likelyground/raster/pipe"
)

// graph is the plan as nodes of the engine.
type graph struct {
	area    *pipe.Node // classes: 1 inside the area of interest; nil where the grid is the area
	layers  map[string]layers.Layer
	classes map[string]*classes // of the layers of classes, maps and derived ones
	factors []*pipe.Node        // in the plan's order
	score   *pipe.Node

	waters  []*following // in the order of the layers that need them
	scorers []*scorer    // the factors that read classes
	counts  *cellCounts
}

// builder turns a plan into a graph.
type builder struct {
	plan    *plan.Plan
	grid    *ground
	sources map[string]*source
	areaOf  *maps.Polygons // nil where the grid is the area
	faults  *faults
	g       *graph
	looks   map[string]float64 // metres, how far beyond the area a map's cells matter
	lie     *layers.Lie        // nil until a layer asks
}

// build makes the graph. Whatever is wrong is noted in the faults.
func (b *builder) build() *graph {
	b.g = &graph{layers: map[string]layers.Layer{}, classes: map[string]*classes{}, counts: &cellCounts{}}
	if b.areaOf != nil {
		b.g.area = b.areaNode()
	}
	b.looks = b.howFar()
	for i := range b.plan.Maps {
		m := &b.plan.Maps[i]
		if s := b.sources[m.Name]; s != nil {
			b.g.layers[m.Name] = b.mapLayer(s)
			if s.classes != nil {
				b.g.classes[m.Name] = s.classes
				b.fractions(m.Name)
			}
		}
	}
	for _, d := range b.plan.Derived {
		b.derive(d)
	}
	for i := range b.plan.Factors {
		if n := b.factor(&b.plan.Factors[i]); n != nil {
			b.g.factors = append(b.g.factors, n)
		}
	}
	if b.faults.err() == nil {
		b.g.score = b.scoreNode()
	}
	return b.g
}

// derive adds a derived layer.
func (b *builder) derive(d plan.Derived) {
	var in []layers.Layer
	for _, name := range d.Reads() {
		l, ok := b.g.layers[name]
		if !ok {
			return // its map could not be opened, which has been told
		}
		in = append(in, l)
	}
	if d.Drains != nil {
		in = in[:1] // its drains are read with the heights
	}
	l, err := layers.Derive(d, in, layers.Context{DX: b.grid.DXm(), DY: b.grid.DYm(), Beyond: b.beyond, Join: b.join, Water: b.waterOf, Lie: b.lieOf})
	b.faults.at(d.Pos, err)
	if err == nil {
		b.g.layers[d.Name] = l
		if d.Verb == plan.Lasting {
			b.g.classes[d.Name] = derivedClasses(d.Name)
		}
		b.fractions(d.Name)
	}
}

// mapLayer is the layer of a map as it was opened.
func (b *builder) mapLayer(s *source) layers.Layer {
	l := layers.Layer{Name: s.m.Name, Unit: s.m.Unit, Node: b.sourceNode(s, !b.followed(s.m.Name))}
	if s.classes != nil {
		l.Member = func(of []plan.Class) (*raster.CodeTable[uint8], error) { return s.classes.member(of, b.faults), nil }
	}
	return l
}

// fractions lets a layer whose polygons are of several classes tell how much
// of a cell is of some of them.
func (b *builder) fractions(name string) {
	c, l := b.g.classes[name], b.g.layers[name]
	if c == nil || !c.mixed() {
		return
	}
	l.Fraction = func(of []plan.Class) (*raster.CodeTable[float32], error) { return c.fraction(of, b.faults), nil }
	b.g.layers[name] = l
}

// sourceNode reads a map; it judges and counts the cells that some value in
// the area uses, or, where another node does that already, none.
func (b *builder) sourceNode(s *source, judge bool) *pipe.Node {
	kind := pipe.Quantity
	if s.classes != nil {
		kind = pipe.Class
	}
	if s.blank != "" {
		return &pipe.Node{Name: s.m.Name, Kind: kind, Open: pipe.Plain(func(out raster.Tile, _ []raster.Tile) error {
			out.FillMissing()
			return nil
		})}
	}
	metres := b.looks[s.m.Name]
	n := &pipe.Node{Name: s.m.Name, Kind: kind, Open: func() (pipe.Evaluator, error) {
		r, err := s.source().Reader()
		if !judge || b.g.counts.settled {
			return &rereading{reader: r}, err
		}
		return &reading{reader: r, around: b.rim(metres), inArea: newAreaTally(), into: &s.inArea}, err
	}}
	if b.g.area != nil && judge {
		n.Inputs = []*pipe.Node{b.needNode(metres), b.g.area}
	}
	return n
}

// areaNode is 1 where a cell of the grid lies in the area of interest.
func (b *builder) areaNode() *pipe.Node {
	grid := b.grid.Window()
	return &pipe.Node{Name: "area", Kind: pipe.Class, Open: func() (pipe.Evaluator, error) {
		r, err := b.areaOf.Reader()
		return &areaReading{r, grid}, err
	}}
}

type areaReading struct {
	maps.Reader
	grid raster.Window
}

func (a *areaReading) Eval(out raster.Tile, _ []raster.Tile) error {
	if err := a.Read(out, nil); err != nil {
		return err
	}
	if a.grid.Holds(out.Window) {
		return nil
	}
	for row := out.Row; row < out.EndRow(); row++ {
		for i := range out.CodeRow(row) {
			if !a.grid.Holds(raster.Window{Col: out.Col + i, Row: row, Cols: 1, Rows: 1}) {
				out.CodeRow(row)[i] = 0
			}
		}
	}
	return nil
}

// farthest bounds, in cells, the discs around the area; a plan that looks
// farther is refused, by the layer or for want of memory.
const farthest = 1e5

// needNode is 1 where a cell lies within some metres of the area.
func (b *builder) needNode(metres float64) *pipe.Node {
	if metres == 0 {
		return b.g.area
	}
	metres = min(metres, farthest*min(b.grid.DXm(), b.grid.DYm()))
	disc := nearby.NewDisc(b.grid.DXm(), b.grid.DYm(), metres)
	return &pipe.Node{Name: fmt.Sprintf("within %g m of the area", metres), Kind: pipe.Class, Inputs: []*pipe.Node{b.g.area}, Reach: disc.Reach(),
		Open: func() (pipe.Evaluator, error) {
			d := nearby.NewDilate(disc)
			return pipe.Plain(func(out raster.Tile, in []raster.Tile) error {
				d.Classes(out, in[0])
				return nil
			})()
		}}
}

// howFar returns, for each map, how far beyond the area its cells are used by
// a value in the area.
func (b *builder) howFar() map[string]float64 {
	far := map[string]float64{}
	for i := len(b.plan.Derived) - 1; i >= 0; i-- { // readers after what they read
		d := b.plan.Derived[i]
		r := layers.Radius(d, b.grid.DXm(), b.grid.DYm(), b.beyond(d.Name))
		for _, from := range d.Reads() {
			far[from] = max(far[from], far[d.Name]+r)
		}
	}
	return far
}

// beyond returns from which value on nothing in the plan tells values of a
// derived layer apart; infinite where something does without end.
func (b *builder) beyond(layer string) float64 {
	end := 0.0
	see := func(f *plan.Factor) {
		if f.From != layer {
			return
		}
		curve, err := curveOf(f)
		if len(f.Curve) == 0 || err != nil {
			end = math.Inf(1)
			return
		}
		_, flat := curve.Bounds()
		end = max(end, flat)
	}
	eachFactor(b.plan.Factors, see)
	for _, k := range b.plan.KeepOut {
		if k.Layer != layer {
			continue
		}
		for _, limit := range []*float64{k.Above, k.Below} {
			if limit != nil { // the value one cell further must be told from the limit
				end = max(end, *limit+math.Hypot(b.grid.DXm(), b.grid.DYm()))
			}
		}
	}
	for _, d := range b.plan.Derived {
		if slices.Contains(d.Reads(), layer) {
			end = math.Inf(1)
		}
	}
	return end
}

// eachFactor calls f for every factor that reads a layer, those in groups too.
func eachFactor(list []plan.Factor, f func(*plan.Factor)) {
	for i := range list {
		if list[i].From != "" {
			f(&list[i])
		}
		eachFactor(list[i].Members, f)
	}
}
