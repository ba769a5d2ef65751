package habitat

import (
	"context"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// mixedPlan reads six maps in five coordinate reference systems, coded as
// open maps are when they are downloaded; testdata/mixed_draw.py draws them
// and testdata/mixed_judge.py knows the plan in its own words.
const mixedPlan = `format: 1
title: mixed
GRID
maps:
  soil: {file: soil.tif, scale: 0.1, unit: pH, missing: -32768}
  cover: {file: [cover_west.tif, cover_east.tif], legend: {0: sea, 10: trees, 20: scrub, 30: grass, 40: crops, 60: bare, 80: water, 255: rock}}
  habitat: {file: habitat.tif, classes: yes}
  bedrock: {file: bedrock.gpkg, field: rcs_d}
  drift: {file: drift.geojson, field: Material}
  ground: {file: "dem/*.tif", unit: m, where absent: 0}
derived:
  steepness: {slope: ground}
factors:
  acid soil: {from: soil, curve: {4: 0.2, 5: 1, 6.5: 0.7, 8: 0.05}, weight: 3}
  open cover: {from: cover, scores: {trees: 1, scrub: 0.8, grass: 0.55, crops: 0.3, rock: 0.15, sea: 0.9}, others: 0.1, weight: 2}
  habitat: {from: habitat, scores: {-100: 0.25, -5: 0.5, 1: 0, 12: 0.6, 23: 1, 127: 0.75}, others: 0.4, weight: 2, must: yes}
  bedrock: {from: bedrock, scores: {SANDSTONE: 1, "MUDSTONE, SILTSTONE AND SANDSTONE": 0.45, GRANITE: 0.9}, others: 0.15, weight: 1.5}
  drift: {from: drift, scores: {Blown sand: 1, till: 0.35, alluvium – silt: 0.2}, others: 0.65}
  slope: {from: steepness, curve: {0: 0.35, 6: 1, 20: 0.8, 45: 0.1}}
  height: {from: ground, curve: {0: 0.9, 150: 0.2, 250: 1, 320: 0.4}, weight: 0.5}
rule: geometric mean
floor: 0.02
outputs: [score, factors]
`

// mixedGrids refine all maps, refine some and coarsen others, and coarsen them
// all.
var mixedGrids = map[string]string{
	"10 m":  "grid: {crs: EPSG:25829, cell: 10 m}\narea: {box: [570000, 5537800, 572900, 5540200], crs: EPSG:25829}",
	"27 m":  "grid: {crs: EPSG:25829, cell: 27 m}\narea: {box: [571320, 5537403, 574506, 5540535], crs: EPSG:25829}",
	"300 m": "grid: {crs: EPSG:25829, cell: 300 m}\narea: {box: [568500, 5535900, 574800, 5541900], crs: EPSG:25829}",
}

// TestMixedPlan holds factors, coverage and score of a mixed plan, cell by
// cell, against a plain evaluation of the definitions in numpy.
func TestMixedPlan(t *testing.T) {
	dir := t.TempDir()
	python(t, "mixed_draw.py", dir)
	for name, grid := range mixedGrids {
		t.Run(name, func(t *testing.T) {
			out := filepath.Join(dir, "out "+name)
			plan := writePlan(t, dir, strings.Replace(mixedPlan, "GRID", grid, 1))
			if _, err := Run(context.Background(), plan, Options{Out: out}); err != nil {
				t.Fatal(err)
			}
			namesBetterShift(t, out)
			t.Logf("%s", python(t, "mixed_judge.py", dir, out))
		})
	}
}

// namesBetterShift asks the account of the map on the British grid for the
// accuracy of the shift in use, 2 m (EPSG:1314) and 1 m of the way to ETRS89,
// and for the grid file that a better one lacks.
func namesBetterShift(t *testing.T, out string) {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(out, "run.json"))
	if err != nil {
		t.Fatal(err)
	}
	var a struct {
		Maps []struct {
			Name string
			Read []struct {
				Accuracy float64 `json:"transformation_accuracy_m"`
				Better   string  `json:"better_transformation_not_installed"`
				Ballpark bool
			}
		}
	}
	if err := json.Unmarshal(data, &a); err != nil {
		t.Fatal(err)
	}
	for _, m := range a.Maps {
		r := m.Read[0]
		if british := m.Name == "bedrock"; r.Ballpark || british && (r.Accuracy != 3 || !strings.Contains(r.Better, "needs uk_os_OSTN15")) || !british && r.Accuracy > 1 {
			t.Errorf("the map %q: %+v", m.Name, r)
		}
	}
}

// python runs a script of testdata with the system's Python, which knows GDAL
// and numpy.
func python(t testing.TB, script string, args ...string) []byte {
	t.Helper()
	said, err := exec.Command("/usr/bin/python3", append([]string{filepath.Join("testdata", script)}, args...)...).CombinedOutput()
	if err != nil {
		t.Fatalf("%s (python3 with python3-gdal and python3-numpy) says: %v\n%s", script, err, said)
	}
	return said
}
