package legends

import (
	"encoding/csv"
	"fmt"
	"slices"
	"strings"
	"testing"
)

// TestCounts holds the number of classes, of codes and of codes that mean no
// data against what the publishers list: 11 classes of WorldCover, 44 of
// CORINE (under two codes each), 11 of the backbone and its coastal sea, 3 of
// leaf type, 16 of the contiguous States and 4 of Alaska; GLiM has 16, one of
// them no data. The lithology terms are counted from our own list.
func TestCounts(t *testing.T) {
	for _, want := range []struct {
		name                    string
		classes, codes, missing int
	}{
		{"annual nlcd", 16, 16, 1}, {"clcplus backbone", 12, 12, 2}, {"corine", 44, 88, 4}, {"glim", 15, 15, 1}, {"leaf type", 3, 3, 2},
		{"nlcd", 20, 20, 1}, {"simple lithology", 213, 213, 0}, {"tree cover", 0, 0, 2}, {"worldcover", 11, 11, 1},
	} {
		l := Named(want.name)
		if l == nil {
			t.Errorf("no legend %q", want.name)
			continue
		}
		names := map[string]bool{}
		for _, c := range l.Classes {
			names[c.Name] = true
		}
		if len(names) != want.classes || len(l.Classes) != want.codes || len(l.Missing) != want.missing {
			t.Errorf("%s: %d classes, %d codes, %d without data, want %v", want.name, len(names), len(l.Classes), len(l.Missing), want)
		}
	}
	if len(Names()) != 9 || !slices.IsSorted(Names()) || Named("Corine") != nil {
		t.Errorf("names %q", Names())
	}
}

// TestSound asks of every legend what a plan relies on.
func TestSound(t *testing.T) {
	for _, l := range All() {
		for what, text := range map[string]string{"title": l.Title, "publisher": l.Publisher, "source": l.Source, "edition": l.Edition} {
			if text == "" {
				t.Errorf("%s: no %s", l.Name, what)
			}
		}
		codes, names := map[string]bool{}, map[string]string{}
		for _, c := range l.Classes {
			key := fmt.Sprint(c.Code, plain(c.Text))
			if codes[key] || c.Name == "" || (c.Text != "") != (l.Kind == Texts) {
				t.Errorf("%s: class %+v", l.Name, c)
			}
			codes[key] = true
			if other, ok := names[strings.ToLower(c.Name)]; ok && other != c.Name {
				t.Errorf("%s: %q and %q differ by case alone", l.Name, other, c.Name)
			}
			names[strings.ToLower(c.Name)] = c.Name
			for i, g := range c.Groups {
				if g.Name == "" || g.Up < 1 || i > 0 && g.Up < c.Groups[i-1].Up {
					t.Errorf("%s: groups %+v of %s", l.Name, c.Groups, c.Name)
				}
			}
		}
		for _, s := range l.Missing {
			if is, noData := l.Has(s.Code); s.Text == "" && (!is || !noData) || slices.ContainsFunc(l.Classes, func(c Class) bool { return c.Code == s.Code && c.Text == s.Text }) {
				t.Errorf("%s: %+v is a class too", l.Name, s)
			}
		}
	}
}

// TestEveryLineSaysHowItIsKnown reads the tables as they stand.
func TestEveryLineSaysHowItIsKnown(t *testing.T) {
	files, err := data.ReadDir("data")
	if err != nil || len(files) != len(All()) {
		t.Fatalf("%d tables for %d legends: %v", len(files), len(All()), err)
	}
	for _, f := range files {
		text, err := data.ReadFile("data/" + f.Name())
		if err != nil {
			t.Fatal(err)
		}
		rows, err := csv.NewReader(strings.NewReader(string(text))).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		for i, row := range rows[1:] {
			known, means := record{rows[0], row}.get("known from"), record{rows[0], row}.get("means")
			if !slices.Contains([]string{"public list", "third-party notes", "memory"}, known) || means != "class" && means != "no data" {
				t.Errorf("%s:%d: %q", f.Name(), i+2, row)
			}
		}
	}
}

// TestPublishedCodes holds codes against public listings of them. WorldCover:
// the class list of its product user manual as repeated by other sites;
// CORINE: the raster codes and level 3 codes of its legend; the rest: notes of
// people who use the maps. Meanings are compared by a word that both have.
func TestPublishedCodes(t *testing.T) {
	for name, list := range map[string]string{
		"worldcover":       "10 tree, 20 shrub, 30 grass, 40 crop, 50 built, 60 bare, 70 snow, 80 permanent water, 90 herbaceous wetland, 95 mangrove, 100 moss",
		"clcplus backbone": "1 sealed, 2 needle, 3 broadleaved deciduous, 4 broadleaved evergreen, 5 low, 6 permanent herb, 7 period, 8 lichen, 9 sparse, 10 water, 11 snow, 253 coast",
		"leaf type":        "0 non-tree, 1 broadleaved, 2 conifer",
		"nlcd":             "11 water, 12 ice, 21 developed, 22 developed, 23 developed, 24 developed, 31 barren, 41 deciduous, 42 evergreen, 43 mixed, 52 shrub, 71 grass, 81 pasture, 82 crops, 90 woody wetland, 95 herbaceous wetland",
		"annual nlcd":      "11 water, 41 deciduous, 42 evergreen, 43 mixed, 52 shrub, 71 grass, 81 pasture, 82 crops, 90 woody wetland, 95 herbaceous wetland",
		"corine": "1 continuous, 2 discontinuous, 3 industrial, 4 road, 5 port, 6 airport, 7 mineral, 8 dump, 9 construction, 10 green, 11 sport, 12 arable, 13 irrigated, 14 rice, 15 vine, 16 fruit, 17 olive, 18 pasture, " +
			"19 annual crops associated with permanent crops, 20 complex, 21 agriculture, 22 forest, 23 broad-leaved, 24 conifer, 25 mixed, 26 natural grass, 27 heath, 28 sclerophyll, 29 transitional wood, 30 sand, 31 rock, 32 sparse, 33 burnt, " +
			"34 snow, 35 marsh, 36 peat bog, 37 salt marsh, 38 salines, 39 flats, 40 courses, 41 bodies, 42 lagoon, 43 estuar, 44 sea, " +
			"211 arable, 213 rice, 244 forest, 311 broad-leaved, 312 conifer, 313 mixed, 321 grass, 322 heath, 324 woodland, 333 sparse, 412 peat bog, 523 sea",
	} {
		l := Named(name)
		for _, pair := range strings.Split(list, ", ") {
			code, words, _ := strings.Cut(pair, " ")
			at := slices.IndexFunc(l.Classes, func(c Class) bool { return fmt.Sprint(c.Code) == code })
			if at < 0 {
				t.Errorf("%s has no code %s", name, code)
				continue
			}
			for _, word := range strings.Fields(words) {
				if !strings.Contains(strings.ToLower(l.Classes[at].Name), word) {
					t.Errorf("%s: %s is %q, want %q", name, code, l.Classes[at].Name, words)
				}
			}
		}
	}
	for name, want := range map[string][]int32{"worldcover": {0}, "clcplus backbone": {254, 255}, "leaf type": {254, 255}, "tree cover": {254, 255}, "nlcd": {0}, "annual nlcd": {250}, "corine": {48, 999, -128, 128}} {
		var got []int32
		for _, s := range Named(name).Missing {
			got = append(got, s.Code)
		}
		if !slices.Equal(got, want) {
			t.Errorf("%s: no data %v, want %v", name, got, want)
		}
	}
}

// TestCorineLevels asks that both ways of coding give one class, and that the
// figures of a three-digit code are its levels, as they were made.
func TestCorineLevels(t *testing.T) {
	l := Named("corine")
	group1, group2 := map[int32]string{}, map[int32]string{}
	for i := range 44 {
		raster, vector := l.Classes[i], l.Classes[44+i]
		if raster.Code != int32(i+1) || raster.Name != vector.Name || !slices.Equal(raster.Groups, vector.Groups) || len(raster.Groups) != 2 {
			t.Errorf("%+v and %+v", raster, vector)
		}
		for at, level := range map[int32]map[int32]string{vector.Code / 10: group2, vector.Code / 100: group1} {
			name := vector.Groups[0].Name
			if at < 10 {
				name = vector.Groups[1].Name
			}
			if old, ok := level[at]; ok && old != name {
				t.Errorf("%d is %q and %q", at, old, name)
			}
			level[at] = name
		}
	}
	if len(group1) != 5 || len(group2) != 15 {
		t.Errorf("%d and %d groups, want 5 and 15", len(group1), len(group2))
	}
}

func TestLithology(t *testing.T) {
	l := Named("simple lithology")
	groups := func(text string) string {
		at := l.ClassOf(text)
		if at < 0 {
			t.Fatalf("no term %q", text)
		}
		var out []string
		for _, g := range l.Classes[at].Groups {
			out = append(out, fmt.Sprint(g.Up, " ", g.Name))
		}
		return strings.Join(out, ", ")
	}
	if got, want := groups("granite"), "1 granitoid, 2 acidic igneous rock, 2 phaneritic igneous rock, 3 acidic igneous material, 3 igneous rock, 4 igneous material, 4 rock, 5 compound material"; got != want {
		t.Errorf("granite: %s, want %s", got, want)
	}
	for _, same := range []string{"http://resource.geosciml.org/classifier/cgi/lithology/acidic_igneous_rock", "http://inspire.ec.europa.eu/codelist/LithologyValue/acidicIgneousRock", "Acidic igneous rock"} {
		if at := l.ClassOf(same); at < 0 || l.Classes[at].Name != "acidic igneous rock" {
			t.Errorf("%q is %d", same, at)
		}
	}
	if l.ClassOf("unobtainium") >= 0 || l.ClassOf("") >= 0 {
		t.Error("a term that is none has a class")
	}
	for _, c := range l.Classes {
		if c.Name != "compound material" && (len(c.Groups) == 0 || c.Groups[len(c.Groups)-1].Name != "compound material") {
			t.Errorf("%s does not end in compound material: %v", c.Name, c.Groups)
		}
	}
}

func TestGlim(t *testing.T) {
	l := Named("glim")
	if at := l.ClassOf("SC"); at < 0 || l.Classes[at].Name != "Carbonate sedimentary rocks" {
		t.Errorf("sc is %d", at)
	}
	if !l.NoData("nd") || l.NoData("sc") || l.NoData("") {
		t.Error("nd alone means no data")
	}
}

func TestCreditOf(t *testing.T) {
	for name, want := range map[string][2]string{
		"worldcover":       {"© ESA WorldCover project 2021 / Contains modified Copernicus Sentinel data (2021) processed by ESA WorldCover consortium", "© ESA WorldCover project / Contains modified Copernicus Sentinel data processed by ESA WorldCover consortium"},
		"corine":           {"Generated using European Union's Copernicus Land Monitoring Service information (2021), modified", "Generated using European Union's Copernicus Land Monitoring Service information, modified"},
		"nlcd":             {"National Land Cover Database (2021), U.S. Geological Survey", "National Land Cover Database, U.S. Geological Survey"},
		"simple lithology": {"", ""},
	} {
		if got := [2]string{Named(name).CreditOf(2021), Named(name).CreditOf(0)}; got != want {
			t.Errorf("%s: %q, want %q", name, got, want)
		}
	}
}

func TestRecognise(t *testing.T) {
	const cgi = "http://resource.geosciml.org/classifier/cgi/lithology/"
	for _, c := range []struct {
		what, want string
		seen       Seen
	}{
		{"the name", "worldcover", Seen{File: "ESA_WorldCover_10m_2021_v200_N51W003_Map.tif", Codes: []int32{10, 30}, Whole: true}},
		{"place and cell", "worldcover", Seen{File: "tile.tif", CRS: "EPSG:4326", Cell: 1. / 12000, Codes: []int32{10, 30, 95}, Whole: true}},
		{"tens are codes of others too", "", Seen{File: "tile.tif", CRS: "EPSG:32631", Cell: 30, Codes: []int32{10, 20, 30, 40, 50, 60}, Whole: true}},
		{"the name, and a code that is not its own", "", Seen{File: "worldcover.tif", Codes: []int32{10, 30, 45}, Whole: true}},
		{"the name, and broken numbers", "", Seen{File: "worldcover.tif", Codes: []int32{10, 30}}},
		{"raster", "corine", Seen{File: "U2018_CLC2018_V2020_20u1.tif", CRS: "EPSG:3035", Cell: 100, Codes: []int32{2, 12, 18, 23, 48}, Whole: true}},
		{"raster without name", "corine", Seen{File: "cover.tif", CRS: "EPSG:3035", Cell: 100, Codes: []int32{2, 12, 18}, Whole: true}},
		{"small numbers are anybody's", "", Seen{File: "cover.tif", CRS: "EPSG:25832", Cell: 10, Codes: []int32{1, 2, 3, 4, 5}, Whole: true}},
		{"vector", "corine", Seen{File: "cover.gpkg", Field: "Code_18", CRS: "EPSG:3035", Codes: []int32{112, 211, 311}, Whole: true}},
		{"three figures", "corine", Seen{File: "cover.gpkg", Field: "landuse", CRS: "EPSG:25832", Codes: []int32{112, 211, 311, 512}, Whole: true}},
		{"backbone", "clcplus backbone", Seen{File: "CLMS_CLCplus_RASTER_2021_010m_eu_03035_V1_1.tif", Codes: []int32{1, 2, 6, 254}, Whole: true}},
		{"leaf type", "leaf type", Seen{File: "DLT_2018_010m_E40N30_03035_v020.tif", Codes: []int32{0, 1, 2, 255}, Whole: true}},
		{"two of ten metres", "", Seen{File: "x.tif", CRS: "EPSG:3035", Cell: 10, Codes: []int32{0, 1, 2, 254}, Whole: true}},
		{"tree cover", "tree cover", Seen{File: "TCD_2018_010m_E40N30_03035_v020.tif", Codes: []int32{0, 17, 99, 255}, Whole: true}},
		{"tree cover with 200", "", Seen{File: "TCD_2018.tif", Codes: []int32{0, 17, 200}, Whole: true}},
		{"nlcd", "nlcd", Seen{File: "nlcd_2019_land_cover_l48.img", Codes: []int32{0, 11, 41}, Whole: true}},
		{"annual nlcd", "annual nlcd", Seen{File: "Annual_NLCD_LndCov_2023_CU_C1V0.tif", Codes: []int32{11, 41, 250}, Whole: true}},
		{"nlcd by its nodata", "nlcd", Seen{File: "x.tif", Codes: []int32{0, 11, 41, 52, 90}, Whole: true}},
		{"either", "", Seen{File: "x.tif", Codes: []int32{11, 41, 52, 90}, Whole: true}},
		{"lithology", "simple lithology", Seen{File: "geology.gpkg", Field: "lith", Texts: []string{cgi + "granite", cgi + "basalt", cgi + "peat", cgi + "sandstone"}}},
		{"plain words", "", Seen{File: "geology.gpkg", Field: "rock", Texts: []string{"sandstone", "old clay", "granite", "peat", "chalk"}}},
		{"glim", "glim", Seen{File: "x.gdb", Field: "xx", Texts: []string{"su", "ss", "nd", "mt"}}},
		{"nothing", "", Seen{File: "worldcover corine nlcd glim tcd.tif"}},
	} {
		got := Recognise(c.seen)
		switch {
		case got == nil && c.want != "", got != nil && got.Name != c.want:
			t.Errorf("%s: %v, want %q", c.what, got, c.want)
		case got != nil && got.Why == "":
			t.Errorf("%s: no reason", c.what)
		}
	}
}
