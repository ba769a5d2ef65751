package habitat

import (
	"os"

	"likelyground/habitat/plan"
	"likelyground/vector"
)

// endless reports whether a path is a pipe or a device, whose reading may
// never end.
func endless(path string) bool {
	info, err := os.Stat(path)
	return err == nil && !info.Mode().IsRegular() && !info.IsDir()
}

// refusePipes refuses what the plan names that is neither file nor folder, or
// is not reached by its path, before anything is opened; see
// [vector.Reachable].
func (d *desk) refusePipes() error {
	f := &faults{plan: d.plan}
	look := func(pos plan.Pos, files ...string) {
		for _, file := range files {
			f.at(pos, vector.Reachable(file))
		}
	}
	if a := d.plan.Area; a != nil && !a.IsBox {
		look(a.Pos, areaFile(d.plan, d.dir))
	}
	for i := range d.plan.Maps {
		m := &d.plan.Maps[i]
		if m.Legend != nil && m.Legend.File != "" {
			look(m.Legend.Pos, inFolder(d.dir, m.Legend.File))
		}
		if files, err := expand(d.plan, m, d.dir); err == nil {
			look(m.Pos, files...)
		}
	}
	return f.err()
}
