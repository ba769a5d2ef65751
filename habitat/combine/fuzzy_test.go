package combine

import "testing"

// TestFuzzyOperators holds the rules that are fuzzy operators by another name
// to their worked values (Zadeh 1965: minimum for "and", maximum for "or";
// the algebraic product): of .8 and .5 these are .5, .8 and .4. The fuzzy
// algebraic sum and the compensating "gamma" (Zimmermann & Zysno 1980) are no
// rules here.
func TestFuzzyOperators(t *testing.T) {
	factors := []Factor{{Name: "a", Weight: 1}, {Name: "b", Weight: 1}}
	scores := [][]float32{{0.8}, {0.5}}
	for rule, want := range map[Rule]float64{LeastFactor: 0.5, Product: 0.4} {
		c, err := New(factors, rule, Options{})
		if err != nil {
			t.Fatal(err)
		}
		got := []float32{0}
		c.Scratch().Apply(got, nil, scores)
		if d := float64(got[0]) - want; d > 1.0/Step || d < -1.0/Step {
			t.Errorf("%s: %g, want %g", rule, got[0], want)
		}
	}
	best := []float32{0}
	BestOf(best, scores)
	if best[0] != 0.8 {
		t.Errorf("best of: %g, want 0.8", best[0])
	}
}
