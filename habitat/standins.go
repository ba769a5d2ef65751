package habitat

import (
	"context"
	"fmt"
	"slices"

	"likelyground/habitat/plan"
)

// findStandIns finds files for what the plan names and that cannot be opened
// where it lies.
func (d *desk) findStandIns(ctx context.Context, o Options, scratch string) error {
	d.standIns.Scratch = scratch
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
			path.StandIns, err = d.standIns.Files(ctx, inFolder(d.dir, path.Text))
			f.at(path.Pos, err)
		}
	}
	return f.err()
}

func (d *desk) standInForArea(ctx context.Context) error {
	a := d.plan.Area
	files, err := d.standIns.Files(ctx, inFolder(d.dir, a.File))
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
