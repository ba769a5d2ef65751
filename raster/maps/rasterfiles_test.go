package maps

import (
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/airbusgeo/godal"

	"likelyground/raster"
)

// refused fails unless opening is refused with the words, with a remedy that
// holds others.
func refused(t *testing.T, spec RasterSpec, g raster.Grid, what, remedy string) {
	t.Helper()
	_, err := OpenRaster(spec, g)
	problemSays(t, err, what, remedy)
}

func problemSays(t *testing.T, err error, what, remedy string) {
	t.Helper()
	var p *Problem
	if !errors.As(err, &p) || !p.MustChange() {
		t.Errorf("got %v, want a problem that says %q", err, what)
		return
	}
	if !strings.Contains(p.Error(), what) || !strings.Contains(p.Remedy(), remedy) {
		t.Errorf("got %q with remedy %q, want %q with %q", p, p.Remedy(), what, remedy)
	}
}

func TestOpenRefusals(t *testing.T) {
	g := metricGrid(20, 20, 10)
	dir := t.TempDir()
	plain := sameCRS(10, 30, 30, hills)
	plain.write(t, filepath.Join(dir, "soil_ph.tif"))
	in := func(name string) []string { return []string{filepath.Join(dir, name)} }

	refused(t, RasterSpec{Name: "soil"}, g, "no file is named", "file:")
	refused(t, RasterSpec{Name: "soil", Files: in("soil_hp.tif")}, g, `map "soil": `, "did you mean soil_ph.tif?")
	refused(t, RasterSpec{Files: in("nowhere/soil.tif")}, g, "no such file", "folder")
	must(t, os.WriteFile(filepath.Join(dir, "text.tif"), []byte("no raster at all"), 0o644))
	refused(t, RasterSpec{Files: in("text.tif")}, g, "does not open as a raster", "GeoTIFF")
	refused(t, RasterSpec{Files: []string{"/vsicurl/http://127.0.0.1/a.tif"}}, g, "not the name of a file on this machine", "the way into an archive")
	refused(t, RasterSpec{Files: []string{"https://127.0.0.1/a.tif"}}, g, "not the name of a file on this machine", "the way into an archive")
	refused(t, RasterSpec{Files: in("soil_ph.tif"), Between: &[2]float64{9, 3}}, g, "is empty", "smaller")

	odd := plain
	odd.crs = ""
	odd.write(t, filepath.Join(dir, "nocrs.tif"))
	refused(t, RasterSpec{Files: in("nocrs.tif")}, g, "does not say in which coordinate reference system", "say crs:")
	open(t, RasterSpec{Files: in("nocrs.tif"), CRS: "EPSG:25831"}, g)
	refused(t, RasterSpec{Files: in("soil_ph.tif"), CRS: "EPSG:9876543"}, g, "is not understood", "")

	odd = plain
	odd.bands = 3
	odd.finish = func(t *testing.T, ds *godal.Dataset) { must(t, ds.Bands()[1].SetDescription("0-5 cm")) }
	odd.write(t, filepath.Join(dir, "bands.tif"))
	refused(t, RasterSpec{Files: in("bands.tif")}, g, "the file has 3 bands", `2 is "0-5 cm"`)
	refused(t, RasterSpec{Files: in("bands.tif"), Band: 4}, g, "there is no band 4", "1 to 3")
	open(t, RasterSpec{Files: in("bands.tif"), Band: 3}, g)

	odd = plain
	odd.kind = godal.CFloat32
	odd.write(t, filepath.Join(dir, "complex.tif"))
	refused(t, RasterSpec{Files: in("complex.tif")}, g, "complex numbers", "plain numbers")
	odd = plain
	odd.affine = [6]float64{499990, 0, 0, 6200010, 0, 0}
	odd.write(t, filepath.Join(dir, "flat.tif"))
	refused(t, RasterSpec{Files: in("flat.tif")}, g, "the file", "georeferenced")
}

func TestOutsideSaysHowFarAndWhere(t *testing.T) {
	g := metricGrid(20, 20, 10)
	for where, shift := range map[string][2]float64{
		"29 km east": {30000, 0}, "31 km west": {-30000, 0}, "30 km north ": {0, 30000}, "42 km south-east": {30000, -30000}, "0.2 km north ": {0, 500},
	} {
		f := sameCRS(10, 30, 30, hills)
		f.affine[0] += shift[0]
		f.affine[3] += shift[1]
		_, err := OpenRaster(RasterSpec{Files: []string{f.make(t, "a.tif")}}, g)
		if !Elsewhere(err) {
			t.Errorf("%s: %v", where, err)
			continue
		}
		if !strings.Contains(err.Error(), strings.Fields(where)[2]) || !strings.Contains(err.Error(), " km ") {
			t.Errorf("%s: %v", where, err)
		}
	}
}

// A file cut short, at any length that still opens, fails when it is read and
// never gives made-up zeros.
func TestTruncatedFile(t *testing.T) {
	g := metricGrid(180, 180, 10)
	for _, options := range [][]string{{"TILED=YES"}, {"COMPRESS=DEFLATE", "TILED=YES"}, nil} {
		f := sameCRS(10, 200, 200, func(c, r int) float64 { return 100 * noise(c, r, 1) })
		f.options = options
		path := f.make(t, "a.tif")
		whole, err := os.ReadFile(path)
		must(t, err)
		for _, share := range []float64{0.3, 0.6, 0.95} {
			must(t, os.WriteFile(path, whole[:int(share*float64(len(whole)))], 0o644))
			r, err := OpenRaster(RasterSpec{Name: "ground", Files: []string{path}}, g)
			if err == nil {
				var reader Reader
				reader, err = r.Reader()
				must(t, err)
				err = reader.Read(raster.NewTile(g.Window()), nil)
				must(t, reader.Close())
			}
			problemSays(t, err, path, "again")
		}
	}
}

func TestFileChangedWhileRead(t *testing.T) {
	g := metricGrid(20, 20, 10)
	f := sameCRS(10, 30, 30, hills)
	path := f.make(t, "a.tif")
	r := open(t, RasterSpec{Files: []string{path}}, g)
	must(t, r.Unchanged())
	f.cols = 31
	f.write(t, path)
	if err := r.Unchanged(); !errors.Is(err, errChanged) {
		t.Errorf("a change of the file: %v", err)
	}
	reader, err := r.Reader()
	must(t, err)
	defer reader.Close()
	if err := reader.Read(raster.NewTile(g.Window()), nil); !errors.Is(err, errChanged) {
		t.Errorf("reading a changed file: %v", err)
	}
}

// Signed bytes, as GDAL before 3.7 tells them: type Byte, a tag, nodata -128.
// GDAL's own mask calls 128 valid.
func TestSignedBytes(t *testing.T) {
	f := sameCRS(10, 30, 30, func(c, r int) float64 { return float64((c*5+r)%256 - 128) })
	f.kind, f.nodata, f.options = godal.Byte, ptr(-128), []string{"PIXELTYPE=SIGNEDBYTE"}
	inner := f.values
	f.values = func(c, r int) float64 { return math.Mod(inner(c, r)+256, 256) }
	g := metricGrid(28, 28, 10)
	path := f.make(t, "a.tif")
	for _, classes := range []bool{false, true} {
		r := open(t, RasterSpec{Files: []string{path}, Classes: classes}, g)
		if r.Facts()[0].Type != "Int8" {
			t.Errorf("type %s", r.Facts()[0].Type)
		}
		got := read(t, r)
		want := r.tile(g.Window())
		for i := range want.Size() {
			v := inner(i%g.Cols+1, i/g.Cols+1)
			switch {
			case classes && v == -128:
				want.Codes[i] = raster.MissingCode
			case classes:
				want.Codes[i] = int32(v)
			case v == -128:
				want.Values[i] = raster.Missing
			default:
				want.Values[i] = float32(v)
			}
		}
		sameTile(t, fmt.Sprintf("classes %v", classes), got, want)
	}
}

func TestNodataThatCannotOccurIsANote(t *testing.T) {
	f := sameCRS(10, 30, 30, func(c, r int) float64 { return float64(c) })
	f.kind, f.nodata = godal.Byte, ptr(-9999)
	got := judged(t, RasterSpec{Files: []string{f.make(t, "a.tif")}}, metricGrid(20, 20, 10), 64)
	if got.Missing != 0 || len(got.Notes) != 1 || !strings.Contains(got.Notes[0], "-9999 cannot occur") {
		t.Errorf("%d missing, notes %q", got.Missing, got.Notes)
	}
}

// Missing values are in the file's numbers, before scale, and add to nodata.
func TestScaleAndMissing(t *testing.T) {
	f := sameCRS(10, 30, 30, func(c, r int) float64 { return float64(c) })
	f.kind, f.nodata = godal.Int16, ptr(3)
	f.finish = func(t *testing.T, ds *godal.Dataset) { must(t, ds.SetScaleOffset(0.5, 100)) }
	path, g := f.make(t, "a.tif"), metricGrid(20, 4, 10)
	for _, c := range []struct {
		spec          RasterSpec
		scale, offset float64
		from          string
	}{
		{RasterSpec{}, 0.5, 100, "file"},
		{RasterSpec{Scale: ptr(0.1)}, 0.1, 0, "plan"},
		{RasterSpec{Scale: ptr(1), Offset: ptr(7)}, 1, 7, "plan"},
	} {
		c.spec.Files, c.spec.Missing = []string{path}, []Range{{6, 6}, {9, 11.5}}
		r := open(t, c.spec, g)
		if fact := r.Facts()[0]; fact.Scale != c.scale || fact.Offset != c.offset || fact.ScaleFrom != c.from {
			t.Errorf("scale %g offset %g from %q, want %g %g %q", fact.Scale, fact.Offset, fact.ScaleFrom, c.scale, c.offset, c.from)
		}
		got := read(t, r)
		for col := range g.Cols {
			x := float64(col + 1)
			want := float32(x*c.scale + c.offset)
			if x == 3 || x == 6 || x >= 9 && x <= 11 {
				want = raster.Missing
			}
			if v := got.Value(col, 2); v != want && !(isNaN(v) && isNaN(want)) {
				t.Errorf("scale %g: number %g gives %v, want %v", c.scale, x, v, want)
			}
		}
	}
}

func TestMaskAndAlphaBands(t *testing.T) {
	g := metricGrid(20, 20, 10)
	hidden := func(i int) byte { return byte(255 * ((i % 30) / 3 % 2)) }
	mask := make([]byte, 900)
	for i := range mask {
		mask[i] = hidden(i)
	}
	masked := sameCRS(10, 30, 30, hills)
	masked.finish = func(t *testing.T, ds *godal.Dataset) {
		m, err := ds.CreateMaskBand(2, godal.ConfigOption("GDAL_TIFF_INTERNAL_MASK=YES"))
		must(t, err)
		must(t, m.Write(0, 0, mask, 30, 30))
	}
	alpha := sameCRS(10, 30, 30, hills)
	alpha.bands, alpha.kind, alpha.options = 2, godal.UInt16, []string{"ALPHA=YES"}
	alpha.finish = func(t *testing.T, ds *godal.Dataset) { must(t, ds.Bands()[1].Write(0, 0, mask, 30, 30)) }
	broken := alpha // an alpha band of broken numbers, which GDAL takes for none
	broken.kind = godal.Float32
	for name, f := range map[string]fixture{"mask": masked, "alpha": alpha, "alpha of broken numbers": broken} {
		r := open(t, RasterSpec{Files: []string{f.make(t, "a.tif")}}, g)
		if !r.Facts()[0].Masked {
			t.Errorf("%s: not seen", name)
		}
		got := read(t, r)
		for i, v := range got.Values {
			c, row := i%20+1, i/20+1
			want := float32(hills(c, row))
			if name == "alpha" {
				want = float32(math.Round(hills(c, row)))
			}
			if hidden(row*30+c) == 0 != isNaN(v) || !isNaN(v) && v != want {
				t.Fatalf("%s: cell %d,%d is %v, want %v or missing", name, c, row, v, want)
			}
		}
	}
}

// Three files that continue one lattice give what one file gives; where they
// overlap the first that knows the cell wins.
func TestTilesOfOneLatticeAreReadAsOne(t *testing.T) {
	dir := t.TempDir()
	values := holed(hills)
	piece := func(name string, col, row, cols, rows int, shift float64) string {
		f := fixture{crs: "EPSG:25831", affine: [6]float64{499990 + 30*float64(col), 30, 0, 6200010 - 30*float64(row), 0, -30}, cols: cols, rows: rows, nodata: ptr(-5),
			values: func(c, r int) float64 { return orElse(values(c+col, r+row)+shift, -5) }}
		path := filepath.Join(dir, name)
		f.write(t, path)
		return path
	}
	whole := piece("whole.tif", 0, 0, 60, 50, 0)
	tiles := []string{piece("b.tif", 25, 0, 35, 20, 0), piece("a.tif", 0, 0, 25, 30, 0), piece("c.tif", 0, 30, 25, 20, 0), piece("d.tif", 25, 20, 35, 30, 0)}
	for _, cell := range []float64{10, 30, 75} {
		g := metricGrid(int(1500/cell), int(1300/cell), cell)
		want := read(t, open(t, RasterSpec{Files: []string{whole}}, g))
		for _, order := range [][]string{tiles, {tiles[3], tiles[2], tiles[1], tiles[0]}} {
			r := open(t, RasterSpec{Files: order}, g)
			if len(r.parts) != 1 {
				t.Fatalf("%d parts, want 1", len(r.parts))
			}
			sameTile(t, fmt.Sprintf("cell %g", cell), readIn(t, r, g.Window(), 16), want)
		}
	}
	over := piece("over.tif", 10, 10, 30, 20, 1000)
	g := metricGrid(50, 40, 30)
	g.X0, g.Y0 = 499990, 6200010
	first := readIn(t, open(t, RasterSpec{Files: []string{over, whole}}, g), g.Window(), 16)
	last := readIn(t, open(t, RasterSpec{Files: []string{whole, over}}, g), g.Window(), 16)
	for col := 12; col < 35; col++ {
		v := values(col, 15)
		if w := first.Value(col, 15); math.IsNaN(v) != isNaN(w) || !isNaN(w) && w != float32(v+1000) {
			t.Errorf("column %d: %v, want the first file's %v", col, w, v+1000)
		}
		if w := last.Value(col, 15); !isNaN(w) && w != float32(v) {
			t.Errorf("column %d: %v, want the first file's %v", col, w, v)
		}
	}
}

// Files of other lattices are read one by one, the first that knows the cell.
func TestOtherLatticesOneByOne(t *testing.T) {
	a := sameCRS(10, 60, 60, holed(func(c, r int) float64 { return 1 }))
	b := sameCRS(7, 70, 90, func(c, r int) float64 { return 2 })
	c := fixture{crs: "EPSG:4326", affine: [6]float64{2.99, 0.0005, 0, 55.95, 0, -0.0002}, cols: 100, rows: 200, values: func(c, r int) float64 { return 3 }}
	for _, f := range []*fixture{&a} {
		inner := f.values
		f.nodata, f.values = ptr(-5), func(c, r int) float64 { return orElse(inner(c, r), -5) }
	}
	files := []string{a.make(t, "a.tif"), b.make(t, "b.tif"), c.make(t, "c.tif")}
	g := metricGrid(70, 70, 10)
	r := open(t, RasterSpec{Files: files}, g)
	if len(r.parts) != 3 {
		t.Fatalf("%d parts, want 3", len(r.parts))
	}
	one := make([]raster.Tile, 3)
	for i, f := range files {
		one[i] = read(t, open(t, RasterSpec{Files: []string{f}}, g))
	}
	want := raster.NewTile(g.Window())
	met := map[float32]int{}
	for i := range want.Values {
		want.Values[i] = raster.Missing
		for _, o := range one {
			if v := o.Values[i]; !isNaN(v) {
				want.Values[i] = v
				break
			}
		}
		met[want.Values[i]]++
	}
	if met[1] == 0 || met[2] == 0 || met[3] == 0 {
		t.Fatalf("a file never wins: %v", met)
	}
	for _, side := range []int{13, 100} {
		sameTile(t, fmt.Sprintf("tiles of %d", side), readIn(t, r, g.Window(), side), want)
	}
}

// Ground that no file covers is read as if a file full of the value lay there:
// the referee is such a file.
func TestWhereAbsent(t *testing.T) {
	for _, cell := range []float64{4, 10, 25} {
		for _, classes := range []bool{false, true} {
			g := metricGrid(40, 40, cell)
			hole := func(c, r int) float64 { return orElse(holed(func(c, r int) float64 { return 5 })(c, r), -5) }
			f := sameCRS(10, 20, 20, hole)
			full := sameCRS(10, 160, 160, func(c, r int) float64 {
				if c < 20 && r < 20 {
					return hole(c, r)
				}
				return 9
			})
			f.nodata, full.nodata = ptr(-5), ptr(-5)
			spec := RasterSpec{Files: []string{f.make(t, "a.tif")}, Classes: classes, WhereAbsent: ptr(9)}
			got := readIn(t, open(t, spec, g), g.Window(), 11)
			spec.Files, spec.WhereAbsent = []string{full.make(t, "full.tif")}, nil
			sameTile(t, fmt.Sprintf("cell %g, classes %v", cell, classes), got, read(t, open(t, spec, g)))
		}
	}
}

func TestWhereAbsentOverSeveralLattices(t *testing.T) {
	a := sameCRS(10, 20, 20, func(c, r int) float64 { return -5 })
	a.nodata = ptr(-5)
	b := sameCRS(7, 20, 20, func(c, r int) float64 { return 2 })
	b.affine[0] += 210
	g := metricGrid(60, 30, 10)
	got := readIn(t, open(t, RasterSpec{Files: []string{a.make(t, "a.tif"), b.make(t, "b.tif")}, WhereAbsent: ptr(0)}, g), g.Window(), 11)
	for _, c := range []struct {
		col, row int
		want     float32
	}{{5, 5, raster.Missing}, {25, 5, 2}, {50, 5, 0}, {5, 25, 0}} {
		if v := got.Value(c.col, c.row); v != c.want && !(isNaN(v) && isNaN(c.want)) {
			t.Errorf("cell %d,%d is %v, want %v", c.col, c.row, v, c.want)
		}
	}
}

// Side files are read and listed, and none is ever written.
func TestSideFilesAreReadAndNotWritten(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "ground.asc")
	var b strings.Builder
	b.WriteString("ncols 30\nnrows 30\nxllcorner 499990\nyllcorner 6199710\ncellsize 10\nNODATA_value -9999\n")
	for i := range 900 {
		fmt.Fprintf(&b, "%d ", i%50)
	}
	must(t, os.WriteFile(path, []byte(b.String()), 0o644))
	sr, err := godal.NewSpatialRef("EPSG:25831")
	must(t, err)
	wkt, err := sr.WKT()
	must(t, err)
	must(t, os.WriteFile(filepath.Join(dir, "ground.prj"), []byte(wkt), 0o644))
	aux := `<PAMDataset><PAMRasterBand band="1"><NoDataValue>7</NoDataValue></PAMRasterBand></PAMDataset>`
	f := sameCRS(10, 30, 30, func(c, r int) float64 { return float64(c % 9) })
	f.write(t, filepath.Join(dir, "cover.tif"))
	must(t, os.WriteFile(filepath.Join(dir, "cover.tif.aux.xml"), []byte(aux), 0o644))
	before := listing(t, dir)

	g := metricGrid(20, 20, 10)
	asc := open(t, RasterSpec{Files: []string{path}}, g)
	readIn(t, asc, g.Window(), 8)
	if want := []string{path, filepath.Join(dir, "ground.prj")}; !slices.Equal(asc.Files(), want) {
		t.Errorf("files %q, want %q", asc.Files(), want)
	}
	tif := open(t, RasterSpec{Files: []string{filepath.Join(dir, "cover.tif")}}, g)
	got := readIn(t, tif, g.Window(), 8)
	if !isNaN(got.Value(6, 3)) || got.Value(5, 3) != 6 {
		t.Errorf("nodata of the side file: %v, %v", got.Value(6, 3), got.Value(5, 3))
	}
	if len(tif.Files()) != 2 {
		t.Errorf("files %q", tif.Files())
	}
	if _, err := tif.Sample(4); err != nil {
		t.Error(err)
	}
	if after := listing(t, dir); !slices.Equal(before, after) {
		t.Errorf("the folder held %q and now holds %q", before, after)
	}
}

func listing(t *testing.T, dir string) []string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	must(t, err)
	var names []string
	for _, e := range entries {
		info, err := e.Info()
		must(t, err)
		names = append(names, fmt.Sprintf("%s %d %v", e.Name(), info.Size(), info.ModTime()))
	}
	return names
}

// A map of the whole earth that counts longitudes from 0 to 360 gives what one
// from -180 to 180 gives, on either side of Greenwich and of 180 degrees.
func TestLongitudesBeyond180(t *testing.T) {
	globe := func(west float64) fixture {
		return fixture{crs: "EPSG:4326", affine: [6]float64{west, 0.5, 0, 60, 0, -0.5}, cols: 720, rows: 40,
			values: func(c, r int) float64 {
				lon := math.Mod(west+float64(c)/2+720, 360)
				return 100 + 10*math.Sin(lon*math.Pi/180) + float64(r)
			}}
	}
	from0, from180 := globe(0).make(t, "from0.tif"), globe(-180).make(t, "from180.tif")
	for _, g := range []raster.Grid{
		{CRS: "EPSG:27700", X0: 500000, Y0: 200000, DX: 1000, DY: 1000, Cols: 100, Rows: 40},
		{CRS: "EPSG:32660", X0: 640000, Y0: 6200000, DX: 1000, DY: 1000, Cols: 100, Rows: 40},
	} {
		a, b := read(t, open(t, RasterSpec{Files: []string{from0}}, g)), read(t, open(t, RasterSpec{Files: []string{from180}}, g))
		for i, v := range a.Values {
			if isNaN(v) || math.Abs(float64(v-b.Values[i])) > 1e-4 {
				t.Fatalf("%s: cell %d is %v, and %v from -180 on", g.CRS, i, v, b.Values[i])
			}
		}
	}
}
