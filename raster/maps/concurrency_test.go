package maps

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"likelyground/raster"
)

// Readers side by side give what one gives, and the counts are the same.
func TestReadersSideBySide(t *testing.T) {
	f := geographic(sprinkled(-9999))
	g := metricGrid(300, 200, 10)
	path := f.make(t, "a.tif")
	alone := open(t, RasterSpec{Name: "soil", Files: []string{path}}, g)
	want := readIn(t, alone, g.Window(), 64)
	r := open(t, RasterSpec{Name: "soil", Files: []string{path}}, g)
	got := raster.NewTile(g.Window())
	var wait sync.WaitGroup
	for worker := range 4 {
		wait.Go(func() {
			reader, err := r.Reader()
			if err != nil {
				t.Error(err)
				return
			}
			defer reader.Close()
			for row := 50 * worker; row < 50*worker+50; row += 10 {
				part := raster.NewTile(raster.Window{Row: row, Cols: g.Cols, Rows: 10})
				if err := reader.Read(part, nil); err != nil {
					t.Error(err)
					return
				}
				got.CopyFrom(part)
			}
		})
	}
	wait.Wait()
	sameTile(t, "four readers", got, want)
	if a, b := alone.Judge().Problem().Error(), r.Judge().Problem().Error(); a != b {
		t.Errorf("four readers say %q, one says %q", b, a)
	}
}

// A reader in steady state allocates next to nothing.
func TestReadingAllocatesNothingPerCell(t *testing.T) {
	f := sameCRS(4, 400, 400, hills)
	g := metricGrid(128, 128, 10)
	r := open(t, RasterSpec{Files: []string{f.make(t, "a.tif")}}, g)
	reader, err := r.Reader()
	must(t, err)
	defer reader.Close()
	tile := raster.NewTile(g.Window())
	must(t, reader.Read(tile, nil))
	if n := testing.AllocsPerRun(5, func() { must(t, reader.Read(tile, nil)) }); n > 30 {
		t.Errorf("%g allocations for %d cells", n, tile.Size())
	}
}

func TestReadRefusesAnotherKindOfTile(t *testing.T) {
	f := sameCRS(10, 30, 30, hills)
	g := metricGrid(20, 20, 10)
	r := open(t, RasterSpec{Files: []string{f.make(t, "a.tif")}}, g)
	reader, err := r.Reader()
	must(t, err)
	defer reader.Close()
	if err := reader.Read(raster.NewClassTile(g.Window()), nil); err == nil {
		t.Error("codes of a quantity were read")
	}
	if err := reader.Read(raster.NewTile(g.Window()), make([]bool, 3)); err == nil {
		t.Error("three marks for 400 cells were accepted")
	}
}

// The environment and gdalrc files of the user change nothing: a program with
// settings that would hide the file's position reads it all the same. The test
// runs itself anew, because GDAL reads its settings once.
func TestForeignSettingsChangeNothing(t *testing.T) {
	g := metricGrid(20, 20, 10)
	if path := os.Getenv("LIKELYGROUND_TEST_MAP"); path != "" {
		if v := read(t, open(t, RasterSpec{Files: []string{path}}, g)).Value(3, 3); v != 4 {
			t.Errorf("cell 3,3 is %v, want 4", v)
		}
		return
	}
	f := sameCRS(10, 30, 30, func(c, r int) float64 { return float64(c) })
	path := f.make(t, "a.tif")
	home := t.TempDir()
	must(t, os.MkdirAll(filepath.Join(home, ".gdal"), 0o755))
	must(t, os.WriteFile(filepath.Join(home, ".gdal", "gdalrc"), []byte("[configoptions]\nGDAL_GEOREF_SOURCES=NONE\n"), 0o644))
	again := exec.Command(os.Args[0], "-test.run=^TestForeignSettingsChangeNothing$")
	again.Env = append(os.Environ(), "LIKELYGROUND_TEST_MAP="+path, "HOME="+home, "GDAL_GEOREF_SOURCES=NONE", "GDAL_SKIP=GTiff", "CPL_DEBUG=ON")
	text, err := again.CombinedOutput()
	if err != nil {
		t.Errorf("%v\n%s", err, text)
	}
	if strings.Contains(string(text), "GDAL:") {
		t.Errorf("GDAL talks: %s", text)
	}
}
