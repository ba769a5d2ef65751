package start

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/airbusgeo/godal"

	"likelyground/habitat"
)

// From a folder of downloads to ranked areas: nothing is asked, every map is
// recognised, and the table that names the codes finds its map.
func TestDownloads(t *testing.T) {
	dir := downloads(t)
	must(t, os.WriteFile(filepath.Join(dir, "README.txt"), []byte("thank you"), 0o644))
	must(t, os.WriteFile(filepath.Join(dir, "LC_X27b.tif.aux.xml"), []byte("<PAMDataset/>"), 0o644))
	r, text := started(t, Options{}, dir)
	want := map[string]string{"ground": "heights", "soil": "pH", "lc x27b": "classes", "rock": "classes"}
	for _, m := range r.Maps {
		if want[m.Name] != m.Holds {
			t.Errorf("%s holds %s, want %q", m.Name, m.Holds, want[m.Name])
		}
		delete(want, m.Name)
	}
	if len(want) > 0 {
		t.Errorf("not recognised: %v", want)
	}
	if len(r.LeftOut) != 1 || !strings.HasSuffix(r.LeftOut[0].File, "README.txt") {
		t.Errorf("left out: %v", r.LeftOut)
	}
	if r.CRS != "EPSG:25831" || r.Columns != 200 || r.Rows != 160 {
		t.Errorf("grid %s %d × %d", r.CRS, r.Columns, r.Rows)
	}
	for _, line := range []string{"grid: {like: ground}", "    scale: 0.1", "    field: rock", "    unit: pH", "slope: {slope: ground}", "year: 2019", "codes.csv", "      beech wood: 0.5"} {
		if !strings.Contains(text, line) {
			t.Errorf("the plan lacks %q", line)
		}
	}
	if got := runs(t, r.Plan); got.Areas == 0 {
		t.Error("the first run finds nothing")
	}
}

// The plan is the same whatever the threads, the tile and the order of files.
func TestSamePlan(t *testing.T) {
	dir := downloads(t)
	out := filepath.Join(t.TempDir(), "p.yaml")
	_, first := started(t, Options{Out: out, Engine: habitat.Options{Threads: 1}}, dir)
	_, second := started(t, Options{Out: out, Force: true, Engine: habitat.Options{Threads: 3, Tile: 64}}, dir)
	if first != second {
		t.Error("threads and tile change the plan")
	}
}

func wave(col, row int) float64 {
	return 100 + 40*math.Sin(float64(col)/9) + 30*math.Cos(float64(row)/7)
}

const odds = `{"type":"FeatureCollection","name":"geology","features":[
{"type":"Feature","properties":{"OBJECTID":1,"rock":"say \"sand\": yes, # or no"},"geometry":{"type":"Polygon","coordinates":[[[2.9,55.8],[3.01,55.8],[3.01,56],[2.9,56],[2.9,55.8]]]}},
{"type":"Feature","properties":{"OBJECTID":2,"rock":"null"},"geometry":{"type":"Polygon","coordinates":[[[3.008,55.8],[3.012,55.8],[3.012,56],[3.008,56],[3.008,55.8]]]}},
{"type":"Feature","properties":{"OBJECTID":3,"rock":"two\nlines"},"geometry":{"type":"Polygon","coordinates":[[[3.011,55.8],[3.013,55.8],[3.013,56],[3.011,56],[3.011,55.8]]]}},
{"type":"Feature","properties":{"OBJECTID":4,"rock":"null"},"geometry":{"type":"Polygon","coordinates":[[[3.013,55.8],[3.014,55.8],[3.014,56],[3.013,56],[3.013,55.8]]]}},
{"type":"Feature","properties":{"OBJECTID":5,"rock":" 311 "},"geometry":{"type":"Polygon","coordinates":[[[3.014,55.8],[3.015,55.8],[3.015,56],[3.014,56],[3.014,55.8]]]}},
{"type":"Feature","properties":{"OBJECTID":6,"rock":null},"geometry":{"type":"Polygon","coordinates":[[[3.015,55.8],[3.1,55.8],[3.1,56],[3.015,56],[3.015,55.8]]]}}
]}`

// Whatever the maps are, the plan passes a check and a run as written.
func TestAlwaysRuns(t *testing.T) {
	ph := func(col, row int) float64 { return 4 + float64(col%30)/10 }
	codes := func(col, row int) float64 { return []float64{1, 2, 2, 3, 7}[(col/7+row/5)%5] }
	cases := map[string]struct {
		draw func(dir string) []string
		want []string // lines of the plan
	}{
		"degrees": {func(dir string) []string {
			return []string{fixture{crs: "EPSG:4326", affine: [6]float64{3, 1. / 3600, 0, 56, 0, -1. / 3600}, kind: godal.Float32, values: wave}.make(t, dir, "Copernicus_DSM_COG_10_N55_00_E003_00_DEM.tif")}
		}, []string{"grid: {crs: \"EPSG:25831\", cell: 20 m}", "# - The heights show tree tops"}},
		"one map of codes": {func(dir string) []string {
			return []string{fixture{kind: godal.Byte, values: codes}.make(t, dir, "cover.tif")}
		}, []string{"classes: yes", "      2: 0.5"}},
		"polygons alone": {func(dir string) []string { return []string{polygons(t, dir, "geology.gpkg", odds)} },
			[]string{"      \"null\": 0.5", "say \\\"sand\\\""}},
		"names that the plan has a use for": {func(dir string) []string {
			return []string{fixture{kind: godal.Float32, values: wave}.make(t, dir, "slope.tif"), fixture{kind: godal.Float32, values: ph}.make(t, dir, "rank.tif"),
				fixture{kind: godal.Float32, values: ph}.make(t, dir, "Mean.tif"), fixture{kind: godal.Float32, values: wave}.make(t, dir, "dem.tif")}
		}, []string{"slope 2: {slope: ground}", "  good rank:", "  good mean:"}},
		"all one": {func(dir string) []string {
			one := func(int, int) float64 { return 6.5 }
			return []string{fixture{kind: godal.Float32, values: one}.make(t, dir, "ph.tif"), fixture{kind: godal.Float32, values: func(int, int) float64 { return 0 }}.make(t, dir, "dem.tif")}
		}, []string{"curve: {6.5: 1}", "curve: {0: 1}"}},
		"high mountains": {func(dir string) []string {
			ds := fixture{kind: godal.Float32, values: func(c, r int) float64 { return 30 * wave(c, r) }}.make(t, dir, "dem.tif")
			return []string{ds}
		}, nil},
		"signs of no data": {func(dir string) []string {
			return []string{fixture{kind: godal.Int16, values: func(c, r int) float64 {
				if r < 3 {
					return -32768
				}
				return math.Round(wave(c, r))
			}}.make(t, dir, "dem.tif"), fixture{kind: godal.Byte, values: func(c, r int) float64 {
				if c < 4 {
					return 255
				}
				return float64((c + r) % 100)
			}}.make(t, dir, "TCD_density.tif")}
		}, []string{"missing: -32768"}},
		"a soil map blank here": {func(dir string) []string {
			return []string{fixture{kind: godal.Float32, values: wave}.make(t, dir, "dem.tif"),
				fixture{kind: godal.Float32, nodata: ptr(-1), cols: 300, values: func(c, r int) float64 {
					if c < 100 {
						return -1
					}
					return ph(c, r)
				}, rows: 50}.make(t, dir, "ph.tif")}
		}, []string{"optional: yes"}},
		"south up and oblong": {func(dir string) []string {
			return []string{fixture{affine: [6]float64{500000, 20, 0, 6199000, 0, 30}, kind: godal.Float32, values: wave}.make(t, dir, "dem.tif")}
		}, []string{"grid: {like: ground}"}},
		"aslant": {func(dir string) []string {
			return []string{fixture{affine: [6]float64{500000, 18, 6, 6200000, 6, -18}, kind: godal.Float32, values: wave}.make(t, dir, "dem.tif")}
		}, []string{"grid: {crs:"}},
		"a web map": {func(dir string) []string {
			return []string{fixture{crs: "EPSG:3857", affine: [6]float64{333000, 20, 0, 7500000, 0, -20}, kind: godal.Float32, values: wave}.make(t, dir, "dem.tif")}
		}, []string{"grid: {crs: \"EPSG:25831\""}},
		"two systems of soil": {func(dir string) []string {
			return []string{fixture{crs: "ESRI:54052", affine: [6]float64{250000, 250, 0, 6250000, 0, -250}, cols: 80, rows: 80, kind: godal.Int16, nodata: ptr(-32768), values: func(c, r int) float64 { return 10 * ph(c, r) }}.make(t, dir, "phh2o_0-5cm_mean.tif")}
		}, []string{"scale: 0.1"}},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			_, text := started(t, Options{Out: filepath.Join(dir, "plan.yaml")}, c.draw(dir)...)
			for _, line := range c.want {
				if !strings.Contains(text, line) {
					t.Errorf("the plan lacks %q:\n%s", line, text)
				}
			}
		})
	}
}

// What a look at a sample missed is found when every cell is read, and mended.
func TestUnseenNoData(t *testing.T) {
	dir := t.TempDir()
	rare := func(odd, usual float64) func(int, int) float64 {
		return func(c, r int) float64 {
			if c%397 == 211 && r%397 == 101 {
				return odd
			}
			return usual + float64((c+r)%17)/10
		}
	}
	big := fixture{cols: 1600, rows: 1500, affine: [6]float64{500000, 10, 0, 6200000, 0, -10}, kind: godal.Float32}
	big.values = rare(-9999, 100)
	dem := big.make(t, dir, "dem.tif")
	big.values = rare(190, 5)
	soil := big.make(t, dir, "ph.tif")
	_, text := started(t, Options{Out: filepath.Join(dir, "plan.yaml")}, dem, soil)
	if strings.Count(text, "-9999") != 1 || !strings.Contains(text, "between: [2, 11]") {
		t.Errorf("not mended:\n%s", text)
	}
}

// Tiles, of unequal width and with different nodata, are one map.
func TestTiles(t *testing.T) {
	dir := t.TempDir()
	tile := func(lat float64, width int, nodata float64, name string) string {
		return fixture{crs: "EPSG:4326", affine: [6]float64{3, 1. / float64(width*20), 0, lat, 0, -1. / 3600}, cols: width, rows: 180, kind: godal.Float32, nodata: &nodata, values: wave}.make(t, dir, name)
	}
	a := tile(50.05, 120, -9999, "Copernicus_DSM_COG_10_N50_00_E003_00_DEM.tif")
	b := tile(50, 180, -1, "Copernicus_DSM_COG_10_N49_00_E003_00_DEM.tif")
	r, text := started(t, Options{Out: filepath.Join(dir, "plan.yaml")}, a, b)
	if len(r.Maps) != 1 || len(r.Maps[0].Files) != 2 || !strings.Contains(text, "in 2 tiles") {
		t.Errorf("%+v", r.Maps)
	}
	other := fixture{crs: "EPSG:4326", affine: [6]float64{3, 1. / 3600, 0, 50.05, 0, -1. / 3600}, cols: 150, rows: 300, kind: godal.Float32, values: func(c, r int) float64 { return 5 + float64(c%20)/10 }}.make(t, dir, "ph.tif")
	if r, _ := started(t, Options{Out: filepath.Join(dir, "two.yaml")}, a, other); len(r.Maps) != 2 {
		t.Errorf("heights and soil became one map: %+v", r.Maps)
	}
}

// A large country is cut to what is computed within minutes, and the plan says
// so.
func TestCut(t *testing.T) {
	dir := t.TempDir()
	affine := [6]float64{400000, 5, 0, 6300000, 0, -5}
	dem := fixture{affine: affine, cols: 100, rows: 100, kind: godal.Float32, values: wave}
	dem.affine[1], dem.affine[5] = 600, -600 // 60 km
	heights := dem.make(t, dir, "dem.tif")
	fine := fixture{affine: [6]float64{400000, 10, 0, 6300000, 0, -10}, cols: 6000, rows: 6000, kind: godal.Byte, values: func(c, r int) float64 { return float64(1 + (c/1000+r/1000)%3) }}.make(t, dir, "cover.tif")
	s := &starting{Options: Options{Out: filepath.Join(dir, "plan.yaml"), Engine: habitat.Options{Events: func(habitat.Event) {}}}, ctx: context.Background(), result: &Result{}}
	must(t, s.gather([]string{heights, fine}))
	lonLat, err := s.common()
	must(t, err)
	s.where = s.grounds(lonLat)[0]
	must(t, s.layOut(lonLat, spots[0]))
	b := s.where.box
	if cells := (b.East - b.West) / 10 * (b.North - b.South) / 10; !s.where.cut || s.where.like == nil || cells > mostCells || cells < mostCells/2 {
		t.Errorf("%+v", s.where)
	}
	if math.Abs((b.East+b.West)/2-430000) > 500 || math.Abs((b.North+b.South)/2-6270000) > 500 {
		t.Errorf("the middle lies elsewhere: %+v", b)
	}
	if text := string(s.text()); !strings.Contains(text, "so that a run takes") {
		t.Error(text)
	}
}

// Outlines of one feature are the ground to rate.
func TestOutline(t *testing.T) {
	dir := t.TempDir()
	dem := fixture{kind: godal.Float32, values: wave}.make(t, dir, "dem.tif")
	wood := filepath.Join(dir, "my wood.geojson")
	must(t, os.WriteFile(wood, []byte(`{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"name":"wood"},"geometry":{"type":"Polygon","coordinates":[[[3.002,55.937],[3.01,55.937],[3.01,55.942],[3.002,55.942],[3.002,55.937]]]}}]}`), 0o644))
	_, text := started(t, Options{Out: filepath.Join(dir, "plan.yaml")}, dem, wood)
	if !strings.Contains(text, "area: my wood.geojson") {
		t.Error(text)
	}
}

func refusal(t *testing.T, err error) string {
	t.Helper()
	var f interface {
		MustChange() bool
		Remedy() string
	}
	if !errors.As(err, &f) || !f.MustChange() || f.Remedy() == "" {
		t.Fatalf("no refusal with a remedy: %v", err)
	}
	return fmt.Sprintf("%v | %s", err, f.Remedy())
}

func TestRefusals(t *testing.T) {
	dir := t.TempDir()
	ctx := context.Background()
	dem := fixture{kind: godal.Float32, values: wave}.make(t, dir, "dem.tif")
	far := fixture{affine: [6]float64{300000, 20, 0, 5900000, 0, -20}, kind: godal.Float32, values: wave}.make(t, dir, "ph.tif")
	world := filepath.Join(dir, "world.geojson") // degrees, and nothing beside it that tells the part that is meant
	must(t, os.WriteFile(world, []byte(`{"type":"FeatureCollection","features":[
{"type":"Feature","properties":{"kind":"wood"},"geometry":{"type":"Polygon","coordinates":[[[-170,-60],[-10,-60],[-10,80],[-170,-60]]]}},
{"type":"Feature","properties":{"kind":"heath"},"geometry":{"type":"Polygon","coordinates":[[[10,-60],[170,-60],[10,80],[10,-60]]]}}]}`), 0o644))
	note := filepath.Join(dir, "note.txt")
	must(t, os.WriteFile(note, []byte("no map"), 0o644))
	out := filepath.Join(dir, "plan.yaml")
	for _, c := range []struct {
		files []string
		out   string
		want  string
	}{
		{[]string{dem, far}, out, "shares no ground with"},
		{[]string{world}, out, "from longitude -170 to 170 and latitude -60 to 80"},
		{[]string{note}, out, "none of the files is a map"},
		{[]string{filepath.Join(dir, "dm.tif")}, out, "did you mean"},
		{[]string{dem}, filepath.Join(dir, "none", "plan.yaml"), "there is no folder"},
		{[]string{dem}, dir, "is a folder"},
		{[]string{dem}, note, "is there already"},
	} {
		_, err := Write(ctx, c.files, Options{Out: c.out})
		if got := refusal(t, err); !strings.Contains(got, c.want) {
			t.Errorf("%v: got %q, want %q", c.files, got, c.want)
		}
		if _, err := os.Stat(out); err == nil {
			t.Error("a refusal left a plan")
		}
	}
	if got := read(t, note); got != "no map" {
		t.Error("a file was overwritten")
	}
	started(t, Options{Out: note, Force: true}, dem)
}
