package habitat

import (
	"context"
	"os/exec"
	"path/filepath"
	"testing"
)

// refereePlan is worked out a second time in testdata/referee.py, which
// knows it in its own words.
const refereePlan = `format: 1
title: referee
grid: {like: ground}
area: inputs/area.geojson
maps:
  ground: {file: inputs/dem.tif, unit: m}
  soil: {file: inputs/soil_ph.tif, scale: 0.1, unit: pH}
  rock: {file: inputs/geology.gpkg, layer: geology, field: rock}
  cover: {file: inputs/cover.tif, legend: inputs/cover_legend.csv, year: 2025}
  kinds: {file: inputs/speckled_c.tif, classes: yes, year: 1987}
derived:
  steepness: {slope: ground}
  woodland: {share: cover, of: [beech wood, oak wood, birch wood, mixed wood], within: 250 m}
  to heath: {distance: cover, of: [heath], up to: 500 m}
  to hosts: {distance: cover, of: [beech wood, oak wood, birch wood, mixed wood, spruce plantation], up to: 40 m}
  wood edge: {edge distance: cover, of: [beech wood, oak wood, birch wood, mixed wood], up to: 150 m}
  deep in: {edge distance: cover, of: [beech wood, oak wood, birch wood, mixed wood], side: inside, up to: 150 m}
  old wood: {lasting: {cover: [beech wood, oak wood, birch wood, mixed wood], kinds: [1, 2, 3, 4, 5, 6]}}
  old wood near: {share: old wood, of: [lasting], within: 60 m}
  to old wood: {distance: old wood, of: [lasting], up to: 80 m}
  off heath: {edge distance: cover, of: [heath], side: outside}
factors:
  acid soil: {from: soil, curve: {3.4: 0.3, 4.2: 1, 5.0: 1, 6.2: 0.2, 7.2: 0.05}, weight: 3}
  drained rock: {from: rock, scores: {sandstone: 1, plateau sand: 1, gritstone: 0.85}, others: 0.2, weight: 2}
  hosts: {from: cover, scores: {beech wood: 1, oak wood: 0.9, mixed wood: 0.8, birch wood: 0.7, spruce plantation: 0.5}, others: 0, weight: 3, must: yes}
  wood all round: {from: woodland, curve: {0: 0.1, 0.3: 0.4, 0.8: 1}, weight: 2}
  sloping ground: {from: steepness, curve: {0: 0.45, 3: 0.8, 6: 1, 22: 1, 38: 0.4}}
  heath near by: {from: to heath, curve: {0: 1, 120: 1, 500: 0.5}}
  roots: {from: to hosts, curve: {0: 1, 10: 0.8, 20: 0.5, 40: 0.1}}
  banks: {from: wood edge, curve: {10: 1, 30: 0.6, 150: 0.2}}
  old core: {from: deep in, curve: {0: 0.3, 10: 0.4, 150: 1}}
  off the heath: {from: off heath, curve: {0: 0.2, 300: 1}}
  old: {from: old wood}
  old round: {from: old wood near}
  by old wood: {from: to old wood, curve: {0: 1, 80: 0.2}}
rule: geometric mean
floor: 0.02
keep out:
  - {map: cover, of: [water, built]}
  - {map: steepness, above: 35 deg}
outputs: [score, factors]
`

// TestAgainstReferee asks GDAL, numpy and scipy for the same factors,
// coverage and score: factors within 1e-5, scores within a step, and where a
// border of classes passes a cell's centre at most ten cells otherwise.
func TestAgainstReferee(t *testing.T) {
	dir := drawn(t)
	out := filepath.Join(dir, "out")
	if _, err := Run(context.Background(), writePlan(t, dir, refereePlan), Options{Out: out}); err != nil {
		t.Fatal(err)
	}
	said, err := exec.Command("/usr/bin/python3", filepath.Join("testdata", "referee.py"), dir, out).CombinedOutput()
	if err != nil {
		t.Fatalf("the referee (python3 with python3-gdal, python3-numpy and python3-scipy) says: %v\n%s", err, said)
	}
	t.Logf("%s", said)
}
