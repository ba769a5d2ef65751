package habitat

import (
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// surfacePlan works slopes out of heights, straight and by way of a mean.
const surfacePlan = `format: 1
grid: {like: ground}
maps:
  ground: {file: NAME, unit: m MORE}
derived:
  steepness: {slope: ground}
  smooth: {mean: ground, within: 45 m}
  smooth slope: {slope: smooth}
  height: {elevation: ground}
factors:
  steep: {from: steepness, curve: {0: 0, 45: 1}}
  smooth: {from: smooth slope, curve: {0: 0, 45: 1}}
  high: {from: height, curve: {0: 0, 500: 1}}
outputs: [score]
`

// TestSurfaceModel asks for a warning wherever something that tree tops spoil
// is worked out from a surface model, and for none elsewhere.
func TestSurfaceModel(t *testing.T) {
	dir := drawn(t)
	dem, err := os.ReadFile(filepath.Join(dir, "inputs", "dem.tif"))
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct{ file, more, plan, says string }{
		"a terrain model":        {"dtm.tif", "", surfacePlan, ""},
		"by its name":            {"Copernicus_DSM_COG_10_N55_00_E002_00_DEM.tif", "", surfacePlan, `is a surface model (the name "Copernicus_DSM_COG_10_N55_00_E002_00_DEM.tif" tells of one), which shows tree tops and roofs: under trees "smooth slope", "steepness" is`},
		"by the name of a place": {"dsm/55_2.tif", "", surfacePlan, `(the name "dsm/55_2.tif" tells of one)`},
		"the plan says so":       {"dtm.tif", ", surface: yes", surfacePlan, `is a surface model (the plan says so)`},
		"the plan says no":       {"dsm/55_2.tif", ", surface: no", surfacePlan, ""},
		"only its heights": {"dsm/55_2.tif", "", strings.NewReplacer("  steepness: {slope: ground}\n", "", "  smooth slope: {slope: smooth}\n", "", "steepness", "height", "smooth slope", "smooth").
			Replace(surfacePlan), ""},
	} {
		path := filepath.Join(dir, c.file)
		if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, dem, 0o666); err != nil {
			t.Fatal(err)
		}
		plan := writePlan(t, dir, strings.NewReplacer("NAME", c.file, "MORE", c.more).Replace(c.plan))
		report, err := Check(context.Background(), plan, Options{})
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		var account struct {
			Warnings []string
			Maps     []struct {
				Surface bool `json:"surface_model"`
			}
		}
		if err := json.Unmarshal(runFor(t, plan, Options{})["run.json"], &account); err != nil {
			t.Fatal(err)
		}
		for _, said := range [][]string{report.Warnings, account.Warnings} {
			warned := slices.ContainsFunc(said, func(w string) bool { return strings.Contains(w, "surface model") })
			if warned != (c.says != "") || !strings.Contains(strings.Join(said, "\n"), c.says) {
				t.Errorf("%s: %q\nwant %q", name, said, c.says)
			}
		}
		if account.Maps[0].Surface != (c.says != "" || name == "only its heights") {
			t.Errorf("%s: the account says %v", name, account.Maps[0].Surface)
		}
	}
}

// TestSlopeOfFeet asks for the same slopes from heights in feet as from
// heights in metres.
func TestSlopeOfFeet(t *testing.T) {
	dir := drawn(t)
	plan := strings.NewReplacer("NAME", "inputs/dem.tif").Replace(surfacePlan)
	var scores [2]map[string][]byte
	for i, more := range []string{"", ", scale: 3.280839895013123"} { // 1 / 0.3048
		text := strings.Replace(plan, "unit: m MORE", "unit: "+[]string{"m", "ft"}[i]+more, 1)
		scores[i] = runFor(t, writePlan(t, dir, text), Options{})
	}
	said := python(t, "near.py", write(t, dir, "m.tif", scores[0]["score.tif"]), write(t, dir, "ft.tif", scores[1]["score.tif"]))
	t.Logf("%s", said)
}

func write(t *testing.T, dir, name string, data []byte) string {
	t.Helper()
	path := filepath.Join(dir, name)
	if err := os.WriteFile(path, data, 0o666); err != nil {
		t.Fatal(err)
	}
	return path
}
