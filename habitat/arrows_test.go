package habitat_test

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

const module = "likelyground"

// rows are the rooms of the house, from the top down: a room may import only
// rooms below its own row. A room may stand here before it is built; one that
// is built must stand here.
var rows = []string{
	"cmd/likelyground",
	"habitat/start",
	"habitat", // the run; what it is made of knows nothing of it
	"habitat/look",
	"habitat/standin",
	"habitat/remote",
	"habitat/unpack",
	"habitat/licence",
	"habitat/layers",
	"habitat/plan",
	"habitat/legends",
	"habitat/match",
	"habitat/response",
	"habitat/combine",
	"habitat/hotspot",
	"habitat/evidence",
	"habitat/notebook",
	"habitat/season",
	"habitat/outing",
	"habitat/sheet",
	"habitat/ellerdown",
	"habitat/tint",
	"habitat/publish",
	"habitat/keep",
	// The doors: raster ← crs ← vector ← maps.
	"raster/maps",
	"vector/geojson",
	"vector/gpx",
	"vector/csvw",
	"vector/gpkg",
	"vector/gridref",
	"vector",
	"raster/crs",
	"vector/where",
	"vector/legible",
	// Files, the engine and the kernels know grids, and nothing of doors.
	"raster/inflate",
	"raster/cog",
	"raster/pipe",
	"raster/store",
	"raster/terrain",
	"raster/water",
	"raster/nearby",
	"raster/patch",
	"raster", // nouns know no verbs
}

// doors says which rooms alone may import a library: what is foreign, not for
// two goroutines, or freed by hand stays where it is watched.
var doors = map[string][]string{
	"C":                          {"raster/crs", "raster/inflate"},
	"github.com/airbusgeo/godal": {"raster/maps", "vector", "vector/gpkg"},
}

// emptyNames say nothing about what is within.
var emptyNames = []string{"util", "utils", "common", "helper", "helpers", "types", "core", "misc"}

// room is a package of the module without its tests.
type room struct {
	at      string // folder within the module, "/" between
	doc     string
	files   []string
	imports []string
}

// The sources are parsed here, not listed by the go tool, so that a room that
// does not build yet is held to the rules too, and the test cache sees every
// file.
func TestArrows(t *testing.T) {
	rooms, err := readRooms("..")
	if err != nil {
		t.Fatal(err)
	}
	if len(rooms) < 3 {
		t.Fatalf("only %d rooms found", len(rooms))
	}
	for _, r := range rooms {
		for _, breach := range r.breaches() {
			t.Errorf("%s: %s", r.at, breach)
		}
	}
}

// Each rule must be able to fail.
func TestArrowsCatch(t *testing.T) {
	good := room{at: "raster/terrain", doc: "Package terrain says how steep the ground is.", files: []string{"slope.go"}, imports: []string{"math", "likelyground/raster"}}
	if got := good.breaches(); got != nil {
		t.Fatalf("a good room: %v", got)
	}
	for _, c := range []struct {
		spoil func(*room)
		want  string
	}{
		{func(r *room) { r.imports = append(r.imports, "likelyground/habitat") }, "imports habitat, which is not below it"},
		{func(r *room) { r.imports = append(r.imports, "likelyground/raster/pipe") }, "imports raster/pipe, which is not below it"},
		{func(r *room) { r.imports = append(r.imports, "likelyground/raster/terrain") }, "imports raster/terrain, which is not below it"},
		{func(r *room) { r.imports = append(r.imports, "likelyground/garage") }, "imports garage, which has no row"},
		{func(r *room) { r.imports = append(r.imports, "C") }, "only raster/crs, raster/inflate may"},
		{func(r *room) { r.imports = append(r.imports, "github.com/airbusgeo/godal") }, "only raster/maps, vector, vector/gpkg may"},
		{func(r *room) { r.at = "raster/util" }, "has no row"},
		{func(r *room) { r.at = "raster/util" }, "says nothing"},
		{func(r *room) { r.files = append(r.files, "helpers.go") }, "helpers.go says nothing"},
		{func(r *room) { r.doc = "" }, "no package comment"},
		{func(r *room) { r.doc = "Slope." }, "no package comment"},
	} {
		bad := good
		c.spoil(&bad)
		if got := strings.Join(bad.breaches(), "\n"); !strings.Contains(got, c.want) {
			t.Errorf("want %q, got %q", c.want, got)
		}
	}
}

func (r room) breaches() []string {
	var out []string
	if slices.Index(rows, r.at) < 0 {
		out = append(out, "has no row among the rooms; give it its place")
	}
	for _, name := range r.imports {
		out = append(out, r.wrongImport(name)...)
	}
	for _, file := range append(slices.Clone(r.files), strings.Split(r.at, "/")...) {
		if slices.Contains(emptyNames, strings.TrimSuffix(file, ".go")) {
			out = append(out, fmt.Sprintf("the name %s says nothing", file))
		}
	}
	if !strings.HasPrefix(r.doc, "Package "+path.Base(r.at)+" ") && !strings.HasPrefix(r.doc, "Command ") {
		out = append(out, "no package comment that opens with its name")
	}
	return out
}

func (r room) wrongImport(name string) []string {
	if open, guarded := doors[name]; guarded && !slices.Contains(open, r.at) {
		return []string{fmt.Sprintf("imports %s; only %s may", name, strings.Join(open, ", "))}
	}
	other, ours := strings.CutPrefix(name, module+"/")
	if !ours {
		return nil
	}
	row := slices.Index(rows, other)
	if row < 0 {
		return []string{fmt.Sprintf("imports %s, which has no row", other)}
	}
	if row <= slices.Index(rows, r.at) {
		return []string{fmt.Sprintf("imports %s, which is not below it", other)}
	}
	return nil
}

// readRooms reads the imports and comments of all packages below a folder.
// Folders that the go tool passes over are passed over.
func readRooms(root string) ([]room, error) {
	found := map[string]*room{}
	err := filepath.WalkDir(root, func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		base := d.Name()
		if d.IsDir() && name != root && (base == "testdata" || strings.HasPrefix(base, ".") || strings.HasPrefix(base, "_")) {
			return filepath.SkipDir
		}
		if d.IsDir() || !strings.HasSuffix(base, ".go") || strings.HasSuffix(base, "_test.go") {
			return nil
		}
		at, err := filepath.Rel(root, filepath.Dir(name))
		if err != nil {
			return err
		}
		at = filepath.ToSlash(at)
		if found[at] == nil {
			found[at] = &room{at: at}
		}
		return found[at].add(name)
	})
	var out []room
	for _, r := range found {
		out = append(out, *r)
	}
	slices.SortFunc(out, func(a, b room) int { return strings.Compare(a.at, b.at) })
	return out, err
}

func (r *room) add(name string) error {
	file, err := parser.ParseFile(token.NewFileSet(), name, nil, parser.ImportsOnly|parser.ParseComments)
	if err != nil {
		return err
	}
	r.files = append(r.files, filepath.Base(name))
	if text := strings.TrimSpace(docOf(file)); text != "" {
		r.doc = text
	}
	for _, s := range file.Imports {
		imported, err := strconv.Unquote(s.Path.Value)
		if err != nil {
			return err
		}
		r.imports = append(r.imports, imported)
	}
	return nil
}

func docOf(file *ast.File) string {
	if file.Doc == nil {
		return ""
	}
	return file.Doc.Text()
}
