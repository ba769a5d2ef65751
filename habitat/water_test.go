package habitat

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"likelyground/raster/maps"
)

// waterPlan shows depth, area and gathered ground as factors; testdata/water.py
// works them out anew.
const waterPlan = `format: 1
title: water
grid: {like: ground}
AREA
maps:
  ground: {file: inputs/GROUND_h.tif, unit: UNIT}
derived:
  hollows: {hollow depth: ground, margin: 300 m}
  size: {hollow area: ground, margin: 300 m}
  gathers: {gathered: ground, flow: one way, margin: 300 m}
factors:
  depth: {from: hollows, curve: {0: 0, 16: 1}}
  size: {from: size, curve: {0: 0, 4: 1}}
  gathers: {from: gathers, curve: {0: 0, 64: 1}}
outputs: [score, factors]
`

// TestWaterAgainstReferee holds the layers of a run to a flood from the rim,
// written down in Python with a heap, on ground as the plan says it is read:
// within the margin of the area, holes and all.
func TestWaterAgainstReferee(t *testing.T) {
	dir := drawn(t)
	triangle := `{"type": "Polygon", "coordinates": [[[2.590, 55.298], [2.615, 55.300], [2.600, 55.309], [2.590, 55.298]]]}`
	if err := os.WriteFile(filepath.Join(dir, "inputs", "triangle.geojson"), []byte(triangle), 0o666); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ area, ground, unit string }{
		{"", "bare", "m"}, {"area: inputs/triangle.geojson", "ringed", "m"}, {"area: inputs/triangle.geojson", "bare", "ft"}, {"", "striped", "m"},
	} {
		text := strings.NewReplacer("AREA", c.area, "GROUND", c.ground, "UNIT", c.unit).Replace(waterPlan)
		out := filepath.Join(dir, "out")
		if _, err := Run(context.Background(), writePlan(t, dir, text), Options{Out: out, Tile: 64, Threads: 2}); err != nil {
			t.Fatal(err)
		}
		area := ""
		if c.area != "" {
			area = filepath.Join(dir, "inputs", "triangle.geojson")
		}
		said, err := exec.Command("/usr/bin/python3", filepath.Join("testdata", "water.py"), filepath.Join(dir, "inputs", c.ground+"_h.tif"), c.unit, area, out).CombinedOutput()
		if err != nil {
			t.Errorf("%+v: the referee (python3 with python3-gdal, python3-numpy and python3-scipy) says: %v\n%s", c, err, said)
		}
		t.Logf("%s", said)
	}
}

// TestWaterIsJudged: a map that only water reads is judged as any, and what
// lies beyond the area as far as water is followed.
func TestWaterIsJudged(t *testing.T) {
	dir := drawn(t)
	drawOdd(t, dir)
	text := strings.NewReplacer("AREA", "", "GROUND", "odd", "UNIT", "m").Replace(waterPlan)
	_, err := Run(context.Background(), writePlan(t, dir, text), Options{Out: filepath.Join(dir, "out")})
	if err == nil || !strings.Contains(err.Error(), "-9999 looks like a sign for no data") {
		t.Errorf("undeclared stand-ins for nodata: %v", err)
	}
}

// TestWaterIsCounted: the account tells how much of the ground may gather
// water from where nothing is known.
func TestWaterIsCounted(t *testing.T) {
	dir := drawn(t)
	text := strings.NewReplacer("AREA", "", "GROUND", "bare", "UNIT", "m").Replace(waterPlan)
	out := filepath.Join(dir, "out")
	if _, err := Run(context.Background(), writePlan(t, dir, text), Options{Out: out}); err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(filepath.Join(out, "run.json"))
	if err != nil {
		t.Fatal(err)
	}
	var a struct{ Water []accountWater }
	if err := json.Unmarshal(data, &a); err != nil {
		t.Fatal(err)
	}
	if len(a.Water) != 1 || a.Water[0].Flow != "one way" || a.Water[0].Known != 300*240 || a.Water[0].Cut < 2*(300+240)-4 || a.Water[0].Cut >= a.Water[0].Known {
		t.Errorf("the account has %+v", a.Water)
	}
}

// TestWhyFollowsWater: a place can be explained without a run.
func TestWhyFollowsWater(t *testing.T) {
	dir := drawn(t)
	text := strings.NewReplacer("AREA", "", "GROUND", "bare", "UNIT", "m").Replace(waterPlan)
	h, err := maps.ReadHeader(maps.RasterSpec{Name: "ground", Files: []string{filepath.Join(dir, "inputs", "dem.tif")}})
	if err != nil {
		t.Fatal(err)
	}
	x, y := uprightGrid(h).Position(150.5, 120.5)
	middle := fmt.Sprintf("%.1f %.1f", x, y)
	w, err := Explain(context.Background(), writePlan(t, dir, text), middle, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, l := range w.Layers {
		if !l.Known || l.Value == nil {
			t.Errorf("nothing is known of %q", l.Name)
		}
		if l.Name == "gathers" && (l.Unit != "ha" || !strings.Contains(l.From, "drains through the cell")) {
			t.Errorf("gathers: %s, %s", l.Unit, l.From)
		}
	}
}

// TestWhyNarrowsWater: where there is much ground, why follows water around
// the place alone and says so; what is then nearer than the window's rim is as
// in a run.
func TestWhyNarrowsWater(t *testing.T) {
	dir := drawn(t)
	file := writePlan(t, dir, strings.NewReplacer("AREA", "", "GROUND", "bare", "UNIT", "m").Replace(waterPlan))
	layer := func(w *Why, name string) float32 {
		for _, l := range w.Layers {
			if l.Name == name && l.Value != nil {
				return *l.Value
			}
		}
		t.Fatalf("no %q in %+v", name, w.Layers)
		return 0
	}
	all, err := Explain(context.Background(), file, "475000 6128000", Options{})
	if err != nil || len(all.Warnings) > 0 {
		t.Fatalf("%v, %v", all, err)
	}
	before := mostForOne
	mostForOne = 400
	defer func() { mostForOne = before }()
	near, err := Explain(context.Background(), file, "475000 6128000", Options{})
	if err != nil {
		t.Fatal(err)
	}
	if got := strings.Join(near.Warnings, "\n"); !strings.Contains(got, `water on "ground" is followed within `) || !strings.Contains(got, "km of the place alone") {
		t.Errorf("says %q", got)
	}
	if a, b := layer(near, "gathers"), layer(all, "gathers"); a > b || a <= 0 {
		t.Errorf("around the place gathers %g ha, on all the ground %g", a, b)
	}
	if a, b := layer(near, "ground"), layer(all, "ground"); a != b {
		t.Errorf("the ground lies at %g, on all the ground at %g", a, b)
	}
}
