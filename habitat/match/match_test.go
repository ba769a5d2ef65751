package match

import (
	"math/rand/v2"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"
)

func TestContains(t *testing.T) {
	for _, c := range []struct {
		keys []string
		text string
		want int
	}{
		{[]string{"sandstone", "mudstone"}, "MUDSTONE, SILTSTONE AND SANDSTONE", 0},              // the longest key
		{[]string{"limestone", "sandstone"}, "Sandstone and limestone", 1},                       // equally long: the earliest
		{[]string{"limestone", "sandstone"}, "Limestone and sandstone", 0},                       //
		{[]string{"sand", "silt"}, "silt; sand", 1},                                              //
		{[]string{"sand"}, "sandstone", -1},                                                      // whole words
		{[]string{"sand"}, "sands", -1},                                                          //
		{[]string{"sand"}, "quicksand", -1},                                                      //
		{[]string{"sand", "sand and gravel"}, "gravel and sand", 0},                              // words in a row, in order
		{[]string{"sand and gravel"}, "sand, gravel", -1},                                        //
		{[]string{"sand gravel"}, "Sand, gravel", 0},                                             // marks part words and are no words
		{[]string{"igneous material"}, "acidic_igneous_material", 0},                             //
		{[]string{"löss"}, "LÖSS", 0},                                                            // case beyond ASCII
		{[]string{"löss"}, "lo\u0308ss", 0},                                                      // a letter and its mark apart
		{[]string{"loss"}, "löss", -1},                                                           // a mark is part of the letter
		{[]string{"ΑΜΜΟΣ"}, "άμμος αμμος", 0},                                                    // the final sigma is a sigma
		{[]string{"2b"}, "Unit 2B", 0},                                                           //
		{[]string{"2"}, "Unit 2B", -1},                                                           //
		{[]string{""}, "", -1},                                                                   //
		{[]string{"--", "a"}, "-- a", 1},                                                         // a key without words
		{[]string{"Sand", "sand"}, "sand", 0},                                                    // the first of two alike
		{[]string{"a b c", "b c d e"}, "a b c d e", 1},                                           // overlapping
		{[]string{"clay"}, "clay with flints clay", 0},                                           //
		{[]string{"old red sandstone", "red sandstone and mud"}, "Old red sandstone and mud", 1}, //
		{nil, "sand", -1},
	} {
		if got := NewContains(c.keys).Find(c.text); got != c.want {
			t.Errorf("%q in %q: %d, want %d", c.keys, c.text, got, c.want)
		}
	}
}

// plainly is the contract word for word, by another way: each key as a
// regular expression over the text's words, all places tried.
func plainly(keys []string, text string) int {
	joined := " " + strings.Join(Words(text), " ") + " "
	best, bestLong, bestAt := -1, 0, 0
	for i, key := range keys {
		k := Key(key)
		if k == "" {
			continue
		}
		where := regexp.MustCompile(" " + regexp.QuoteMeta(k) + " ").FindStringIndex(joined)
		long := utf8.RuneCountInString(k)
		if where != nil && (best < 0 || long > bestLong || long == bestLong && where[0] < bestAt) {
			best, bestLong, bestAt = i, long, where[0]
		}
	}
	return best
}

// TestContainsAsPlainly holds random texts of few words against the contract
// spelt out, and asks that case, marks and the order of keys change nothing.
func TestContainsAsPlainly(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 7))
	vocabulary := []string{"a", "b", "ab", "ba", "aab", "Sand", "sandstone"}
	some := func(most int) string {
		var words []string
		for range 1 + random.IntN(most) {
			words = append(words, vocabulary[random.IntN(len(vocabulary))])
		}
		return strings.Join(words, []string{" ", ", ", "_", " - "}[random.IntN(4)])
	}
	found := 0
	for range 20_000 {
		var keys []string
		for range 1 + random.IntN(6) {
			keys = append(keys, some(3))
		}
		text := some(6)
		got := NewContains(keys).Find(text)
		if want := plainly(keys, text); got != want {
			t.Fatalf("%q in %q: %d, want %d", keys, text, got, want)
		}
		if got < 0 {
			continue
		}
		found++
		if other := NewContains(keys).Find(strings.ToUpper(text) + " ."); other != got {
			t.Fatalf("%q in %q: %d, in capitals %d", keys, text, got, other)
		}
		turned := slices.Clone(keys)
		slices.Reverse(turned)
		if other := NewContains(turned).Find(text); Key(turned[other]) != Key(keys[got]) {
			t.Fatalf("%q in %q: the order of keys matters", keys, text)
		}
	}
	if found < 5000 {
		t.Errorf("only %d matched", found)
	}
}

func TestLastPart(t *testing.T) {
	for text, want := range map[string]string{
		"http://resource.geosciml.org/classifier/cgi/lithology/clastic_sediment": "clastic_sediment",
		"http://inspire.ec.europa.eu/codelist/LithologyValue/sandstone/":         "sandstone",
		"https://example.org/a/b#c": "c", "https://example.org/a#b/c": "c", " sand ": "sand", "": "", "///": "", "a#": "a", "#a": "a",
	} {
		if got := LastPart(text); got != want {
			t.Errorf("%q: %q, want %q", text, got, want)
		}
	}
}

func FuzzContains(f *testing.F) {
	f.Add("sand\nsand and gravel\nSilt", "SAND AND GRAVEL")
	f.Add("löss\n--", "lo\u0308ss \xff")
	f.Add("ſ\ns", "K\u212a ſ")
	f.Fuzz(func(t *testing.T, list, text string) {
		if len(list)+len(text) > 2000 {
			return
		}
		keys := strings.Split(list, "\n")
		got := NewContains(keys).Find(text)
		if want := plainly(keys, text); got != want {
			t.Errorf("%q in %q: %d, want %d", keys, text, got, want)
		}
		if got >= 0 && NewContains(keys[got:got+1]).Find(text) != 0 {
			t.Errorf("%q wins in %q, but is not found alone", keys[got], text)
		}
		for _, w := range Words(text) {
			if again := Words(w); len(again) != 1 || again[0] != w {
				t.Errorf("the word %q is read as %q", w, again)
			}
		}
		if part := LastPart(text); LastPart(part) != part || strings.ContainsAny(part, "/#") {
			t.Errorf("the last part of %q is %q", text, part)
		}
	})
}
