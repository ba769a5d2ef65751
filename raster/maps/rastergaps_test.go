package maps

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/airbusgeo/godal"

	"likelyground/raster"
)

// Cells whose centre no tile covers are counted apart from those that a tile
// covers without knowing them, whatever the tiles of the grid; ground with a
// value where absent has no gaps.
func TestGapsBetweenTilesAreCounted(t *testing.T) {
	g := metricGrid(90, 60, 10)
	holed := func(c, r int) float64 {
		if (c+r)%11 == 0 {
			return -5
		}
		return hills(c, r)
	}
	tile := func(x, y, cell float64, cols, rows int) string {
		return fixture{crs: "EPSG:25831", affine: [6]float64{x, cell, 0, y, 0, -cell}, cols: cols, rows: rows, values: holed, nodata: ptr(-5)}.make(t, "a.tif")
	}
	for name, files := range map[string][]string{
		"one lattice":  {tile(500000, 6200000, 10, 30, 60), tile(500500, 6200000, 10, 40, 50)},
		"two lattices": {tile(500000, 6200000, 10, 30, 60), tile(500500, 6200000, 4, 100, 125)},
		"coarsened":    {tile(500000, 6200000, 5, 60, 120), tile(500500, 6200000, 5, 80, 100)},
	} {
		gaps := int64(90*60 - 30*60 - 40*50)
		for _, side := range []int{7, 64} {
			r := open(t, RasterSpec{Files: files}, g)
			got := readIn(t, r, g.Window(), side)
			missing := int64(0)
			for _, v := range got.Values {
				if isNaN(v) {
					missing++
				}
			}
			if f := r.Judge(); f.Gaps != gaps || f.Missing != missing || name != "coarsened" && missing <= gaps {
				t.Errorf("%s, tiles of %d: %d gaps of %d missing, want %d of %d", name, side, f.Gaps, f.Missing, gaps, missing)
			}
		}
		r := open(t, RasterSpec{Files: files, WhereAbsent: ptr(0)}, g)
		read(t, r)
		if f := r.Judge(); f.Gaps != 0 {
			t.Errorf("%s: %d gaps in ground that has a value", name, f.Gaps)
		}
	}
	r := open(t, RasterSpec{Files: []string{tile(500000, 6200000, 10, 30, 60)}}, g)
	read(t, r)
	if f := r.Judge(); f.Gaps != 0 || f.Missing < 60*60 {
		t.Errorf("a single file has %d gaps, %d missing", f.Gaps, f.Missing)
	}
}

// A tile that goes away, or is cut short, while others are read is named.
func TestTileThatVanishes(t *testing.T) {
	for what, harm := range map[string]func(path string) error{
		"gone":      os.Remove,
		"cut short": func(path string) error { return os.Truncate(path, 3000) },
		"swapped": func(path string) error {
			return os.WriteFile(path, []byte("something else by now"), 0o644)
		},
	} {
		dir := t.TempDir()
		var files []string
		for i := range 3 {
			f := sameCRS(10, 30, 60, hills)
			f.affine[0] += float64(i) * 300
			files = append(files, filepath.Join(dir, fmt.Sprintf("tile_%d.tif", i)))
			f.write(t, files[i])
		}
		g := metricGrid(88, 58, 10)
		r := open(t, RasterSpec{Name: "ground", Files: files}, g)
		reader, err := r.Reader()
		must(t, err)
		must(t, reader.Read(raster.NewTile(raster.Window{Cols: 20, Rows: 20}), nil))
		must(t, harm(files[2]))
		err = reader.Read(raster.NewTile(g.Window()), nil)
		must(t, reader.Close())
		if err == nil {
			err = r.Unchanged()
		}
		if err == nil || !strings.Contains(err.Error(), "tile_2.tif") || !strings.Contains(err.Error(), `map "ground"`) {
			t.Errorf("%s: %v", what, err)
		}
	}
}

// A virtual raster over tiles of unequal width stretches some of them; that is
// told, and the tiles by themselves are read without.
func TestStretchingVirtualRaster(t *testing.T) {
	dir := t.TempDir()
	wide := fixture{crs: "EPSG:4326", affine: [6]float64{3, 1. / 600, 0, 56, 0, -1. / 1200}, cols: 120, rows: 120, values: hills}
	wide.write(t, filepath.Join(dir, "n.tif"))
	slim := fixture{crs: "EPSG:4326", affine: [6]float64{3, 1. / 1200, 0, 55.9, 0, -1. / 1200}, cols: 240, rows: 120, values: hills}
	slim.write(t, filepath.Join(dir, "s.tif"))
	tiles := []string{filepath.Join(dir, "n.tif"), filepath.Join(dir, "s.tif")}
	all := filepath.Join(dir, "all.vrt")
	v, err := godal.BuildVRT(all, tiles, nil)
	must(t, err)
	must(t, v.Close())
	g := metricGrid(100, 100, 100)
	g.Y0 = 6202000
	notes := open(t, RasterSpec{Files: []string{all}}, g).Facts()[0].Notes
	if len(notes) != 1 || !strings.Contains(notes[0], "all.vrt shows the ") || !strings.Contains(notes[0], "name the files themselves") {
		t.Errorf("notes %q", notes)
	}
	for _, f := range open(t, RasterSpec{Files: tiles}, g).Facts() {
		if len(f.Notes) != 0 {
			t.Errorf("notes %q", f.Notes)
		}
	}
	v, err = godal.BuildVRT(all, tiles[:1], nil)
	must(t, err)
	must(t, v.Close())
	if notes := open(t, RasterSpec{Files: []string{all}}, g).Facts()[0].Notes; len(notes) != 0 {
		t.Errorf("a plain one has notes %q", notes)
	}
}

// Maps whose x and y changed places are told apart from maps of elsewhere.
func TestSwappedAxes(t *testing.T) {
	g := metricGrid(20, 20, 10) // about 3 E, 55.9 N
	const what, fix = "its axes look swapped", "whose x is east (longitude)"
	degrees := fixture{crs: "EPSG:4326", affine: [6]float64{55.9, 0.001, 0, 3.1, 0, -0.001}, cols: 100, rows: 200, values: hills}
	refused(t, RasterSpec{Files: []string{degrees.make(t, "a.tif")}}, g, what, fix)
	// Latitudes up to 150 are nowhere on the earth.
	far := metricGrid(20, 20, 10)
	far.CRS, far.X0, far.Y0 = "EPSG:32655", 500000, -2800000+10000000
	over := fixture{crs: "EPSG:4326", affine: [6]float64{64.5, 0.01, 0, 147.5, 0, -0.01}, cols: 100, rows: 100, values: hills}
	refused(t, RasterSpec{Files: []string{over.make(t, "a.tif")}}, far, what, fix)
	metres := fixture{crs: "EPSG:25831", affine: [6]float64{6199000, 10, 0, 501000, 0, -10}, cols: 200, rows: 200, values: hills}
	refused(t, RasterSpec{Files: []string{metres.make(t, "a.tif")}}, g, what, fix)
	elsewhere := sameCRS(10, 30, 30, hills)
	elsewhere.affine[0] += 3e5
	_, err := OpenRaster(RasterSpec{Files: []string{elsewhere.make(t, "a.tif")}}, g)
	if err == nil || strings.Contains(err.Error(), "swapped") || !Elsewhere(err) {
		t.Errorf("a map of elsewhere: %v", err)
	}
	path := filepath.Join(t.TempDir(), "a.geojson")
	for ring, swapped := range map[string]bool{
		"[[55,2],[57,2],[57,4],[55,4],[55,2]]":      true,
		"[[12,50],[13,50],[13,51],[12,51],[12,50]]": false,
	} {
		must(t, os.WriteFile(path, []byte(`{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"rock":"sand"},"geometry":{"type":"Polygon","coordinates":[`+ring+`]}}]}`), 0o644))
		_, err := OpenPolygons(PolygonSpec{File: path, Field: "rock", Scratch: t.TempDir()}, g)
		if err == nil || strings.Contains(err.Error(), what) != swapped || !Elsewhere(err) {
			t.Errorf("%s: %v", ring, err)
		}
	}
}

// Heights in feet are never taken for metres without a word.
func TestUnitOfHeights(t *testing.T) {
	g := metricGrid(20, 20, 10)
	file := func(unit string) []string {
		path := sameCRS(10, 30, 30, hills).make(t, "dem.tif")
		side := fmt.Sprintf("<PAMDataset><PAMRasterBand band=\"1\"><UnitType>%s</UnitType></PAMRasterBand></PAMDataset>", unit)
		must(t, os.WriteFile(path+".aux.xml", []byte(side), 0o644))
		return []string{path}
	}
	for _, c := range []struct {
		file, plan string
		refused    bool
		notes      int
	}{
		{"ft", "", true, 0}, {"US survey foot", "", true, 0}, {"Feet", "", true, 0}, {"ft", "ft", false, 0}, {"ft", "m", false, 1},
		{"metre", "", false, 0}, {"m", "m", false, 0}, {"m", "ft", false, 1}, {"fathom", "", false, 0},
	} {
		spec := RasterSpec{Files: file(c.file), Unit: c.plan, Elevation: true}
		if c.refused {
			refused(t, spec, g, fmt.Sprintf("its heights are in %q", c.file), "say unit: ft")
			continue
		}
		if notes := open(t, spec, g).Facts()[0].Notes; len(notes) != c.notes {
			t.Errorf("file in %q, plan in %q: notes %q", c.file, c.plan, notes)
		}
	}
	open(t, RasterSpec{Files: file("ft")}, g) // no heights: any unit will do
	if d := math.Abs(metresPerFoot - 0.3048); d != 0 {
		t.Errorf("a foot is %g m", metresPerFoot)
	}
}
