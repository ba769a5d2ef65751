package habitat

import (
	"bytes"
	"context"
	"encoding/gob"
	"fmt"
	"slices"
	"strings"

	"likelyground/habitat/keep"
	"likelyground/habitat/layers"
	"likelyground/raster/maps"
	"likelyground/raster/store"
	"likelyground/raster/water"
)

// about says what the water on a map depends on; false where it cannot be
// told, or hangs on drains, so that it is not kept.
func (f *following) about(d *desk, tile int) (store.About, bool, error) {
	if f.drains != nil { // their map is read, and perhaps judged, with the heights
		return store.About{}, false, nil
	}
	heights, whole, err := d.contents(d.mapFiles(f.source.m))
	if err != nil || !whole {
		return store.About{}, false, err
	}
	area, whole, err := d.areaKey()
	if err != nil || !whole {
		return store.About{}, false, err
	}
	return store.About{Kind: "water", Title: fmt.Sprintf("the water on the map %q", f.source.m.Name), Depends: []store.Part{
		{Name: "the program", Value: d.larder.program},
		{Name: "the map", Value: heights},
		{Name: "how the map is read", Value: howMapIsRead(*f.source.m)},
		{Name: "the grid", Value: inJSON(d.grid.Grid) + fmt.Sprint(d.grid.metres)},
		{Name: "the area", Value: area},
		{Name: "how far water is followed", Value: fmt.Sprint(f.margin, f.metres, f.window, f.read, f.first)},
		{Name: "the tiles", Value: fmt.Sprint(tile)},
	}}, true, nil
}

// layers returns where the layers of the water are kept: for the next run,
// or, as nil Layers, in scratch alone.
func (f *following) layers(ctx context.Context, d *desk, tile int) (*keep.Layers, error) {
	if d.larder.store == nil || f.part {
		return nil, nil
	}
	about, ok, err := f.about(d, tile)
	if err != nil || !ok {
		return nil, err
	}
	l := keep.NewLayers(ctx, d.larder.store, about, d.scratch, d.larder.say)
	if d.larder.anew {
		l.Anew()
	}
	return l, nil
}

// seenOfMap is what reading a map's cells brought to light.
type seenOfMap struct {
	Findings       maps.Findings
	Known, Missing int64
	Low, High      float32
	ByCode         map[int32]int64
}

// seen writes down what was found of the map; false where it cannot be used,
// which a later stage tells.
func (f *following) seen() ([]byte, bool, error) {
	t := &f.source.inArea
	s := seenOfMap{f.source.findings(), t.known, t.missing, t.low, t.high, t.byCode}
	if len(s.Findings.Problems) > 0 {
		return nil, false, nil
	}
	s.Findings.Notes = nil // of the files as they are named now
	var out bytes.Buffer
	err := gob.NewEncoder(&out).Encode(s)
	return out.Bytes(), err == nil, err
}

// recall is the inverse of seen.
func (f *following) recall(data []byte) error {
	var s seenOfMap
	if err := gob.NewDecoder(bytes.NewReader(data)).Decode(&s); err != nil {
		return fmt.Errorf("what was kept of the map %q: %w", f.source.m.Name, err)
	}
	f.source.told = &s.Findings
	f.source.inArea.areaTally = areaTally{known: s.Known, missing: s.Missing, low: s.Low, high: s.High, byCode: s.ByCode}
	return nil
}

// recount takes the counts of cut cells from what was kept, or counts anew.
func (f *following) recount(l *keep.Layers, count func() error) error {
	flows := fmt.Sprint(keep.Counted, f.flows())
	if l == nil {
		return count()
	}
	if data, ok := l.Kept(flows); ok && gob.NewDecoder(bytes.NewReader(data)).Decode(&f.counted) == nil {
		return nil
	}
	f.counted = nil
	if err := count(); err != nil {
		return err
	}
	var out bytes.Buffer
	if err := gob.NewEncoder(&out).Encode(f.counted); err != nil {
		return err
	}
	return l.Keep(flows, out.Bytes())
}

// tell says what was taken from what was kept.
func (f *following) tell(l *keep.Layers, say func(string)) {
	if l == nil || len(l.Taken()) == 0 {
		return
	}
	var names []string
	for _, s := range l.Taken() {
		if !strings.HasPrefix(s, keep.Counted) {
			names = append(names, water.StageTitle(s))
		}
	}
	say(fmt.Sprintf("the water on the map %q was kept and is used again: %s", f.source.m.Name, strings.Join(names, ", ")))
}

// whyAnew says why nothing of the water was kept.
func (f *following) whyAnew(d *desk, tile int) {
	about, ok, err := f.about(d, tile)
	if !ok || err != nil || d.larder.anew {
		return
	}
	if changed := d.larder.store.Changed(keep.Stage(about, water.FillStage)); len(changed) > 0 {
		d.larder.say(fmt.Sprintf("the water on the map %q is followed anew: %s changed since it was kept", f.source.m.Name, strings.Join(changed, " and ")))
	}
}

// allKept reports whether every stage of the water is kept.
func (f *following) allKept(d *desk, o Options) bool {
	return d.larder.store != nil && !o.Anew && len(f.keptStages(d, min(o.Tile, water.MostTile))) == len(f.stages())
}

// keptStages names the stages that a run would find.
func (f *following) keptStages(d *desk, tile int) (out []string) {
	about, ok, err := f.about(d, tile)
	if !ok || err != nil {
		return nil
	}
	for _, stage := range f.stages() {
		if !d.larder.store.Has(keep.Stage(about, stage)) {
			return out
		}
		out = append(out, water.StageTitle(stage))
	}
	return out
}

// stages returns the stages that the layers need, in their order.
func (f *following) stages() []string {
	out := []string{water.FillStage}
	for _, d := range f.derived {
		for _, s := range layers.Stages(d) {
			if !slices.Contains(out, s) {
				out = append(out, s)
			}
		}
	}
	return out
}
