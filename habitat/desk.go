package habitat

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"likelyground/habitat/plan"
	"likelyground/habitat/remote"
	"likelyground/habitat/standin"
	"likelyground/raster/crs"
	"likelyground/raster/maps"
	"likelyground/vector/where"
)

// desk is a plan with everything that it names opened, before any cell is
// computed. Run and Check both begin with it.
type desk struct {
	file string // of the plan, as given
	dir  string

	plan    *plan.Plan
	grid    *ground
	areaOf  *maps.Polygons // nil where the grid is the area
	sources map[string]*source
	graph   *graph
	scratch string   // folder
	said    []string // warnings told

	standIns standin.Desk // files that are opened in place of what the plan names

	larder *larder  // what is kept from run to run
	hashes *hashing // of all files that the result depends on; nil where they are hashed when they are asked for

	toLonLat crs.Operation // from the grid; only where hotspots are asked for
}

// openDesk opens a plan for a command that writes nothing: its scratch lies in
// a temporary folder. done frees everything and is to be called, error or not.
func openDesk(ctx context.Context, planFile string, o Options) (d *desk, done func(), err error) {
	return openPlan(ctx, &desk{file: planFile}, o)
}

// openPlan is openDesk for a desk that may hold its plan already.
func openPlan(ctx context.Context, d *desk, o Options) (_ *desk, done func(), err error) {
	if err := o.checkScratch(); err != nil {
		return d, func() {}, err
	}
	scratch, err := os.MkdirTemp(o.Scratch, "likelyground-")
	if err != nil {
		return d, func() {}, err
	}
	done = func() {
		d.close()
		os.RemoveAll(scratch)
	}
	if d.plan == nil {
		if err := d.read(); err != nil {
			return d, done, err
		}
	}
	o.Events(Event{Stage: "Opening the maps"})
	err = d.open(ctx, o, scratch)
	if ctx.Err() != nil {
		err = context.Cause(ctx) // whatever else went wrong on the way out
	}
	return d, done, err
}

// maxPlan is one byte more than a plan may have; see package plan.
const maxPlan = 1<<20 + 1

// read reads the plan file.
func (d *desk) read() error {
	if endless(d.file) {
		return &Fault{What: fmt.Sprintf("%s is no file, but a pipe or a device", d.file), Fix: "name a plan file; the paths in a plan are relative to it"}
	}
	f, err := os.Open(d.file)
	if errors.Is(err, os.ErrNotExist) {
		return &Fault{What: fmt.Sprintf("there is no plan %s", d.file), Fix: "name a plan file; `likelyground demo ellerdown` lays down one to try, `likelyground start FILE…` writes one for maps of your own"}
	}
	if err != nil {
		return err
	}
	defer f.Close()
	if info, err := f.Stat(); err == nil && info.IsDir() {
		return &Fault{What: fmt.Sprintf("%s is a folder, not a plan", d.file), Fix: "name the plan file in it"}
	}
	data, err := io.ReadAll(io.LimitReader(f, maxPlan))
	if err != nil {
		return err
	}
	d.dir = filepath.Dir(d.file)
	d.plan, err = plan.Read(d.file, data)
	return err
}

// cacheMB is how much of the memory budget GDAL may use for blocks it has
// decoded.
func cacheMB(budget int64) int { return int(min(max(budget/8>>20, 8), 64)) }

// open opens everything the plan names and turns it into a graph.
func (d *desk) open(ctx context.Context, o Options, scratch string) error {
	d.scratch = scratch
	if d.larder == nil {
		d.larder = openLarder(o, func(text string) { o.Events(Event{Said: text}) })
	}
	if err := o.checkScratch(); err != nil {
		return err
	}
	if err := d.refusePipes(); err != nil {
		return err
	}
	if err := maps.Setup(cacheMB(o.Memory)); err != nil {
		return err
	}
	if err := d.findStandIns(ctx, o, scratch); err != nil {
		return err
	}
	var err error
	if d.grid, err = layGrid(d.plan, d.dir); err != nil {
		return err
	}
	f := &faults{plan: d.plan}
	f.at(d.plan.Grid.Pos, d.findLonLat())
	f.at(d.areaPos(), d.openArea(ctx, scratch))
	d.openMaps(opener{ctx, d.plan, d.dir, d.grid, scratch}, f)
	if err := f.err(); err != nil {
		return err
	}
	b := &builder{plan: d.plan, grid: d.grid, sources: d.sources, areaOf: d.areaOf, faults: f}
	d.graph = b.build()
	return f.err()
}

// checkScratch refuses a scratch folder that is not there.
func (o Options) checkScratch() error {
	if o.Scratch == "" {
		return nil
	}
	if info, err := os.Stat(o.Scratch); err != nil || !info.IsDir() {
		return &Fault{What: fmt.Sprintf("there is no folder %s for scratch files", o.Scratch), Fix: "make it, or name another one with --scratch"}
	}
	return nil
}

func (d *desk) areaPos() plan.Pos {
	if d.plan.Area == nil {
		return plan.Pos{}
	}
	return d.plan.Area.Pos
}

// openArea opens the polygons of the area of interest.
func (d *desk) openArea(ctx context.Context, scratch string) (err error) {
	a := d.plan.Area
	switch {
	case a == nil:
		return nil
	case a.IsBox:
		c := a.Corners
		d.areaOf, err = maps.OpenBox(c.West, c.South, c.East, c.North, a.CRS, d.grid.Grid, scratch)
	default:
		spec := areaSpec(d.plan, d.dir)
		spec.Scratch, spec.Context = scratch, ctx
		d.areaOf, err = maps.OpenPolygons(spec, d.grid.Grid)
	}
	if err != nil && maps.Elsewhere(err) {
		return d.plan.PointAt(a.Pos, fmt.Sprintf("the area holds the centre of no cell of the grid: %v", err), "check the area's coordinates and crs, or choose a larger area or a smaller cell")
	}
	return err
}

func (d *desk) openMaps(o opener, f *faults) {
	d.sources = map[string]*source{}
	for i := range d.plan.Maps {
		m := &d.plan.Maps[i]
		s, err := o.openMap(m)
		if err != nil {
			f.at(o.placeOf(m, err), err)
			continue
		}
		d.sources[m.Name] = s
	}
}

// placeOf returns the place of a map's condition in the plan where the error
// is about that, of its file where that is not there, and otherwise of the map.
func (o opener) placeOf(m *plan.Map, err error) plan.Pos {
	var condition *where.Error
	if errors.As(err, &condition) {
		return m.WhereAt
	}
	if len(m.Files) == 1 {
		if _, err := os.Stat(inFolder(o.dir, m.Files[0].Text)); err != nil {
			return m.Files[0].Pos
		}
	}
	return m.Pos
}

// files returns every file that the result depends on, each once, those that
// are asked for first at the front.
func (d *desk) files() []string {
	var out []string
	seen := map[string]bool{}
	add := func(names ...string) {
		for _, n := range names {
			if !seen[n] && !remote.IsAddress(n) { // of a map in pieces there is no whole to hash
				seen[n] = true
				out = append(out, n)
			}
		}
	}
	if d.areaOf != nil {
		add(d.origins(d.areaOf.Files())...)
	}
	for _, f := range d.graph.waters {
		add(d.mapFiles(f.source.m)...)
	}
	for _, m := range d.plan.Maps {
		add(d.mapFiles(&m)...)
	}
	return out
}

// mapFiles returns the files that a map depends on, its legend included.
func (d *desk) mapFiles(m *plan.Map) []string {
	var out []string
	if s := d.sources[m.Name]; s != nil {
		out = append(out, d.origins(s.files())...)
	}
	if m.Legend != nil && m.Legend.File != "" {
		out = append(out, inFolder(d.dir, m.Legend.File))
	}
	if m.Index != "" {
		indexes, _ := expand(d.plan, m, d.dir) // it opened, so they are there
		out = append(out, indexes...)
	}
	return out
}

// unchanged returns an error when a file of the area or of a map changed
// while it was read.
func (d *desk) unchanged() error {
	if err := d.standIns.Unchanged(); err != nil {
		return err
	}
	if d.areaOf != nil {
		if err := d.areaOf.Unchanged(); err != nil {
			return err
		}
	}
	for _, m := range d.plan.Maps {
		if s := d.sources[m.Name]; s != nil {
			if err := s.unchanged(); err != nil {
				return err
			}
		}
	}
	return nil
}

// warnings returns, in words, what is odd about the plan and its maps but
// stops nothing.
func (d *desk) warnings() []string {
	for _, w := range d.plan.Warnings {
		d.said = append(d.said, w.Error())
	}
	for _, m := range d.plan.Maps {
		s := d.sources[m.Name]
		if s == nil {
			continue
		}
		if s.blank != "" {
			d.said = append(d.said, fmt.Sprintf("the optional map %q is left out: %s", m.Name, s.blank))
		}
		d.said = append(d.said, s.notes()...)
		d.said = append(d.said, d.surfaceWarning(&m)...)
	}
	d.said = append(d.said, d.conflicts()...)
	for i, text := range d.said {
		d.said[i] = d.standIns.Shown(text)
	}
	return d.said
}

// close frees what is open.
func (d *desk) close() {
	d.larder.save()
	d.closeWaters()
	for _, s := range d.sources {
		s.close()
	}
	if d.areaOf != nil {
		d.areaOf.Close()
	}
	d.standIns.Close()
}
