package maps

import (
	"os"
	"path/filepath"
	"sort"
	"strings"

	"likelyground/vector"
)

// belongings finds the files that a map's values depend on. It reads each
// folder once.
type belongings struct {
	named   map[string]bool     // absolute paths that the plan names
	folders map[string][]string // names in a folder, sorted
	notes   []string            // of the last map looked through
}

func newBelongings(files []string) *belongings {
	b := &belongings{named: map[string]bool{}, folders: map[string][]string{}}
	for _, f := range files {
		if abs, err := filepath.Abs(f); err == nil {
			b.named[abs] = true
		}
	}
	return b
}

// sideEndings follow the whole name of a map; sideExtensions take the place of
// its extension. Both in small letters.
var (
	sideEndings    = []string{".aux.xml", ".ovr", ".msk", ".msk.ovr", ".aux", ".hdr", ".prj", ".wld"}
	sideExtensions = []string{".aux.xml", ".aux", ".tfw", ".tifw", ".tiffw", ".wld", ".jgw", ".jpgw", ".pgw", ".pngw",
		".j2w", ".prj", ".hdr", ".tab", ".xml", ".rrd", ".ige", ".rdc", ".rst", ".blw", ".stx", ".mgrd", ".sgrd", ".grd", ".gri"}
)

// of returns the file behind a map's name, its side files and, of a virtual
// raster, the files it refers to. It refuses virtual rasters that could carry
// code or reach beyond their folder and the files of the plan.
func (b *belongings) of(mapName, path string) ([]string, error) {
	if lender(path) != nil {
		b.notes = nil
		return []string{path}, nil
	}
	info, err := os.Stat(path)
	if err != nil {
		return nil, err
	}
	if info.IsDir() {
		return b.inFolder(path), nil
	}
	b.notes = nil
	if err := vector.AtRest(path); err != nil {
		return nil, (&PolygonSpec{Name: mapName}).about(err)
	}
	out := append([]string{path}, b.beside(path)...)
	v := virtual{mapName: mapName, own: b, folder: filepath.Dir(path)}
	for _, file := range out { // a mask beside the map may be a virtual raster too
		if err := v.scan(file, 0); err != nil {
			return nil, err
		}
	}
	b.notes = v.notes
	for _, source := range v.found {
		out = append(out, source)
		out = append(out, b.beside(source)...)
	}
	return unique(out), nil
}

// beside lists the side files of a map that are there.
func (b *belongings) beside(path string) []string {
	base := strings.ToLower(filepath.Base(path))
	stem := strings.TrimSuffix(base, filepath.Ext(base))
	var out []string
	for _, name := range b.names(filepath.Dir(path)) {
		lower := strings.ToLower(name)
		if lower != base && isSideFile(lower, base, stem) {
			out = append(out, filepath.Join(filepath.Dir(path), name))
		}
	}
	return out
}

func isSideFile(name, base, stem string) bool {
	if !strings.HasPrefix(name, stem) {
		return false
	}
	for _, end := range sideEndings {
		if name == base+end {
			return true
		}
	}
	for _, ext := range sideExtensions {
		if name == stem+ext {
			return true
		}
	}
	return false
}

// names lists the entries of a folder, sorted; none where it cannot be read.
func (b *belongings) names(folder string) []string {
	if known, ok := b.folders[folder]; ok {
		return known
	}
	var names []string
	entries, err := os.ReadDir(folder)
	if err == nil {
		for _, e := range entries {
			if !e.IsDir() {
				names = append(names, e.Name())
			}
		}
	}
	sort.Strings(names)
	b.folders[folder] = names
	return names
}

// inFolder lists the files of a map that is a folder.
func (b *belongings) inFolder(folder string) []string {
	var out []string
	for _, name := range b.names(folder) {
		out = append(out, filepath.Join(folder, name))
	}
	return out
}
