package habitat

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"likelyground/habitat/plan"
)

// endless reports whether a path is a pipe or a device, whose reading may
// never end.
func endless(path string) bool {
	info, err := os.Stat(path)
	return err == nil && !info.Mode().IsRegular() && !info.IsDir()
}

// refusePipes refuses what the plan names that is neither file nor folder,
// before anything is opened. A shapefile's or other map's side files count
// with it: they bear its name.
func (d *desk) refusePipes() error {
	f := &faults{plan: d.plan}
	look := func(pos plan.Pos, files ...string) {
		for _, file := range files {
			for _, part := range append([]string{file}, sideFiles(file)...) {
				if endless(part) {
					f.say(pos, fmt.Sprintf("%s is no file, but a pipe or a device", part), "name a file, and copy into one what the pipe would give")
				}
			}
		}
	}
	if a := d.plan.Area; a != nil && !a.IsBox {
		look(a.Pos, areaFile(d.plan, d.dir))
	}
	for i := range d.plan.Maps {
		m := &d.plan.Maps[i]
		if m.Legend != nil && m.Legend.File != "" {
			look(m.Pos, inFolder(d.dir, m.Legend.File))
		}
		if files, err := expand(d.plan, m, d.dir); err == nil {
			look(m.Pos, files...)
		}
	}
	return f.err()
}

// sideFiles returns the names beside a file that begin as its own does.
func sideFiles(file string) []string {
	stem := strings.TrimSuffix(filepath.Base(file), filepath.Ext(file)) + "."
	entries, err := os.ReadDir(filepath.Dir(file))
	if err != nil {
		return nil
	}
	var out []string
	for _, e := range entries {
		if !e.IsDir() && !e.Type().IsRegular() && strings.HasPrefix(e.Name(), stem) && e.Name() != filepath.Base(file) {
			out = append(out, filepath.Join(filepath.Dir(file), e.Name()))
		}
	}
	return out
}
