package habitat

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"likelyground/habitat/plan"
	"likelyground/raster"
	"likelyground/raster/crs"
	"likelyground/raster/maps"
	"likelyground/raster/pipe"
)

// Place is a place on earth.
type Place struct {
	CRS  string  // a code such as EPSG:27700; "" for longitude and latitude on WGS 84
	X, Y float64 // x east and y north
}

// Holding is what the layers of a plan hold on its area, and at places.
type Holding struct {
	CRS, CRSName  string
	CellX, CellY  float64 // metres
	Columns, Rows int
	Cells         int64 // in the area
	Layers        []LayerHolding
	Scores        []float32 // those of a sample of the area's cells, rising
	Cell          []int64   // of each place the number of its cell, row by row; -1 outside the area
	Wrong         []MapWrong
	Warnings      []string
}

// LayerHolding is what one layer holds.
type LayerHolding struct {
	Name    string
	Known   bool           // some cell of the area is known
	Missing float64        // share of the area's cells that are missing, 0..1
	Values  []float32      // of a quantity: those of a sample of the area's cells, rising
	Classes []ClassHolding // of classes: all of the area, the largest first
	At      []PlaceHolding // of each place; not known outside the area
}

// ClassHolding is one class and how much of the known area it has.
type ClassHolding struct {
	Code  int32
	Name  string // its code in figures where it has no name
	Named bool
	Key   string  // by which a plan may call it: the name, or figures
	Share float64 // 0..1
}

// PlaceHolding is what a layer holds at a place.
type PlaceHolding struct {
	Known bool
	Value float32 // of a quantity
	Code  int32   // of a class
}

// MapWrong is what a run would refuse of a map. What a change of the plan
// would mend stands in figures.
type MapWrong struct {
	Map      string
	What     string
	StandIns []float64 // numbers that look like a sign for no data
	Beyond   bool      // values that no such quantity can have
	NotCodes bool      // numbers that are no class codes
	Nothing  bool      // no cell is known
}

// Survey works a plan out without writing anything and tells what its layers
// hold on its area and at places, for choosing curves and scores. The plan
// is given as text, as if it stood in planFile, which need not be there.
//
// Every cell that a run would read is read. Of quantities and scores a sample
// of at most about half a million cells is kept, on a lattice of its own, the
// same whatever the threads; of classes every cell counts. What a run would
// refuse of the maps' cells comes back in Wrong; an error is what stops even
// this, as for [Run].
func Survey(ctx context.Context, planFile string, text []byte, places []Place, o Options) (*Holding, error) {
	o = o.settled()
	p, err := plan.Read(planFile, text)
	if err != nil {
		return nil, err
	}
	d, done, err := openPlan(ctx, &desk{file: planFile, dir: filepath.Dir(planFile), plan: p}, o)
	defer done()
	if err != nil {
		return nil, err
	}
	s := &surveying{desk: d, names: (&explaining{desk: d}).layerNames()}
	if s.cells, err = d.cellsOf(places); err != nil {
		return nil, err
	}
	if err := s.evaluate(ctx, o); err != nil {
		return nil, err
	}
	return s.holding(), nil
}

// surveying is a survey on its way.
type surveying struct {
	*desk
	names []string
	nodes []*pipe.Node // score, area where there is one, then the layers
	first int          // of the layers among the nodes
	step  int          // of the sample, in columns and rows
	cells []int64      // of the places; -1 off the grid

	mu       sync.Mutex
	outside  map[int64]bool // cells of places that lie outside the area
	at       []map[int64]PlaceHolding
	sample   [][]float32 // of the score, then of the layers
	measured []areaTally // of each layer
}

// mostSampled is about how many cells of a layer are kept.
const mostSampled = 500_000

func (s *surveying) evaluate(ctx context.Context, o Options) error {
	s.nodes = []*pipe.Node{s.graph.score}
	if s.graph.area != nil {
		s.nodes = append(s.nodes, s.graph.area)
	}
	s.first = len(s.nodes)
	for _, name := range s.names {
		s.nodes = append(s.nodes, s.graph.layers[name].Node)
		s.at = append(s.at, map[int64]PlaceHolding{})
		s.measured = append(s.measured, newAreaTally())
	}
	s.sample = make([][]float32, 1+len(s.names))
	s.outside = map[int64]bool{}
	s.step = max(1, int(math.Ceil(math.Sqrt(float64(s.grid.Cells())/mostSampled))))
	g := pipe.Graph{Window: s.grid.Window(), Outputs: s.nodes, Sink: s.sink}
	err := pipe.Run(ctx, g, pipe.Options{
		Workers: o.Threads, Tile: o.Tile, Memory: engineMemory(o.Memory), Limit: o.Memory / 4 * 3,
		Progress: func(done, total int64) { o.Events(Event{Stage: "Reading the ground", Done: done, Total: total}) },
	})
	if ctx.Err() != nil {
		return context.Cause(ctx)
	}
	if err != nil {
		return s.pointAtMap(shortMemory(err))
	}
	return s.unchanged()
}

// surveySink takes the tiles of one worker.
type surveySink struct {
	*surveying
	sample   [][]float32
	measured []areaTally
}

func (s *surveying) sink() (pipe.Sink, error) {
	k := &surveySink{surveying: s, sample: make([][]float32, len(s.sample))}
	for range s.names {
		k.measured = append(k.measured, newAreaTally())
	}
	return k, nil
}

// Take keeps the sample and the places of a tile and counts its cells.
func (k *surveySink) Take(w raster.Window, in []raster.Tile) error {
	var area []int32
	if k.graph.area != nil {
		area = in[1].Codes
	}
	k.keep(0, w, in[0].Values, area)
	for i, t := range in[k.first:] {
		if t.Codes != nil {
			k.measured[i].codes(t.Codes, area)
			continue
		}
		k.measured[i].values(t.Values, area)
		k.keep(i+1, w, t.Values, area)
	}
	k.keepPlaces(w, in[k.first:], area)
	return nil
}

// keep keeps the known cells of the sample.
func (k *surveySink) keep(layer int, w raster.Window, values []float32, area []int32) {
	for row := (w.Row + k.step - 1) / k.step * k.step; row < w.EndRow(); row += k.step {
		for col := (w.Col + k.step - 1) / k.step * k.step; col < w.EndCol(); col += k.step {
			at := w.Index(col, row)
			if v := values[at]; v == v && (area == nil || area[at] == 1) {
				k.sample[layer] = append(k.sample[layer], v)
			}
		}
	}
}

func (k *surveySink) keepPlaces(w raster.Window, layers []raster.Tile, area []int32) {
	for _, cell := range k.cells {
		if cell < 0 {
			continue
		}
		col, row := int(cell%int64(k.grid.Cols)), int(cell/int64(k.grid.Cols))
		if !w.Holds(raster.Window{Col: col, Row: row, Cols: 1, Rows: 1}) {
			continue
		}
		at := w.Index(col, row)
		k.mu.Lock()
		if area != nil && area[at] != 1 {
			k.outside[cell] = true
		} else {
			for i, t := range layers {
				k.at[i][cell] = placeHolding(t, at)
			}
		}
		k.mu.Unlock()
	}
}

func placeHolding(t raster.Tile, at int) PlaceHolding {
	if missingAt(t, at) {
		return PlaceHolding{}
	}
	if t.Codes != nil {
		return PlaceHolding{Known: true, Code: t.Codes[at]}
	}
	return PlaceHolding{Known: true, Value: t.Values[at]}
}

// Close adds up what the worker took.
func (k *surveySink) Close() error {
	k.mu.Lock()
	defer k.mu.Unlock()
	for i, values := range k.sample {
		k.surveying.sample[i] = append(k.surveying.sample[i], values...)
	}
	for i := range k.measured {
		sum := sharedTally{areaTally: k.surveying.measured[i]}
		sum.add(&k.measured[i])
		k.surveying.measured[i] = sum.areaTally
	}
	return nil
}

// holding sums up.
func (s *surveying) holding() *Holding {
	h := &Holding{
		CRS: s.grid.name(), CRSName: s.grid.info.Name, CellX: s.grid.DXm(), CellY: s.grid.DYm(), Columns: s.grid.Cols, Rows: s.grid.Rows,
		Cells: s.graph.counts.Area, Scores: rising(s.sample[0]), Wrong: s.wrong(), Warnings: append([]string{}, s.warnings()...),
	}
	for _, cell := range s.cells {
		if s.outside[cell] {
			cell = -1
		}
		h.Cell = append(h.Cell, cell)
	}
	for i, name := range s.names {
		h.Layers = append(h.Layers, s.layerHolding(i, name))
	}
	return h
}

func rising(values []float32) []float32 {
	slices.Sort(values)
	return values
}

func (s *surveying) layerHolding(i int, name string) LayerHolding {
	t := &s.measured[i]
	out := LayerHolding{Name: name, Known: t.known > 0, Values: rising(s.sample[i+1])}
	if all := t.known + t.missing; all > 0 {
		out.Missing = float64(t.missing) / float64(all)
	}
	for _, cell := range s.cells {
		out.At = append(out.At, s.at[i][cell])
	}
	if source := s.sources[name]; source != nil && source.classes != nil {
		out.Values, out.Classes = nil, source.classes.holding(t)
	}
	return out
}

// holding lists classes, the largest first.
func (c *classes) holding(t *areaTally) []ClassHolding {
	var out []ClassHolding
	for code, n := range c.byPart(t.byCode) {
		_, named := c.legend.Name(code)
		out = append(out, ClassHolding{Code: code, Name: c.name(code), Named: named || c.texts != nil, Key: c.key(code), Share: float64(n) / float64(t.known)})
	}
	slices.SortFunc(out, func(a, b ClassHolding) int {
		return cmp.Or(cmp.Compare(b.Share, a.Share), cmp.Compare(a.Code, b.Code))
	})
	return out
}

// wrong lists what a run would refuse of the maps' cells.
func (s *surveying) wrong() []MapWrong {
	var out []MapWrong
	for i := range s.plan.Maps {
		source := s.sources[s.plan.Maps[i].Name]
		if source == nil || source.blank != "" {
			continue
		}
		found := source.findings()
		f := &faults{plan: s.plan}
		s.judgeMap(source, found, f)
		var what []string
		for _, p := range f.list {
			what = append(what, p.Message)
		}
		if len(what) > 0 {
			out = append(out, MapWrong{Map: source.m.Name, What: strings.Join(what, "; "), StandIns: found.StandIns, Beyond: found.Beyond > 0, NotCodes: found.NotCodes > 0, Nothing: found.Known == 0})
		}
	}
	return out
}

// cellsOf returns the numbers of the grid's cells that hold places, row by
// row; -1 for a place off the grid.
func (d *desk) cellsOf(places []Place) ([]int64, error) {
	out := make([]int64, len(places))
	byCRS := map[string][]int{}
	for i, p := range places {
		byCRS[p.CRS] = append(byCRS[p.CRS], i)
	}
	for system, list := range byCRS {
		x, y := make([]float64, len(list)), make([]float64, len(list))
		for j, i := range list {
			x[j], y[j] = places[i].X, places[i].Y
		}
		if err := d.toGrid(system, x, y); err != nil {
			return nil, err
		}
		for j, i := range list {
			out[i] = d.cellNumber(x[j], y[j])
		}
	}
	return out, nil
}

// toGrid brings points to the grid's CRS, in place.
func (d *desk) toGrid(system string, x, y []float64) error {
	if system == "" {
		system = lonLatCRS
	}
	w, s, e, n := d.grid.Bounds()
	box, err := crs.UsableBox(d.grid.CRS, w, s, e, n)
	if err != nil {
		return err
	}
	op, err := crs.Choose(system, d.grid.CRS, box, crs.Options{})
	if err != nil {
		return &Fault{What: fmt.Sprintf("the places cannot be brought onto the grid: %v", err), Fix: "give them by easting and northing in " + d.grid.info.Name}
	}
	t, err := op.Open()
	if err != nil {
		return err
	}
	defer t.Close()
	t.Forward(x, y)
	return nil
}

func (d *desk) cellNumber(x, y float64) int64 {
	c, r := d.grid.Cell(x, y)
	if !(math.Abs(c) < 1<<40 && math.Abs(r) < 1<<40) {
		return -1
	}
	col, row := raster.CellAt(c), raster.CellAt(r)
	if !d.grid.Window().Holds(raster.Window{Col: col, Row: row, Cols: 1, Rows: 1}) {
		return -1
	}
	return int64(row)*int64(d.grid.Cols) + int64(col)
}

// BoxIn returns the extent, in one CRS, of a box given in another.
func BoxIn(west, south, east, north float64, from, to string) (w, s, e, n float64, err error) {
	return maps.BoxBounds(west, south, east, north, from, to)
}
