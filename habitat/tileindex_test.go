package habitat

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// indexText is an index of tiles as GeoJSON: footprints do not matter.
func indexText(paths ...string) string {
	var b strings.Builder
	b.WriteString(`{"type":"FeatureCollection","features":[`)
	for i, p := range paths {
		if i > 0 {
			b.WriteByte(',')
		}
		name, _ := json.Marshal(p)
		fmt.Fprintf(&b, `{"type":"Feature","properties":{"location":%s},"geometry":{"type":"Polygon","coordinates":[[[0,0],[1,0],[1,1],[0,1],[0,0]]]}}`, name)
	}
	b.WriteString("]}")
	return b.String()
}

// indexPlan reads the mixed plan's heights and land cover by an index each.
const indexPlan = `format: 1
grid: {crs: EPSG:25829, cell: 60 m}
area: {box: [570000, 5537820, 572880, 5540160], crs: EPSG:25829}
maps:
  ground: {FILE, unit: m}
  cover: {file: [cover_west.tif, cover_east.tif], classes: yes}
factors:
  height: {from: ground, curve: {0: 0, 400: 1}}
  cover: {from: cover, scores: {10: 1}, others: 0}
outputs: [factors]
`

// TestTileIndex asks for the bytes that a list of the same files gives, in
// the index's order, and for refusals that name index, feature and file.
func TestTileIndex(t *testing.T) {
	dir := t.TempDir()
	python(t, "mixed_draw.py", dir)
	write := func(name, text string) {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	run := func(file string) (map[string][]byte, error) {
		plan := writePlan(t, dir, strings.Replace(indexPlan, "FILE", file, 1))
		if _, err := Run(context.Background(), plan, Options{Out: filepath.Join(dir, "tried")}); err != nil {
			return nil, err
		}
		return runFor(t, plan, Options{}), nil
	}
	write("dem/index.geojson", indexText("tile_N50.tif", "tile_N49.tif", "tile_N50.tif"))
	write("all.geojson", indexText("dem/tile_N49.tif"))
	got, err := run("file: dem/index.geojson, index: location")
	if err != nil {
		t.Fatal(err)
	}
	want, err := run("file: [dem/tile_N50.tif, dem/tile_N49.tif]")
	if err != nil {
		t.Fatal(err)
	}
	if string(got["factors.tif"]) != string(want["factors.tif"]) {
		t.Error("an index gives other cells than the list of its tiles")
	}
	other, err := run("file: [dem/tile_N49.tif]")
	if err != nil {
		t.Fatal(err)
	}
	if string(other["factors.tif"]) == string(want["factors.tif"]) {
		t.Error("one tile gives what two do: nothing is compared")
	}
	for _, name := range []string{`"dem/index.geojson"`, `"dem/tile_N49.tif"`, `"dem/tile_N50.tif"`} {
		if !strings.Contains(string(got["run.json"]), name) {
			t.Errorf("the account does not list %s", name)
		}
	}
	if _, err := run("file: [all.geojson, dem/index.geojson], index: location"); err != nil {
		t.Errorf("two indexes: %v", err)
	}
	for text, c := range map[string]struct{ file, says string }{
		indexText("../../etc/passwd"):       {"file: bad/i.geojson, index: location", "feature 1 of the index"},
		indexText("../cover_west.tif"):      {"file: bad/i.geojson, index: location", ""}, // the plan names it as another map
		indexText("/dev/zero"):              {"file: bad/i.geojson, index: location", "outside the index's own folder"},
		indexText("/vsicurl/http://[::1]/"): {"file: bad/i.geojson, index: location", "outside the index's own folder"},
		indexText("gone.tif"):               {"file: bad/i.geojson, index: location", "gone.tif: there is no such file"},
		indexText("i.geojson"):              {"file: bad/i.geojson, index: location", "does not open as a raster"},
		indexText(" "):                      {"file: bad/i.geojson, index: location", `names no tile in its field "location"`},
		indexText("a.tif") + " ":            {"file: bad/i.geojson, index: path", `there is no field "path"`},
		"no index":                          {"file: bad/i.geojson, index: location", "the index of the map"},
	} {
		if err := os.MkdirAll(filepath.Join(dir, "bad"), 0o777); err != nil {
			t.Fatal(err)
		}
		write("bad/i.geojson", text)
		_, err := run(c.file)
		if c.says == "" {
			if err != nil {
				t.Errorf("%s: %v", text, err)
			}
			continue
		}
		if err == nil || !strings.Contains(err.Error(), c.says) || !strings.Contains(err.Error(), "plan.yaml:5:") {
			t.Errorf("%s: %v\nwant %q", text, err, c.says)
		}
	}
}
