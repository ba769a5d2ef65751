package habitat

import (
	"context"
	"encoding/json"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"likelyground/habitat/ellerdown"
	"likelyground/raster"
	"likelyground/raster/maps"
	"likelyground/raster/pipe"
)

// written reads a band of a run's output back.
func written(t *testing.T, file string, band int) raster.Tile {
	t.Helper()
	spec := maps.RasterSpec{Name: "written", Files: []string{file}, Band: band, MissingNone: true}
	h, err := maps.ReadHeader(spec)
	if err != nil {
		t.Fatal(err)
	}
	g := uprightGrid(h)
	r, err := maps.OpenRaster(spec, g)
	if err != nil {
		t.Fatal(err)
	}
	reader, err := r.Reader()
	if err != nil {
		t.Fatal(err)
	}
	out := raster.NewTile(g.Window())
	if err := errors.Join(reader.Read(out, nil), reader.Close(), r.Close()); err != nil {
		t.Fatal(err)
	}
	return out
}

func sameValue(a *float32, b float32) bool {
	if a == nil {
		return b != b
	}
	return math.Float32bits(*a) == math.Float32bits(b)
}

// TestExplainAgreesWithRun: at cells all over the Ellerdown Hills score,
// factors and coverage are, to the bit, what a run writes there.
func TestExplainAgreesWithRun(t *testing.T) {
	dir := t.TempDir()
	if err := maps.Setup(0); err != nil {
		t.Fatal(err)
	}
	ctx := context.Background()
	if err := ellerdown.Draw(ctx, dir, ellerdown.Options{Size: ellerdown.Size{Cols: 300, Rows: 240}, GeoTags: maps.GeoTags}); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(dir, ellerdown.PlanName)
	run, err := Run(ctx, file, Options{})
	if err != nil {
		t.Fatal(err)
	}
	o := Options{}.settled()
	d := &desk{file: file}
	defer d.close()
	if err := errors.Join(d.read(), d.open(ctx, o, t.TempDir())); err != nil {
		t.Fatal(err)
	}
	var bands []raster.Tile
	for i := range len(d.plan.Factors) + 1 {
		bands = append(bands, written(t, filepath.Join(run.Out, factorsFile), i+1))
	}
	score := written(t, filepath.Join(run.Out, scoreFile), 1)
	states := map[string]int{}
	random := rand.New(rand.NewPCG(1, 2))
	for range 120 {
		col, row := random.IntN(d.grid.Cols), random.IntN(d.grid.Rows)
		e := &explaining{desk: d, at: raster.Window{Col: col, Row: row, Cols: 1, Rows: 1}, tiles: map[*pipe.Node]raster.Tile{}}
		if err := e.evaluate(ctx, o); err != nil {
			t.Fatal(err)
		}
		w, err := e.why(askedPlace{})
		if err != nil {
			t.Fatal(err)
		}
		states[w.State]++
		if !sameValue(w.Score, score.Value(col, row)) || (w.State == "scored") != (w.Score != nil) {
			t.Fatalf("%d, %d: %s, score %s, the run wrote %g", col, row, w.State, scoreWords(w.Score), score.Value(col, row))
		}
		if w.State == "outside the area" {
			continue
		}
		for i, f := range w.Factors {
			if !sameValue(f.Score, bands[i].Value(col, row)) {
				t.Fatalf("%d, %d: %s scores %s, the run wrote %g", col, row, f.Name, scoreWords(f.Score), bands[i].Value(col, row))
			}
		}
		if c := bands[len(w.Factors)].Value(col, row); w.Coverage != c {
			t.Fatalf("%d, %d: coverage %g, the run wrote %g", col, row, w.Coverage, c)
		}
		if len(w.Wrong) > 0 {
			t.Fatalf("%d, %d: %q", col, row, w.Wrong)
		}
		if text := w.Words(); !strings.Contains(text, "Layers") {
			t.Fatal(text)
		}
	}
	if states["scored"] < 40 || len(states) < 2 {
		t.Errorf("too little was compared: %v", states)
	}
}

// smallPlan has 3 × 3 cells of 10 m, of which the third column lies beside
// the area.
const smallPlan = `format: 1
area: {box: [500000, 6000000, 500024, 6000030], crs: EPSG:25831}
grid: {like: ground}
maps:
  ground: {file: ground.asc, unit: m, crs: EPSG:25831}
  soil: {file: soil.asc, unit: pH, crs: EPSG:25831}
  cover: {file: cover.asc, classes: yes, crs: EPSG:25831}
  rock: {file: rock.geojson, field: rock, crs: EPSG:25831}
factors:
  acid soil: {from: soil, curve: {5: 1, 7: 0}, weight: 3}
  rock: {best of: {bed: {from: rock, scores: {sand: 1, clay: 0.5}}, woods: {from: cover, scores: {2: 0.25}, others: 0}}}
rule: mean
keep out: [{map: cover, of: [9]}]
`

const smallHead = "ncols 4\nnrows 3\nxllcorner 500000\nyllcorner 6000000\ncellsize 10\nNODATA_value -9999\n"

// layPlan writes a plan and its files and returns the plan's path.
func layPlan(t *testing.T, plan string, files map[string]string) string {
	t.Helper()
	dir := t.TempDir()
	files["plan.yaml"] = plan
	for name, text := range files {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	return filepath.Join(dir, "plan.yaml")
}

func smallFiles() map[string]string {
	return map[string]string{
		"ground.asc": smallHead + "-9999 110 120 130\n100 110 120 130\n100 110 120 130\n",
		"soil.asc":   smallHead + "5 5 5 5\n5 6 5 5\n5 -9999 5 5\n",
		"cover.asc":  smallHead + "1 1 1 1\n1 2 1 1\n9 1 1 1\n",
		"rock.geojson": `{"type":"FeatureCollection","features":[
{"type":"Feature","properties":{"rock":"sand"},"geometry":{"type":"Polygon","coordinates":[[[500000,6000000],[500020,6000000],[500020,6000030],[500000,6000030],[500000,6000000]]]}},
{"type":"Feature","properties":{"rock":"clay"},"geometry":{"type":"Polygon","coordinates":[[[500020,6000000],[500040,6000000],[500040,6000030],[500020,6000030],[500020,6000000]]]}}]}`,
	}
}

// TestExplainStates tells every cell of a small ground by hand.
func TestExplainStates(t *testing.T) {
	file := layPlan(t, smallPlan, smallFiles())
	for _, c := range []struct {
		place, state string
		score        float32 // NaN: none
		soil         string
		words        string
	}{
		{"500015 6000015", "scored", 0.625, "6 pH", "Limits most: acid soil, 100 % of the loss"},
		{"500015, 6000005", "scored", 1, "missing", "Unknown here: acid soil"},
		{"500005 6000015", "scored", 1, "5 pH", "polygon of 0.06 ha in"},
		{"500005 6000005", "kept out", float32(math.NaN()), "5 pH", "kept out (code 9 of cover)"},
		{"500005 6000025", "no ground", float32(math.NaN()), "5 pH", "number -9999 there means missing"},
		{"500025 6000015", "outside the area", float32(math.NaN()), "5 pH", "outside the plan's area"},
	} {
		w, err := Explain(context.Background(), file, c.place, Options{})
		if err != nil {
			t.Fatal(err)
		}
		text := w.Words()
		soil := w.Layers[3]
		if w.State != c.state || !sameValue(w.Score, c.score) || soil.Name != "soil" || soil.valueWords() != c.soil || !strings.Contains(text, c.words) {
			t.Errorf("%s: %s, score %s, soil %s\n%s", c.place, w.State, scoreWords(w.Score), soil.valueWords(), text)
		}
		if _, err := json.Marshal(w); err != nil {
			t.Error(err)
		}
		if len(w.Wrong) > 0 {
			t.Errorf("%s: %q", c.place, w.Wrong)
		}
	}
}

// TestExplainParts holds the cell in the middle to sums done by hand: soil
// scores 0.5 with three quarters of the weight, rock 1.
func TestExplainParts(t *testing.T) {
	w, err := Explain(context.Background(), layPlan(t, smallPlan, smallFiles()), "500015 6000015", Options{})
	if err != nil {
		t.Fatal(err)
	}
	soil, rock := w.Factors[0], w.Factors[1]
	if *soil.Score != 0.5 || *soil.Share != 0.75 || *soil.Adds != 0.375 || *soil.Loss != 1 || *rock.Adds != 0.25 || *rock.Loss != 0 {
		t.Errorf("%+v %+v", soil, rock)
	}
	if len(rock.Members) != 2 || rock.Members[0].Name != "bed" || !rock.Members[0].Best || rock.Members[1].Best || *rock.Members[1].Score != 0.25 {
		t.Errorf("%+v", rock.Members)
	}
	if w.Place.Col != 1 || w.Place.Row != 1 || w.Place.X != 500015 || w.Place.Y != 6000015 || w.Coverage != 1 {
		t.Errorf("%+v", w.Place)
	}
	for _, l := range w.Layers {
		switch s := l.Source; l.Name {
		case "soil":
			if *s.Col != 1 || *s.Row != 1 || *s.Number != 6 || s.WidthM != 10 || s.How != maps.Copied || filepath.Base(s.File) != "soil.asc" {
				t.Errorf("%+v", s)
			}
		case "cover":
			if *l.Code != 2 || *s.Number != 2 {
				t.Errorf("%+v %+v", l, s)
			}
		case "rock":
			if l.Class != "sand" || s.How != "polygon" || math.Abs(s.AreaHa-0.06) > 1e-12 || s.Beneath != 0 {
				t.Errorf("%+v %+v", l, s)
			}
		}
	}
}

// TestExplainWrong: what a run would refuse is told, and the place still
// explained.
func TestExplainWrong(t *testing.T) {
	file := layPlan(t, strings.Replace(smallPlan, ", clay: 0.5", "", 1), smallFiles())
	w, err := Explain(context.Background(), file, "500025 6000015", Options{})
	if err != nil || len(w.Wrong) != 0 { // beside the area nothing is judged
		t.Fatal(w, err)
	}
	files := smallFiles()
	files["soil.asc"] = strings.Replace(files["soil.asc"], "5 6 5 5", "5 32767 5 5", 1)
	if w, err = Explain(context.Background(), layPlan(t, smallPlan, files), "500015 6000015", Options{}); err != nil {
		t.Fatal(err)
	}
	if len(w.Wrong) != 1 || !strings.Contains(w.Wrong[0], "32767") || !strings.Contains(w.Words(), "A run would refuse this") {
		t.Errorf("%q", w.Wrong)
	}
}

// britishPlan has a grid of the British National Grid around Ben Nevis.
const britishPlan = `format: 1
grid: {like: ground}
maps: {ground: {file: ground.asc, unit: m, crs: EPSG:27700}}
factors: {height: {from: ground, curve: {0: 0, 1000: 1}}}
`

func britishFiles() map[string]string {
	var b strings.Builder
	b.WriteString("ncols 20\nnrows 20\nxllcorner 216600\nyllcorner 771200\ncellsize 10\n")
	for range 20 {
		b.WriteString(strings.Repeat("500 ", 20) + "\n")
	}
	return map[string]string{"ground.asc": b.String()}
}

// TestPlaces: one cell, told in every way. The middle of NN 166 712 lies on
// corners of cells, and goes right and below.
func TestPlaces(t *testing.T) {
	file := layPlan(t, britishPlan, britishFiles())
	for _, c := range []struct {
		place    string
		col, row int
	}{
		{"NN 166 712", 5, 15},
		{"nn1665571245", 5, 15},
		{"216655 771245", 5, 15},
		{"216655,771245", 5, 15},
	} {
		w, err := Explain(context.Background(), file, c.place, Options{})
		if err != nil {
			t.Fatal(err)
		}
		p := w.Place
		if p.Col != c.col || p.Row != c.row || p.Reference != "NN 16655 71245" || *w.Score != 0.5 {
			t.Errorf("%s: %+v", c.place, p)
		}
		var asked Why
		text, err := json.Marshal(w)
		if err = errors.Join(err, json.Unmarshal(text, &asked)); err != nil {
			t.Fatal(err)
		}
		if c.place != "NN 166 712" {
			continue
		}
		if p.SquareM != 100 || !strings.Contains(w.Words(), "larger than a cell") {
			t.Errorf("a square of %g m\n%s", p.SquareM, w.Words())
		}
		// Its own longitude and latitude lead back to the cell.
		back, err := json.Marshal([2]float64{*asked.Place.Lon, *asked.Place.Lat})
		if err != nil {
			t.Fatal(err)
		}
		again, err := Explain(context.Background(), file, strings.Trim(string(back), "[]"), Options{})
		if err != nil || again.Place.Col != c.col || again.Place.Row != c.row {
			t.Errorf("%s: %+v %v", back, again, err)
		}
	}
}

// TestNoPlaces: each refusal says what to write.
func TestNoPlaces(t *testing.T) {
	file := layPlan(t, britishPlan, britishFiles())
	for _, c := range []struct{ place, fix string }{
		{"", "grid reference"},
		{"5", "longitude and latitude"},
		{"1 2 3", "longitude and latitude"},
		{"nowhere", "TG 51409 13177"},
		{"NN 166 71", "same number of digits"},
		{"NN 266 712", "on the plan's grid"},
		{"0 0", "on the plan's grid"},
		{"1e300 1e300", "on the plan's grid"},
		{"NaN Inf", "TG 51409 13177"},
		{"771245 216655", "write 216655 771245"},
		{"56.797072,-5.003071", "write -5.003071 56.797072"},
	} {
		w, err := Explain(context.Background(), file, c.place, Options{})
		var fault *Fault
		if !errors.As(err, &fault) || !strings.Contains(fault.Remedy(), c.fix) {
			t.Errorf("%q: %+v %v, remedy %q", c.place, w, err, remedyOf(err))
		}
	}
}
