package look

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/airbusgeo/godal"

	"likelyground/habitat/plan"
)

// someOf makes a Byte raster of a few codes in turn.
func someOf(t *testing.T, name, crs string, affine [6]float64, codes ...float64) string {
	return fixture{crs: crs, affine: affine, kind: godal.Byte, values: func(i int) float64 { return codes[i%len(codes)] }}.make(t, name)
}

var (
	laea    = [6]float64{4000000, 100, 0, 3200000, 0, -100}
	degrees = [6]float64{3, 1. / 12000, 0, 55, 0, -1. / 12000}
)

// TestProducts: a known product is proposed with its reason; the lines are a
// plan's, and the legend stands in them alone.
func TestProducts(t *testing.T) {
	for _, c := range []struct {
		path, want string
		year       int
		why        string
	}{
		{someOf(t, "ESA_WorldCover_10m_2021_v200_N51E003_Map.tif", "EPSG:4326", degrees, 10, 30, 80), "worldcover", 2021, `the file's name speaks of "worldcover", it lies as that product does (EPSG:4326, cells of 1/12000 of a degree)`},
		{someOf(t, "tile.tif", "EPSG:4326", degrees, 10, 30, 80), "worldcover", 0, "it lies as that product does"},
		{someOf(t, "U2018_CLC2018_V2020_20u1.tif", "EPSG:3035", laea, 2, 12, 18, 23, 48), "corine", 2018, "all codes found are its own, 4 of its classes"},
		{someOf(t, "DLT_2018_010m.tif", "EPSG:3035", laea, 0, 1, 2, 255), "leaf type", 2018, "dlt"},
		{someOf(t, "TCD_2018_010m.tif", "EPSG:3035", laea, 0, 17, 60, 254), "tree cover", 2018, "its numbers are percent, or 254 and 255"},
	} {
		m := seen(t, c.path)
		p, err := plan.Read("p.yaml", []byte(whole(m)))
		if err != nil {
			t.Errorf("%s: %v\n%s", c.path, err, m.Plan)
			continue
		}
		got := entry(p, m.Name)
		if got.Legend == nil || got.Legend.BuiltIn != c.want || got.Year != c.year || got.Missing.Given() || m.Bands[0].BuiltIn != c.want {
			t.Errorf("%s: %+v\n%s", c.path, got, m.Plan)
		}
		if s := m.suspicions(); !strings.Contains(s, c.why) || !strings.Contains(s, "nothing is taken from it until a plan says so") {
			t.Errorf("%s: %s, want %q", c.path, s, c.why)
		}
		for _, class := range m.Bands[0].Classes {
			if class.Name != "" {
				t.Errorf("%s: the name %q is applied unasked", c.path, class.Name)
			}
		}
	}
}

// TestProductRemarks: what the codes would be stands beside, no data too.
func TestProductRemarks(t *testing.T) {
	m := seen(t, someOf(t, "DLT_2018_010m.tif", "EPSG:3035", laea, 0, 1, 2, 255))
	for _, want := range []string{"    # 1 is Broadleaved trees, 25 % of the cells\n", "    # 255 is Outside area, missing by the legend, 25 % of the cells\n"} {
		if !strings.Contains(m.Plan, want) {
			t.Errorf("%q is not in\n%s", want, m.Plan)
		}
	}
	if got := m.suspicions(); !strings.Contains(got, "255 means no data in the legend leaf type, and nothing else declares it") {
		t.Errorf("%s", got)
	}
}

// TestNoProduct: a code that is not its own, names of its own and codes of
// anybody's leave a map without.
func TestNoProduct(t *testing.T) {
	for name, path := range map[string]string{
		"another code":   someOf(t, "worldcover.tif", "EPSG:4326", degrees, 10, 30, 45),
		"anybody's tens": someOf(t, "cover.tif", "EPSG:25831", utm, 10, 20, 30, 40, 50),
		"one to five":    someOf(t, "cover.tif", "EPSG:25831", utm, 1, 2, 3, 4, 5),
	} {
		if m := seen(t, path); strings.Contains(m.Plan, "built in") || m.Bands[0].BuiltIn != "" {
			t.Errorf("%s: %s", name, m.Plan)
		}
	}
	path := someOf(t, "worldcover.tif", "EPSG:4326", degrees, 10, 30)
	beside := strings.TrimSuffix(path, ".tif") + "_legend.csv"
	must(t, os.WriteFile(beside, []byte("code,name\n10,mine\n30,yours\n"), 0o644))
	if m := seen(t, path); strings.Contains(m.Plan, "built in") || !strings.Contains(m.Plan, beside) {
		t.Errorf("%s", m.Plan)
	}
}

// lands is a layer whose text field has four values in turn.
func lands(field string, texts ...string) string {
	var all []string
	for i := range 4 * len(texts) {
		x := 3 + float64(i)/100
		all = append(all, fmt.Sprintf(`{"type":"Feature","properties":{"ID":"EU_%d",%q:%q},"geometry":{"type":"Polygon","coordinates":[[[%g,55],[%g,55],[%g,55.1],[%g,55]]]}}`, i, field, texts[i%len(texts)], x, x+0.01, x+0.01, x))
	}
	return `{"type":"FeatureCollection","name":"lands","features":[` + strings.Join(all, ",\n") + `]}`
}

func TestFieldProducts(t *testing.T) {
	const cgi = "http://resource.geosciml.org/classifier/cgi/lithology/"
	for _, c := range []struct{ field, texts, want string }{
		{"Code_18", "112 211 311 512", "{built in: corine}"},
		{"lith", cgi + "granite " + cgi + "peat " + cgi + "sand " + cgi + "chalk", "{built in: simple lithology}"},
		{"xx", "su ss sc mt", "{built in: glim}"},
		{"kind", "http://x.org/a http://x.org/b http://x.org/c", "match: last part"},
		{"rock", "clay sand peat", ""},
	} {
		m := seen(t, as(t, lands(c.field, strings.Fields(c.texts)...), "lands.gpkg", "GPKG"))
		if _, err := plan.Read("p.yaml", []byte(whole(m))); err != nil {
			t.Errorf("%s: %v", c.field, err)
		}
		if !strings.Contains(m.Plan, "field: "+c.field) || !strings.Contains(m.Plan, c.want) || c.want == "" && (strings.Contains(m.Plan, "legend") || strings.Contains(m.Plan, "match")) {
			t.Errorf("%s: want %q\n%s", c.field, c.want, m.Plan)
		}
		if strings.Contains(c.want, "built in") != strings.Contains(m.suspicions(), "its field \""+c.field+"\" looks like") {
			t.Errorf("%s: %s", c.field, m.suspicions())
		}
	}
}
