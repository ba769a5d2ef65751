package habitat

import (
	"bytes"
	"context"
	"encoding/gob"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"likelyground/habitat/keep"
	"likelyground/habitat/plan"
	"likelyground/habitat/publish"
	"likelyground/habitat/remote"
	"likelyground/habitat/unpack"
	"likelyground/raster/store"
	"likelyground/raster/water"
)

// recall finds out whether the run was done before: the same plan by the same
// program, from files and into files that are all as they were.
func (r *run) recall() error {
	d := r.desk
	if err := r.checkScratch(); err != nil {
		return err
	}
	d.larder = openLarder(r.Options, r.tell)
	about, ok := d.aboutRun(r.folder.Dir())
	if !ok || r.Anew {
		return nil
	}
	receipt, err := d.receipt(r.ctx, about)
	switch {
	case errors.Is(err, store.ErrAbsent):
		if changed := d.larder.store.Changed(about); len(changed) > 0 {
			r.tell(fmt.Sprintf("the run is done again: %s changed", strings.Join(changed, " and ")))
		}
		return nil
	case err != nil:
		r.tell(err.Error())
		return nil
	}
	hash := func(file string) (fileHash, error) { return d.larder.hash(file, nil) }
	if why := receipt.Stale(hash); why != "" {
		r.tell("the run is done again: " + why)
		return nil
	}
	res := &Result{}
	if err := gob.NewDecoder(bytes.NewReader(receipt.Result)).Decode(res); err != nil {
		return nil // of another version; it is done again
	}
	r.tell("nothing has changed since the last run: its outputs stand as they are")
	for _, w := range res.Warnings {
		r.Events(Event{Warning: w})
	}
	res.Plan, res.Out, res.Reused, res.Seconds = d.file, r.folder.Dir(), true, time.Since(r.started).Seconds()
	r.done = res
	return nil
}

// tell says what is used again of earlier runs, or why it is not.
func (r *run) tell(text string) {
	r.said = append(r.said, text)
	r.Events(Event{Said: text})
}

// aboutRun says what a whole run is known by; false where it is not kept:
// there is no store, or the state of a map on the network is to be asked for.
func (d *desk) aboutRun(out string) (store.About, bool) {
	file, err := filepath.Abs(d.file)
	if d.larder.store == nil || err != nil || d.larder.online && d.onNetwork() {
		return store.About{}, false
	}
	return store.About{Kind: "run", Title: "the run into " + out, Depends: []store.Part{
		{Name: "the program", Value: d.larder.program},
		{Name: "the plan", Value: d.plan.Hash()},
		{Name: "the plan's name", Value: file},
		{Name: "the output folder", Value: out},
	}}, true
}

// onNetwork reports whether the plan names an address.
func (d *desk) onNetwork() bool {
	if d.plan.Area != nil && remote.IsAddress(d.plan.Area.File) {
		return true
	}
	for _, m := range d.plan.Maps {
		if slices.ContainsFunc(m.Files, func(p plan.Path) bool { return remote.IsAddress(p.Text) }) {
			return true
		}
	}
	return false
}

// receipt returns what the last such run left.
func (d *desk) receipt(ctx context.Context, about store.About) (*keep.Receipt, error) {
	e, err := d.larder.store.Find(ctx, about)
	if err != nil {
		return nil, err
	}
	defer e.Close()
	receipt := &keep.Receipt{}
	err = gob.NewDecoder(bytes.NewReader(e.Note())).Decode(receipt)
	return receipt, err
}

// noteDone keeps the receipt of a run. What goes wrong is said, and stops
// nothing: all outputs are in their place.
func (r *run) noteDone(res *Result) {
	about, ok := r.desk.aboutRun(r.folder.Dir())
	if !ok || slices.ContainsFunc(r.desk.standIns.Copies(), func(c remote.Copy) bool { return c.InPieces }) {
		return // of a map that is read in pieces nobody knows whether it is as it was
	}
	if err := r.keepReceipt(about, res); err != nil && r.ctx.Err() == nil {
		r.Events(Event{Said: fmt.Sprintf("that the run is done is not kept: %v", err)})
	}
}

func (r *run) keepReceipt(about store.About, res *Result) error {
	hashes, err := r.hashes.wait()
	if err != nil {
		return err
	}
	receipt := &keep.Receipt{}
	for _, f := range r.desk.files() {
		receipt.AddRead(f, hashes[f])
	}
	for _, p := range r.desk.patterns() {
		receipt.AddPattern(p)
	}
	if err := r.noteOutputs(receipt); err != nil {
		return err
	}
	var result, note bytes.Buffer
	if err := gob.NewEncoder(&result).Encode(res); err != nil {
		return err
	}
	receipt.Result = result.Bytes()
	if err := gob.NewEncoder(&note).Encode(receipt); err != nil {
		return err
	}
	s := r.desk.larder.store
	s.ForgetLike(about)
	making, err := s.Begin()
	if err != nil {
		return err
	}
	defer making.Close()
	e, err := making.Publish(r.ctx, about, note.Bytes())
	if err != nil {
		return err
	}
	return e.Close()
}

// settling is how long a file must lie untouched until a change would show in
// its times.
const settling = 60 * time.Millisecond

// noteOutputs notes the outputs where they lie now, and remembers their
// hashes.
func (r *run) noteOutputs(receipt *keep.Receipt) error {
	time.Sleep(settling)
	for i, o := range r.whole() {
		path := filepath.Join(r.folder.Dir(), o.File)
		stamp, err := store.StampOf(path)
		if err != nil {
			return err
		}
		if now, err := os.Stat(path); err != nil || !os.SameFile(now, r.made[i]) || !now.ModTime().Equal(r.made[i].ModTime()) {
			return fmt.Errorf("%s is not what was written", path)
		}
		r.desk.larder.hashes.Remember(path, stamp, time.Now(), o.fileHash)
		receipt.AddWritten(path, o.fileHash)
	}
	return nil
}

// whole returns all outputs, the account last.
func (r *run) whole() []outputFile {
	return append(slices.Clone(r.outputs), outputFile{publish.Account, r.accountHash})
}

// look notes which files the outputs are, before they are moved.
func (r *run) look() error {
	for _, o := range r.whole() {
		info, err := os.Stat(filepath.Join(r.folder.Scratch(), o.File))
		if err != nil {
			return err
		}
		r.made = append(r.made, info)
	}
	return nil
}

// patterns returns the paths of the plan that stand for whatever files match
// them.
func (d *desk) patterns() []string {
	var out []string
	for _, m := range d.plan.Maps {
		for _, p := range m.Files {
			if p.Glob && isPattern(d.dir, p) {
				out = append(out, inFolder(d.dir, p.Text))
			}
		}
	}
	return out
}

func isPattern(dir string, p plan.Path) bool {
	full := inFolder(dir, p.Text)
	_, err := os.Stat(full)
	_, _, packed := unpack.Split(full)
	return err != nil && !packed && !remote.IsAddress(p.Text)
}

// wouldReuse says what a run would take from earlier ones. Files whose hash is
// not remembered are not read for that.
func (d *desk) wouldReuse(ctx context.Context, o Options) []string {
	if d.larder.store == nil || o.Anew {
		return nil
	}
	d.larder.glance = true
	out, err := filepath.Abs(outFolder(d.file, o.Out))
	if err != nil {
		return nil
	}
	if about, ok := d.aboutRun(out); ok {
		receipt, err := d.receipt(ctx, about)
		if err == nil && receipt.Stale(func(file string) (fileHash, error) { return d.larder.hash(file, nil) }) == "" {
			return []string{"nothing has changed since the last run into " + out + ", so that nothing would be done"}
		}
	}
	var said []string
	for _, f := range d.graph.waters {
		if names := f.keptStages(d, min(o.Tile, water.MostTile)); len(names) > 0 {
			said = append(said, fmt.Sprintf("the water on the map %q is kept: %s", f.source.m.Name, strings.Join(names, ", ")))
		}
	}
	return said
}
