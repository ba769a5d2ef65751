package habitat

import (
	"context"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"likelyground/raster"

	"likelyground/habitat/hotspot"
)

// spotPlan has gaps in most of its maps; testdata/referee_spots.py works out
// anew what is said of its areas.
const spotPlan = `format: 1
grid: {like: dem}
area: inputs/area.geojson
maps:
  dem: {file: inputs/dem.tif, unit: m}
  heights: {file: inputs/speckled_h.tif, unit: m}
  soil: {file: inputs/soil_ph.tif, scale: 0.1, unit: pH}
  cover: {file: inputs/cover.tif, legend: inputs/cover_legend.csv}
  kinds: {file: inputs/halved_c.tif, classes: yes}
derived:
  tilt: {slope: heights}
  hollows: {hollow depth: dem, margin: 150 m}
factors:
  acid soil: {from: soil, curve: {3.4: 0.3, 4.2: 1, 5.0: 1, 6.2: 0.2}, weight: 3}
  hosts: {from: cover, scores: {beech wood: 1, oak wood: 0.9, mixed wood: 0.8, birch wood: 0.7}, others: 0, weight: 3, must: yes, unknown: leave blank}
  kinds: {from: kinds, scores: {1: 1, 2: 0.9, 3: 0.4}, others: 0.5}
  lie: {from: tilt, curve: {0: 1, 60: 0.2}}
hotspots: {from: 0.5, least: 0.5 ha}
`

// TestSpotsAgainstReferee asks GDAL, numpy and scipy for the same coverage,
// means on known ground, steepest slopes and best hectares.
func TestSpotsAgainstReferee(t *testing.T) {
	dir := drawn(t)
	out := filepath.Join(dir, "out")
	result, err := Run(context.Background(), writePlan(t, dir, spotPlan), Options{Out: out})
	if err != nil {
		t.Fatal(err)
	}
	said, err := exec.Command("/usr/bin/python3", filepath.Join("testdata", "referee_spots.py"), dir, out).CombinedOutput()
	if err != nil {
		t.Fatalf("the referee (python3 with python3-gdal, python3-numpy and python3-scipy) says: %v\n%s", err, said)
	}
	for i := range result.Hotspots {
		s := &result.Hotspots[i]
		if !strings.Contains(s.Why, "soil, pH\u00a0") || !strings.Contains(s.Why, "Cover: ") && !strings.Contains(s.Why, "cover: ") || len(s.LimitedBy) == 0 || s.WetShare == nil || s.Reference == "" {
			t.Errorf("area %d: %+v", s.Rank, s)
		}
	}
	countedOnce(t, out)
}

// countedOnce asks of the account that the second look counted nothing again.
func countedOnce(t *testing.T, out string) {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(out, "run.json"))
	if err != nil {
		t.Fatal(err)
	}
	var a struct {
		Cells cellTotals
		Grid  struct{ Cols, Rows int64 }
	}
	if err := json.Unmarshal(data, &a); err != nil {
		t.Fatal(err)
	}
	c := a.Cells
	if c.Area != c.NoGround+c.KeptOut+c.Unknown+c.Scored || c.Area == 0 || c.Area > 300*240 {
		t.Errorf("%+v of %+v", c, a.Grid)
	}
}

// TestSpotProperties: what is missing is null, and a fraction is never told
// as nothing or all.
func TestSpotProperties(t *testing.T) {
	e := &spotting{desk: &desk{}}
	if e.of(&hotspot.Ground{}, "slope", nil) {
		t.Error("a slope layer where there is none")
	}
	for share, want := range map[float64]string{0: "0\u00a0%", 0.001: "under 1\u00a0%", 0.02: "2\u00a0%", 0.999: "over 99\u00a0%", 1: "all"} {
		if got := partOf(share); got != want {
			t.Errorf("%v: %q", share, got)
		}
	}
	for ph, want := range map[float64]string{4.44: "very acid", 4.46: "acid", 5.5: "slightly acid", 6.6: "neutral", 7.5: "limy"} {
		if got := soilWord(ph); got != want {
			t.Errorf("pH %v: %q", ph, got)
		}
	}
	s := Spot{Hotspot: hotspot.Hotspot{Rank: 3, AreaHa: 0.5}, MeanKnown: hotspot.Hotspot{}.Mean, Coarse: []Coarse{{"soil", 250, 6.25}}}
	if got := s.coarseWords(); got != "the cells of soil are 250\u00a0m wide (6.2 ha) and decide more than this area" {
		t.Error(got)
	}
	for _, p := range s.Properties() {
		if p.Name == "best_hectare_mean" && p.Value != nil || p.Name == "grid_reference" && p.Value != nil {
			t.Errorf("%+v", p)
		}
	}
}

// TestReferenceDigits: a reference is no finer than the cell. The RD pair is
// that of the tower of Amersfoort, 155 000 463 000 (the origin of the Dutch
// grid; Kadaster, RDinfo).
func TestReferenceDigits(t *testing.T) {
	for cell, want := range map[float64]int{2: 4, 10: 4, 20: 3, 100: 3, 250: 2} {
		e := &spotting{desk: &desk{grid: &ground{Grid: raster.Grid{DX: cell, DY: cell}, metres: 1}}}
		if got := e.digits(); got != want {
			t.Errorf("cells of %v m: %d digits", cell, got)
		}
	}
	for _, c := range []struct {
		crs    string
		x, y   float64
		digits int
		want   string
	}{
		{"EPSG:28992", 155009, 463019, 4, "RD 155000 463010"},
		{"EPSG:27700", 651409.9, 313177.2, 4, "TG 5140 1317"}, // the place that Ordnance Survey's guide to coordinate systems works out
		{"EPSG:29903", 315904, 234671, 3, "O 159 346"},
	} {
		if got := reference(WhyPlace{CRS: c.crs, X: c.x, Y: c.y}, c.digits); got != c.want {
			t.Errorf("%s: %q, want %q", c.crs, got, c.want)
		}
	}
}
