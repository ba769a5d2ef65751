package combine

import (
	"math"
	"testing"
)

func close6(t *testing.T, what string, got, want float64) {
	t.Helper()
	if !(math.Abs(got-want) <= 1e-6) {
		t.Errorf("%s: %.7f, want %.7f", what, got, want)
	}
}

func four() []Factor {
	return []Factor{{Name: "a", Weight: 1}, {Name: "b", Weight: 5}, {Name: "c", Weight: 1}, {Name: "d", Weight: 1}}
}

// Check C2: Yager 1988, worked by hand.
func TestOrderedWeightsAfterYager(t *testing.T) {
	weights := []float64{.4, .3, .2, .1}
	score, coverage := join(mustNew(t, four(), OrderedWeights, Options{OrderWeights: weights}), .7, 1, .2, .6)
	near(t, "ordered weights", score, .75)
	if coverage != 1 {
		t.Errorf("coverage %v, want 1", coverage)
	}
	close6(t, "orness", Orness(weights), .666667)
	close6(t, "dispersion", Dispersion(weights), 1.279854)
	square := QuantifierWeights(4, func(r float64) float64 { return r * r })
	for i, want := range []float64{.0625, .1875, .3125, .4375} {
		close6(t, "weight of r²", square[i], want)
	}
	score, _ = join(mustNew(t, four(), OrderedWeights, Options{OrderWeights: square}), .7, 1, .2, .6)
	near(t, "r²", score, .46875)
}

func TestOrnessAndDispersionAtTheirEnds(t *testing.T) {
	for _, c := range []struct {
		weights            []float64
		orness, dispersion float64
	}{
		{[]float64{1, 0, 0}, 1, 0}, {[]float64{0, 0, 1}, 0, 0},
		{[]float64{.25, .25, .25, .25}, .5, math.Log(4)}, {[]float64{1}, .5, 0},
	} {
		close6(t, "orness", Orness(c.weights), c.orness)
		close6(t, "dispersion", Dispersion(c.weights), c.dispersion)
	}
}

func TestOrderedWeightsWithFewerScores(t *testing.T) {
	rule := func(weights ...float64) *Combiner {
		return mustNew(t, four(), OrderedWeights, Options{OrderWeights: weights})
	}
	score, _ := join(rule(1, 0, 0, 0), .2, nan, .6, nan)
	near(t, "the best alone", score, .6)
	score, _ = join(rule(0, 0, 0, 1), .2, nan, .6, nan)
	near(t, "the worst alone", score, .2)
	score, _ = join(rule(1, 1, 1, 1), .2, nan, .6, .1)
	near(t, "equal weights", score, .3)
	// Two of four: each takes two neighbouring weights, .7 and .3.
	score, coverage := join(rule(.4, .3, .2, .1), .2, nan, .6, nan)
	near(t, "two of four", score, .7*.6+.3*.2)
	near(t, "coverage uses the weights", coverage, 2./8)
	// Three of four: rises at 1/3 and 2/3 of the quantifier: .5, .333333, .166667.
	score, _ = join(rule(.4, .3, .2, .1), .2, nan, .6, .4)
	near(t, "three of four", score, .5*.6+.4/3+.2/6)
}

func TestOrderedWeightsAssume(t *testing.T) {
	factors := four()
	factors[1].Unknown = Assume(1)
	c := mustNew(t, factors, OrderedWeights, Options{OrderWeights: []float64{.4, .3, .2, .1}})
	score, _ := join(c, .7, nan, .2, .6)
	near(t, "assumed scores take a place", score, .75)
	score, _ = join(c, nan, nan, nan, nan)
	if score == score {
		t.Errorf("assumed alone: %v, want missing", score)
	}
}
