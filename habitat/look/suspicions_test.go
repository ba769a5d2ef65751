package look

import (
	"math"
	"os"
	"strings"
	"testing"

	"github.com/airbusgeo/godal"

	"likelyground/habitat/plan"
	"likelyground/raster/maps"
)

// Every suspicion can be raised, and a sound map raises none.
func TestRasterSuspicions(t *testing.T) {
	slope := func(i int) float64 { return float64(i)/3 + 10 }
	at := func(low, high, other float64) func(int) float64 { // mostly low to high, rarely other
		return func(i int) float64 {
			if i%100 == 5 {
				return other
			}
			return low + float64(i%50)*(high-low)/49
		}
	}
	for name, c := range map[string]struct {
		file string
		fixture
		want string // "" for none
		plan string // in the plan's lines
	}{
		"sound":               {"hollows.tif", fixture{crs: "EPSG:25831", kind: godal.Float32, values: slope}, "", "hollows:"},
		"stand-in":            {"rain.tif", fixture{crs: "EPSG:25831", kind: godal.Float32, values: at(10, 30, -9999)}, "-9999 looks like a sign for no data, and nothing declares it: it stands in 12 cells, 1.0 % of the map", "missing: -9999"},
		"two stand-ins":       {"rain.tif", fixture{crs: "EPSG:25831", kind: godal.Int16, values: func(i int) float64 { return []float64{-32768, -999, 5 + float64(i%90)}[min(i, 2)] }}, "-32768 looks like", "missing: [-32768, -999]"},
		"declared":            {"rain.tif", fixture{crs: "EPSG:25831", kind: godal.Float32, nodata: ptr(-9999), values: at(10, 30, -9999)}, "", "rain:"},
		"largest float":       {"rain.tif", fixture{crs: "EPSG:25831", kind: godal.Float32, values: at(10, 30, math.MaxFloat32)}, "3.4028234663852886e+38 looks like", "missing: 3.4028234663852886e+38"},
		"infinite":            {"rain.tif", fixture{crs: "EPSG:25831", kind: godal.Float32, values: at(10, 30, math.Inf(1))}, "plus infinity stands in 12 cells", "rain:"},
		"byte mark":           {"tree_density.tif", fixture{crs: "EPSG:3035", affine: [6]float64{3640000, 10, 0, 3640000, 0, -10}, kind: godal.Byte, values: at(0, 98, 255)}, "255 looks like a sign for no data", "missing: 255"},
		"two byte marks":      {"tree_density.tif", fixture{crs: "EPSG:25831", kind: godal.Byte, values: func(i int) float64 { return []float64{254, 255, float64(i % 97)}[min(i, 2)] }}, "254 looks like a sign for no data", "missing: [254, 255]"},
		"marks among classes": {"leaf.tif", fixture{crs: "EPSG:25831", kind: godal.Byte, values: func(i int) float64 { return []float64{254, 255, float64(i % 5)}[min(i%200, 2)] }}, "255 looks like a sign for no data", "missing: [254, 255]"},
		"zero apart":          {"lidar.tif", fixture{crs: "EPSG:25831", kind: godal.Float32, values: at(100, 110, 0)}, "0 looks like a sign for no data", "missing: 0"},
		"far apart":           {"lidar.tif", fixture{crs: "EPSG:25831", kind: godal.Float32, values: at(1, 9, 12345)}, "12345 looks like a sign", "missing: 12345"},
		"pH × 10":             {"phh2o_0-5cm_mean.tif", fixture{crs: "EPSG:25831", kind: godal.Int16, values: at(42, 71, 50)}, "they look like pH × 10", "scale: 0.1"},
		"pH × 100":            {"soil_ph.tif", fixture{crs: "EPSG:25831", kind: godal.Int16, values: at(420, 710, 500)}, "they look like pH × 100", "scale: 0.01"},
		"pH with zeros":       {"ph.tif", fixture{crs: "EPSG:25831", kind: godal.Byte, values: at(42, 91, 13)}, "1.3 cannot be a pH", "between: [2, 11]"},
		"pH by unit":          {"s.tif", fixture{crs: "EPSG:25831", kind: godal.Float32, side: `<PAMDataset><PAMRasterBand band="1"><UnitType>pH</UnitType></PAMRasterBand></PAMDataset>`, values: at(4, 7, 5)}, "", "unit: pH"},
		"pH scaled already":   {"ph.tif", fixture{crs: "EPSG:25831", kind: godal.Int16, finish: scaled(0.1), values: at(42, 71, 50)}, "", "unit: pH"},
		"pH of what":          {"ph.tif", fixture{crs: "EPSG:25831", kind: godal.Int16, values: at(12000, 13000, 12500)}, "its name speaks of pH, but its values", "soil:"},
		"surface model":       {"Copernicus_DSM_COG_10.tif", fixture{crs: "EPSG:25831", kind: godal.Float32, values: slope}, "its name tells of a surface model", "unit: m"},
		"feet":                {"dem.tif", fixture{crs: "EPSG:25831", kind: godal.Float32, side: `<PAMDataset><PAMRasterBand band="1"><UnitType>US survey foot</UnitType></PAMRasterBand></PAMDataset>`, values: slope}, "its heights are in feet", "unit: ft"},
		"centimetres":         {"dem.tif", fixture{crs: "EPSG:25831", kind: godal.Int32, values: at(20000, 40000, 30000)}, "the unit is another one", "unit: m"},
		"odd heights":         {"dem.tif", fixture{crs: "EPSG:25831", kind: godal.Float32, values: at(0, 1800, -600)}, "heights of -600 stand in it, which no ground has", "between: [-500, 9000]"},
		"odd percentages":     {"imperviousness.tif", fixture{crs: "EPSG:25831", kind: godal.Byte, values: at(0, 98, 120)}, "120 cannot be a percentage", "between: [0, 100]"},
		"share":               {"cover density.tif", fixture{crs: "EPSG:25831", kind: godal.Float32, values: at(0, 1, 0.5)}, "", "unit: share"},
		"signed byte":         {"c.tif", fixture{crs: "EPSG:25831", kind: godal.Byte, options: []string{"PIXELTYPE=SIGNEDBYTE"}, values: func(i int) float64 { return float64(i % 256) }}, "its bytes are signed", "c:"},
		"nodata outside":      {"c.tif", fixture{crs: "EPSG:25831", kind: godal.Byte, side: `<PAMDataset><PAMRasterBand band="1"><NoDataValue>-9999</NoDataValue></PAMRasterBand></PAMDataset>`, values: func(i int) float64 { return float64(i % 100) }}, "nodata -9999 cannot occur", "c:"},
		"few whole":           {"c.tif", fixture{crs: "EPSG:25831", kind: godal.Byte, values: func(i int) float64 { return float64(i % 9) }}, "only because its numbers are whole and few", "legend:"},
		"broken classes":      {"c.tif", fixture{crs: "EPSG:25831", kind: godal.Float32, values: func(i int) float64 { return float64(i % 9) }}, "stored as broken numbers", "legend:"},
		"unnamed class":       {"c.tif", fixture{crs: "EPSG:25831", kind: godal.Byte, side: names, values: func(i int) float64 { return float64(i%3) + 1 }}, "its names of classes leave out 3", "3: class 3"},
		"named no data":       {"c.tif", fixture{crs: "EPSG:25831", kind: godal.Byte, side: names, values: func(i int) float64 { return float64(i % 3) }}, "0 looks like a sign for no data", "missing: 0"},
		"one value":           {"c.tif", fixture{crs: "EPSG:25831", kind: godal.Float32, values: func(int) float64 { return 2.5 }}, "every known cell that was looked at holds 2.5", "c:"},
		"nothing known":       {"c.tif", fixture{crs: "EPSG:25831", kind: godal.Float32, nodata: ptr(2.5), values: func(int) float64 { return 2.5 }}, "no cell that was looked at is known", "c:"},
		"no CRS":              {"c.tif", fixture{kind: godal.Float32, values: slope}, "does not say in which coordinate reference system", "crs: EPSG:…"},
		"no CRS, degrees":     {"c.tif", fixture{affine: [6]float64{3, 0.001, 0, 56, 0, -0.001}, kind: godal.Float32, values: slope}, "its bounds look like degrees", "crs: EPSG:4326"},
		"geographic":          {"c.tif", fixture{crs: "EPSG:4326", affine: [6]float64{3, 0.001, 0, 56, 0, -0.001}, kind: godal.Float32, values: slope}, "grid: {crs: EPSG:25831, cell: 80 m}", "c:"},
		"no degrees":          {"c.tif", fixture{crs: "EPSG:4326", kind: godal.Float32, values: slope}, "it says it lies in degrees, but its bounds", "c:"},
		"swapped degrees":     {"c.tif", fixture{crs: "EPSG:4326", affine: [6]float64{40, 0.001, 0, 140, 0, -0.001}, kind: godal.Float32, values: slope}, "its axes look swapped: it reaches from 139.97 to 140 in latitude", "c:"},
		"degrees as metres":   {"c.tif", fixture{crs: "EPSG:25831", affine: [6]float64{3, 0.001, 0, 56, 0, -0.001}, kind: godal.Float32, values: slope}, "look like degrees", "c:"},
		"swapped metres":      {"c.tif", fixture{crs: "EPSG:27700", affine: [6]float64{800000, 20, 0, 250000, 0, -20}, kind: godal.Float32, values: slope}, "it lies outside the ground that OSGB36", "c:"},
		"swapped UTM":         {"c.tif", fixture{crs: "EPSG:32631", affine: [6]float64{5600000, 20, 0, 500000, 0, -20}, kind: godal.Float32, values: slope}, "its axes look swapped", "c:"},
		"web map":             {"c.tif", fixture{crs: "EPSG:3857", affine: [6]float64{334000, 20, 0, 7558000, 0, -20}, kind: godal.Float32, values: slope}, "a metre of its coordinate reference system is 0.56 m on the ground", "c:"},
		"aslant":              {"c.tif", fixture{crs: "EPSG:25831", affine: [6]float64{500000, 12, 16, 6200000, 16, -12}, kind: godal.Float32, values: slope}, "its cells lie aslant", "c:"},
		"missing grid file":   {"c.tif", fixture{crs: "EPSG:27700", affine: [6]float64{400000, 20, 0, 300000, 0, -20}, kind: godal.Float32, values: slope}, "install the missing grid file", "c:"},
		"many bands":          {"c.tif", fixture{crs: "EPSG:25831", kind: godal.Float32, bands: 2, values: slope}, "it has 2 bands => say which one", "band: 1"},
		"picture":             {"c.tif", fixture{crs: "EPSG:25831", kind: godal.Byte, bands: 3, values: func(i int) float64 { return float64(i % 200) }}, "it looks like a picture", "band: 1"},
		"complex":             {"c.tif", fixture{crs: "EPSG:25831", kind: godal.CFloat32, values: slope}, "it holds complex numbers", "c:"},
	} {
		t.Run(name, func(t *testing.T) {
			m := seen(t, c.make(t, c.file))
			got := m.suspicions()
			if c.want == "" && got != "" || !strings.Contains(got, c.want) {
				t.Errorf("suspicions: %q, want %q", got, c.want)
			}
			if !strings.Contains(m.Plan, c.plan) {
				t.Errorf("plan: %s, want %q", m.Plan, c.plan)
			}
			if _, err := plan.Read("p.yaml", []byte(whole(m))); err != nil {
				t.Errorf("plan: %v\n%s", err, m.Plan)
			}
			if c.plan == "c:" && strings.Contains(m.Plan, "missing:") {
				t.Errorf("plan: %s", m.Plan)
			}
		})
	}
}

const names = `<PAMDataset><PAMRasterBand band="1"><CategoryNames><Category>no data</Category><Category>sea</Category><Category>fen</Category></CategoryNames></PAMRasterBand></PAMDataset>`

func scaled(s float64) func(*godal.Dataset) error {
	return func(ds *godal.Dataset) error { return ds.SetScaleOffset(s, 0) }
}

// For a CRS that names an ellipsoid and no datum no shift is known.
func TestBallpark(t *testing.T) {
	own := "+proj=tmerc +lat_0=50 +lon_0=3 +x_0=500000 +ellps=bessel +units=m"
	m := seen(t, fixture{crs: own, affine: [6]float64{500000, 20, 0, 100000, 0, -20}, kind: godal.Float32, values: func(i int) float64 { return float64(i) / 3 }}.make(t, "c.tif"))
	if got := m.suspicions(); !strings.Contains(got, "only a ballpark transformation") || !strings.Contains(got, "accept ballpark: yes") {
		t.Errorf("%s", got)
	}
}

func TestFeatureSuspicions(t *testing.T) {
	for name, c := range map[string]struct {
		path string
		want string
	}{
		"NULLs":   {as(t, geology, "a.gpkg", "GPKG"), `the field "rock" is empty in 1 of 4 features`},
		"empty":   {as(t, geology, "a.gpkg", "GPKG", "-where", "depth = 99", "-nlt", "POLYGON"), "it is empty"},
		"area":    {as(t, geology, "a.gpkg", "GPKG", "-where", "OBJECTID = 1"), "say area: "},
		"lines":   {as(t, strings.NewReplacer(`"Polygon","coordinates":[[`, `"LineString","coordinates":[`, "]]]}}", "]]}}").Replace(geology), "a.gpkg", "GPKG"), "it holds lines, which cover no ground"},
		"old crs": {as(t, geology, "a.geojson", "GeoJSON", "-t_srs", "EPSG:25831"), "has a `crs` member"},
		"swapped": {as(t, strings.NewReplacer("[3", "[120.3", "55.", "35.").Replace(geology), "a.gpkg", "GPKG", "-s_srs", "EPSG:4326", "-t_srs", "EPSG:4326", "-ct", "+proj=axisswap +order=2,1"), "its axes look swapped"},
	} {
		if got := seen(t, c.path).suspicions(); !strings.Contains(got, c.want) {
			t.Errorf("%s: %q, want %q", name, got, c.want)
		}
	}
}

// A shapefile without .prj in a code page of old.
func TestOldShapefile(t *testing.T) {
	path := as(t, strings.ReplaceAll(geology, "clay", "grès"), "a.shp", "ESRI Shapefile", "-lco", "ENCODING=")
	must(t, os.Remove(strings.TrimSuffix(path, "shp")+"prj"))
	m := seen(t, path)
	if got := m.suspicions(); !strings.Contains(got, "does not say in which coordinate reference system") || !strings.Contains(got, "crs: EPSG:4326") {
		t.Errorf("%s", got)
	}
	if !strings.Contains(m.Plan, "field: rock") || !strings.Contains(m.Plan, "crs: EPSG:4326") {
		t.Errorf("%s", m.Plan)
	}
}

func TestManyLayers(t *testing.T) {
	path := as(t, geology, "a.gpkg", "GPKG")
	src, err := godal.Open(write(t, "in.geojson", strings.Replace(geology, "plateau sand", "peat", 1)), godal.VectorOnly())
	must(t, err)
	defer src.Close()
	dst, err := src.VectorTranslate(path, []string{"-f", "GPKG", "-update", "-nln", "drift"})
	must(t, err)
	must(t, dst.Close())
	m := seen(t, path)
	if len(m.Layers) != 2 || !strings.Contains(m.suspicions(), "it holds 2 layers") || !strings.Contains(m.suspicions(), `layer "drift" the field "rock" is empty`) || !strings.Contains(m.Plan, "layer: ") {
		t.Errorf("%d layers\n%s\n%s", len(m.Layers), m.suspicions(), m.Plan)
	}
}

func TestStandIns(t *testing.T) {
	byteBand := &maps.InspectedBand{Whole: true, Low: 0, High: 255}
	floatBand := &maps.InspectedBand{}
	run := func(low, high int, more ...float64) []float64 {
		var out []float64
		for i := low; i <= high; i++ {
			out = append(out, float64(i), float64(i))
		}
		return append(out, more...)
	}
	for name, c := range map[string]struct {
		known   []float64
		band    *maps.InspectedBand
		classes bool
		want    []float64
	}{
		"none":                        {run(1, 100), floatBand, false, nil},
		"nothing":                     {nil, floatBand, false, nil},
		"bytes to the end":            {run(0, 255), byteBand, false, nil},
		"marks of land cover":         {run(1, 11, 253, 254, 255), byteBand, true, []float64{253, 254, 255}},
		"a class far off is a class":  {run(1, 5, 100), byteBand, true, nil},
		"zero next to the others":     {run(0, 90), byteBand, false, nil},
		"zero apart":                  {run(60, 90, 0), byteBand, false, []float64{0}},
		"a lone high value is real":   {run(1, 10, 80), floatBand, false, nil},
		"the same high value is not":  {run(1, 10, 80, 80), floatBand, false, []float64{80}},
		"two values are no range":     {[]float64{0, 255}, byteBand, false, nil},
		"both ends":                   {run(100, 120, 0, 0, 9999, 9999), floatBand, false, []float64{0, 9999}},
		"stand-ins count by one cell": {run(1, 9, -99999), floatBand, false, []float64{-99999}},
	} {
		var got []float64
		for _, s := range standIns(steps(c.known), c.band, c.classes) {
			got = append(got, s.x)
		}
		if len(got) != len(c.want) {
			t.Errorf("%s: %v, want %v", name, got, c.want)
			continue
		}
		for i := range got {
			if got[i] != c.want[i] {
				t.Errorf("%s: %v, want %v", name, got, c.want)
			}
		}
	}
}

func TestHistogram(t *testing.T) {
	all := steps([]float64{1, 2, 3, 4, 5, 6, 7, 8, 9, 10})
	sum := 0.0
	bins := histogram(all, func(x float64) float64 { return -x / 10 })
	for i, b := range bins {
		sum += b.Share
		if b.To <= b.From || i > 0 && b.From != bins[i-1].To {
			t.Errorf("%+v", bins)
		}
	}
	if math.Abs(sum-1) > 1e-5 || len(bins) > mostBins || bins[0].From != -1 {
		t.Errorf("%+v", bins)
	}
	if one := histogram(steps([]float64{7, 7}), func(x float64) float64 { return x }); len(one) != 1 || one[0] != (Bin{7, 7, 1}) {
		t.Errorf("%+v", one)
	}
}
