package vector

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"os/exec"
	"strings"
	"testing"

	"likelyground/vector/where"
)

// many is a map of small squares with texts, numbers and NULLs.
func many(n int) string {
	r := rand.New(rand.NewPCG(3, 3))
	kinds := []string{`"oak"`, `"Oak"`, `"oak wood"`, `"birch"`, `"O'Dea"`, `""`, `null`}
	heights := []string{"0", "5", "5.5", "12", "-3", "null"}
	var b strings.Builder
	b.WriteString(`{"type":"FeatureCollection","name":"many","features":[`)
	for i := range n {
		if i > 0 {
			b.WriteString(",\n")
		}
		x := float64(i) / 1000
		fmt.Fprintf(&b, `{"type":"Feature","properties":{"place":%d,"kind":%s,"height":%s},"geometry":{"type":"Polygon","coordinates":[[[%g,0],[%g,0],[%g,1],[%g,0]]]}}`,
			i, kinds[r.IntN(len(kinds))], heights[r.IntN(len(heights))], x, x+0.001, x, x)
	}
	return b.String() + "]}"
}

// places reads which features a condition leaves.
func places(t *testing.T, path, condition string) []string {
	t.Helper()
	l, err := OpenWith(path, Options{Where: condition})
	if err != nil {
		t.Fatal(condition, err)
	}
	defer l.Close()
	var out []string
	counts, err := l.Each([]string{"place"}, func(f *Feature) error {
		if len(f.Values) != 1 {
			t.Fatalf("values %v", f.Values)
		}
		out = append(out, f.Values[0].String())
		return nil
	})
	if err != nil || counts.LeftOut+len(out) != counts.Features || counts.Features != l.Count {
		t.Fatalf("%s: %d left, %+v, %v", condition, len(out), counts, err)
	}
	return out
}

// SQLite, through GDAL's Python, is the referee: a GeoPackage hands its
// filter to SQLite as it stands. LIKE there takes no notice of capitals.
func TestConditionAgainstSQLite(t *testing.T) {
	path := as(t, many(400), "many.gpkg", "GPKG")
	conditions := []string{
		`kind = 'oak'`, `kind <> 'oak'`, `NOT kind = 'oak'`, `kind IS NULL`, `kind IS NOT NULL AND height IS NULL`,
		`kind IN ('oak', 'O''Dea') AND height BETWEEN 0 AND 5.5`, `height NOT BETWEEN 0 AND 5`, `kind NOT IN ('oak', 'birch')`,
		`kind ILIKE 'oak%'`, `kind ILIKE '_ak'`, `NOT kind ILIKE '%o%'`, `kind < 'a' OR height >= 12`,
		`NOT (kind = 'oak' AND height > 5)`, `"kind" = '' OR "height" = -3 AND place > 100`, `place > height AND height <> 12`, `kind > 'birch' AND place <= 2.5e2`,
	}
	const referee = `
import sys
from osgeo import ogr
ogr.UseExceptions()
source = ogr.Open(sys.argv[1]) # a layer does not outlive it
layer = source.GetLayer()
for condition in sys.argv[2:]:
    layer.SetAttributeFilter(condition.replace("ILIKE", "LIKE"))
    print(*[f["place"] for f in layer])`
	text, err := exec.Command("/usr/bin/python3", append([]string{"-c", referee, path}, conditions...)...).Output()
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(string(text), "\n")
	for i, condition := range conditions {
		got := places(t, path, condition)
		if strings.Join(got, " ") != lines[i] || len(got) == 0 || len(got) == 400 {
			t.Errorf("%s: %.20s…, want %.20s…", condition, strings.Join(got, " "), lines[i])
		}
	}
}

// A condition takes the same features out of every format.
func TestConditionOfEveryFormat(t *testing.T) {
	text := strings.ReplaceAll(many(60), `""`, `"-"`) // a shapefile keeps no empty text
	condition := `(kind ILIKE 'oak%' OR kind IS NULL) AND (height > 0 OR height IS NULL)`
	want := fmt.Sprint(places(t, file(t, "many.geojson", text), condition))
	for name, path := range map[string]string{
		"GeoPackage": as(t, text, "many.gpkg", "GPKG"), "shapefile": as(t, text, "many.shp", "ESRI Shapefile"),
		"SQLite": as(t, text, "many.sqlite", "SQLite"), "GML": as(t, text, "many.gml", "GML"),
	} {
		if got := fmt.Sprint(places(t, path, condition)); got != want || len(got) < 10 {
			t.Errorf("%s: %s, want %s", name, got, want)
		}
	}
}

func TestConditionProblems(t *testing.T) {
	path := file(t, "many.geojson", many(5))
	for condition, want := range map[string]string{
		`kind =`:                        `layer "many": the condition kind = cannot be used: at its character 7: a text in single quotes or a number should stand there`,
		`kind = 'oak'; DROP TABLE many`: `";" means nothing there`,
		`kind = 'oak' UNION SELECT * FROM '/etc'`: `"*" means nothing there`,
		`kimd = 'oak'`:    `there is no field "kimd"`,
		`kind = 5`:        `the field "kind" holds texts, and 5 is a number`,
		`height = 'high'`: `the field "height" holds numbers, and 'high' is a text`,
		`height = 5 AND ogr_geocode('x') IS NULL`:   `after the field "ogr_geocode"`,
		`place IN (SELECT place FROM many LIMIT 1)`: `a text in single quotes or a number should stand there, not "SELECT"`,
	} {
		_, err := OpenWith(path, Options{Where: condition})
		var p *Problem
		if !errors.As(err, &p) || !strings.Contains(err.Error(), want) || p.Remedy() == "" {
			t.Errorf("%s: %v", condition, err)
		}
	}
	_, err := OpenWith(path, Options{Where: `kimd = 'oak'`})
	var p *Problem
	if !errors.As(err, &p) || !strings.Contains(p.Remedy(), `"kind"`) {
		t.Errorf("remedy of %v", err)
	}
	var w *where.Error
	if _, err := OpenWith(path, Options{Where: `kind =`}); !errors.As(err, &w) || w.At != 7 {
		t.Errorf("cause of %v", err)
	}
}

// Old text is read before it is compared.
func TestConditionOnOldText(t *testing.T) {
	path := as(t, strings.ReplaceAll(things, "grès", "gr?s"), "a.shp", "ESRI Shapefile")
	table := strings.TrimSuffix(path, ".shp") + ".dbf"
	data := []byte(strings.Replace(readText(t, table), "gr?s", "gr\xe8s", 1))
	writeBytes(t, table, data)
	l, err := OpenWith(path, Options{Where: `rock = 'grès'`})
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	n := 0
	if _, err := l.Each(nil, func(*Feature) error { n++; return nil }); err != nil || n != 1 {
		t.Errorf("%d features, %v", n, err)
	}
}
