package start

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"likelyground/habitat"
)

// sites are places in the small Ellerdown, as a person may keep them, with
// names that must not get about.
var sites = [][2]float64{{2.6003, 55.3003}, {2.6051, 55.3008}, {2.5981, 55.2975}, {2.6022, 55.2968}, {2.6075, 55.2992}, {2.5992, 55.2991}}

func siteTable(t testing.TB, dir string, n int) string {
	t.Helper()
	var b strings.Builder
	b.WriteString("name,lon,lat\n")
	for i, p := range sites[:n] {
		fmt.Fprintf(&b, "hidden hollow %d,%v,%v\n", i, p[0], p[1])
	}
	path := filepath.Join(dir, "otter holts.csv")
	must(t, os.WriteFile(path, []byte(b.String()), 0o600))
	return path
}

// What the table says is what `why` says place by place.
func TestComparison(t *testing.T) {
	dir := downloads(t)
	r, _ := started(t, Options{Out: filepath.Join(dir, "plan.yaml"), Places: siteTable(t, t.TempDir(), len(sites))}, dir)
	c := r.Places
	if c == nil || c.Places != len(sites) || c.Outside != 0 || c.Cells != len(sites) {
		t.Fatalf("%+v", c)
	}
	type seen struct {
		values  []float64
		classes map[string]int
	}
	found := map[string]*seen{}
	for _, p := range sites {
		why, err := habitat.Explain(context.Background(), r.Plan, fmt.Sprintf("%v %v", p[0], p[1]), habitat.Options{})
		must(t, err)
		for _, l := range why.Layers {
			if found[l.Name] == nil {
				found[l.Name] = &seen{classes: map[string]int{}}
			}
			switch {
			case l.Value != nil:
				found[l.Name].values = append(found[l.Name].values, float64(*l.Value))
			case l.Known:
				found[l.Name].classes[l.Class]++
			}
		}
	}
	if len(c.Layers) != 6 {
		t.Errorf("%d layers", len(c.Layers))
	}
	for _, l := range c.Layers {
		want := found[l.Name]
		for _, k := range l.Classes {
			if want.classes[k.Name] != k.Here {
				t.Errorf("%s: %d places have %s, want %d", l.Name, k.Here, k.Name, want.classes[k.Name])
			}
		}
		if l.Classes != nil {
			continue
		}
		low, high := want.values[0], want.values[0]
		for _, v := range want.values {
			low, high = min(low, v), max(high, v)
		}
		if l.Known != len(want.values) || l.Here.Lowest != low || l.Here.Highest != high {
			t.Errorf("%s: %d places from %v to %v, want %d from %v to %v", l.Name, l.Known, l.Here.Lowest, l.Here.Highest, len(want.values), low, high)
		}
	}
}

// Where the places are goes nowhere: no figure of a coordinate, no name, not
// the name of the table.
func TestPlacesStayHidden(t *testing.T) {
	dir := downloads(t)
	plan := filepath.Join(dir, "plan.yaml")
	places := siteTable(t, t.TempDir(), len(sites))
	r, text := started(t, Options{Out: plan, Places: places}, dir)
	if !strings.Contains(text, "# places:") {
		t.Fatal("the plan says nothing of places")
	}
	answer, err := json.Marshal(r)
	must(t, err)
	run, err := habitat.Run(context.Background(), plan, habitat.Options{Out: filepath.Join(dir, "out")})
	must(t, err)
	told := map[string]string{"plan": text, "answer": string(answer) + r.Words()}
	for _, f := range run.Files {
		told[f] = read(t, filepath.Join(run.Out, f))
	}
	secret := []string{"hidden hollow", "otter", "holts"}
	for _, p := range sites {
		secret = append(secret, fmt.Sprint(p[0]), fmt.Sprint(p[1]))
	}
	for name, content := range told {
		for _, s := range secret {
			if name != "hotspots.geojson" && strings.Contains(content, s) || strings.Contains(content, "hollow") {
				t.Errorf("%s tells %q", name, s)
			}
		}
	}
	_, without := started(t, Options{Out: filepath.Join(t.TempDir(), "plan.yaml")}, dir)
	if area := regexp.MustCompile(`(?m)^area: .*`); area.FindString(text) != area.FindString(without) {
		t.Error("the places moved the area")
	}
}

// A suggested curve put in the place of the first one makes a plan that runs,
// and so does the plan without what is said of places.
func TestSuggestionsRun(t *testing.T) {
	dir := downloads(t)
	plan := filepath.Join(dir, "plan.yaml")
	_, text := started(t, Options{Out: plan, Places: siteTable(t, t.TempDir(), len(sites))}, dir)
	curve := regexp.MustCompile(`(?m)^    curve: .*\n((?:    # places: .*\n)*)    # places: curve: (.*)\n`)
	if n := len(curve.FindAllString(text, -1)); n != 4 {
		t.Fatalf("%d suggested curves:\n%s", n, text)
	}
	scored := regexp.MustCompile(`: 0\.5 ( .*# places: \d+ of \d+: try )(\S+)`)
	if !scored.MatchString(text) {
		t.Fatalf("no suggested scores:\n%s", text)
	}
	taken := scored.ReplaceAllString(curve.ReplaceAllString(text, "    curve: $2\n"), ": $2")
	must(t, os.WriteFile(plan, []byte(taken), 0o644))
	runs(t, plan)
	must(t, os.WriteFile(plan, []byte(regexp.MustCompile(` *# places:.*`).ReplaceAllString(text, "")), 0o644))
	runs(t, plan)
}

// Of one or two places the plan says nothing, and the table that they prove
// nothing.
func TestFewPlaces(t *testing.T) {
	dir := downloads(t)
	r, text := started(t, Options{Out: filepath.Join(dir, "plan.yaml"), Places: siteTable(t, t.TempDir(), 2)}, dir)
	if strings.Contains(text, "places:") {
		t.Errorf("the plan speaks of places:\n%s", text)
	}
	if !strings.Contains(r.Words(), "2 places prove nothing") {
		t.Error(r.Words())
	}
	far := filepath.Join(t.TempDir(), "far.csv")
	must(t, os.WriteFile(far, []byte("lon,lat\n12,48\n13,48\n"), 0o600))
	r, _ = started(t, Options{Out: filepath.Join(dir, "plan.yaml"), Force: true, Places: far}, dir)
	if r.Places.Outside != 2 || len(r.Warnings) == 0 || !strings.Contains(r.Warnings[0], "none of the 2 places") {
		t.Errorf("%+v", r)
	}
}

func table(t testing.TB, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "t.csv")
	must(t, os.WriteFile(path, []byte(text), 0o600))
	return path
}

func TestReadPlaces(t *testing.T) {
	for name, c := range map[string]struct {
		text   string
		want   []habitat.Place
		metres bool
	}{
		"commas":            {"lon,lat\n-3.21,54.5\n1,2\n", []habitat.Place{{X: -3.21, Y: 54.5}, {X: 1, Y: 2}}, false},
		"mark and names":    {"\xef\xbb\xbfSite;Latitude;Longitude\r\n\"a;b\";54,5;-3,21\r\n", []habitat.Place{{X: -3.21, Y: 54.5}}, false},
		"tabs, stray quote": {"gbifID\tdecimalLatitude\tdecimalLongitude\tlocality\n1\t54.5\t-3.21\tthe 5\" pipe\n", []habitat.Place{{X: -3.21, Y: 54.5}}, false},
		"metres":            {"x,y\n475000,6128000\n", []habitat.Place{{X: 475000, Y: 6128000}}, true},
		"degrees as x, y":   {"x,y\n2.5,55\n", []habitat.Place{{X: 2.5, Y: 55}}, false},
		"references":        {"who,grid reference\nme,NN 166 712\n,\n", []habitat.Place{{CRS: "EPSG:27700", X: 216650, Y: 771250}}, false},
	} {
		p, err := readPlaces(table(t, c.text))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		var got []habitat.Place
		for _, r := range p.rows {
			got = append(got, r.place)
		}
		if fmt.Sprint(got) != fmt.Sprint(c.want) || p.metres != c.metres {
			t.Errorf("%s: %v, metres %v", name, got, p.metres)
		}
	}
	for text, want := range map[string]string{
		"":                        "holds no places",
		"lon,lat\n":               "holds no place below its header",
		"a,b\n1,2\n":              "names no columns of places",
		"lon,lat\nwest,north\n":   "are no coordinates",
		"lon,lat\n54.5,-130\n":    "columns look swapped",
		"lon,lat\n475000,6e6\n":   "call the columns so",
		"gridref\nnowhere 12 3\n": "line 2",
	} {
		_, err := readPlaces(table(t, text))
		if got := refusal(t, err); !strings.Contains(got, want) {
			t.Errorf("%q: %s", text, got)
		}
	}
	_, err := readPlaces(filepath.Join(t.TempDir(), "none.csv"))
	refusal(t, err)
}

// Easting and northing are taken in the system of the map in which they lie
// on the ground.
func TestPlacesInMetres(t *testing.T) {
	dir := downloads(t)
	metres := table(t, "easting,northing\n474800,6128300\n475100,6128400\n474600,6128100\n") // of the heights
	r, _ := started(t, Options{Out: filepath.Join(dir, "plan.yaml"), Places: metres}, dir)
	if r.Places.Outside != 0 || r.Places.ReadAs != "easting and northing in EPSG:25831" {
		t.Errorf("%+v", r.Places)
	}
	cover := table(t, "easting,northing\n3852000,3601000\n3852100,3601100\n3851900,3600900\n") // of the land cover, EPSG:3035
	r, _ = started(t, Options{Out: filepath.Join(dir, "plan.yaml"), Force: true, Places: cover}, dir)
	if r.Places.Outside != 0 || r.Places.ReadAs != "easting and northing in EPSG:3035" {
		t.Errorf("%+v", r.Places)
	}
}

// No table crashes the reader, and what it accepts are numbers.
func FuzzReadPlaces(f *testing.F) {
	for _, seed := range []string{"lon,lat\n1,2\n", "x;y\n1,5;2\n", "gridref\nTG 51409 13177\n", "lat\tlon\n\"1\t2\n", "\xef\xbb\xbflon,lat\n\xff,\x00\n"} {
		f.Add([]byte(seed))
	}
	dir := f.TempDir()
	f.Fuzz(func(t *testing.T, data []byte) {
		path := filepath.Join(dir, "t.csv")
		must(t, os.WriteFile(path, data, 0o600))
		p, err := readPlaces(path)
		if err != nil {
			return
		}
		for _, r := range p.rows {
			if x := r.place; x.X-x.X != 0 || x.Y-x.Y != 0 {
				t.Errorf("%v", x)
			}
		}
	})
}
