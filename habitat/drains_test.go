package habitat

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A bowl whose lowest cell is a pond: without drains it fills to its rim; with
// the pond as a drain nothing stands, and all 25 cells of 100 m² gather there
// (by hand, from the definition of a drain). The map of covers is read for
// nothing else, yet it is judged.
const bowlPlan = `format: 1
grid: {like: ground}
maps:
  ground: {file: ground.asc, unit: m, crs: EPSG:25831}
  cover: {file: cover.asc, classes: yes, crs: EPSG:25831}
derived:
  hollows: {hollow depth: ground, margin: 100 m, drains: {map: cover, of: [9]}}
  gathers: {gathered: ground, flow: one way, margin: 100 m, drains: {map: cover, of: [9]}}
  without: {hollow depth: ground, margin: 100 m}
  steep: {slope: stands}
  stands: {filled: ground, margin: 100 m}
factors:
  hollows: {from: hollows, curve: {0: 1, 9: 0}}
  gathers: {from: gathers, curve: {0: 1, 9: 0}}
  without: {from: without, curve: {0: 1, 9: 0}}
  level: {from: steep, curve: {0: 1, 45: 0}}
`

func bowlFiles() map[string]string {
	const head = "ncols 5\nnrows 5\nxllcorner 500000\nyllcorner 6000000\ncellsize 10\nNODATA_value -9999\n"
	return map[string]string{
		"ground.asc": head + "9 9 9 9 9\n9 8 8 8 9\n9 8 3 8 9\n9 8 8 8 9\n9 9 9 9 9\n",
		"cover.asc":  head + "1 1 1 1 1\n1 1 1 1 1\n1 1 9 1 1\n1 1 1 1 1\n1 1 1 1 1\n",
	}
}

func TestDrains(t *testing.T) {
	file := layPlan(t, bowlPlan, bowlFiles())
	w, err := Explain(context.Background(), file, "500025 6000025", Options{})
	if err != nil {
		t.Fatal(err)
	}
	// The slope of the filled bowl is 0: terrain reads water's layers exactly.
	for name, want := range map[string]float32{"hollows": 0, "gathers": 0.25, "without": 6, "stands": 9, "steep": 0} {
		for _, l := range w.Layers {
			if l.Name == name && (l.Value == nil || *l.Value != want) {
				t.Errorf("%s is %v, by hand %g", name, l.Value, want)
			}
		}
	}
	for _, l := range w.Layers {
		if l.Name == "hollows" && !strings.Contains(l.From, "kept by code 9 in cover") {
			t.Errorf("hollows are %q", l.From)
		}
	}
	for range 2 { // the second time too, when what can be kept was
		out := t.TempDir() + "/out"
		if _, err := Run(context.Background(), file, Options{Out: out}); err != nil {
			t.Fatal(err)
		}
		account, err := os.ReadFile(filepath.Join(out, "run.json"))
		if err != nil || !strings.Contains(string(account), `"drains": "cover: 9"`) || !strings.Contains(string(account), "kept by code 9 in cover") {
			t.Errorf("the account does not tell of drains: %v\n%s", err, account)
		}
	}
	files := bowlFiles()
	files["cover.asc"] = strings.ReplaceAll(files["cover.asc"], "9", "5.5")
	if _, err := Run(context.Background(), layPlan(t, bowlPlan, files), Options{Out: t.TempDir() + "/out"}); err == nil || !strings.Contains(err.Error(), "cover") {
		t.Errorf("covers that are no classes: %v", err)
	}
}
