package plan

import (
	"fmt"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"

	"likelyground/habitat/legends"
	"likelyground/habitat/match"
)

// keysOf makes classes of texts; one of figures alone is a code.
func keysOf(how Match, texts ...string) []Class {
	var out []Class
	for _, text := range texts {
		c := Class{Name: text, Match: how}
		if integerForm.MatchString(text) {
			c = Class{IsCode: true, Match: how}
			fmt.Sscan(text, &c.Code)
		}
		out = append(out, c)
	}
	return out
}

// told says which class of the plan each class of a legend goes to.
func told(v Vocabulary, keys []Class) (out []string, n Naming) {
	n = v.Name(keys)
	for i, h := range n.Hits {
		if h.Key >= 0 {
			out = append(out, fmt.Sprintf("%d %s by %s", v.Classes[i].Code, keys[h.Key].Written(), h.As))
		}
	}
	return out, n
}

func TestNaming(t *testing.T) {
	wild := Legend{
		{Code: 1, Name: "oak", Groups: []LegendGroup{{"forest", 1}, {"wild", 2}}},
		{Code: 2, Name: "pine", Groups: []LegendGroup{{"forest", 1}, {"wild", 2}}},
		{Code: 3, Name: "wet heath", Groups: []LegendGroup{{"heath", 1}, {"wild", 2}}},
		{Code: 4, Name: "heath", Groups: []LegendGroup{{"heath", 1}, {"wild", 2}}},
		{Code: 5, Name: "Built-up land"},
		{Code: 6, Name: "oak", Groups: []LegendGroup{{"park", 1}}},
	}
	for _, c := range []struct {
		what  string
		loose bool
		keys  []Class
		want  []string
		idle  []int
		both  []int
		ties  []Tie
	}{
		{what: "a name is all its codes", keys: keysOf("", "oak"), want: []string{"1 oak by class", "6 oak by class"}},
		{what: "a group", keys: keysOf("", "forest"), want: []string{"1 forest by group", "2 forest by group"}},
		{what: "the narrowest counts", keys: keysOf("", "wild", "forest", "pine"), want: []string{"1 forest by group", "2 pine by class", "3 wild by group", "4 wild by group"}},
		{what: "in any order", keys: keysOf("", "pine", "forest", "wild"), want: []string{"1 forest by group", "2 pine by class", "3 wild by group", "4 wild by group"}},
		{what: "capitals count", keys: keysOf("", "Oak", "built-up land"), idle: []int{0, 1}},
		{what: "capitals do not count", loose: true, keys: keysOf("", "FOREST", "built up_land"), want: []string{"1 FOREST by group", "2 FOREST by group", "5 built up_land by class"}},
		{what: "a class that is a group too", keys: keysOf("", "heath"), want: []string{"3 heath by group", "4 heath by class"}, both: []int{0}},
		{what: "codes", keys: keysOf("", "2", "9"), want: []string{"2 2 by code"}, idle: []int{1}},
		{what: "a code is all of its class", loose: true, keys: keysOf("", "6"), want: []string{"1 6 by code", "6 6 by code"}},
		{what: "a code before its group", loose: true, keys: keysOf("", "forest", "2"), want: []string{"1 forest by group", "2 2 by code"}},
		{what: "code and name", loose: true, keys: keysOf("", "pine", "2"), want: []string{"2 2 by code"}, ties: []Tie{{1, 0, 1}}},
		{what: "two codes of one class", loose: true, keys: keysOf("", "1", "6"), want: []string{"1 1 by code", "6 1 by code"}, ties: []Tie{{0, 0, 1}}},
		{what: "two spellings", loose: true, keys: keysOf("", "pine", "Pine"), want: []string{"2 pine by class"}, ties: []Tie{{1, 0, 1}}},
		{what: "words", keys: keysOf(Contains, "HEATH", "wet heath", "land"), want: []string{"3 wet heath by words", "4 HEATH by words", "5 land by words"}},
		{what: "words are not looked for in groups", keys: keysOf(Contains, "forest"), idle: []int{0}},
		{what: "a key that always loses is not idle", keys: keysOf(Contains, "wet", "wet heath"), want: []string{"3 wet heath by words"}},
		{what: "no keys"},
	} {
		v := Vocabulary{Classes: wild, Loose: c.loose}
		got, n := told(v, c.keys)
		if !reflect.DeepEqual(got, c.want) || !reflect.DeepEqual(n.Idle, c.idle) || !reflect.DeepEqual(n.Both, c.both) || !reflect.DeepEqual(n.Ties, c.ties) {
			t.Errorf("%s: %q idle %v both %v ties %v\nwant %q idle %v both %v ties %v", c.what, got, n.Idle, n.Both, n.Ties, c.want, c.idle, c.both, c.ties)
		}
	}
}

func TestNamingByLastPart(t *testing.T) {
	v := Vocabulary{Classes: Legend{{Code: 0, Name: "http://x.org/lith/sandstone"}, {Code: 1, Name: "http://y.org/all#peat"}, {Code: 2, Name: "clay"}}}
	got, n := told(v, keysOf(LastPart, "sandstone", "http://z.org/peat", "Clay", "sand"))
	if !reflect.DeepEqual(got, []string{"0 sandstone by last part", "1 http://z.org/peat by last part"}) || !reflect.DeepEqual(n.Idle, []int{2, 3}) {
		t.Errorf("%q %v", got, n.Idle)
	}
	if near := v.Near(Class{Name: "sandstome", Match: LastPart}); near != "sandstone" {
		t.Errorf("near %q", near)
	}
}

// TestNamingTwoParents: basalt is a basic and a fine-grained igneous rock, one
// as near as the other.
func TestNamingTwoParents(t *testing.T) {
	v := (&LegendUse{BuiltIn: "simple lithology"}).Vocabulary()
	n := v.Name(keysOf("", "basic igneous rock", "fine grained igneous rock", "gabbroid"))
	tied := func(i int) string { return v.Classes[n.Ties[i].Class].Name }
	if len(n.Ties) == 0 || tied(0) != "basalt" {
		t.Errorf("%v", n.Ties)
	}
	for i, e := range v.Classes {
		want := map[string]int{"gabbro": 2, "basic igneous rock": 0, "dacite": 1, "granite": -1}
		if at, ok := want[e.Name]; ok && n.Hits[i].Key != at {
			t.Errorf("%s: %d, want %d", e.Name, n.Hits[i].Key, at)
		}
	}
}

// TestNamingAnyLegend asks of random lists, over every legend that the program
// has, what each way of naming promises, found by trying all keys one by one.
func TestNamingAnyLegend(t *testing.T) {
	random := rand.New(rand.NewPCG(11, 3))
	hits := 0
	for _, b := range legends.All() {
		v := (&LegendUse{BuiltIn: b.Name}).Vocabulary()
		words := append(v.Classes.Names(), v.Classes.GroupNames()...)
		if len(words) == 0 {
			continue
		}
		for range 300 {
			how := []Match{"", Contains}[random.IntN(2)]
			var texts []string
			for range 1 + random.IntN(5) {
				w := words[random.IntN(len(words))]
				if parts := strings.Fields(w); how == Contains {
					w = parts[random.IntN(len(parts))]
				}
				if match.Key(w) != "" && !slices.ContainsFunc(texts, func(x string) bool { return match.Key(x) == match.Key(w) }) {
					texts = append(texts, w)
				}
			}
			keys := keysOf(how, texts...)
			n := v.Name(keys)
			for i, h := range n.Hits {
				hits += min(h.Key+1, 1)
				tied := slices.ContainsFunc(n.Ties, func(x Tie) bool { return x.Class == i })
				if want := plainly(v.Classes[i], keys); !tied && h.Key != want {
					t.Fatalf("%s: %q of %q: %d, want %d", b.Name, v.Classes[i].Name, texts, h.Key, want)
				}
			}
		}
	}
	if hits < 1000 {
		t.Errorf("only %d named", hits)
	}
}

// plainly finds the key of a class: by its words, or by its own name and then
// by its groups, the nearest first.
func plainly(e LegendEntry, keys []Class) int {
	same := func(a string) int {
		return slices.IndexFunc(keys, func(k Class) bool { return match.Key(k.Name) == match.Key(a) })
	}
	if len(keys) > 0 && keys[0].Match == Contains {
		var texts []string
		for _, k := range keys {
			texts = append(texts, k.Name)
		}
		return match.NewContains(texts).Find(e.Name)
	}
	if at := same(e.Name); at >= 0 {
		return at
	}
	for up := 1; up < 20; up++ {
		for _, g := range e.Groups {
			if at := same(g.Name); g.Up == up && at >= 0 {
				return at
			}
		}
	}
	return -1
}

// TestBuiltInBrings: what the plan leaves to the legend, and what it does not.
func TestBuiltInBrings(t *testing.T) {
	p := read(t, `format: 1
grid: {like: c}
maps:
  c: {file: c.tif, legend: {built in: worldcover}, year: 2020}
  own: {file: o.tif, legend: {built in: worldcover}, credit: us, licence: CC0}
  dense: {file: t.tif, legend: {built in: tree cover}}
  rock: {file: r.gpkg, field: f, legend: {built in: simple lithology}}
factors:
  a: {from: c, scores: {Cropland: 1}, others: 0}
  b: {from: own, scores: {Cropland: 1}, others: 0}
  d: {from: dense, curve: {0: 0, 50: 1}}
  e: {from: rock, scores: {peat: 1}, others: 0}
`)
	for name, want := range map[string]Map{
		"c":     {Credit: "© ESA WorldCover project 2020 / Contains modified Copernicus Sentinel data (2020) processed by ESA WorldCover consortium", CreditFrom: LegendWord, Licence: "CC-BY-4.0", LicenceFrom: LegendWord, Classes: true},
		"own":   {Credit: "us", Licence: "CC0", Classes: true},
		"dense": {Credit: legends.Named("tree cover").CreditOf(0), CreditFrom: LegendWord, Licence: legends.Named("tree cover").Licence, LicenceFrom: LegendWord, Unit: UnitPercent},
		"rock":  {Classes: true},
	} {
		m, _ := p.Map(name)
		got := Map{Credit: m.Credit, CreditFrom: m.CreditFrom, Licence: m.Licence, LicenceFrom: m.LicenceFrom, Classes: m.Classes, Unit: m.Unit}
		if !reflect.DeepEqual(got, want) {
			t.Errorf("%s: %+v\nwant %+v", name, got, want)
		}
	}
}
