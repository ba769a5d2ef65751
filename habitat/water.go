package habitat

import (
	"context"
	"encoding/binary"
	"fmt"
	"math"
	"os"
	"slices"

	"likelyground/habitat/keep"
	"likelyground/habitat/layers"
	"likelyground/habitat/plan"
	"likelyground/raster"
	"likelyground/raster/nearby"
	"likelyground/raster/pipe"
	"likelyground/raster/water"
)

// following is the water on one map of heights, read so far beyond the area:
// it is followed before the layers made of it are read. It judges and counts
// the map's cells, unless another one does.
type following struct {
	source  *source
	margin  float64 // metres, as the plan has it
	metres  float64 // how far beyond the area the ground is known to water
	derived []plan.Derived
	first   bool // of those on this map

	window raster.Window // of the ground
	read   raster.Window // of the map, as far as any layer reads it
	part   bool          // the window is a part of the ground, for one place
	height *pipe.Node
	mask   *pipe.Node // nil where the grid is the area
	drains *pipe.Node // classes of a map; nil for none
	keeps  *raster.CodeTable[uint8]
	around rim

	water   *water.Water
	counted []accountWater
}

// mostForOne is how many cells water is followed over to explain one place,
// which takes about half a second; a variable for tests.
var mostForOne = 2_000_000

// narrow bounds the ground that water is followed over to explain one cell,
// and returns what is to be said of that; "" where all of it is followed.
func (f *following) narrow(at raster.Window, g *ground) string {
	if f.window.Size() <= mostForOne {
		return ""
	}
	half := int(math.Sqrt(float64(mostForOne)) / 2)
	f.window = f.window.Clip(at.Grow(half))
	f.read, f.part = f.window, true
	return fmt.Sprintf("water on %q is followed within %.3g km of the place alone; a run follows it over all the ground, and may find more gathering here, larger hollows and other channels", f.source.m.Name, float64(half)*min(g.DXm(), g.DYm())/1000)
}

// followed reports whether water is followed over a map.
func (b *builder) followed(name string) bool {
	return slices.ContainsFunc(b.plan.Derived, func(d plan.Derived) bool { return d.Verb.Water() && d.From == name })
}

// waterOf notes that a layer needs the water on its map.
func (b *builder) waterOf(d plan.Derived) func() *water.Water {
	var f *following
	for _, w := range b.g.waters {
		if w.source.m.Name == d.From && w.margin == d.WaterMargin() && w.derived[0].Drains.String() == d.Drains.String() {
			f = w
		}
	}
	if f == nil {
		f = b.newFollowing(d)
		b.g.waters = append(b.g.waters, f)
	}
	f.derived = append(f.derived, d)
	return func() *water.Water { return f.water }
}

func (b *builder) newFollowing(d plan.Derived) *following {
	f := &following{source: b.sources[d.From], margin: d.WaterMargin()}
	f.first = !slices.ContainsFunc(b.g.waters, func(w *following) bool { return w.source == f.source })
	for _, other := range b.plan.Derived {
		if other.Verb.Water() && other.From == d.From && other.WaterMargin() == f.margin && other.Drains.String() == d.Drains.String() {
			f.metres = max(f.metres, b.looks[other.Name]+f.margin)
		}
	}
	f.around = b.rim(f.metres)
	f.window = b.grown(f.metres)
	f.read = f.window.Union(b.grown(b.looks[d.From]))
	f.height = b.sourceNode(f.source, f.first)
	if b.g.area != nil {
		f.mask = b.needNode(f.metres)
	}
	b.drainsOf(f, d.Drains)
	return f
}

// drainsOf reads the map of drains along with the heights. It is judged there
// if nothing else reads it.
func (b *builder) drainsOf(f *following, d *plan.Drains) {
	if d == nil {
		return
	}
	l, s := b.g.layers[d.Map], b.sources[d.Map]
	if l.Member == nil {
		b.faults.say(d.Pos, fmt.Sprintf("drains are classes, and %q has none", d.Map), "name a map of classes")
		return
	}
	keeps, err := l.Member(d.Of)
	b.faults.at(d.Pos, err)
	if err != nil {
		return
	}
	judge := !b.readBesides(d.Map) && !slices.ContainsFunc(b.g.waters, func(w *following) bool { return w.derived[0].Drains != nil && w.derived[0].Drains.Map == d.Map })
	f.drains, f.keeps = b.sourceNode(s, judge), keeps
}

// readBesides reports whether a map is read by more than water that it drains.
func (b *builder) readBesides(name string) bool {
	found := b.plan.Grid.Like == name
	eachFactor(b.plan.Factors, func(f *plan.Factor) { found = found || f.From == name })
	for _, k := range b.plan.KeepOut {
		found = found || k.Layer == name
	}
	for _, d := range b.plan.Derived {
		found = found || !d.Verb.Water() && slices.Contains(d.Reads(), name)
	}
	return found
}

// grown is the grid's window with the cells within some metres of it.
func (b *builder) grown(metres float64) raster.Window {
	metres = min(metres, farthest*min(b.grid.DXm(), b.grid.DYm()))
	w := b.grid.Window()
	x, y := int(math.Ceil(metres/b.grid.DXm())), int(math.Ceil(metres/b.grid.DYm()))
	return raster.Window{Col: w.Col - x, Row: w.Row - y, Cols: w.Cols + 2*x, Rows: w.Rows + 2*y}
}

// followWater works out every water that the plan's layers need.
func (d *desk) followWater(ctx context.Context, o Options) error {
	for _, f := range d.graph.waters {
		if err := f.run(ctx, d, o); err != nil {
			if ctx.Err() != nil {
				return context.Cause(ctx)
			}
			return d.pointAtMap(shortMemory(err))
		}
	}
	return nil
}

func (d *desk) closeWaters() {
	if d.graph == nil {
		return
	}
	for _, f := range d.graph.waters {
		if f.water != nil {
			f.water.Close()
		}
	}
}

// run follows the water, as far as it was not kept.
func (f *following) run(ctx context.Context, d *desk, o Options) error {
	tile := min(o.Tile, water.MostTile)
	l, err := f.layers(ctx, d, tile)
	if err != nil {
		return err
	}
	if err := f.follow(ctx, d, o, l, tile); err != nil {
		return err
	}
	err = f.recount(l, func() error { return f.count(ctx, d.grid.Window().Clip(f.window), o.Threads) })
	f.tell(l, d.larder.say)
	return err
}

// follow brings the heights onto the grid, if need be, and does all stages
// that the layers need. l may be nil.
func (f *following) follow(ctx context.Context, d *desk, o Options, l *keep.Layers, tile int) error {
	heights := &heightFile{window: f.window}
	var layersAt water.Store = water.NewScratch(d.scratch)
	if l != nil {
		layersAt = l
	}
	err := f.heights(ctx, d, o, l, heights)
	defer heights.close()
	if err != nil {
		layersAt.Close()
		return err
	}
	f.water, err = water.New(ctx, water.Ground{
		Window: f.window, DX: d.grid.DXm(), DY: d.grid.DYm(),
		Open: func() (water.Reader, error) { return &heightsReader{of: heights}, nil },
	}, water.Options{
		Workers: o.Threads, Tile: tile, Memory: engineMemory(o.Memory) / 2, Store: layersAt,
		Progress: func(stage string, done, total int) {
			o.Events(Event{Stage: followingWater, Done: int64(done), Total: int64(total)})
		},
	})
	for i := 0; err == nil && i < len(f.derived); i++ {
		err = layers.WorkOut(ctx, f.water, f.derived[i])
	}
	return err
}

// heights brings the heights onto the grid, unless what is made of them was
// kept.
func (f *following) heights(ctx context.Context, d *desk, o Options, l *keep.Layers, into *heightFile) error {
	if l != nil {
		if _, ok := l.Kept(water.FillStage); ok {
			return f.recall(l.Beside(water.FillStage))
		}
		f.whyAnew(d, min(o.Tile, water.MostTile))
	}
	if err := into.create(d.scratch, f.drains != nil); err != nil {
		return err
	}
	if err := f.bring(ctx, into, o); err != nil || l == nil {
		return err
	}
	seen, ok, err := f.seen()
	if !ok {
		l.Refuse() // the map must be changed
	}
	l.Put(water.FillStage, seen)
	return err
}

// gathers reports whether a layer hangs on how water gathers.
func gathers(d plan.Derived) bool {
	return d.Verb != plan.Filled && d.Verb != plan.HollowDepth && d.Verb != plan.HollowArea
}

// bring reads the map as far as any layer does, which judges it, and keeps
// the heights as far as water is followed.
func (f *following) bring(ctx context.Context, into *heightFile, o Options) error {
	g := pipe.Graph{Window: f.read, Outputs: []*pipe.Node{f.height}, Sink: func() (pipe.Sink, error) {
		return &heightsSink{f: f, into: into, factor: layers.ToMetres(f.source.m.Unit)}, nil
	}}
	if f.mask != nil {
		g.Outputs = append(g.Outputs, f.mask)
	}
	if f.drains != nil {
		g.Outputs = append(g.Outputs, f.drains)
	}
	return pipe.Run(ctx, g, pipe.Options{
		Workers: o.Threads, Tile: o.Tile, Memory: engineMemory(o.Memory), Limit: o.Memory / 4 * 3,
		Progress: func(done, total int64) { o.Events(Event{Stage: followingWater, Done: done, Total: total}) },
	})
}

// heightFile is a scratch file of heights in metres, row by row, and another
// of a byte for each cell, 1 for drains, where there are any. They bear no name
// in their folder.
type heightFile struct {
	window raster.Window
	file   *os.File
	drains *os.File // nil for none
}

func (h *heightFile) create(folder string, drains bool) error {
	var err error
	if h.file, err = namelessFile(folder); err == nil && drains {
		h.drains, err = namelessFile(folder)
	}
	if err != nil {
		return fmt.Errorf("scratch for heights: %w", err)
	}
	return nil
}

func namelessFile(folder string) (*os.File, error) {
	file, err := os.CreateTemp(folder, "heights-*")
	if err != nil {
		return nil, err
	}
	if err := os.Remove(file.Name()); err != nil {
		file.Close()
		return nil, err
	}
	return file, nil
}

func (h *heightFile) close() {
	for _, f := range []*os.File{h.file, h.drains} {
		if f != nil {
			f.Close()
		}
	}
}

// offset is where a cell's height stands in the file.
func (h *heightFile) offset(col, row int) int64 {
	return 4 * (int64(row-h.window.Row)*int64(h.window.Cols) + int64(col-h.window.Col))
}

// heightsSink writes heights for one worker.
type heightsSink struct {
	f      *following
	into   *heightFile
	factor float32
	bytes  []byte
}

func (s *heightsSink) Close() error { return nil }

func (s *heightsSink) Take(w raster.Window, in []raster.Tile) error {
	part := w.Clip(s.into.window)
	for row := part.Row; row < part.EndRow(); row++ {
		s.bytes = s.bytes[:0]
		for col := part.Col; col < part.EndCol(); col++ {
			z := in[0].Value(col, row) * s.factor
			if !s.known(in, col, row) {
				z = raster.Missing
			}
			s.bytes = binary.LittleEndian.AppendUint32(s.bytes, math.Float32bits(z))
		}
		if _, err := s.into.file.WriteAt(s.bytes, s.into.offset(part.Col, row)); err != nil {
			return fmt.Errorf("writing heights to scratch: %w", err)
		}
		if err := s.takeDrains(in[len(in)-1], part, row); err != nil {
			return fmt.Errorf("writing drains to scratch: %w", err)
		}
	}
	return nil
}

// takeDrains writes which cells of a row keep water.
func (s *heightsSink) takeDrains(classes raster.Tile, part raster.Window, row int) error {
	if s.into.drains == nil {
		return nil
	}
	s.bytes = s.bytes[:0]
	for col := part.Col; col < part.EndCol(); col++ {
		b := byte(0)
		if s.f.keeps.At(classes.Code(col, row)) == nearby.Yes {
			b = 1
		}
		s.bytes = append(s.bytes, b)
	}
	_, err := s.into.drains.WriteAt(s.bytes, s.into.offset(part.Col, row)/4)
	return err
}

// known reports whether a cell belongs to the ground that water is followed
// over.
func (s *heightsSink) known(in []raster.Tile, col, row int) bool {
	if s.f.mask == nil {
		return s.f.around.holds(col, row)
	}
	return in[1].Code(col, row) != 0
}

// heightsReader reads heights for one worker of the water.
type heightsReader struct {
	of    *heightFile
	bytes []byte
}

func (r *heightsReader) Close() error { return nil }

func (r *heightsReader) Read(dst raster.Tile, drains []bool) error {
	r.bytes = slices.Grow(r.bytes[:0], 4*dst.Cols)[:4*dst.Cols]
	for row := dst.Row; row < dst.EndRow(); row++ {
		if _, err := r.of.file.ReadAt(r.bytes, r.of.offset(dst.Col, row)); err != nil {
			return fmt.Errorf("reading heights from scratch: %w", err)
		}
		for i := range dst.ValueRow(row) {
			dst.ValueRow(row)[i] = math.Float32frombits(binary.LittleEndian.Uint32(r.bytes[4*i:]))
		}
		if r.of.drains == nil {
			continue
		}
		if _, err := r.of.drains.ReadAt(r.bytes[:dst.Cols], r.of.offset(dst.Col, row)/4); err != nil {
			return fmt.Errorf("reading drains from scratch: %w", err)
		}
		for i, b := range r.bytes[:dst.Cols] {
			drains[dst.Index(dst.Col, row)+i] = b == 1
		}
	}
	return nil
}
