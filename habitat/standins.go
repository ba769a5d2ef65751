package habitat

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"time"

	"likelyground/habitat/plan"
	"likelyground/habitat/remote"
)

// findStandIns finds files for what the plan names and that cannot be opened
// where it lies.
func (d *desk) findStandIns(ctx context.Context, o Options, scratch string) error {
	d.standIns.Scratch = scratch
	d.standIns.Remote = CopyStore(o)
	d.standIns.Progress = func(what string, done, total int64) {
		o.Events(Event{Stage: "Unpacking " + what, Done: done, Total: total})
	}
	d.plan.Shown = d.standIns.Shown
	f := &faults{plan: d.plan}
	if a := d.plan.Area; a != nil && !a.IsBox {
		f.at(a.Pos, d.standInForArea(ctx))
	}
	for i := range d.plan.Maps {
		for j := range d.plan.Maps[i].Files {
			path := &d.plan.Maps[i].Files[j]
			var err error
			path.StandIns, err = d.standIns.Files(ctx, placed(d.dir, path.Text))
			f.at(path.Pos, err)
		}
	}
	for _, c := range d.standIns.Copies() {
		if c.How != remote.Fetched && c.How != remote.Unchanged {
			o.Events(Event{Warning: fmt.Sprintf("%s: %s, %s", c.Address, c.How, c.Fetched.Format(time.DateOnly))})
		}
	}
	return f.err()
}

// copiesFolder is where copies of maps on the network are kept; "" where there
// is no place for them.
func (o Options) copiesFolder() string {
	if o.copies != "" {
		return o.copies
	}
	if o.Scratch != "" {
		return filepath.Join(o.Scratch, "likelyground-maps")
	}
	cache, err := os.UserCacheDir()
	if err != nil {
		return ""
	}
	return filepath.Join(cache, "likelyground", "maps")
}

// CopyStore returns the store of copies of maps on the network: in the scratch
// folder where one is named, else in the user's cache folder. nil where there
// is neither.
func CopyStore(o Options) *remote.Store {
	folder := o.copiesFolder()
	if folder == "" {
		return nil
	}
	s := &remote.Store{Folder: folder, Online: o.Online, Agent: "likelyground/" + Version}
	if o.Events != nil {
		s.Progress = func(address string, done, total int64) {
			o.Events(Event{Stage: "Fetching " + address, Done: done, Total: total})
		}
	}
	return s
}

// placed makes a path of the plan relative to the plan's folder; an address
// stays as it is.
func placed(dir, path string) string {
	if remote.IsAddress(path) {
		return path
	}
	return inFolder(dir, path)
}

func (d *desk) standInForArea(ctx context.Context) error {
	a := d.plan.Area
	files, err := d.standIns.Files(ctx, placed(d.dir, a.File))
	switch {
	case err != nil || files == nil:
		return err
	case len(files) > 1:
		return d.plan.PointAt(a.Pos, fmt.Sprintf("the area names %d files, but one is read", len(files)), "name one of them")
	}
	a.StandIn = files[0]
	return nil
}

// areaFile returns the file of the area of interest, to be opened.
func areaFile(p *plan.Plan, dir string) string {
	if p.Area.StandIn != "" {
		return p.Area.StandIn
	}
	return inFolder(dir, p.Area.File)
}

// origins returns the files that the plan names in place of those that stand
// in for them, each once.
func (d *desk) origins(files []string) []string {
	var out []string
	for _, f := range files {
		if origin := d.standIns.Origin(f); !slices.Contains(out, origin) {
			out = append(out, origin)
		}
	}
	return out
}

// accountCopy is a map on the network as this run came by it.
type accountCopy struct {
	Address  string `json:"address"`
	How      string `json:"how"`
	Fetched  string `json:"fetched"`
	ETag     string `json:"etag,omitempty"`
	Modified string `json:"last_modified,omitempty"`
}

func (d *desk) accountCopies() []accountCopy {
	var out []accountCopy
	for _, c := range d.standIns.Copies() {
		out = append(out, accountCopy{c.Address, string(c.How), c.Fetched.Format(time.RFC3339), c.ETag, c.Modified})
	}
	return out
}

// accountPieces is what tells the state of a large map on the network of which
// only the parts that were needed were fetched.
type accountPieces struct {
	ETag     string `json:"etag,omitempty"`
	Modified string `json:"last_modified,omitempty"`
	Note     string `json:"note"`
}

// inPieces returns the copy in pieces that an address stands for; nil for
// other files.
func (d *desk) inPieces(file string) *remote.Copy {
	for _, c := range d.standIns.Copies() {
		if c.InPieces && c.Address == file {
			return &c
		}
	}
	return nil
}
