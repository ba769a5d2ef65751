package licence

import (
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"
)

// Identifiers are those of the SPDX licence list (from memory), and each must
// stand for itself.
func TestSpellings(t *testing.T) {
	for want, spellings := range map[string][]string{
		"CC-BY-4.0": {"CC-BY-4.0", "cc by 4.0", "CC BY 4", "CC_BY_4_0", "Creative Commons Attribution 4.0 International",
			"https://creativecommons.org/licenses/by/4.0/", "http://creativecommons.org/licenses/by/4.0/deed.en", "CC-BY v4.0", "Creative Commons Attribution License 4.0"},
		"CC-BY":           {"CC BY", "cc-by", "Creative Commons Attribution"},
		"CC-BY-3.0":       {"CC BY 3.0 DE", "CC-BY-3.0", "Creative Commons Attribution 3.0 Unported"},
		"CC-BY-SA-4.0":    {"CC-BY-SA-4.0", "CC BY-SA 4.0", "Creative Commons Attribution-ShareAlike 4.0", "https://creativecommons.org/licenses/by-sa/4.0/"},
		"CC-BY-NC-4.0":    {"CC-BY-NC-4.0", "CC BY-NC 4.0", "CC_BY_NC_4_0", "Creative Commons Attribution-NonCommercial 4.0 International"},
		"CC-BY-NC-SA-4.0": {"CC-BY-NC-SA-4.0", "cc by nc sa 4.0"},
		"CC-BY-ND-4.0":    {"CC-BY-ND-4.0", "CC BY-ND 4.0"},
		"CC-BY-NC-ND-3.0": {"CC-BY-NC-ND-3.0"},
		"CC0-1.0":         {"CC0-1.0", "CC0", "CC0 1.0", "CC Zero", "CC0 1.0 Universal", "CC0_1_0", "https://creativecommons.org/publicdomain/zero/1.0/", "Creative Commons Zero v1.0"},
		"public domain":   {"public domain", "Public Domain", "PD", "US public domain"},
		"PDDL-1.0":        {"PDDL-1.0", "PDDL"},
		"ODbL-1.0":        {"ODbL-1.0", "ODbL", "odbl 1.0", "Open Database License", "Open Data Commons Open Database License (ODbL)", "https://opendatacommons.org/licenses/odbl/1-0/"},
		"ODC-By-1.0":      {"ODC-By-1.0", "Open Data Commons Attribution License"},
		"OGL-UK-3.0":      {"OGL-UK-3.0", "OGL 3.0", "OGL v3", "OGLv3.0", "Open Government Licence v3.0", "UK Open Government Licence 3.0", "https://www.nationalarchives.gov.uk/doc/open-government-licence/version/3/"},
		"OGL-UK":          {"OGL", "Open Government Licence"},
		"OGL-UK-2.0":      {"OGL-UK-2.0"}, "OGL-UK-1.0": {"OGL-UK-1.0"}, "OGL-Canada-2.0": {"OGL-Canada-2.0"},
		"etalab-2.0":   {"etalab-2.0", "Licence Ouverte 2.0", "Licence Ouverte / Etalab 2.0"},
		"DL-DE-BY-2.0": {"DL-DE-BY-2.0", "dl-de/by-2-0", "Datenlizenz Deutschland – Namensnennung – Version 2.0"}, "DL-DE-ZERO-2.0": {"DL-DE-ZERO-2.0", "dl-de/zero-2-0"},
		"NLOD-2.0": {"NLOD-2.0", "NLOD"}, "NLOD-1.0": {"NLOD-1.0"},
		"Copernicus":          {"Copernicus", "Copernicus: free, full and open"},
		"all rights reserved": {"All rights reserved", "proprietary"},
	} {
		for _, text := range append(spellings, want) {
			if l := Read(text); l.Name != want || !l.Known {
				t.Errorf("%q is read as %q (%q), want %q", text, l.Name, plain(text), want)
			}
		}
	}
	for _, text := range []string{"", " ", "unknown", "Not given", "?", "none"} {
		if l := Read(text); l != (Licence{}) {
			t.Errorf("%q is read as %+v", text, l)
		}
	}
	for _, text := range []string{"by", "CC", "Landowner's leave of 3 May", "CC BY 9.0", "GPL", "4.0", "CC-BY-SA-ND-4.0"} {
		if l := Read(text); l.Known || l.Name != text {
			t.Errorf("%q is read as %+v", text, l)
		}
	}
}

// What each asks, after the deeds of the licences.
func TestDuties(t *testing.T) {
	for text, want := range map[string]struct {
		Strictness
		Duties
	}{
		"CC0-1.0":             {Free, Duties{}},
		"public domain":       {Free, Duties{}},
		"OGL-UK-3.0":          {Credited, Duties{Credit: true}},
		"CC-BY-4.0":           {Modified, Duties{Credit: true, SayModified: true}},
		"ODbL-1.0":            {Alike, Duties{Credit: true, ShareAlike: true}},
		"CC-BY-SA-4.0":        {Alike, Duties{Credit: true, SayModified: true, ShareAlike: true}},
		"CC-BY-NC-4.0":        {NotForMoney, Duties{Credit: true, SayModified: true, NonCommercial: true}},
		"CC-BY-NC-SA-4.0":     {NotForMoneyAlike, Duties{Credit: true, SayModified: true, NonCommercial: true, ShareAlike: true}},
		"":                    {NotStated, Duties{}},
		"by leave":            {NotStated, Duties{}},
		"CC-BY-ND-4.0":        {Kept, Duties{Credit: true, SayModified: true, NotShared: true}},
		"all rights reserved": {Kept, Duties{Credit: true, NotShared: true}},
	} {
		if l := Read(text); l.Strictness() != want.Strictness || l.Duties != want.Duties {
			t.Errorf("%q: %v %+v", text, l.Strictness(), l.Duties)
		}
	}
}

func TestTogether(t *testing.T) {
	free, by, sa, odbl := Map{"a", "CC0-1.0", ""}, Map{"b", "CC-BY-4.0", ""}, Map{"c", "CC-BY-SA-4.0", ""}, Map{"d", "ODbL-1.0", ""}
	nc, none, kept := Map{"e", "CC-BY-NC-4.0", ""}, Map{"f", "", ""}, Map{"g", "CC-BY-4.0", No}
	for _, c := range []struct {
		what      string
		maps      []Map
		may       string
		strictest string
		conflicts []string
	}{
		{"free", []Map{free}, "yes", "CC0-1.0 of a", nil},
		{"credit", []Map{free, by}, "yes", "CC-BY-4.0 of b", nil},
		{"alike", []Map{sa, by}, "yes", "CC-BY-SA-4.0 of c", nil},
		{"two versions of a family", []Map{sa, {"h", "CC-BY-SA-3.0", ""}}, "yes", "CC-BY-SA-4.0 of c", nil},
		{"two kinds", []Map{by, odbl, sa}, "yes", "CC-BY-SA-4.0 of c", []string{`"c" asks for outputs under CC-BY-SA-4.0, "d" for ODbL-1.0: both cannot be met`}},
		{"trade", []Map{odbl, nc}, "yes", "CC-BY-NC-4.0 of e", []string{`"d" asks for outputs under ODbL-1.0, which allows trade, and "e" does not: both cannot be met`}},
		{"not for money alike", []Map{nc, {"h", "CC-BY-NC-SA-4.0", ""}}, "yes", "CC-BY-NC-SA-4.0 of h", nil},
		{"nothing stated", []Map{by, none}, "not known", " of f", nil},
		{"stated by share", []Map{by, {"f", "", Yes}}, "yes", "CC-BY-4.0 of b", nil},
		{"modified", []Map{free, {"f", "own words", WhenSaidSo}}, "yes", "own words of f", nil},
		{"forbidden", []Map{none, kept, by}, "no", "CC-BY-4.0 of g", nil},
		{"no derivatives", []Map{by, {"h", "CC-BY-ND-4.0", ""}}, "no", "CC-BY-ND-4.0 of h", nil},
		{"leave given", []Map{{"h", "CC-BY-ND-4.0", Yes}}, "yes", "CC-BY-ND-4.0 of h", nil},
		{"no maps", nil, "yes", " of ", nil},
	} {
		got := Sum(c.maps)
		if got.MayBeShared != c.may || got.Strictest+" of "+got.Of != c.strictest || !slices.Equal(got.Conflicts, c.conflicts) {
			t.Errorf("%s: %+v", c.what, got)
		}
		backwards := slices.Clone(c.maps)
		slices.Reverse(backwards)
		if again := Sum(backwards); !reflect.DeepEqual(got, again) {
			t.Errorf("%s: the order matters: %+v, %+v", c.what, got, again)
		}
	}
}

func TestWords(t *testing.T) {
	for want, maps := range map[string][]Map{
		"As the plan states it, outputs may be passed on.":                                                          {{"a", "CC0-1.0", ""}},
		"As the plan states it, outputs may be passed on with credit, a word that the maps were changed, no trade.": {{"a", "CC-BY-NC-4.0", ""}},
		"As the plan states it, outputs may be passed on with credit, the licence ODbL-1.0.":                        {{"a", "ODbL-1.0", ""}},
		`As the plan states it, outputs may not be passed on: "a", "b" forbid it.`:                                  {{"b", "", No}, {"a", "CC-BY-4.0", No}},
		`Whether outputs may be passed on is not known: the plan states no known licence for "a".`:                  {{"a", "", ""}},
	} {
		if got := Sum(maps).Words(); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

// FuzzRead holds that a name read is a name: it reads as itself again.
func FuzzRead(f *testing.F) {
	for _, s := range []string{"CC-BY-4.0", "odbl", "OGL v3", "…", "cc by nc nd 2.5 au", "https://creativecommons.org/licenses/by/4.0/"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		l := Read(text)
		if again := Read(l.Name); again != l {
			t.Fatalf("%q: %+v, then %+v", text, l, again)
		}
		if l.Known && strings.TrimSpace(l.Name) == "" {
			t.Fatalf("%q: %+v", text, l)
		}
	})
}

func ExampleSum() {
	t := Sum([]Map{
		{Name: "soil", Licence: "Creative Commons Attribution 4.0"},
		{Name: "rock", Licence: "OGL v3"},
		{Name: "paths", Licence: "ODbL"},
	})
	fmt.Println(t.Strictest, "of", t.Of)
	fmt.Println(t.Words())
	// Output:
	// ODbL-1.0 of paths
	// As the plan states it, outputs may be passed on with credit, a word that the maps were changed, the licence ODbL-1.0.
}
