package habitat

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"likelyground/habitat/publish"
	"likelyground/raster/pipe"
)

// Result is what a run came to.
type Result struct {
	Plan     string   `json:"plan"`
	Out      string   `json:"out"`
	Files    []string `json:"files"` // in Out, the account last
	Hotspots []Spot   `json:"-"`
	Areas    int      `json:"areas"`
	AreaHa   float64  `json:"area_ha"`
	Answer   string   `json:"answer"`  // in one line
	Licence  string   `json:"licence"` // whether outputs may be passed on, in one line
	Warnings []string `json:"warnings"`
	Seconds  float64  `json:"seconds"`
	Reused   bool     `json:"reused"` // all was done already by an earlier run
}

// run is one run of a plan, as its stages go along.
type run struct {
	Options
	ctx     context.Context
	started time.Time
	timings []timing

	desk    *desk
	folder  *publish.Folder
	held    holding // the folder again
	hashes  *hashing
	results *results
	spots   *spots
	account *account
	outputs []outputFile

	accountHash fileHash
	made        []os.FileInfo // the outputs, the account last, as they lay in the hidden folder
	said        []string      // what is used again of earlier runs, or why nothing is
	done        *Result       // of an earlier run, where there is nothing left to do
}

// timing is how long a stage took.
type timing struct {
	Stage   string  `json:"stage"`
	Seconds float64 `json:"seconds"`
}

// stages are what a run does, in this order.
var stages = []struct {
	name string
	do   func(*run) error
}{
	{"Reading the plan", (*run).read},
	{"Looking for what is done already", (*run).recall},
	{"Opening the maps", (*run).open},
	{"Making room for the outputs", (*run).reserve},
	{followingWater, (*run).water},
	{"Scoring the ground", (*run).score},
	{"Judging what the maps held", (*run).judge},
	{"Ranking the areas", (*run).rank},
	{"Writing the outputs", (*run).write},
	{publishing, (*run).publish},
}

// Run does a plan: it writes the outputs that the plan asks for, and the
// account of the run, into the output folder. The folder is touched only at
// the end, when everything is whole; see package publish. An error that
// methods Remedy and MustChange belong to is the plan's or its data's; the
// context's cause is returned when it ends the run.
//
// Where ctx ends it returns within a second or two, even if a map is being
// opened that cannot be given up; see [Promptly].
func Run(ctx context.Context, planFile string, o Options) (*Result, error) {
	r := &run{Options: o.settled(), ctx: ctx, started: time.Now()}
	return Promptly(ctx, func() (*Result, error) { return r.stages(planFile) }, r.held.letGo)
}

// stages goes through the stages of the run.
func (r *run) stages(planFile string) (*Result, error) {
	ctx := r.ctx
	defer r.clear()
	r.desk = &desk{file: planFile}
	for _, s := range stages {
		if ctx.Err() != nil {
			return nil, context.Cause(ctx)
		}
		if r.done != nil {
			return r.done, nil
		}
		if s.name == followingWater && len(r.desk.graph.waters) == 0 {
			continue
		}
		r.Events(Event{Stage: s.name})
		began := time.Now()
		if err := s.do(r); err != nil {
			if ctx.Err() != nil {
				return nil, context.Cause(ctx) // whatever else went wrong on the way out
			}
			return nil, r.nameDisk(err)
		}
		r.timings = append(r.timings, timing{s.name, time.Since(began).Seconds()})
	}
	res := r.result()
	r.noteDone(res)
	return res, nil
}

// nameDisk says of an error for want of room which disk it is.
func (r *run) nameDisk(err error) error {
	folders := []string{r.Scratch, r.Kept}
	if r.folder != nil {
		folders = append(folders, r.folder.Scratch())
	}
	return nameDisk(err, folders...)
}

// clear frees everything; after a clean end the hidden folder is gone already.
func (r *run) clear() {
	if r.hashes != nil {
		r.hashes.stop()
	}
	if r.results != nil {
		r.results.close()
	}
	r.desk.close()
	r.held.letGo()
}

// outFolder returns where the outputs go.
func outFolder(planFile, out string) string {
	if out != "" {
		return out
	}
	name := filepath.Base(planFile)
	return filepath.Join(filepath.Dir(planFile), strings.TrimSuffix(name, filepath.Ext(name))+".out")
}

// read reads the plan and takes hold of the output folder.
func (r *run) read() error {
	if err := r.desk.read(); err != nil {
		return err
	}
	var err error
	if r.folder, err = publish.Open(outFolder(r.desk.file, r.Out)); err != nil {
		return err
	}
	r.held.take(r.folder)
	return r.mayWrite()
}

// open opens the maps: their scratch lies in the hidden neighbour of the
// output folder.
func (r *run) open() error {
	scratch := r.Scratch
	if scratch == "" {
		scratch = r.folder.Scratch()
	}
	if err := r.desk.open(r.ctx, r.Options, scratch); err != nil {
		return err
	}
	for _, w := range r.desk.warnings() {
		r.Events(Event{Warning: w})
	}
	r.hashes = startHashing(r.desk.files(), r.desk.larder.hash)
	r.desk.hashes = r.hashes
	return nil
}

// publishing is the last stage.
const publishing = "Publishing"

// followingWater is the stage that a plan without water leaves out.
const followingWater = "Following water"

// water works out whatever is made of where water gathers.
func (r *run) water() error { return r.desk.followWater(r.ctx, r.Options) }

// score computes every cell.
func (r *run) score() error {
	d := r.desk
	g := pipe.Graph{Window: d.grid.Window(), Outputs: outputs(d.graph), Sink: r.results.sink}
	err := pipe.Run(r.ctx, g, pipe.Options{
		Workers: r.Threads, Tile: r.Tile, Memory: engineMemory(r.Memory), Limit: r.Memory / 4 * 3,
		Progress: func(done, total int64) { r.Events(Event{Stage: "Scoring the ground", Done: done, Total: total}) },
	})
	if err != nil {
		if r.ctx.Err() != nil {
			return context.Cause(r.ctx)
		}
		return d.pointAtMap(shortMemory(err))
	}
	return d.unchanged()
}

// shortMemory turns the engine's want of memory into a fault of the plan or
// of the options: trying again cannot help.
func shortMemory(err error) error {
	var short *pipe.Shortage
	if !errors.As(err, &short) {
		return err
	}
	fix := "let it look less far, or choose a larger cell for the grid"
	if budget := short.Need/3*4 + 1<<20; budget < machineMemory() {
		fix += fmt.Sprintf("; or allow more memory, with --memory %dM", budget>>20+1)
	}
	return &Fault{What: short.Error(), Fix: fix}
}

// engineMemory is the part of the memory budget that the engine may use for
// tiles; beyond a bound more of it saves nothing.
func engineMemory(budget int64) int64 { return min(budget/2, 160<<20) }

// judge refuses maps whose cells cannot be what they claim to be.
func (r *run) judge() error {
	warnings, err := r.desk.judge()
	for _, w := range warnings {
		r.Events(Event{Warning: w})
	}
	return err
}

// publish moves the outputs to where they belong.
func (r *run) publish() error {
	names := make([]string, len(r.outputs))
	for i, o := range r.outputs {
		names[i] = o.File
	}
	stale, err := r.staleOutputs()
	if err != nil {
		return err
	}
	if err := r.look(); err != nil {
		return err
	}
	r.held.mu.Lock()
	defer r.held.mu.Unlock()
	if r.held.gone {
		return context.Cause(r.ctx)
	}
	return r.folder.Publish(names, stale)
}

func (r *run) result() *Result {
	res := &Result{Plan: r.desk.file, Out: r.folder.Dir(), Warnings: append([]string{}, r.desk.said...), Seconds: time.Since(r.started).Seconds()}
	res.Licence = r.account.Licences.Words()
	for _, o := range r.outputs {
		res.Files = append(res.Files, o.File)
	}
	res.Files = append(res.Files, publish.Account)
	if r.spots != nil {
		res.Hotspots, res.Areas, res.AreaHa, res.Answer = r.spots.list, len(r.spots.list), r.spots.areaHa(), r.spots.answer()
	}
	return res
}

// mayWrite refuses an output folder that holds another plan's outputs, or
// files of our names that no account vouches for.
func (r *run) mayWrite() error {
	if r.Force {
		return nil
	}
	old, err := r.oldAccount()
	if err != nil {
		return err
	}
	if old == nil {
		if found := r.folder.Existing(outputNames); len(found) > 0 {
			return &Fault{What: fmt.Sprintf("the folder %s holds %s, which no run of this program vouches for", r.folder.Dir(), strings.Join(found, " and ")), Fix: "name another folder with --out, or say --force to replace these files"}
		}
		return nil
	}
	if mine := r.planSeenFromOut(); old.Plan.File != mine {
		return &Fault{What: fmt.Sprintf("the folder %s holds the outputs of another plan, %s", r.folder.Dir(), old.Plan.File), Fix: "name another folder with --out, or say --force to replace them"}
	}
	return nil
}

// planSeenFromOut is the plan's path relative to the output folder, so that
// both can be moved together.
func (r *run) planSeenFromOut() string {
	abs, err := filepath.Abs(r.desk.file)
	if err != nil {
		return r.desk.file
	}
	rel, err := filepath.Rel(r.folder.Dir(), abs)
	if err != nil {
		return abs
	}
	return filepath.ToSlash(rel)
}

// pointAtMap points an error that a stage met in a map at the map's line in
// the plan, if it is the map that must be changed.
func (d *desk) pointAtMap(err error) error {
	var change interface {
		error
		MustChange() bool
	}
	if !errors.As(err, &change) || !change.MustChange() {
		return err
	}
	for _, m := range d.plan.Maps {
		if strings.HasPrefix(err.Error(), m.Name+": ") {
			return d.plan.PointAt(m.Pos, change.Error(), remedyOf(change))
		}
	}
	return err
}
