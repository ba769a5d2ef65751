package habitat

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"likelyground/habitat/ellerdown"
	"likelyground/habitat/layers"
	"likelyground/raster"
	"likelyground/raster/cog"
	"likelyground/raster/maps"
)

// drawn lays down an Ellerdown of 300 × 240 cells and, beside its maps, maps
// of heights and of classes with many patterns of missing cells.
func drawn(t testing.TB) (dir string) {
	t.Helper()
	dir = t.TempDir()
	if err := maps.Setup(0); err != nil {
		t.Fatal(err)
	}
	if err := ellerdown.Draw(context.Background(), dir, ellerdown.Options{Size: ellerdown.Size{Cols: 300, Rows: 240}, GeoTags: maps.GeoTags}); err != nil {
		t.Fatal(err)
	}
	h, err := maps.ReadHeader(maps.RasterSpec{Name: "ground", Files: []string{filepath.Join(dir, "inputs", "dem.tif")}})
	if err != nil {
		t.Fatal(err)
	}
	for name, known := range patterns {
		drawPattern(t, filepath.Join(dir, "inputs", name), uprightGrid(h), known)
	}
	return dir
}

// patterns say, by the name of the maps that have them, which cells are known.
var patterns = map[string]func(col, row int) bool{
	"speckled": func(col, row int) bool { return scatter(col, row)%7 != 0 },
	"striped":  func(col, row int) bool { return row%16 != 0 && col%61 != 60 },
	"halved":   func(col, row int) bool { return col < 128 || row >= 200 },
	"ringed": func(col, row int) bool {
		d := math.Hypot(float64(col-150), float64(row-120))
		return math.Mod(d, 40) > 3
	},
	"sparse": func(col, row int) bool { return scatter(col, row)%29 == 0 || (col/64+row/64)%3 == 0 },
	"bare":   func(col, row int) bool { return true },
}

// scatter is a number without a pattern.
func scatter(col, row int) uint32 {
	x := uint32(col)*2654435761 ^ uint32(row)*2246822519
	x ^= x >> 15
	x *= 2654435769
	return x ^ x>>13
}

// drawPattern draws NAME_h.tif, heights, and NAME_c.tif, class codes 1 to 9.
func drawPattern(t testing.TB, path string, g raster.Grid, known func(col, row int) bool) {
	nan, none := math.NaN(), -1.0
	heights, codes := raster.NewTile(g.Window()), raster.NewClassTile(g.Window())
	heights.FillMissing()
	codes.FillMissing()
	for row := range g.Rows {
		for col := range g.Cols {
			if known(col, row) {
				x, y := float64(col), float64(row)
				heights.ValueRow(row)[col] = float32(200 + 60*math.Sin(x/31)*math.Cos(y/23) + 8*math.Sin(x/3+y/5) + float64(scatter(col, row)%100)/200)
				codes.CodeRow(row)[col] = 1 + int32(scatter(col/9, row/7)%9)
			}
		}
	}
	drawTile(t, path+"_h.tif", cog.Layout{Grid: g, Sample: cog.Float32, Bands: []cog.Band{{}}, Nodata: &nan}, heights)
	drawTile(t, path+"_c.tif", cog.Layout{Grid: g, Sample: cog.Int16, Bands: []cog.Band{{}}, Nodata: &none}, codes)
}

func drawTile(t testing.TB, path string, l cog.Layout, tile raster.Tile) {
	t.Helper()
	var err error
	if l.Geo, err = maps.GeoTags(l.Grid.CRS); err != nil {
		t.Fatal(err)
	}
	w, err := cog.Create(t.TempDir(), l)
	if err != nil {
		t.Fatal(err)
	}
	defer w.Close()
	if err := w.Encoder().Put(0, tile); err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	if err := w.Finish(&out); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, out.Bytes(), 0o666); err != nil {
		t.Fatal(err)
	}
}

// wholePlan uses every verb, both groups, every way of scoring and every
// treatment of the unknown; GRID, GROUND, CODES, RULE and FROM stand for
// what the cases differ in.
const wholePlan = `format: 1
title: everything
GRID
maps:
  ground: {file: inputs/GROUND_h.tif, unit: m}
  kinds: {file: inputs/CODES_c.tif, classes: yes, year: 1987}
  dem: {file: inputs/dem.tif, unit: m}
  soil: {file: inputs/soil_ph.tif, scale: 0.1, unit: pH}
  rock: {file: inputs/geology.gpkg, layer: geology, field: rock}
  some rock: {file: inputs/geology.gpkg, layer: geology, field: rock, where: "rock LIKE '%s%'"}
  cover: {file: inputs/cover.tif, legend: inputs/cover_legend.csv, year: 2025}
derived:
  steepness: {slope: ground}
  tilt: {slope: dem, in: percent}
  north: {northness: ground}
  east: {eastness: dem}
  height: {elevation: ground}
  some kinds: {share: kinds, of: [1, 2, 3], within: 75 m}
  woodland: {share: cover, of: [beech wood, oak wood, birch wood, mixed wood], within: 250 m}
  to sand: {distance: rock, of: [sandstone, plateau sand], up to: 300 m}
  to two: {distance: kinds, of: [2]}
  wood edge: {edge distance: cover, of: [beech wood, oak wood, birch wood, mixed wood], up to: 90 m}
  old wood: {lasting: {cover: [beech wood, oak wood, birch wood, mixed wood], kinds: [1, 2, 3, 4, 5, 6]}}
  old wood near: {share: old wood, of: [lasting], within: 65 m}
  off old wood: {edge distance: old wood, of: [lasting], up to: 55 m}
  kinds edge: {edge distance: kinds, of: [4, 5, 6], side: inside}
  under or on: {first of: [some rock, cover, rock]}
  under near: {share: under or on, of: [sandstone, heath], within: 55 m}
  any height: {first of: [ground, smooth]}
  any tilt: {slope: any height}
  smooth: {mean: ground, within: 45 m}
  smooth tilt: {slope: smooth}
  smooth soil: {mean: soil, within: 120 m}
  stands: {filled: ground, margin: 150 m}
  hollows: {hollow depth: ground, margin: 150 m}
  hollow size: {hollow area: ground, margin: 150 m}
  gathers: {gathered: ground, flow: one way, margin: 150 m}
  gathering: {wetness: ground, margin: 150 m}
  wet round: {mean: gathering, within: 30 m}
  to stream: {channel distance: dem, channel from: 1 ha, flow: one way, margin: 300 m}
  over stream: {channel height: ground, channel from: 0.5 ha, margin: 150 m}
factors:
  kinds: {from: kinds, scores: {1: 1, 2: 0.9, 3: 0.4}, others: 0.2, weight: 2}
  acid soil: {from: smooth soil, curve: {3.4: 0.3, 4.2: 1, 5.0: 1, 6.2: 0.2}, weight: 3}
  hosts:
    best of:
      trees: {from: cover, scores: {beech wood: 1, oak wood: 0.9, mixed wood: 0.8, birch wood: 0.7, spruce plantation: 0.5}, others: 0}
      two: {from: to two, curve: {0: 0.8, 60: 0}}
    must: yes
    weight: 2
  lie:
    mean of:
      north: {from: north, curve: {-1: 0.2, 1: 1}, weight: 2}
      east: {from: east, curve: {-1: 0.5, 1: 1}}
      slope: {from: steepness, curve: {0: 0.4, 6: 1, 30: 0.5}}
  open: {from: some kinds, unknown: {assume: 0.4}}
  wood: {from: woodland, curve: {0: 0.1, 0.8: 1}, weight: 2}
  sand: {from: to sand, curve: {0: 1, 300: 0.3}}
  even: {from: smooth tilt, curve: {0: 1, 25: 0.3}, unknown: share out}
  low: {from: height, curve: {100: 1, 280: 0.6}, weight: 0}
  edge: {from: wood edge, curve: {0: 1, 20: 1, 90: 0.6}}
  core: {from: kinds edge, curve: {0: 0.5, 10: 0.4, 70: 1}}
  old: {from: old wood, weight: 0.3, unknown: {assume: 0.5}}
  old round: {from: old wood near, curve: {0: 0.4, 0.5: 1}}
  old edge: {from: off old wood, curve: {0: 1, 10: 0.9, 55: 0.5}}
  older: {from: old wood, scores: {lasting: 1, other: 0.6}}
  first: {from: under or on, scores: {sandstone: 1, heath: 0.8, beech wood: 0.9}, others: 0.6}
  first round: {from: under near, curve: {0: 0.5, 1: 1}}
  first slope: {from: any tilt, curve: {0: 1, 60: 0.5}, weight: 0.5}
  walk: {from: tilt, curve: {0: 0.9, 60: 0.5}}
  wet: {from: wet round, curve: {3: 0.4, 9: 1}}
  water:
    mean of:
      stands: {from: stands, curve: {100: 1, 300: 0.5}}
      hollows: {from: hollows, curve: {0: 0.5, 2: 1}}
      size: {from: hollow size, curve: {0: 0.6, 1: 1}}
      gathers: {from: gathers, curve: {0: 0.3, 5: 1}}
      stream: {from: to stream, curve: {0: 1, 300: 0.2}}
      over: {from: over stream, curve: {0: 1, 20: 0.2}}
    weight: 0.5
RULE
keep out:
  - {map: cover, of: [water, built]}
  - {map: kinds, of: [9]}
  - {map: steepness, above: 35 deg}
  - {map: height, below: 145 m}
hotspots: {from: FROM, least: 0.3 ha, or length: 80 m, most: 60}
`

const (
	gridAlone   = "grid: {like: ground}"
	gridPolygon = "grid: {like: ground}\narea: inputs/area.geojson"
	gridBox     = "grid: {like: ground}\narea: {box: [2.588, 55.297, 2.617, 55.309], crs: EPSG:4326}"
	gridLaea    = "grid: {crs: EPSG:3035, cell: 15 m}\narea: inputs/area.geojson"
)

// wholeCases are the plans that must come out the same however they are run.
var wholeCases = []struct{ name, grid, ground, codes, rule, from string }{
	{"all known, geometric mean", gridPolygon, "bare", "bare", "rule: geometric mean\nfloor: 0.02", "0.5"},
	{"mean, no area", gridAlone, "speckled", "bare", "rule: mean", "0.5"},
	{"harmonic mean in a box", gridBox, "striped", "speckled", "rule: harmonic mean\nfloor: 0.05", "0.5"},
	{"product on a grid of its own", gridLaea, "halved", "ringed", "rule: product\nunknown: {assume: 0.7}", "0.01"},
	{"least factor", gridPolygon, "ringed", "striped", "rule: least factor", "0.3"},
	{"ordered weights", gridBox, "sparse", "halved", "rule: {ordered weights: [0.2, 0.2, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0]}", "0.5"},
	{"blank where unknown", gridLaea, "speckled", "sparse", "unknown: leave blank\nfloor: 0.1", "0.5"},
}

func wholeText(grid, ground, codes, rule, from string) string {
	return strings.ReplaceAll(wholeTextOf(wholePlan, grid, ground, rule, from), "CODES", codes)
}

// wholeTextOf fills in what the cases of a plan differ in.
func wholeTextOf(text, grid, ground, rule, from string) string {
	return strings.NewReplacer("GRID", grid, "GROUND", ground, "RULE", rule, "FROM", from).Replace(text)
}

func TestWholePlanHasEveryVerb(t *testing.T) {
	for _, w := range layers.Words() {
		if !strings.Contains(wholePlan+shapePlan, "{"+string(w)+": ") {
			t.Errorf("no layer of the plans is made by %q", w)
		}
	}
}

// ways are how a plan may be run: every pair of threads, tile and memory for
// the first case, and for the others some that have each value twice.
func ways(all bool) (list []Options) {
	threads, tiles, memory := []int{1, 2, 5}, []int{16, 64, 200, 0}, []int64{64 << 20, 1 << 30}
	for i, th := range threads {
		for j, ti := range tiles {
			for k, m := range memory {
				if all || (i+j)%3 == 0 && (i+j+k)%2 == 0 {
					list = append(list, Options{Threads: th, Tile: ti, Memory: m})
				}
			}
		}
	}
	return list
}

// TestSameBytes runs whole plans over threads × tiles × memory and asks for
// equal bytes of every output, and of the account but for this_run.
func TestSameBytes(t *testing.T) {
	dir := drawn(t)
	for i, c := range wholeCases {
		t.Run(c.name, func(t *testing.T) {
			plan := writePlan(t, dir, wholeText(c.grid, c.ground, c.codes, c.rule, c.from))
			want := runFor(t, plan, Options{Threads: 1, Memory: 1 << 30})
			holdsMuch(t, want)
			for _, o := range ways(i == 0) {
				got := runFor(t, plan, o)
				for name := range want {
					if !bytes.Equal(got[name], want[name]) {
						t.Errorf("%d threads, tile %d, %d MB: %s differs%s", o.Threads, o.Tile, o.Memory>>20, name, firstOdds(got[name], want[name]))
					}
				}
			}
		})
	}
}

// firstOdds shows where two texts part.
func firstOdds(a, b []byte) string {
	for i := range min(len(a), len(b)) {
		if a[i] != b[i] {
			from := max(i-60, 0)
			return fmt.Sprintf(" at byte %d: %q against %q", i, a[from:min(i+40, len(a))], b[from:min(i+40, len(b))])
		}
	}
	return fmt.Sprintf(": %d bytes against %d", len(a), len(b))
}

// holdsMuch fails where a case is so bare that equal bytes say little.
func holdsMuch(t *testing.T, out map[string][]byte) {
	t.Helper()
	var a struct {
		Cells    cellTotals
		Hotspots struct{ Listed int }
	}
	if err := json.Unmarshal(out["run.json"], &a); err != nil {
		t.Fatal(err)
	}
	if a.Cells.Scored < 1000 || a.Cells.KeptOut == 0 || a.Hotspots.Listed == 0 {
		t.Errorf("the case says little: %+v", a)
	}
}

func writePlan(t testing.TB, dir, text string) string {
	t.Helper()
	plan := filepath.Join(dir, "plan.yaml")
	if err := os.WriteFile(plan, []byte(text), 0o666); err != nil {
		t.Fatal(err)
	}
	return plan
}

// runFor runs a plan and returns its outputs by name, the account without
// this_run.
func runFor(t testing.TB, plan string, o Options) map[string][]byte {
	t.Helper()
	o.Out = filepath.Join(filepath.Dir(plan), "out")
	result, err := Run(context.Background(), plan, o)
	if err != nil {
		t.Fatalf("%+v: %v", o, err)
	}
	out := map[string][]byte{}
	for _, name := range result.Files {
		if out[name], err = os.ReadFile(filepath.Join(result.Out, name)); err != nil {
			t.Fatal(err)
		}
	}
	var account map[string]any
	if err := json.Unmarshal(out["run.json"], &account); err != nil {
		t.Fatal(err)
	}
	if account["this_run"] == nil {
		t.Error("the account has no this_run")
	}
	delete(account, "this_run")
	if out["run.json"], err = json.Marshal(account); err != nil {
		t.Fatal(err)
	}
	return out
}

// TestOrderOfKeys turns the maps, layers, factors and members of a plan
// around: no score changes. The bands of factors.tif follow the plan.
func TestOrderOfKeys(t *testing.T) {
	dir := drawn(t)
	for _, rule := range []string{"rule: geometric mean\nfloor: 0.02", "rule: mean", "rule: harmonic mean\nfloor: 0.1", "rule: product"} {
		text := wholeText(gridBox, "speckled", "ringed", rule, "0.5")
		want := runFor(t, writePlan(t, dir, text), Options{})
		got := runFor(t, writePlan(t, dir, turned(text)), Options{})
		if !bytes.Equal(got["score.tif"], want["score.tif"]) {
			t.Errorf("%s: the scores differ%s", rule, firstOdds(got["score.tif"], want["score.tif"]))
		}
		if bytes.Equal(got["factors.tif"], want["factors.tif"]) {
			t.Errorf("%s: the bands do not follow the plan", rule)
		}
	}
}

// turned turns the entries of every block of a plan around, those in blocks
// of their own first.
func turned(text string) string {
	return strings.Join(turnBlock(strings.Split(strings.TrimSuffix(text, "\n"), "\n")), "\n") + "\n"
}

func turnBlock(block []string) []string {
	depth := func(line string) int { return len(line) - len(strings.TrimLeft(line, " ")) }
	var entries [][]string
	for i := 0; i < len(block); {
		end := i + 1
		for end < len(block) && depth(block[end]) > depth(block[i]) {
			end++
		}
		entry := append([]string{block[i]}, turnBlock(block[i+1:end])...)
		entries = append(entries, entry)
		i = end
	}
	slices.Reverse(entries)
	return slices.Concat(entries...)
}

// TestSameRefusals asks for the same words whatever the tiles.
func TestSameRefusals(t *testing.T) {
	dir := drawn(t)
	drawOdd(t, dir)
	change := func(old, fresh string) string {
		text := wholeText(gridPolygon, "bare", "bare", "rule: mean", "0.5")
		if strings.Count(text, old) != 1 {
			t.Fatalf("%q stands %d times", old, strings.Count(text, old))
		}
		return strings.Replace(text, old, fresh, 1)
	}
	for name, c := range map[string]struct{ text, says string }{
		"no score":   {change("3: 0.4}, others: 0.2", "3: 0.4}"), `gives no score to "4" (`},
		"no legend":  {change("legend: inputs/cover_legend.csv", "legend: {107: beech wood, 109: oak wood, 114: birch wood, 118: mixed wood, 126: spruce plantation, 185: built, 194: water}"), "does not explain code 1"},
		"sentinels":  {change("bare_h.tif", "odd_h.tif"), "-9999 looks like a sign for no data"},
		"out of pH":  {change("scale: 0.1, unit: pH", "scale: 0.2, unit: pH"), "cannot be a pH"},
		"no heights": {change("dem.tif, unit: m", "dem.tif, unit: ft, scale: 200"), "cannot be a height"},
		"nothing":    {change("bare_h.tif", "empty_h.tif"), "none of its cells there is known"},
	} {
		t.Run(name, func(t *testing.T) {
			plan := writePlan(t, dir, c.text)
			var want string
			for _, o := range []Options{{Threads: 1}, {Threads: 5, Tile: 16, Memory: 64 << 20}, {Threads: 2, Tile: 64}, {Threads: 1, Tile: 200}} {
				o.Out = filepath.Join(dir, "refused")
				_, err := Run(context.Background(), plan, o)
				if err == nil || !strings.Contains(err.Error(), c.says) {
					t.Fatalf("%+v: %v", o, err)
				}
				if want == "" {
					want = err.Error()
				}
				if err.Error() != want {
					t.Errorf("%+v: %v\nnot: %s", o, err, want)
				}
			}
		})
	}
}

// drawOdd draws heights with undeclared sentinels all over, and a map
// without a known cell.
func drawOdd(t *testing.T, dir string) {
	h, err := maps.ReadHeader(maps.RasterSpec{Name: "ground", Files: []string{filepath.Join(dir, "inputs", "dem.tif")}})
	if err != nil {
		t.Fatal(err)
	}
	g := uprightGrid(h)
	tile := raster.NewTile(g.Window())
	for row := range g.Rows {
		for col := range g.Cols {
			tile.ValueRow(row)[col] = 100 + float32(col+row)/10
			if scatter(col, row)%97 == 0 {
				tile.ValueRow(row)[col] = -9999
			}
		}
	}
	drawTile(t, filepath.Join(dir, "inputs", "odd_h.tif"), cog.Layout{Grid: g, Sample: cog.Float32, Bands: []cog.Band{{}}}, tile)
	tile.FillMissing()
	nan := math.NaN()
	drawTile(t, filepath.Join(dir, "inputs", "empty_h.tif"), cog.Layout{Grid: g, Sample: cog.Float32, Bands: []cog.Band{{}}, Nodata: &nan}, tile)
}
