package start

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"testing"

	"github.com/airbusgeo/godal"

	"likelyground/habitat"
	"likelyground/habitat/ellerdown"
	"likelyground/raster/maps"
)

func TestMain(m *testing.M) {
	cache, err := os.MkdirTemp("", "likelyground-start-")
	if err = errors.Join(err, os.Setenv("XDG_CACHE_HOME", cache), maps.Setup(0)); err != nil {
		panic(err)
	}
	code := m.Run()
	os.RemoveAll(cache)
	os.Exit(code)
}

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// utm is a lattice of 20 m in open sea.
var utm = [6]float64{500000, 20, 0, 6200000, 0, -20}

// fixture is a GeoTIFF to be made for a test.
type fixture struct {
	crs        string     // "": EPSG:25831
	affine     [6]float64 // zero: utm
	cols, rows int        // zero: 60 × 50
	kind       godal.DataType
	nodata     *float64
	values     func(col, row int) float64
}

func ptr(x float64) *float64 { return &x }

// make writes the map into a folder.
func (f fixture) make(t testing.TB, dir, name string) string {
	t.Helper()
	if f.cols == 0 {
		f.cols, f.rows = 60, 50
	}
	if f.affine == ([6]float64{}) {
		f.affine = utm
	}
	if f.crs == "" {
		f.crs = "EPSG:25831"
	}
	path := filepath.Join(dir, name)
	ds, err := godal.Create(godal.GTiff, path, 1, f.kind, f.cols, f.rows)
	must(t, err)
	must(t, ds.SetGeoTransform(f.affine))
	sr, err := godal.NewSpatialRef(f.crs)
	must(t, err)
	must(t, ds.SetSpatialRef(sr))
	sr.Close()
	if f.nodata != nil {
		must(t, ds.SetNoData(*f.nodata))
	}
	values := make([]float64, f.cols*f.rows)
	for i := range values {
		values[i] = f.values(i%f.cols, i/f.cols)
	}
	must(t, ds.Bands()[0].Write(0, 0, values, f.cols, f.rows))
	must(t, ds.Close())
	return path
}

// polygons writes a GeoJSON text as a GeoPackage.
func polygons(t testing.TB, dir, name, text string) string {
	t.Helper()
	in := filepath.Join(t.TempDir(), "in.geojson")
	must(t, os.WriteFile(in, []byte(text), 0o644))
	quiet := godal.ErrLogger(func(ec godal.ErrorCategory, _ int, msg string) error {
		if ec < godal.CE_Failure {
			return nil
		}
		return errors.New(msg)
	})
	src, err := godal.Open(in, godal.VectorOnly(), quiet)
	must(t, err)
	defer src.Close()
	path := filepath.Join(dir, name)
	dst, err := src.VectorTranslate(path, []string{"-f", "GPKG"}, quiet)
	must(t, err)
	must(t, dst.Close())
	return path
}

// downloads draws a small Ellerdown and lays its four maps down under names
// that say nothing, with the legend as a table of any name.
func downloads(t testing.TB) (dir string) {
	t.Helper()
	drawn := t.TempDir()
	must(t, ellerdown.Draw(context.Background(), drawn, ellerdown.Options{Size: ellerdown.Size{Cols: 200, Rows: 160}, GeoTags: maps.GeoTags}))
	dir = t.TempDir()
	for from, to := range map[string]string{"dem.tif": "N55E002 (2).tif", "soil_ph.tif": "export_2019-final.tif", "cover.tif": "LC_X27b.tif", "cover_legend.csv": "codes.csv", "geology.gpkg": "data.gpkg"} {
		data, err := os.ReadFile(filepath.Join(drawn, "inputs", from))
		must(t, err)
		must(t, os.WriteFile(filepath.Join(dir, to), data, 0o644))
	}
	return dir
}

// runs fails unless the plan passes a check and a run as it stands.
func runs(t testing.TB, plan string) *habitat.Result {
	t.Helper()
	ctx := context.Background()
	if _, err := habitat.Check(ctx, plan, habitat.Options{}); err != nil {
		t.Fatalf("check: %v\n%s", err, read(t, plan))
	}
	r, err := habitat.Run(ctx, plan, habitat.Options{Out: filepath.Join(t.TempDir(), "out")})
	if err != nil {
		t.Fatalf("run: %v\n%s", err, read(t, plan))
	}
	return r
}

func read(t testing.TB, file string) string {
	t.Helper()
	data, err := os.ReadFile(file)
	must(t, err)
	return string(data)
}

// started writes a plan and fails unless it runs.
func started(t testing.TB, o Options, files ...string) (*Result, string) {
	t.Helper()
	if o.Out == "" {
		o.Out = filepath.Join(t.TempDir(), "plan.yaml")
	}
	r, err := Write(context.Background(), files, o)
	if err != nil {
		t.Fatalf("%v", err)
	}
	runs(t, r.Plan)
	return r, read(t, r.Plan)
}
