package combine

import (
	"errors"
	"math"
	"testing"
)

func within(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %.7f, want %.7f", what, got, want)
	}
}

// Check C3: the tables of Saaty (1980; drinks: 2008, Decision making with the
// analytic hierarchy process, printed to 3 digits), eigenvectors by R.
func TestPairwiseAfterSaaty(t *testing.T) {
	for name, c := range map[string]struct {
		table         [][]float64
		weights       []float64
		lambda, ratio float64
	}{
		"drinks": {[][]float64{
			{1, 9, 5, 2, 1, 1, 1. / 2},
			{1. / 9, 1, 1. / 3, 1. / 9, 1. / 9, 1. / 9, 1. / 9},
			{1. / 5, 3, 1, 1. / 3, 1. / 4, 1. / 3, 1. / 9},
			{1. / 2, 9, 3, 1, 1. / 2, 1, 1. / 3},
			{1, 9, 4, 2, 1, 2, 1. / 2},
			{1, 9, 3, 1, 1. / 2, 1, 1. / 3},
			{2, 9, 9, 3, 2, 3, 1},
		}, []float64{.177457, .019149, .041831, .116417, .189572, .128781, .326793}, 7.176629, .02230},
		"three": {[][]float64{{1, 3, 5}, {1. / 3, 1, 3}, {1. / 5, 1. / 3, 1}},
			[]float64{.636986, .258285, .104729}, 3.038511, .033199},
		"one of a kind": {[][]float64{{1}}, []float64{1}, 1, 0},
		"a pair":        {[][]float64{{1, 3}, {1. / 3, 1}}, []float64{.75, .25}, 2, 0},
		"wholly consistent": {[][]float64{{1, 2, 6}, {.5, 1, 3}, {1. / 6, 1. / 3, 1}},
			[]float64{.6, .3, .1}, 3, 0},
	} {
		got, err := Pairwise(c.table)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		for i, w := range c.weights {
			within(t, name+" weight", got.Weights[i], w, 1e-6)
		}
		within(t, name+" lambda", got.Lambda, c.lambda, 1e-6)
		within(t, name+" ratio", got.Ratio, c.ratio, 1e-5)
		if got.Ratio > ConsistencyLimit {
			t.Errorf("%s: ratio %v above the limit", name, got.Ratio)
		}
	}
}

// Check C3: a circle of judgements is no judgement.
func TestPairwiseTellsACircle(t *testing.T) {
	got, err := Pairwise([][]float64{{1, 9, 1. / 9}, {1. / 9, 1, 9}, {9, 1. / 9, 1}})
	if err != nil {
		t.Fatal(err)
	}
	within(t, "ratio", got.Ratio, 6.13, 5e-3)
	within(t, "index", got.Index, (got.Lambda-3)/2, 1e-12)
	if got.Ratio <= ConsistencyLimit {
		t.Error("below the limit")
	}
}

// An eigenvector is one: A·w = λ·w, for the largest table as well.
func TestPairwiseGivesAnEigenvector(t *testing.T) {
	for n := 2; n < len(randomIndex); n++ {
		table := make([][]float64, n)
		for i := range table {
			table[i] = make([]float64, n)
			for j := range table[i] {
				table[i][j] = 1
			}
		}
		for i := range table {
			for j := range i {
				table[i][j] = float64((i*7+j*3)%9 + 1)
				table[j][i] = 1 / table[i][j]
			}
		}
		c, err := Pairwise(table)
		if err != nil {
			t.Fatal(err)
		}
		for i, row := range table {
			within(t, "A·w", weigh(row, c.Weights), c.Lambda*c.Weights[i], 1e-12)
		}
	}
}

func TestPairwiseRefuses(t *testing.T) {
	big := make([][]float64, 16)
	for i := range big {
		big[i] = make([]float64, 16)
	}
	for name, table := range map[string][][]float64{
		"empty": {}, "not square": {{1, 2}, {.5}}, "not reciprocal": {{1, 3}, {.33, 1}},
		"negative": {{1, -3}, {-1. / 3, 1}}, "zero": {{1, 0}, {0, 1}}, "diagonal": {{2, 1}, {1, 1}},
		"infinite": {{1, math.Inf(1)}, {0, 1}}, "NaN": {{1, math.NaN()}, {1, 1}}, "too large": big,
	} {
		_, err := Pairwise(table)
		var e *Error
		if !errors.As(err, &e) || !e.MustChange() || e.Remedy() == "" {
			t.Errorf("%s: got %v, want an error with a remedy", name, err)
		}
	}
}
