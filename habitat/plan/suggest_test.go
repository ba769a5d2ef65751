package plan

import "testing"

// TestSuggest: distances worked out by hand after Damerau (1964): one for a
// letter too many, too few, another, or a swap of neighbours.
func TestSuggest(t *testing.T) {
	known := []string{"weight", "curve", "scores", "sandstone", "sand", "clay"}
	for word, want := range map[string]string{
		"wieght": "weight", "weigth": "weight", "Weight": "weight", "curv": "curve", "sandstome": "sandstone",
		"snad": "sand", "colour": "", "": "", "x": "", "score": "scores",
	} {
		if got := Suggest(word, known); got != want {
			t.Errorf("%q: %q, want %q", word, got, want)
		}
	}
	if got := Suggest("bat", []string{"cat", "bar"}); got != "bar" {
		t.Errorf("a tie goes to %q", got)
	}
	for _, c := range []struct {
		a, b string
		want int
	}{{"sandstome", "sandstone", 1}, {"Broad-leaf", "broad leaf", 0}, {"snadstone", "sandstone", 1}, {"clay", "chalk", -1}, {"sand", "sandstone", -1}} {
		if got := Misspelling(c.a, c.b); got != c.want {
			t.Errorf("%q and %q: %d, want %d", c.a, c.b, got, c.want)
		}
	}
}
