package look

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/airbusgeo/godal"

	"likelyground/habitat/plan"
)

// corpus are maps of every kind, each with the golden text of its name in
// testdata.
func corpus(t testing.TB) map[string]string {
	phs := func(i int) float64 { return float64(42 + i%25) }
	return map[string]string{
		"soil":   fixture{crs: "EPSG:25831", kind: godal.UInt16, values: func(i int) float64 { return map[bool]float64{true: 65535, false: phs(i)}[i < 60] }}.make(t, "soil_ph.tif"),
		"ground": fixture{crs: "EPSG:4326", affine: [6]float64{3, 1. / 3600, 0, 56, 0, -1. / 3600}, kind: godal.Float32, values: func(i int) float64 { return 100 + float64(i%40)*2.5 }}.make(t, "Copernicus_DSM_COG_10_N55_00_E003_00_DEM.tif"),
		"cover": fixture{crs: "EPSG:3035", affine: [6]float64{3640000, 100, 0, 3640000, 0, -100}, kind: godal.Byte, nodata: ptr(255),
			side:   `<PAMDataset><PAMRasterBand band="1"><CategoryNames><Category/><Category>sea</Category><Category>beech wood</Category><Category>heath</Category></CategoryNames></PAMRasterBand></PAMDataset>`,
			values: func(i int) float64 { return []float64{1, 2, 2, 3, 255}[i%5] }}.make(t, "cover.tif"),
		"bare":    fixture{crs: "EPSG:25831", kind: godal.Byte, values: func(i int) float64 { return []float64{10, 20, 30, 30}[i%4] }}.make(t, "land cover 2021.tif"),
		"geology": as(t, geology, "geology.gpkg", "GPKG"),
	}
}

func TestGolden(t *testing.T) {
	for name, path := range corpus(t) {
		got := strings.ReplaceAll(seen(t, path).Words(), filepath.Dir(path), "DIR")
		golden := filepath.Join("testdata", name+".txt")
		if *remake {
			must(t, os.WriteFile(golden, []byte(got), 0o644))
		}
		want, err := os.ReadFile(golden)
		must(t, err)
		if got != string(want) {
			t.Errorf("%s: got\n%s\nwant\n%s", name, got, want)
		}
	}
}

// whole wraps proposed lines into a plan.
func whole(m *Map) string {
	return "format: 1\ngrid: {crs: EPSG:25831, cell: 20 m}\narea: {box: [3, 55, 4, 56], crs: EPSG:4326}\nmaps:\n" + m.Plan +
		"  other: {file: other.tif}\nfactors: {one: {from: other, curve: {0: 0, 1: 1}}}\n"
}

// entry finds a map of a plan; an empty one where there is none.
func entry(p *plan.Plan, name string) plan.Map {
	for _, m := range p.Maps {
		if m.Name == name {
			return m
		}
	}
	return plan.Map{Files: []plan.Path{{}}}
}

// Every plan line that is proposed is read back as it was meant.
func TestLinesAreAPlan(t *testing.T) {
	for name, path := range corpus(t) {
		m := seen(t, path)
		text := whole(m)
		p, err := plan.Read(name+".yaml", []byte(text))
		if err != nil {
			t.Errorf("%s: %v\n%s", name, err, text)
			continue
		}
		if got := entry(p, m.Name); got.Files[0].Text != path {
			t.Errorf("%s: %+v", name, got)
		}
	}
}

func TestSoilLines(t *testing.T) {
	m := seen(t, corpus(t)["soil"])
	p, err := plan.Read("p.yaml", []byte(whole(m)))
	must(t, err)
	got := entry(p, m.Name)
	if got.Unit != plan.UnitPH || *got.Scale != 0.1 || len(got.Missing.Values) != 1 || got.Missing.Values[0] != 65535 {
		t.Errorf("%+v", got)
	}
}

func TestLegendBeside(t *testing.T) {
	path := fixture{crs: "EPSG:25831", kind: godal.Byte, values: func(i int) float64 { return float64(i % 200) }}.make(t, "cover.tif")
	legend := strings.TrimSuffix(path, ".tif") + "_legend.csv"
	must(t, os.WriteFile(legend, []byte("code,name\n0,no data\n1,heath\n"), 0o644))
	m := seen(t, path)
	p, err := plan.Read("p.yaml", []byte(whole(m)))
	must(t, err)
	if got := entry(p, "cover"); got.Legend == nil || got.Legend.File != legend || len(got.Missing.Values) != 1 || got.Missing.Values[0] != 0 {
		t.Errorf("%+v\n%s", got, m.Plan)
	}
	if !strings.Contains(m.suspicions(), "its names of classes leave out 2, 3") {
		t.Errorf("%s", m.suspicions())
	}
	must(t, os.WriteFile(legend, []byte("day,rain\n1,2\n"), 0o644)) // no legend
	if m := seen(t, path); strings.Contains(m.Plan, "legend") {
		t.Errorf("%s", m.Plan)
	}
}

// Of a large map a sample is looked at, and it is called one.
func TestSampleIsCalledOne(t *testing.T) {
	path := filepath.Join(t.TempDir(), "big.tif")
	ds, err := godal.Create(godal.GTiff, path, 1, godal.Float32, 20000, 20000, godal.CreationOption("TILED=YES", "SPARSE_OK=TRUE"))
	must(t, err)
	must(t, ds.SetGeoTransform(utm))
	must(t, ds.Close())
	first, second := seen(t, path).Words(), seen(t, path).Words()
	if first != second || !strings.Contains(first, "in a sample of 1 048 576 cells") {
		t.Errorf("%s", first)
	}
}

func TestFilesStops(t *testing.T) {
	ctx, stop := context.WithCancelCause(context.Background())
	why := errors.New("enough")
	stop(why)
	if all, err := Files(ctx, []string{"a.tif"}); len(all) != 0 || !errors.Is(err, why) {
		t.Errorf("%v, %v", all, err)
	}
}

func TestJSON(t *testing.T) {
	for name, path := range corpus(t) {
		data, err := json.Marshal(seen(t, path))
		must(t, err)
		var got map[string]any
		must(t, json.Unmarshal(data, &got))
		keys := []string{"file", "kind", "format", "suspicions", "name", "plan", "crs", "extent", "lon_lat", "columns", "rows", "cell", "bands"}
		if name == "geology" {
			keys = append(keys[:6], "layers")
		}
		for _, k := range keys {
			if got[k] == nil {
				t.Errorf("%s: no %s in %s", name, k, data)
			}
		}
	}
	m := seen(t, corpus(t)["cover"])
	if m.CRS.Code != "EPSG:3035" || m.Columns != 40 || m.Cell.Width != 100 || m.Extent.West != 3640000 || m.Extent.South != 3637000 || m.CRS.Unit != "m" || m.CRS.Geographic {
		t.Errorf("%+v %+v", m.Lattice, m.Cell)
	}
	if c := m.Bands[0].Classes; len(c) != 3 || *c[0].Code != 2 || c[0].Name != "beech wood" || c[0].Share != 0.5 || *m.Bands[0].Nodata != 255 || m.Bands[0].Sample.Missing != 240 || !m.Bands[0].Sample.All {
		t.Errorf("%+v", m.Bands[0])
	}
	l := seen(t, corpus(t)["geology"]).Layers[0]
	if l.Features != 4 || l.Shapes != "polygons" || l.CRS.Code != "EPSG:4326" || len(l.Fields) != 3 || l.Fields[2].Name != "rock" || l.Fields[2].Null != 1 || l.Fields[2].Classes[0] != (Class{Name: "plateau sand", Share: 0.5}) {
		t.Errorf("%+v", l)
	}
}

func TestFilesGiveEachANameOfItsOwn(t *testing.T) {
	path := corpus(t)["soil"]
	all, err := Files(context.Background(), []string{path, path, path})
	must(t, err)
	plans := ""
	for i, want := range []string{"soil", "soil 2", "soil 3"} {
		if all[i].Name != want || !strings.HasPrefix(all[i].Plan, "  "+want+":\n") {
			t.Errorf("%s: %s", all[i].Name, all[i].Plan)
		}
		plans += all[i].Plan
	}
	all[0].Plan = plans
	_, err = plan.Read("p.yaml", []byte(whole(all[0])))
	must(t, err)
}

func TestBadFiles(t *testing.T) {
	dir := t.TempDir()
	put := func(name string, data []byte) string {
		path := filepath.Join(dir, name)
		must(t, os.WriteFile(path, data, 0o644))
		return path
	}
	sound, err := os.ReadFile(fixture{crs: "EPSG:25831", cols: 300, rows: 300, options: []string{"COMPRESS=DEFLATE"}, kind: godal.Int16, values: func(i int) float64 { return float64(i * 7919 % 3001) }}.make(t, "s.tif"))
	must(t, err)
	good := put("soil.tif", sound)
	for _, c := range []struct{ path, what, fix string }{
		{filepath.Join(dir, "sol.tif"), "no such file", "soil.tif"},
		{filepath.Join(dir, "far", "sol.tif"), "no such file", "folder"},
		{put("note.txt", []byte("hello")), "no map that can be read", "GeoPackage"},
		{put("empty.tif", nil), "no map that can be read", "damaged"},
		{put("cut.tif", sound[:len(sound)/2]), "damaged", "again"},
		{put("bad.gpkg", []byte("hello")), "", "damaged"},
		{put("bad.geojson", []byte(`{"type":"FeatureColl`)), "", ""},
		{put("loop.vrt", []byte(`<VRTDataset rasterXSize="1" rasterYSize="1"><VRTRasterBand dataType="Byte" band="1"><SimpleSource><SourceFilename relativeToVRT="1">loop.vrt</SourceFilename></SimpleSource></VRTRasterBand></VRTDataset>`)), "", ""},
		{put("out.vrt", []byte(`<VRTDataset rasterXSize="1" rasterYSize="1"><VRTRasterBand dataType="Byte" band="1"><SimpleSource><SourceFilename>/etc/passwd</SourceFilename></SimpleSource></VRTRasterBand></VRTDataset>`)), "outside its own folder", "name the files"},
	} {
		_, err := File(c.path)
		var change interface {
			MustChange() bool
			Remedy() string
		}
		if err == nil || !errors.As(err, &change) || !change.MustChange() || !strings.Contains(err.Error(), c.what) || !strings.Contains(change.Remedy(), c.fix) || change.Remedy() == "" {
			t.Errorf("%s: %v; want %q and %q", c.path, err, c.what, c.fix)
		}
	}
	for name, what := range map[string]string{"pipe.tif": "a pipe or a device", "round.tif": "round in a circle"} {
		path := filepath.Join(dir, name)
		if name == "pipe.tif" {
			must(t, syscall.Mkfifo(path, 0o600))
		} else {
			must(t, os.Symlink(path, path))
		}
		var fault *Fault
		if _, err := File(path); !errors.As(err, &fault) || !strings.Contains(err.Error(), what) {
			t.Errorf("%s: %v", name, err)
		}
	}
	all, err := Files(context.Background(), []string{filepath.Join(dir, "none.tif"), good, filepath.Join(dir, "nor this.tif")})
	if len(all) != 1 || err == nil || strings.Count(err.Error(), "no such file") != 2 {
		t.Errorf("%d maps, %v", len(all), err)
	}
}

// Names may hold anything; what is printed and proposed must not break.
func TestWildNames(t *testing.T) {
	for _, name := range []string{"a\x1b[31m\n\".tif", "yes.tif", "001.tif", "'q' # {x}: y.tif", strings.Repeat("n", 200) + ".tif", "größe – ß.tif", "-.tif"} {
		path := fixture{crs: "EPSG:25831", kind: godal.Float32, values: func(i int) float64 { return float64(i) / 7 }}.make(t, name)
		m := seen(t, path)
		if words := m.Words(); strings.ContainsAny(words, "\x1b\r") || strings.Count(words, "\n  For the plan") != 1 {
			t.Errorf("%q: %q", name, words)
		}
		p, err := plan.Read("p.yaml", []byte(whole(m)))
		if name == "a\x1b[31m\n\".tif" {
			if got := m.suspicions(); err == nil || !strings.Contains(got, "its name holds characters") {
				t.Errorf("%q: %v, %s", name, err, got)
			}
		} else if err != nil {
			t.Errorf("%q: %v\n%s", name, err, whole(m))
		} else if entry(p, m.Name).Files[0].Text != path {
			t.Errorf("%q: %+v", name, entry(p, m.Name))
		}
	}
}

func Example() {
	dir, err := os.MkdirTemp("", "look")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(dir)
	if err := os.Chdir(dir); err != nil {
		fmt.Println(err)
		return
	}
	path := "soil_ph.asc"
	grid := "ncols 4\nnrows 2\nxllcorner 500000\nyllcorner 6199960\ncellsize 20\n45 55 61 48\n65 -9999 52 57\n"
	if err := os.WriteFile(path, []byte(grid), 0o644); err != nil {
		fmt.Println(err)
		return
	}
	m, err := File(path)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, s := range m.Suspicions {
		fmt.Println("-", s.What)
	}
	fmt.Println(m.Plan)
	// Output:
	// - it does not say in which coordinate reference system it lies
	// - -9999 looks like a sign for no data, and nothing declares it: it stands in 1 cell, 12 % of the map
	// - its values, 55 in the middle, are no pH: they look like pH × 10
	//   soil:
	//     file: soil_ph.asc           # the path as seen from the plan
	//     crs: EPSG:…                 # put the map's own system here: the file names none
	//     unit: pH
	//     scale: 0.1
	//     missing: -9999              # looks like no data
}
