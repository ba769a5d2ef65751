package ellerdown

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"likelyground/raster/cog"
)

// tags are GeoTIFF keys for a system that has an EPSG code (OGC 19-008r4,
// 7.1 to 7.5): model type, raster type and the code.
func tags(crs string) (cog.GeoTags, error) {
	var code uint16
	if _, err := fmt.Sscanf(crs, "EPSG:%d", &code); err != nil {
		return cog.GeoTags{}, err
	}
	model, key := uint16(1), uint16(3072)
	if code == 4326 {
		model, key = 2, 2048
	}
	return cog.GeoTags{Directory: []uint16{1, 1, 0, 3, 1024, 0, 1, model, 1025, 0, 1, 1, key, 0, 1, code}}, nil
}

func draw(t *testing.T, s Size, workers int) string {
	t.Helper()
	dir := t.TempDir()
	if err := Draw(context.Background(), dir, Options{Size: s, Workers: workers, GeoTags: tags}); err != nil {
		t.Fatal(err)
	}
	return dir
}

var files = []string{
	PlanName, "inputs/dem.tif", "inputs/soil_ph.tif", "inputs/cover.tif",
	"inputs/cover_legend.csv", "inputs/geology.gpkg", "inputs/area.geojson",
}

func sums(t *testing.T, dir string) map[string]string {
	t.Helper()
	out := map[string]string{}
	for _, f := range files {
		b, err := os.ReadFile(filepath.Join(dir, f))
		if err != nil {
			t.Fatal(err)
		}
		out[f] = fmt.Sprintf("%x", sha256.Sum256(b))
	}
	return out
}

func TestSameSizeSameBytes(t *testing.T) {
	size := Size{700, 560}
	one, two := sums(t, draw(t, size, 1)), sums(t, draw(t, size, 3))
	for _, f := range files {
		if one[f] != two[f] {
			t.Errorf("%s differs between one worker and three", f)
		}
	}
}

func TestNothingElseIsLeftBehind(t *testing.T) {
	dir := draw(t, Size{128, 96}, 2)
	var found []string
	filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			name, _ := filepath.Rel(dir, path)
			found = append(found, name)
		}
		return err
	})
	if len(found) != len(files) {
		t.Errorf("found %v, want %v", found, files)
	}
}

// report runs one of GDAL's tools, the referee.
func report(t *testing.T, tool string, args ...string) string {
	t.Helper()
	out, err := exec.Command(tool, args...).CombinedOutput()
	if err != nil {
		t.Fatalf("%s %v: %v\n%s", tool, args, err, out)
	}
	return string(out)
}

func TestGDALOpensTheMaps(t *testing.T) {
	dir := draw(t, Size{}, 2)
	for _, c := range []struct {
		file string
		want []string
	}{
		{"dem.tif", []string{"Size is 740, 600", `ID["EPSG",25831]`, "Pixel Size = (10.000000000000000,-10.000000000000000)", "Type=Float32", "NoData Value=-9999", "LAYOUT=COG", "Unit Type: m"}},
		{"soil_ph.tif", []string{`ID["EPSG",4326]`, "Type=Int16", "NoData Value=-32768", "Pixel Size = (0.002000000000000,-0.002000000000000)"}},
		{"cover.tif", []string{`ID["EPSG",3035]`, "Type=Byte", "NoData Value=0", "Pixel Size = (20.000000000000000,-20.000000000000000)"}},
	} {
		got := report(t, "gdalinfo", "-stats", "--config", "GDAL_PAM_ENABLED", "NO", filepath.Join(dir, "inputs", c.file))
		for _, want := range c.want {
			if !strings.Contains(got, want) {
				t.Errorf("%s: gdalinfo lacks %q:\n%s", c.file, want, got)
			}
		}
	}
	got := report(t, "ogrinfo", "-al", "-so", filepath.Join(dir, "inputs/geology.gpkg"))
	for _, want := range []string{`ID["EPSG",3034]`, "Layer name: geology", "rock: String"} {
		if !strings.Contains(got, want) {
			t.Errorf("geology: ogrinfo lacks %q:\n%s", want, got)
		}
	}
	got = report(t, "ogrinfo", "-al", "-so", filepath.Join(dir, "inputs/area.geojson"))
	if !strings.Contains(got, "Geometry: Polygon") || !strings.Contains(got, "Feature Count: 1") {
		t.Errorf("area: %s", got)
	}
}

// GEOS, through GDAL's SQL, judges the polygons: valid, and as large all
// together as their union, so that none overlaps another.
func TestGeologyIsAPartition(t *testing.T) {
	for _, size := range []Size{{}, {2100, 900}} {
		file := filepath.Join(draw(t, size, 2), "inputs/geology.gpkg")
		got := report(t, "ogrinfo", "-q", "-dialect", "sqlite", "-sql",
			"select count(*) as n, sum(ST_IsValid(geom)) as valid, count(distinct rock) as rocks,"+
				" round(sum(ST_Area(geom)) - ST_Area(ST_Union(geom)), 1) as overlap from geology", file)
		var n, valid, kinds int
		var overlap float64
		for _, line := range strings.Split(got, "\n") {
			fmt.Sscanf(strings.TrimSpace(line), "n (Integer) = %d", &n)
			fmt.Sscanf(strings.TrimSpace(line), "valid (Integer) = %d", &valid)
			fmt.Sscanf(strings.TrimSpace(line), "rocks (Integer) = %d", &kinds)
			fmt.Sscanf(strings.TrimSpace(line), "overlap (Real) = %f", &overlap)
		}
		if n < 10 || valid != n || kinds < 7 || overlap != 0 || !strings.Contains(got, "overlap") {
			t.Errorf("%v: %d polygons, %d valid, %d rocks, overlap %v\n%s", size, n, valid, kinds, overlap, got)
		}
	}
}

func TestAreaGoesCounterClockwiseAndCloses(t *testing.T) {
	b, err := os.ReadFile(filepath.Join(draw(t, Size{128, 96}, 1), "inputs/area.geojson"))
	if err != nil {
		t.Fatal(err)
	}
	var doc struct {
		Features []struct {
			Geometry struct{ Coordinates [][][2]float64 }
		}
	}
	if err := json.Unmarshal(b, &doc); err != nil {
		t.Fatal(err)
	}
	ring, twice := doc.Features[0].Geometry.Coordinates[0], 0.0
	for k := 1; k < len(ring); k++ {
		p, q := ring[k-1], ring[k]
		twice += (p[0]-2.6)*(q[1]-55.3) - (q[0]-2.6)*(p[1]-55.3)
	}
	if twice <= 0 || ring[0] != ring[len(ring)-1] {
		t.Errorf("area %v, ends %v %v", twice, ring[0], ring[len(ring)-1])
	}
}

func TestDrawSparesAChangedPlan(t *testing.T) {
	dir := draw(t, Size{128, 96}, 1)
	o := Options{Size: Size{128, 96}, GeoTags: tags}
	if err := Draw(context.Background(), dir, o); err != nil {
		t.Errorf("over itself: %v", err)
	}
	plan := filepath.Join(dir, PlanName)
	changed := append(Plan(), "# mine\n"...)
	if err := os.WriteFile(plan, changed, 0o644); err != nil {
		t.Fatal(err)
	}
	os.Remove(filepath.Join(dir, "inputs/dem.tif"))
	var e *Error
	if err := Draw(context.Background(), dir, o); !errors.As(err, &e) || !e.MustChange() || e.Remedy() == "" {
		t.Errorf("over a changed plan: %v", err)
	}
	if b, _ := os.ReadFile(plan); !bytes.Equal(b, changed) {
		t.Error("the changed plan is gone")
	}
	if _, err := os.Stat(filepath.Join(dir, "inputs/dem.tif")); err == nil {
		t.Error("something was drawn all the same")
	}
}

func TestDrawRefuses(t *testing.T) {
	for _, s := range []Size{{10, 500}, {500, 30_000}} {
		var e *Error
		if err := Draw(context.Background(), t.TempDir(), Options{Size: s, GeoTags: tags}); !errors.As(err, &e) {
			t.Errorf("%v: %v", s, err)
		}
	}
	if err := Draw(context.Background(), t.TempDir(), Options{}); err == nil {
		t.Error("drawn without tags")
	}
}

func TestDrawStopsWhenTold(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	dir := t.TempDir()
	o := Options{GeoTags: tags, Progress: func(drawn, all int64) { cancel() }}
	if err := Draw(ctx, dir, o); !errors.Is(err, context.Canceled) {
		t.Errorf("got %v", err)
	}
	left, _ := os.ReadDir(filepath.Join(dir, "inputs"))
	for _, f := range left {
		t.Errorf("left behind: %s", f.Name())
	}
}

func TestProgressEndsAtAll(t *testing.T) {
	var last, all int64
	o := Options{Size: Size{128, 96}, GeoTags: tags, Progress: func(d, a int64) { last, all = d, a }}
	if err := Draw(context.Background(), t.TempDir(), o); err != nil {
		t.Fatal(err)
	}
	if last != all || all < 128*96 {
		t.Errorf("drew %d of %d", last, all)
	}
}
