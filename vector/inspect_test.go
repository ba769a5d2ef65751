package vector

import (
	"errors"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
)

func inspected(t *testing.T, path string) *Inspection {
	t.Helper()
	in, err := Inspect(path)
	if err != nil {
		t.Fatal(err)
	}
	return in
}

func TestInspect(t *testing.T) {
	for name, format := range map[string]string{"a.geojson": "GeoJSON", "a.gpkg": "GPKG"} {
		l := inspected(t, as(t, things, name, format)).Layers[0]
		fields := map[string]InspectedField{}
		for _, f := range l.Fields {
			fields[f.Name] = f
		}
		if l.Count != 4 || l.Read != 4 || l.CRS == "" || l.Extent == nil || *l.Extent != [4]float64{0, 0, 21, 9} {
			t.Errorf("%s: %+v", name, l)
		}
		rock := fields["rock"]
		want := []TextCount{{"grès", 1}, {"sand", 1}}
		if rock.Kind != Text || rock.Null != 1 || rock.Empty != 1 || !reflect.DeepEqual(rock.Texts, want) {
			t.Errorf("%s: rock: %+v", name, rock)
		}
		code := fields["code"]
		if code.Kind != Integer || code.Null != 1 || code.Low != -1 || code.High != 7 || len(code.Texts) != 3 {
			t.Errorf("%s: code: %+v", name, code)
		}
		depth := fields["depth"]
		if depth.Kind != Real || depth.Null != 1 || depth.Low != -0.5 || depth.High != 2.5 || depth.Texts != nil {
			t.Errorf("%s: depth: %+v", name, depth)
		}
	}
}

// Points, a layer without features and one without CRS are told, not refused.
func TestInspectWhatOpenRefuses(t *testing.T) {
	points := `{"type":"FeatureCollection","features":[{"type":"Feature","properties":{},"geometry":{"type":"Point","coordinates":[1,2]}}]}`
	l := inspected(t, as(t, points, "p.gpkg", "GPKG", "-nlt", "POINT")).Layers[0]
	if l.Shapes != "points" || l.Count != 1 || l.Read != 1 {
		t.Errorf("points: %+v", l)
	}
	shape := as(t, things, "a.shp", "ESRI Shapefile")
	if err := os.Remove(strings.TrimSuffix(shape, "shp") + "prj"); err != nil {
		t.Fatal(err)
	}
	if l = inspected(t, shape).Layers[0]; l.CRS != "" || l.Shapes != "polygons" || l.Read != 4 {
		t.Errorf("no CRS: %+v", l)
	}
	l = inspected(t, as(t, things, "e.gpkg", "GPKG", "-where", "code = 99", "-nlt", "MULTIPOLYGON")).Layers[0]
	if l.Count != 0 || l.Extent != nil || l.Fields != nil {
		t.Errorf("empty: %+v", l)
	}
}

func TestInspectProblems(t *testing.T) {
	for path, want := range map[string]string{
		filepath.Join(t.TempDir(), "none.gpkg"): "no such file",
		file(t, "x.gpkg", "hello"):              "",
		file(t, "x.geojson", `{"type":`):        "",
	} {
		_, err := Inspect(path)
		var p *Problem
		if !errors.As(err, &p) || !strings.Contains(p.Error(), want) || p.Remedy() == "" {
			t.Errorf("%s: %v, want %q", path, err, want)
		}
	}
}

func TestFieldTally(t *testing.T) {
	var many fieldTally
	for i := range mostTexts + 3 {
		many.take(Value{Kind: Integer, Whole: int64(i)})
	}
	if f := many.field(Field{}); len(f.Texts) != mostTexts || f.Uncounted != 3 || f.High != mostTexts+2 {
		t.Errorf("%d texts, %d uncounted, up to %v", len(f.Texts), f.Uncounted, f.High)
	}
	var long fieldTally
	long.take(Value{Kind: Text, Text: strings.Repeat("ö", longestText)})
	if got := long.field(Field{}).Texts[0].Text; len(got) > longestText+len("…") || !strings.HasSuffix(got, "ö…") {
		t.Errorf("a long text: %d bytes", len(got))
	}
	var odd fieldTally
	odd.take(Value{Kind: Real, Number: math.NaN()})
	odd.take(Value{Kind: Text, Text: " \t"})
	if f := odd.field(Field{}); !math.IsNaN(f.Low) || f.Empty != 1 || f.Texts != nil {
		t.Errorf("%+v", f)
	}
	var tie fieldTally
	for _, text := range []string{"b", "a", "c", "c"} {
		tie.take(Value{Kind: Text, Text: text})
	}
	if got, want := tie.field(Field{}).Texts, []TextCount{{"c", 2}, {"a", 1}, {"b", 1}}; !reflect.DeepEqual(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
}
