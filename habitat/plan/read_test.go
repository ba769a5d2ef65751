package plan

import (
	"errors"
	"math"
	"os"
	"reflect"
	"strings"
	"testing"
)

func load(t *testing.T, path string) *Plan {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	p, err := Read(path, data)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// small is a plan that tests change by replacing a piece of it.
const small = `format: 1
grid: {like: ground}
maps:
  ground: {file: dem.tif, unit: m}
  cover: {file: cover.tif}
derived:
  steepness: {slope: ground}
factors:
  low: {from: ground, curve: {100: 1, 200: 0}}
  trees: {from: cover, scores: {broadleaf: 1}, others: 0}
`

func read(t *testing.T, text string) *Plan {
	t.Helper()
	p, err := Read("p.yaml", []byte(text))
	if err != nil {
		t.Fatalf("%v\nin\n%s", err, text)
	}
	return p
}

// TestDesignPlan reads the plan that the design shows (without wetness, whose
// verb is none yet), value by value.
func TestDesignPlan(t *testing.T) {
	p := load(t, "testdata/good/ellerdown.yaml")
	if p.Title != "Ellerdown autumn searches" || p.Subject != "Hydnum repandum" || p.Area.File != "inputs/area.gpkg" || p.Grid.Like != "ground" {
		t.Errorf("head: %+v", p)
	}
	soil, ok := p.Map("soil")
	if !ok || *soil.Scale != 0.1 || soil.Unit != UnitPH || soil.Year != 2020 || soil.Licence != "CC-BY-4.0" || soil.Classes {
		t.Errorf("soil: %+v", soil)
	}
	rock, _ := p.Map("rock")
	if rock.Layer != "geology" || rock.Field != "rock" || !rock.Classes || rock.FieldAt.Line != 9 {
		t.Errorf("rock: %+v", rock)
	}
	cover, _ := p.Map("cover")
	if cover.Legend.File != "inputs/cover_legend.csv" || !cover.Classes {
		t.Errorf("cover: %+v", cover)
	}
	woods, ok := p.DerivedLayer("woodland")
	if !ok || woods.Verb != Share || woods.From != "cover" || woods.Within != 250 || woods.Of[0].Name != "broadleaf" {
		t.Errorf("woodland: %+v", woods)
	}
	heath, _ := p.DerivedLayer("to heath")
	if heath.UpTo != 500 || heath.Of[0].Name != "heath" {
		t.Errorf("to heath: %+v", heath)
	}
	var names []string
	for _, f := range p.Factors {
		names = append(names, f.Name)
	}
	if want := []string{"acid soil", "free-draining rock", "hosts", "near heath"}; !reflect.DeepEqual(names, want) {
		t.Errorf("factors are in the order %q", names)
	}
	if got, want := p.Factors[0].Curve, []Point{{4.5, 1}, {5.5, 1}, {6.3, 0}}; !reflect.DeepEqual(got, want) {
		t.Errorf("curve %v", got)
	}
	if s := p.Factors[1].Scores; *s.Others != 0 || s.Classes[1].Name != "sandstone" || s.Classes[1].Score != 0.9 {
		t.Errorf("scores %+v", s)
	}
	if h := p.Factors[2]; h.Group != BestOf || !h.Must || h.Weight != 3 || len(h.Members) != 2 || !h.Members[1].Straight {
		t.Errorf("hosts %+v", h)
	}
	if u := p.Factors[3].Unknown; u.Kind != Assume || u.Score != 0.4 {
		t.Errorf("unknown %+v", u)
	}
	if p.Rule.Kind != GeometricMean || p.Floor != 0.02 || p.Unknown.Kind != ShareOut || *p.KeepOut[1].Above != 35 {
		t.Errorf("rule %v floor %v keep out %+v", p.Rule, p.Floor, p.KeepOut)
	}
	if p.Hotspots != (Hotspots{From: 0.7, Least: 5000, Most: 40}) || p.Outputs != (Outputs{Score: true, Factors: true, Hotspots: true}) || len(p.Warnings) != 0 {
		t.Errorf("hotspots %v outputs %v warnings %v", p.Hotspots, p.Outputs, p.Warnings)
	}
}

func TestDefaults(t *testing.T) {
	p := load(t, "testdata/good/least.yaml")
	if p.Area != nil || p.Rule.Kind != GeometricMean || p.Floor != 0 || p.Unknown.Kind != ShareOut || p.Compare != nil {
		t.Errorf("%+v", p)
	}
	if p.Hotspots != (Hotspots{From: 0.7, Least: 5000, Most: 40}) || p.Outputs != (Outputs{Score: true, Factors: true, Hotspots: true}) {
		t.Errorf("%+v %+v", p.Hotspots, p.Outputs)
	}
	if f := p.Factors[0]; f.Weight != 1 || f.WeightPos != (Pos{}) || f.Must || f.Unknown != nil {
		t.Errorf("%+v", f)
	}
}

// TestUnits: one international foot is 0.3048 m (1959); 35 deg is a slope of
// 100 tan 35 = 70.0207538 percent; 4000 ft are 1219.2 m.
func TestUnits(t *testing.T) {
	p := load(t, "testdata/good/explicit_grid.yaml")
	near := func(what string, got, want float64) {
		t.Helper()
		if math.Abs(got-want) > 1e-6 {
			t.Errorf("%s is %v, want %v", what, got, want)
		}
	}
	near("cell width", p.Grid.DX, 10)
	near("cell height", p.Grid.DY, 20)
	smooth, _ := p.DerivedLayer("smooth")
	near("0.1 km", smooth.Within, 100)
	woods, _ := p.DerivedLayer("woods")
	near("100 ft", woods.Within, 30.48)
	near("35 deg in percent", *p.KeepOut[0].Above, 70.0207538)
	near("30 ft on a layer in metres", *p.KeepOut[1].Below, 9.144)
	near("1000 m on a map in feet", *p.KeepOut[2].Above, 3280.839895)
	near("a share", *p.KeepOut[3].Below, 0.1)
	near("2 km2", p.Hotspots.Least, 2e6)
}

func TestMissingForms(t *testing.T) {
	p := load(t, "testdata/good/explicit_grid.yaml")
	m, _ := p.Map("ground")
	if !reflect.DeepEqual(m.Missing.Values, []float64{-9999}) || len(m.Missing.Ranges) != 2 ||
		m.Missing.Ranges[0].Low != -400 || m.Missing.Ranges[1].High != 9999 || !m.Missing.Given() {
		t.Errorf("%+v", m.Missing)
	}
	cover, _ := p.Map("cover")
	if !cover.Missing.None || !cover.Missing.Given() {
		t.Errorf("%+v", cover.Missing)
	}
	if a := cover.WhereAbsent; !a.IsClass || !a.Class.IsCode || a.Class.Code != 7 {
		t.Errorf("a code where absent: %+v", a)
	}
	if a := m.WhereAbsent; a.IsClass || a.Number != 0 {
		t.Errorf("a number where absent: %+v", a)
	}
}

// TestClassesByUse: a map without legend is of classes where the plan scores
// its classes, and of amounts where a curve reads it.
func TestClassesByUse(t *testing.T) {
	p := read(t, small)
	cover, _ := p.Map("cover")
	ground, _ := p.Map("ground")
	if !cover.Classes || ground.Classes {
		t.Errorf("cover %v, ground %v", cover.Classes, ground.Classes)
	}
}

// TestDerivedOrder: each derived layer stands behind the one it is made from.
func TestDerivedOrder(t *testing.T) {
	p := read(t, strings.Replace(small, "steepness: {slope: ground}", "a: {slope: b}\n  b: {mean: c, within: 90 m}\n  c: {mean: ground, within: 9 m}", 1))
	var got []string
	for _, d := range p.Derived {
		got = append(got, d.Name)
	}
	if want := []string{"c", "b", "a"}; !reflect.DeepEqual(got, want) {
		t.Errorf("order %v", got)
	}
}

// TestCompareMatrix: the table is full and reciprocal, in the order of the
// factors, whichever way round a pair is written.
func TestCompareMatrix(t *testing.T) {
	p := load(t, "testdata/good/compare.yaml")
	want := [][]float64{{1, 0.5, 3}, {2, 1, 5}, {1.0 / 3, 0.2, 1}}
	if !reflect.DeepEqual(p.Compare.Names, []string{"low", "high", "clay"}) || !p.Compare.AcceptInconsistency {
		t.Errorf("%+v", p.Compare)
	}
	for i := range want {
		for j := range want[i] {
			if math.Abs(p.Compare.Matrix[i][j]-want[i][j]) > 1e-15 {
				t.Errorf("matrix %v", p.Compare.Matrix)
			}
		}
	}
}

func TestAliases(t *testing.T) {
	p := load(t, "testdata/good/aliases.yaml")
	if !reflect.DeepEqual(p.Factors[0].Curve, p.Factors[1].Curve) || p.Maps[0].Files[0].Text != "dem.tif" {
		t.Errorf("%+v", p)
	}
}

// TestWarnings: what is odd and allowed.
func TestWarnings(t *testing.T) {
	curve := func(layer, curve string) string {
		return strings.Replace(small, "from: ground, curve: {100: 1, 200: 0}", "from: "+layer+", curve: "+curve, 1)
	}
	for _, c := range []struct{ text, want string }{
		{small, "nothing uses the derived layer"},
		{small + "rule: mean\nfloor: 0.1", "floor changes nothing"},
		{small + "hotspots: {most: 3}\noutputs: [score]", "outputs does not list"},
		{strings.Replace(small, "others: 0}", "others: 0, weight: 4}\nrule: least factor", 1), "weights above 0 change nothing"},
		{small + "compare: {low: {trees: 2}}\nrule: product", "weights change nothing"},
		{curve("steepness", "{100: 1}"), "\"steepness\" is from 0 to 90"},
		{strings.Replace(small, "unit: m", "between: [0, 90]", 1), "\"ground\" is from 0 to 90"},
		{strings.Replace(curve("steepness", "{100: 1}"), "{slope: ground}", "{distance: cover, of: x, up to: 90 m}", 1), "\"steepness\" is from 0 to 90"},
		{strings.Replace(curve("steepness", "{-5: 1}"), "{slope: ground}", "{aspect: ground}", 1), "\"steepness\" is from 0 to 360"},
		{strings.Replace(curve("steepness", "{10: 1, 100: 0}"), "{slope: ground}", "{aspect: ground}", 1), "gives north two scores, 1 at 0 and 0 at 360"},
		{strings.Replace(curve("steepness", "{-90: 0, 90: 1, 360: 0.25}"), "{slope: ground}", "{aspect: ground}", 1), "0.5 at 0 and 0.25 at 360"},
		{strings.Replace(curve("steepness", "{45: 1}"), "{slope: ground}", "{heat load: ground}", 1), "\"steepness\" is from 0 to 1.5"},
		{strings.Replace(curve("steepness", "{200: 1}"), "{slope: ground}", "{radiation: ground, day: 80}", 1), "\"steepness\" is from 0 to 122"},
	} {
		found := false
		for _, w := range read(t, c.text).Warnings {
			found = found || strings.Contains(w.Message, c.want) && w.Line > 0 && w.Source != ""
		}
		if !found {
			t.Errorf("no warning %q in\n%s", c.want, c.text)
		}
	}
	for _, quiet := range []string{curve("steepness", "{90: 1}"), strings.Replace(curve("steepness", "{0: 1}"), "{slope: ground}", "{slope: ground, in: percent}", 1),
		strings.Replace(curve("steepness", "{0: 1, 180: 0, 360: 1}"), "{slope: ground}", "{aspect: ground}", 1), strings.Replace(curve("steepness", "{-30: 1, 30: 0}"), "{slope: ground}", "{relative position: ground, within: 90 m}", 1)} {
		if w := read(t, quiet).Warnings; len(w) != 0 {
			t.Errorf("warnings %v in\n%s", w, quiet)
		}
	}
}

// TestHash: comments, line ends, key order, spelled-out defaults and spacing
// do not count; whatever is said does.
func TestHash(t *testing.T) {
	base := read(t, small).Hash()
	same := map[string]string{
		"comments":   strings.ReplaceAll(small, "\n", " # note\n"),
		"line ends":  strings.ReplaceAll(small, "\n", "\r\n"),
		"BOM":        "\uFEFF" + small,
		"mark":       "---\n" + small + "...\n",
		"defaults":   small + "floor: 0\nrule: geometric mean\nunknown: share out\nhotspots: {from: 0.70, least: 5000 m2}\noutputs: [hotspots, score, factors]\n",
		"key order":  "maps:\n  cover: {file: cover.tif}\n  ground: {unit: m, file: dem.tif}\n" + strings.Replace(small, "maps:\n  ground: {file: dem.tif, unit: m}\n  cover: {file: cover.tif}\n", "", 1),
		"point list": strings.Replace(small, "{100: 1, 200: 0}", "[[200, 0], [1e2, 1.0]]", 1),
		"block":      strings.Replace(small, "{like: ground}", "\n  like: \"ground\"", 1),
		"unit":       strings.Replace(small, "unit: m", "unit: metres", 1),
	}
	for what, text := range same {
		if got := read(t, text).Hash(); got != base {
			t.Errorf("%s changes the hash", what)
		}
	}
	other := map[string]string{
		"title":        small + "title: x\n",
		"weight":       strings.Replace(small, "others: 0", "others: 0, weight: 2", 1),
		"factor order": strings.Replace(small, "  low: {from: ground, curve: {100: 1, 200: 0}}\n", "", 1) + "  low: {from: ground, curve: {100: 1, 200: 0}}\n",
		"others":       strings.Replace(small, "others: 0", "others: 0.5", 1),
		"credit":       strings.Replace(small, "unit: m", "unit: m, credit: us", 1),
	}
	for what, text := range other {
		if read(t, text).Hash() == base {
			t.Errorf("%s does not change the hash", what)
		}
	}
	if len(base) != 64 {
		t.Errorf("hash %q", base)
	}
}

// TestProblemAsError: the command finds remedies and exit codes by these
// methods.
func TestProblemAsError(t *testing.T) {
	_, err := Read("p.yaml", []byte("format: 1\n"))
	var e interface {
		Remedy() string
		MustChange() bool
	}
	if !errors.As(err, &e) || !e.MustChange() || e.Remedy() == "" {
		t.Fatalf("%v", err)
	}
	var ps Problems
	if !errors.As(err, &ps) || len(ps) != 3 {
		t.Errorf("three keys are lacking, got %v", err)
	}
}

// TestPointAt: checks of the data point at the plan.
func TestPointAt(t *testing.T) {
	p := read(t, small)
	c := p.Factors[1].Scores.Classes[0]
	got := p.UnknownClass(c.Class, &Map{Name: "cover"}, Vocabulary{Classes: Legend{{Code: 1, Name: "broad-leaf"}, {Code: 2, Name: "heath"}}})
	want := `p.yaml:10:33: the map "cover" has no class "broadleaf"; did you mean "broad-leaf"?
      trees: {from: cover, scores: {broadleaf: 1}, others: 0}
                                    ^~~~~~~~~
  so: trees: {from: cover, scores: {broad-leaf: 1}, others: 0}`
	if got.Error() != want {
		t.Errorf("got\n%s\nwant\n%s", got.Error(), want)
	}
	if whole := p.PointAt(Pos{}, "x", "y"); whole.Error() != "p.yaml: x; y" || whole.Remedy() != "y" {
		t.Errorf("%q", whole.Error())
	}
}

// TestHashIgnoresOrder: inside a factor, a legend or a list of classes order
// says nothing.
func TestHashIgnoresOrder(t *testing.T) {
	one := read(t, `format: 1
grid: {like: g}
maps: {g: {file: g.tif}, c: {file: c.tif, legend: {1: a, 2: b}}}
derived: {s: {share: c, of: [a, b], within: 9 m}}
factors:
  f: {from: c, scores: {a: 1, b: 0.5}}
  h: {best of: {x: {from: s}, y: {from: c, scores: {a: 0, b: 1}}}}
keep out: [{map: c, of: [b, a]}]
`)
	two := read(t, `format: 1
grid: {like: g}
maps: {c: {legend: {2: b, 1: a}, file: c.tif}, g: {file: [g.tif]}}
derived: {s: {within: 9 m, of: [b, a], share: c}}
keep out: [{of: [a, b], map: c}]
factors:
  f: {scores: {b: 0.5, a: 1}, from: c}
  h: {best of: {y: {from: c, scores: {b: 1, a: 0}}, x: {from: s}}}
`)
	if a, b := string(one.Canonical()), string(two.Canonical()); a != b || one.Hash() != two.Hash() {
		t.Errorf("%s\nand\n%s", a, b)
	}
	if one.Factors[0].Scores.Classes[0].Name != "a" || two.Factors[0].Scores.Classes[0].Name != "b" {
		t.Error("the plan itself keeps its order")
	}
}
