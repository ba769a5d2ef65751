package combine

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"
)

// TestExplain tells the parts by hand. Scores 0.9, 0.5, 1 and missing with
// weights 3, 1, 2 and 4: where nothing is assumed the weights sum to 6.
func TestExplain(t *testing.T) {
	scores := []float32{0.875, 0.5, 1, float32(math.NaN())}
	lnA, lnB := 3*math.Log(0.875), math.Log(0.5)
	for _, c := range []struct {
		rule Rule
		loss [2]float64
		adds [2]float64
	}{
		{Mean, [2]float64{0.375 / 0.875, 0.5 / 0.875}, [2]float64{3 * 0.875 / 6, 0.5 / 6}},
		{GeometricMean, [2]float64{lnA / (lnA + lnB), lnB / (lnA + lnB)}, [2]float64{math.NaN(), math.NaN()}},
		{HarmonicMean, [2]float64{(3.0 / 7) / (3.0/7 + 1), 1 / (3.0/7 + 1)}, [2]float64{math.NaN(), math.NaN()}},
		{Product, [2]float64{lnA / 3 / (lnA/3 + lnB), lnB / (lnA/3 + lnB)}, [2]float64{math.NaN(), math.NaN()}},
		{LeastFactor, [2]float64{0, 1}, [2]float64{math.NaN(), math.NaN()}},
		// Places of three from four equal ones: a third each.
		{OrderedWeights, [2]float64{0.2, 0.8}, [2]float64{0.875 / 3, 0.5 / 3}},
	} {
		cb, err := New([]Factor{{Name: "a", Weight: 3}, {Name: "b", Weight: 1}, {Name: "c", Weight: 2}, {Name: "d", Weight: 4}}, c.rule, Options{OrderWeights: []float64{1, 1, 1, 1}})
		if err != nil {
			t.Fatal(err)
		}
		parts := cb.Explain(scores)
		for i, want := range c.loss {
			if math.Abs(parts[i].Loss-want) > 1e-12 {
				t.Errorf("%v: loss of factor %d is %g, want %g", c.rule, i, parts[i].Loss, want)
			}
			if a := c.adds[i]; math.Abs(parts[i].Adds-a) > 1e-12 || math.IsNaN(a) != math.IsNaN(parts[i].Adds) {
				t.Errorf("%v: factor %d adds %g, want %g", c.rule, i, parts[i].Adds, a)
			}
		}
		if parts[2].Loss != 0 || parts[3].Loss != 0 || parts[3].Counts || parts[3].Known || !parts[0].Counts {
			t.Errorf("%v: %+v", c.rule, parts)
		}
	}
}

// TestExplainZeros: a 0 that makes the whole 0 bears all of the loss.
func TestExplainZeros(t *testing.T) {
	factors := []Factor{{Name: "a", Weight: 1}, {Name: "b", Weight: 1}, {Name: "c", Must: true}, {Name: "d", Weight: 1, Unknown: Assume(0)}}
	for _, c := range []struct {
		rule   Rule
		scores []float32
		loss   []float64
	}{
		{GeometricMean, []float32{0, 0.5, 1, 1}, []float64{1, 0, 0, 0}},
		{GeometricMean, []float32{0, 0.5, 1, float32(math.NaN())}, []float64{0.5, 0, 0, 0.5}},
		{HarmonicMean, []float32{0, 0, 1, 1}, []float64{0.5, 0.5, 0, 0}},
		{Mean, []float32{0, 0.5, 0, 1}, []float64{0, 0, 1, 0}}, // a must of 0, without weight
		{Mean, []float32{1, 1, 1, 1}, []float64{0, 0, 0, 0}},
		{LeastFactor, []float32{1, 1, 1, 1}, []float64{0, 0, 0, 0}},
		{LeastFactor, []float32{0.5, 0.5, 1, 1}, []float64{0.5, 0.5, 0, 0}},
	} {
		cb, err := New(factors, c.rule, Options{})
		if err != nil {
			t.Fatal(err)
		}
		parts := cb.Explain(c.scores)
		for i, want := range c.loss {
			if parts[i].Loss != want {
				t.Errorf("%v of %v: factor %d bears %g, want %g", c.rule, c.scores, i, parts[i].Loss, want)
			}
		}
		if c.scores[2] == 0 && !parts[2].Vetoes {
			t.Error("a must of 0 does not veto")
		}
	}
}

// TestExplainAgrees: what the parts add up to is the score of the cell, and
// the losses add up to 1, for any scores, weights and rule.
func TestExplainAgrees(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 6).Draw(t, "n")
		var factors []Factor
		var scores []float32
		var columns [][]float32
		var order []float64
		for i := range n {
			f := Factor{Name: string(rune('z' - i)), Weight: float64(rapid.IntRange(1, 9).Draw(t, "w")) / 4}
			if rapid.Bool().Draw(t, "assume") {
				f.Unknown = Assume(0.25)
			}
			v := float32(rapid.IntRange(0, 64).Draw(t, "score")) / 64
			if rapid.IntRange(0, 3).Draw(t, "missing") == 0 {
				v = float32(math.NaN())
			}
			factors, scores, columns = append(factors, f), append(scores, v), append(columns, []float32{v})
			order = append(order, float64(rapid.IntRange(1, 9).Draw(t, "o")))
		}
		rule := Rule(rapid.IntRange(0, len(ruleNames)-1).Draw(t, "rule"))
		c, err := New(factors, rule, Options{Floor: 0.02, OrderWeights: order})
		if err != nil {
			t.Fatal(err)
		}
		var score [1]float32
		c.Scratch().Apply(score[:], nil, columns)
		if score[0] != score[0] {
			return
		}
		loss, adds, share := 0.0, 0.0, 0.0
		for _, p := range c.Explain(scores) {
			loss, adds, share = loss+p.Loss, adds+p.Adds, share+p.Share
		}
		lost := 1.0
		if score[0] == 1 && loss < 0.5 {
			lost = 0
		}
		if math.Abs(loss-lost) > 1e-9 {
			t.Fatalf("%v of %v: score %g, losses add up to %g", rule, scores, score[0], loss)
		}
		adding := rule == Mean || rule == OrderedWeights
		if adding != (adds == adds) || adding && math.Abs(adds-float64(score[0])) > 0.6/Step {
			t.Fatalf("%v of %v: score %g, parts add up to %g", rule, scores, score[0], adds)
		}
		if rule != Product && rule != LeastFactor && math.Abs(share-1) > 1e-9 {
			t.Fatalf("%v: shares add up to %g", rule, share)
		}
	})
}

func ExampleCombiner_Explain() {
	c, _ := New([]Factor{{Name: "soil", Weight: 3}, {Name: "trees", Weight: 1}}, GeometricMean, Options{})
	for _, p := range c.Explain([]float32{0.5, 0.25}) {
		fmt.Printf("%.2f of the weight, %.2f of the loss\n", p.Share, p.Loss)
	}
	// Output:
	// 0.75 of the weight, 0.60 of the loss
	// 0.25 of the weight, 0.40 of the loss
}
