package habitat

import (
	"cmp"
	"context"
	"math"
	"slices"

	"likelyground/habitat/combine"
	"likelyground/habitat/hotspot"
	"likelyground/habitat/layers"
	"likelyground/habitat/plan"
	"likelyground/raster"
	"likelyground/raster/crs"
	"likelyground/raster/patch"
	"likelyground/raster/pipe"
)

// explainSpots says of each ranked area why it scores as it does. The tiles
// that hold the areas are computed once more, with the layers beside the
// scores, and no other tile is; nothing is counted or judged again.
func (r *run) explainSpots(solved *patch.Solution, list []hotspot.Hotspot) ([]Spot, error) {
	if len(list) == 0 {
		return nil, nil
	}
	d := r.desk
	weights, _, err := weigh(d.plan)
	if err != nil {
		return nil, err
	}
	e := &spotting{desk: d, weights: weights, shown: d.shownLayers()}
	if e.combiner, err = combiner(d.plan, weights); err != nil {
		return nil, err
	}
	e.looking = hotspot.Look(solved, list, e.counted(), len(e.shown))
	d.graph.counts.settled = true
	g := pipe.Graph{Window: d.grid.Window(), Outputs: e.outputs(), Wanted: e.looking.Wanted, Sink: e.sink}
	err = pipe.Run(r.ctx, g, pipe.Options{Workers: r.Threads, Tile: secondTile(r.Tile), Memory: engineMemory(r.Memory), Limit: r.Memory / 4 * 3})
	if r.ctx.Err() != nil {
		return nil, context.Cause(r.ctx)
	}
	if err != nil {
		return nil, d.pointAtMap(shortMemory(err))
	}
	return e.spots(list)
}

// secondTile is the side of the tiles of the second look: short, since areas
// are small beside a tile of the first.
func secondTile(first int) int {
	const short = 128
	if first == 0 {
		return short
	}
	return min(first, short)
}

// spotting explains ranked areas.
type spotting struct {
	*desk
	weights  []float64
	combiner *combine.Combiner
	shown    []string // layers whose values tell why
	looking  *hotspot.Looking
}

// counted lists the factors with weight, by place.
func (e *spotting) counted() (out []int) {
	for i, w := range e.weights {
		if w > 0 {
			out = append(out, i)
		}
	}
	return out
}

// shownLayers lists the layers that factors read, and those of slopes and
// hollows, in the order of working them out.
func (d *desk) shownLayers() (out []string) {
	read := map[string]bool{}
	for i := range d.plan.Factors {
		addLayers(&d.plan.Factors[i], read)
	}
	for _, m := range d.plan.Maps {
		if read[m.Name] {
			out = append(out, m.Name)
		}
	}
	for _, v := range d.plan.Derived {
		if read[v.Name] || v.Verb == plan.Slope || v.Verb == plan.HollowDepth {
			out = append(out, v.Name)
		}
	}
	return out
}

func (e *spotting) outputs() []*pipe.Node {
	out := append([]*pipe.Node{e.graph.score}, e.graph.factors...)
	for _, name := range e.shown {
		out = append(out, e.graph.layers[name].Node)
	}
	return out
}

func (e *spotting) sink() (pipe.Sink, error) {
	return &spotSink{e.looking.Looker(), len(e.weights)}, nil
}

// spotSink hands the tiles of one worker on.
type spotSink struct {
	*hotspot.Looker
	factors int
}

func (s *spotSink) Take(_ raster.Window, in []raster.Tile) error {
	return s.Looker.Take(in[0], in[1:1+s.factors], in[1+s.factors:])
}

func (s *spotSink) Close() error {
	s.Looker.Close()
	return nil
}

// spots makes an explained area of each hotspot.
func (e *spotting) spots(list []hotspot.Hotspot) ([]Spot, error) {
	t, err := e.toLonLat.Open()
	if err != nil {
		return nil, err
	}
	defer t.Close()
	side := func(cell float64) int { return max(int(math.Round(100/cell)), 1) }
	out := make([]Spot, len(list))
	for i := range list {
		g := e.looking.Ground(i, &list[i], side(e.grid.DXm()), side(e.grid.DYm()))
		out[i] = e.spot(list[i], g, t)
	}
	return out, nil
}

func (e *spotting) spot(h hotspot.Hotspot, g *hotspot.Ground, t *crs.Transformer) Spot {
	s := Spot{Hotspot: h, Go: h.Point, Coverage: e.coverage(&h), MeanKnown: g.MeanKnown(), Hectare: g.Best}
	if g.Best != nil {
		s.Go, s.GoKnown, s.HectareHa = g.Best.Point, true, float64(g.Best.Cells)*e.grid.cellHa()
	}
	e.locate(&s, t)
	e.limit(&s)
	for _, i := range e.counted() {
		if f := h.Factors[i]; f.Known < 1 {
			s.NotKnown = append(s.NotKnown, Unknown{f.Name, 1 - f.Known})
		}
	}
	s.Steepest, s.WetShare = e.steepest(g), e.wetShare(g)
	s.Coarse = e.coarse(h.AreaHa)
	s.Why = e.whyWords(&s, g)
	return s
}

// coverage is the mean known share of the weight: of every factor the share
// of the cells where it is known, in the order of names.
func (e *spotting) coverage(h *hotspot.Hotspot) float64 {
	order := e.counted()
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(h.Factors[a].Name, h.Factors[b].Name) })
	var known, all float64
	for _, i := range order {
		known += float64(e.weights[i] * h.Factors[i].Known)
		all += e.weights[i]
	}
	if all == 0 {
		return 0
	}
	return known / all
}

// locate finds longitude, latitude and grid reference of the place to go to.
func (e *spotting) locate(s *Spot, t *crs.Transformer) {
	x, y := e.grid.Position(float64(s.Go.Col)+0.5, float64(s.Go.Row)+0.5)
	lon, lat := []float64{x}, []float64{y}
	t.Forward(lon, lat)
	s.Lon, s.Lat = lon[0], lat[0]
	s.Reference = reference(WhyPlace{CRS: e.grid.name(), X: x, Y: y, Lon: &s.Lon, Lat: &s.Lat}, e.digits())
}

// digits is how many digits a grid reference has for each axis: squares of
// 10 m, or of what is no finer than the cell.
func (e *spotting) digits() int {
	cell := max(e.grid.DXm(), e.grid.DYm())
	digits := 4
	for square := 10.0; digits > 1 && square < cell*(1-raster.Snap); square *= 10 {
		digits--
	}
	return digits
}

// limit finds what keeps the score lowest at the means of the area.
func (e *spotting) limit(s *Spot) {
	means := make([]float32, len(s.Factors))
	for i, f := range s.Factors {
		means[i] = float32(f.Mean)
	}
	parts := e.combiner.Explain(means)
	most := 0.0
	for _, p := range parts {
		most = max(most, p.Loss)
	}
	for i, p := range parts {
		if p.Loss > 0 && p.Loss >= most*(1-1e-12) {
			s.LimitedBy = append(s.LimitedBy, s.Factors[i].Name)
		}
	}
}

// of calls f with what an area holds of each derived layer of a verb.
func (e *spotting) of(g *hotspot.Ground, verb plan.Verb, f func(*plan.Derived, *hotspot.Held)) (any bool) {
	for i, name := range e.shown {
		if d, ok := e.plan.DerivedLayer(name); ok && d.Verb == verb {
			any = true
			if g.Layers[i].Known > 0 {
				f(d, &g.Layers[i])
			}
		}
	}
	return any
}

// steepest is the steepest slope of an area in degrees, in any layer of
// slopes.
func (e *spotting) steepest(g *hotspot.Ground) *float64 {
	steepest := math.NaN()
	if !e.of(g, plan.Slope, func(d *plan.Derived, h *hotspot.Held) {
		v := float64(h.High)
		if d.Percent {
			v = math.Atan(v/100) * 180 / math.Pi
		}
		if !(steepest >= v) {
			steepest = v
		}
	}) {
		return nil
	}
	return &steepest
}

// wetShare is the share of an area that lies in hollows, of the layer that
// has most.
func (e *spotting) wetShare(g *hotspot.Ground) *float64 {
	share := math.NaN()
	if !e.of(g, plan.HollowDepth, func(_ *plan.Derived, h *hotspot.Held) {
		if v := float64(h.Above) / float64(h.Known); !(share >= v) {
			share = v
		}
	}) {
		return nil
	}
	return &share
}

// coarse lists the maps that factors with weight come from and whose cells
// are larger than an area, in the plan's order.
func (e *spotting) coarse(areaHa float64) (out []Coarse) {
	bears := bearing(&plan.Plan{Factors: e.plan.Factors, Derived: e.plan.Derived}, e.weights)
	for i := range e.plan.Maps {
		m := &e.plan.Maps[i]
		s := e.sources[m.Name]
		if !bears[m.Name] || s.raster == nil {
			continue
		}
		if c := coarsest(m.Name, s); c.CellHa > areaHa {
			out = append(out, c)
		}
	}
	return out
}

// coarsest tells the largest cells of a map's files.
func coarsest(name string, s *source) Coarse {
	c := Coarse{Map: name}
	for _, f := range s.raster.Facts() {
		if ha := f.CellX * f.CellY / 1e4; ha > c.CellHa {
			c.CellHa, c.SideM = ha, math.Sqrt(ha*1e4)
		}
	}
	return c
}

// layerOf returns what an area holds of a layer.
func (e *spotting) layerOf(name string, g *hotspot.Ground) (layers.Layer, *hotspot.Held) {
	i := slices.Index(e.shown, name)
	return e.graph.layers[name], &g.Layers[i]
}
