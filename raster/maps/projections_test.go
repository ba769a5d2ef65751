package maps

import (
	"encoding/binary"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/airbusgeo/godal"

	"likelyground/raster"
	"likelyground/raster/crs"
)

// homolosine is Goode's interrupted projection north of 40° 44' 11.8", by the
// formulas of Mollweide (Snyder 1987, eq. 31-1 to 31-8): a lobe about 100 W up
// to 40 W, one about 30 E from there. It answers NaN beside the lobes.
func homolosine(x, y float64) (lon, lat float64) {
	const a = 6378137.0
	theta := math.Asin((y/a + 0.0528035274542) / math.Sqrt2)
	lat = math.Asin((2*theta+math.Sin(2*theta))/math.Pi) * 180 / math.Pi
	for _, lobe := range [][3]float64{{-180, -100, -40}, {-40, 30, 180}} {
		lon = lobe[1] + (x/a-lobe[1]*math.Pi/180)*math.Pi/(2*math.Sqrt2*math.Cos(theta))*180/math.Pi
		if lon >= lobe[0] && lon <= lobe[2] {
			return lon, lat
		}
	}
	return math.NaN(), math.NaN()
}

// lonLat returns the places of the centres of a grid.
func lonLat(t *testing.T, g raster.Grid) (lon, lat []float64) {
	t.Helper()
	op, err := crs.Choose(g.CRS, "EPSG:4326", crs.Box{}, crs.Options{})
	must(t, err)
	way, err := op.Open()
	must(t, err)
	defer way.Close()
	for i := range g.Cols * g.Rows {
		x, y := g.Position(float64(i%g.Cols)+0.5, float64(i/g.Cols)+0.5)
		lon, lat = append(lon, x), append(lat, y)
	}
	way.Forward(lon, lat)
	return lon, lat
}

// A grid over the interruption at 40 W reads both lobes, 4600 km apart in the
// map, and only at the interruption itself is anything missing.
func TestOverAnInterruption(t *testing.T) {
	f := fixture{crs: "ESRI:54052", affine: [6]float64{-6660000, 1000, 0, 5530000, 0, -1000}, cols: 4760, rows: 60, nodata: ptr(-1)}
	f.values = func(c, r int) float64 {
		lon, lat := homolosine(f.affine[0]+(float64(c)+0.5)*1000, f.affine[3]-(float64(r)+0.5)*1000)
		if lon != lon {
			return -1
		}
		return 100*(lon+50) + 300*(lat-45)
	}
	path := f.make(t, "igh.tif")
	g := raster.Grid{CRS: "EPSG:32624", X0: 400500, Y0: 5512000, DX: 500, DY: 500, Cols: 110, Rows: 40}
	lon, lat := lonLat(t, g)
	r := open(t, RasterSpec{Files: []string{path}}, g)
	got := readIn(t, r, g.Window(), 23)
	sameTile(t, "all at once", read(t, r), got)
	sides, missing := [2]int{}, 0
	for i, v := range got.Values {
		near := math.Abs(lon[i]+40)*71.6 < 1.5 // kilometres from the interruption
		want := 100*(lon[i]+50) + 300*(lat[i]-45)
		off := 0.02 // a cell is 1.4 to the east and 2.7 to the north
		if near {
			off = 2.5
		}
		switch {
		case isNaN(v) && near:
			missing++
		case isNaN(v) || math.Abs(float64(v)-want) > off:
			t.Fatalf("at %.4f %.4f: %v, want %v", lon[i], lat[i], v, want)
		case lon[i] < -40:
			sides[0]++
		default:
			sides[1]++
		}
	}
	if min(sides[0], sides[1]) < 1000 || missing > 2*g.Rows {
		t.Errorf("%d cells west of 40 W, %d east of it, %d missing", sides[0], sides[1], missing)
	}
	if ratio := r.Facts()[0].Ratio; ratio < 0.48 || ratio > 0.52 {
		t.Errorf("ratio %g", ratio)
	}
}

// Two tiles that meet at 180 degrees are read as one ground, refined and
// coarsened: there is no seam, and the cells are measured where the grid lies.
func TestTilesAcrossTheAntimeridian(t *testing.T) {
	value := func(lon, lat float64) float64 { return 200 + 40*math.Mod(lon+360, 360) - 30*lat }
	const side = 1. / 250
	tile := func(west float64) fixture {
		return fixture{crs: "EPSG:4326", affine: [6]float64{west, side, 0, 56.4, 0, -side}, cols: 500, rows: 200, values: func(c, r int) float64 {
			return value(west+(float64(c)+0.5)*side, 56.4-(float64(r)+0.5)*side)
		}}
	}
	files := []string{tile(178).make(t, "e178.tif"), tile(-180).make(t, "w180.tif")}
	for _, c := range []struct{ cell, ratio float64 }{{100, 0.301}, {2000, 6.02}} {
		g := raster.Grid{CRS: "EPSG:32660", X0: 640000, Y0: 6240000, DX: c.cell, DY: c.cell, Cols: int(80000 / c.cell), Rows: int(40000 / c.cell)}
		lon, lat := lonLat(t, g)
		r := open(t, RasterSpec{Files: files}, g)
		for _, fact := range r.Facts() {
			if math.Abs(fact.Ratio/c.ratio-1) > 0.02 {
				t.Errorf("cells of %g m: ratio %g, want %g", c.cell, fact.Ratio, c.ratio)
			}
		}
		east := 0
		for i, v := range read(t, r).Values {
			if want := value(lon[i], lat[i]); isNaN(v) || math.Abs(float64(v)-want) > 0.01 {
				t.Fatalf("cells of %g m: at %.5f %.5f: %v, want %v", c.cell, lon[i], lat[i], v, want)
			}
			if lon[i] < 0 {
				east++
			}
		}
		if east == 0 || east == g.Cols*g.Rows {
			t.Fatal("the grid does not cross 180 degrees")
		}
	}
}

// Rotated and south-up maps of another CRS against gdalwarp (-et 0).
func TestRotatedAndSouthUpAgainstGdalwarp(t *testing.T) {
	sin, cos := math.Sincos(0.3)
	for name, affine := range map[string][6]float64{
		"rotated":         {3880000, 40 * cos, 40 * sin, 3672000, 40 * sin, -40 * cos},
		"south-up":        {3880000, 40, 0, 3660000, 0, 40},
		"both, and sheer": {3884000, 40 * cos, -30 * sin, 3660000, 25 * sin, 45 * cos},
	} {
		f := fixture{crs: "EPSG:3035", affine: affine, cols: 300, rows: 300, values: hills}
		path := f.make(t, "dem.tif")
		own, err := godal.Open(path)
		must(t, err)
		middle := own.Bands()[0].Structure()
		must(t, own.Close())
		x, y := crs.Affine(affine).Place(float64(middle.SizeX)/2, float64(middle.SizeY)/2)
		g := around3035(t, x, y)
		got := read(t, open(t, RasterSpec{Files: []string{path}}, g))
		want := gdalwarp(t, path, "bilinear", g, "-wo", "XSCALE=1", "-wo", "YSCALE=1")
		both := 0
		for i, v := range got.Values {
			if isNaN(v) || isNaN(want[i]) {
				continue
			}
			if both++; math.Abs(float64(v)-float64(want[i])) > 2e-3 {
				t.Fatalf("%s: cell %d,%d is %v, gdalwarp says %v", name, i%g.Cols, i/g.Cols, v, want[i])
			}
		}
		if both < g.Cols*g.Rows*3/4 {
			t.Errorf("%s: only %d of %d cells compared", name, both, g.Cols*g.Rows)
		}
	}
}

// around3035 is a metric grid about a place of EPSG:3035.
func around3035(t *testing.T, x, y float64) raster.Grid {
	t.Helper()
	op, err := crs.Choose("EPSG:3035", "EPSG:25831", crs.Box{}, crs.Options{})
	must(t, err)
	way, err := op.Open()
	must(t, err)
	defer way.Close()
	xs, ys := []float64{x}, []float64{y}
	way.Forward(xs, ys)
	g := metricGrid(150, 150, 25)
	g.X0, g.Y0 = math.Round(xs[0])-1875, math.Round(ys[0])+1875
	return g
}

// A file that says its values are of points lies where GDAL's origin says:
// half a cell from the raw tie point (GeoTIFF 1.1, section B.2.1).
func TestPixelIsPoint(t *testing.T) {
	f := sameCRS(10, 30, 30, hills)
	area := f.make(t, "area.tif")
	f.finish = func(t *testing.T, ds *godal.Dataset) { must(t, ds.SetMetadata("AREA_OR_POINT", "Point")) }
	point := f.make(t, "point.tif")
	g := metricGrid(20, 20, 10)
	sameTile(t, "point", read(t, open(t, RasterSpec{Files: []string{point}}, g)), read(t, open(t, RasterSpec{Files: []string{area}}, g)))
	a, err := os.ReadFile(area)
	must(t, err)
	b, err := os.ReadFile(point)
	must(t, err)
	if string(a) == string(b) {
		t.Error("both files are the same: nothing is tested")
	}
}

// A tile of heights as the shuttle mission's are given out: big-endian whole
// numbers, the centre of the first cell on the degree, -32768 for a void.
func TestShuttleTile(t *testing.T) {
	const n = 1201
	value := func(c, r int) int16 { return int16(300 + c/10 + r/5) }
	data := make([]byte, 0, 2*n*n)
	for i := range n * n {
		v := value(i%n, i/n)
		if i == 600*n+700 {
			v = -32768
		}
		data = binary.BigEndian.AppendUint16(data, uint16(v))
	}
	path := filepath.Join(t.TempDir(), "N55E003.hgt")
	must(t, os.WriteFile(path, data, 0o644))
	at := func(lon, lat float64) float32 {
		op, err := crs.Choose("EPSG:4326", "EPSG:25831", crs.Box{}, crs.Options{})
		must(t, err)
		way, err := op.Open()
		must(t, err)
		defer way.Close()
		x, y := []float64{lon}, []float64{lat}
		way.Forward(x, y)
		g := raster.Grid{CRS: "EPSG:25831", X0: x[0] - 5, Y0: y[0] + 5, DX: 10, DY: 10, Cols: 1, Rows: 1}
		return read(t, open(t, RasterSpec{Files: []string{path}, Elevation: true}, g)).Values[0]
	}
	for _, c := range [][2]int{{600, 600}, {100, 1000}, {1100, 40}} {
		got, want := at(3+float64(c[0])/1200, 56-float64(c[1])/1200), float32(value(c[0], c[1]))
		if math.Abs(float64(got-want)) > 0.01 {
			t.Errorf("on column %d, row %d: %v, want %v", c[0], c[1], got, want)
		}
	}
	if v := at(3+700./1200, 55.5); !isNaN(v) {
		t.Errorf("the void is %v", v)
	}
}
