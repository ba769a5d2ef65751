package combine

import (
	"errors"
	"math"
	"math/rand"
	"testing"
)

var nan = float32(math.NaN())

func mustNew(t testing.TB, factors []Factor, rule Rule, o Options) *Combiner {
	t.Helper()
	c, err := New(factors, rule, o)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// join joins the scores of a single cell.
func join(c *Combiner, scores ...float32) (score, coverage float32) {
	factors := make([][]float32, len(scores))
	for i := range factors {
		factors[i] = scores[i : i+1]
	}
	var s, k [1]float32
	c.Scratch().Apply(s[:], k[:], factors)
	return s[0], k[0]
}

func three(unknown Unknown) []Factor {
	return []Factor{{Name: "soil", Weight: 3, Unknown: unknown}, {Name: "rock", Weight: 2, Unknown: unknown}, {Name: "wood", Weight: 1, Unknown: unknown}}
}

// near asks for the published value within half a step of rounding.
func near(t *testing.T, what string, got float32, want float64) {
	t.Helper()
	if !(math.Abs(float64(got)-want) <= 0.5/Step+1e-6) {
		t.Errorf("%s: %v, want %v", what, got, want)
	}
}

// Check C1: worked with R's weighted means and scipy's gmean and hmean.
func TestMeansOfThree(t *testing.T) {
	want := map[Rule]float64{Mean: .7, GeometricMean: .654674, HarmonicMean: .6, LeastFactor: .3, Product: .9 * .6 * .3}
	for rule, w := range want {
		score, coverage := join(mustNew(t, three(Unknown{}), rule, Options{}), .9, .6, .3)
		near(t, rule.String(), score, w)
		if coverage != 1 {
			t.Errorf("%v: coverage %v, want exactly 1", rule, coverage)
		}
	}
}

// Check C1, second score missing and the weights renormalised.
func TestMeansShareOutTheUnknown(t *testing.T) {
	for rule, w := range map[Rule]float64{Mean: .75, GeometricMean: .683852, HarmonicMean: 4 / (3/.9 + 1/.3), LeastFactor: .3, Product: .27} {
		score, coverage := join(mustNew(t, three(Unknown{}), rule, Options{}), .9, nan, .3)
		near(t, rule.String(), score, w)
		if coverage != float32(4.0/6) {
			t.Errorf("%v: coverage %v, want .666667", rule, coverage)
		}
	}
}

// Check C1: a 0 vetoes logarithm and reciprocal, but not with weight 0.
func TestZeroScoreAndZeroWeight(t *testing.T) {
	for _, rule := range []Rule{GeometricMean, HarmonicMean, Product, LeastFactor} {
		factors := three(Unknown{})
		if score, _ := join(mustNew(t, factors, rule, Options{}), .9, 0, .3); score != 0 {
			t.Errorf("%v: a zero gives %v", rule, score)
		}
		factors[1].Weight = 0
		with, coverage := join(mustNew(t, factors, rule, Options{}), .9, 0, .3)
		without, _ := join(mustNew(t, []Factor{factors[0], factors[2]}, rule, Options{}), .9, .3)
		if with != without || coverage != 1 {
			t.Errorf("%v: weight 0 gives %v (coverage %v), want %v", rule, with, coverage, without)
		}
	}
}

func TestFloorRaisesWhatEntersALogarithmOrReciprocal(t *testing.T) {
	o := Options{Floor: 0.02}
	score, _ := join(mustNew(t, three(Unknown{}), GeometricMean, o), .9, 0, .3)
	near(t, "geometric", score, math.Pow(math.Pow(.9, 3)*math.Pow(.02, 2)*.3, 1./6))
	score, _ = join(mustNew(t, three(Unknown{}), HarmonicMean, o), .9, .01, .3)
	near(t, "harmonic", score, 6/(3/.9+2/.02+1/.3))
	score, _ = join(mustNew(t, three(Unknown{}), Mean, o), .9, 0, .3)
	near(t, "a mean has no floor", score, 3./6)
}

func TestMustVetoesWhateverTheRule(t *testing.T) {
	for rule := Mean; rule <= OrderedWeights; rule++ {
		for _, weight := range []float64{2, 0} {
			factors := three(Unknown{})
			factors[1].Must, factors[1].Weight = true, weight
			o := Options{Floor: 0.1, OrderWeights: []float64{3, 2, 1}}
			if weight == 0 {
				o.OrderWeights = o.OrderWeights[:2]
			}
			c := mustNew(t, factors, rule, o)
			if score, _ := join(c, .9, 0, .3); score != 0 {
				t.Errorf("%v, weight %v: a must of 0 gives %v", rule, weight, score)
			}
			if score, _ := join(c, .9, .01, .3); !(score > 0) {
				t.Errorf("%v, weight %v: a must above 0 gives %v", rule, weight, score)
			}
			if score, _ := join(c, .9, nan, .3); !(score > 0) {
				t.Errorf("%v, weight %v: an unknown must gives %v", rule, weight, score)
			}
			if score, _ := join(c, nan, nan, nan); score == score {
				t.Errorf("%v, weight %v: nothing known gives %v, want missing", rule, weight, score)
			}
		}
	}
}

func TestUnknownTreatments(t *testing.T) {
	isMissing := func(what string, score float32) {
		t.Helper()
		if score == score {
			t.Errorf("%s: %v, want missing", what, score)
		}
	}
	score, coverage := join(mustNew(t, three(Assume(.4)), Mean, Options{}), .9, nan, .3)
	near(t, "assumed", score, (3*.9+2*.4+.3)/6)
	near(t, "assumed is not counted as known", coverage, 4./6)
	score, coverage = join(mustNew(t, three(Assume(.4)), Mean, Options{}), nan, nan, nan)
	isMissing("assumed alone does not make a cell known", score)
	near(t, "nothing known", coverage, 0)
	score, coverage = join(mustNew(t, three(Unknown{Treatment: LeaveBlank}), Mean, Options{}), .9, nan, .3)
	isMissing("left blank", score)
	near(t, "coverage of a blank", coverage, 4./6)

	own := three(Unknown{})
	own[1].Unknown = Unknown{Treatment: LeaveBlank}
	c := mustNew(t, own, Mean, Options{})
	score, _ = join(c, nan, .6, .3)
	near(t, "a factor's own rule", score, .5)
	score, _ = join(c, .9, nan, .3)
	isMissing("a factor's own rule", score)
}

func TestBlankComesBeforeVeto(t *testing.T) {
	factors := three(Unknown{})
	factors[0].Must = true
	factors[1].Unknown = Unknown{Treatment: LeaveBlank}
	if score, _ := join(mustNew(t, factors, Mean, Options{}), 0, nan, .3); score == score {
		t.Errorf("got %v, want missing", score)
	}
}

func TestUnknownMustWithoutWeight(t *testing.T) {
	factors := three(Unknown{})
	factors[1].Weight, factors[1].Must = 0, true
	for _, c := range []struct {
		unknown Unknown
		want    float64 // NaN: missing
	}{{Unknown{}, .75}, {Assume(0), 0}, {Assume(.2), .75}, {Unknown{Treatment: LeaveBlank}, math.NaN()}} {
		factors[1].Unknown = c.unknown
		score, coverage := join(mustNew(t, factors, Mean, Options{}), .9, nan, .3)
		if got := float64(score); got != got != (c.want != c.want) || math.Abs(got-c.want) > 1e-4 {
			t.Errorf("%v: %v, want %v", c.unknown, got, c.want)
		}
		if coverage != 1 {
			t.Errorf("%v: coverage %v, want 1: no weight is unknown", c.unknown, coverage)
		}
	}
	factors[1].Must, factors[1].Unknown = false, Unknown{Treatment: LeaveBlank}
	score, _ := join(mustNew(t, factors, Mean, Options{}), .9, nan, .3)
	near(t, "left blank but counting for nothing", score, .75)
}

func TestCoverageIsOneOnlyWhereAllIsKnown(t *testing.T) {
	factors := []Factor{{Name: "a", Weight: 1e12}, {Name: "b", Weight: 1e-3}}
	if _, coverage := join(mustNew(t, factors, Mean, Options{}), .5, nan); !(coverage < 1) {
		t.Errorf("coverage %v with a small weight unknown", coverage)
	}
}

func TestNewRefuses(t *testing.T) {
	good := []Factor{{Name: "a", Weight: 1}, {Name: "b", Weight: 2}}
	change := func(f func(*Factor)) []Factor {
		out := append([]Factor(nil), good...)
		f(&out[1])
		return out
	}
	for name, c := range map[string]struct {
		factors []Factor
		rule    Rule
		o       Options
	}{
		"none":           {nil, Mean, Options{}},
		"no weight":      {[]Factor{{Name: "a", Must: true}}, Mean, Options{}},
		"one name twice": {change(func(f *Factor) { f.Name = "a" }), Mean, Options{}},
		"below 0":        {change(func(f *Factor) { f.Weight = -1 }), Mean, Options{}},
		"NaN weight":     {change(func(f *Factor) { f.Weight = math.NaN() }), Mean, Options{}},
		"infinite":       {change(func(f *Factor) { f.Weight = math.Inf(1) }), Mean, Options{}},
		"assumes 2":      {change(func(f *Factor) { f.Unknown = Assume(2) }), Mean, Options{}},
		"treatment":      {change(func(f *Factor) { f.Unknown.Treatment = 7 }), Mean, Options{}},
		"rule":           {good, Rule(99), Options{}},
		"floor":          {good, GeometricMean, Options{Floor: -0.1}},
		"floor NaN":      {good, GeometricMean, Options{Floor: math.NaN()}},
		"order missing":  {good, OrderedWeights, Options{}},
		"order zero":     {good, OrderedWeights, Options{OrderWeights: []float64{0, 0}}},
		"order below 0":  {good, OrderedWeights, Options{OrderWeights: []float64{2, -1}}},
	} {
		_, err := New(c.factors, c.rule, c.o)
		var e *Error
		if !errors.As(err, &e) || !e.MustChange() || e.Remedy() == "" {
			t.Errorf("%s: got %v, want an error with a remedy", name, err)
		}
	}
}

func TestParseRule(t *testing.T) {
	for i, name := range Rules() {
		if r, err := ParseRule(name); err != nil || r != Rule(i) || r.String() != name {
			t.Errorf("%q: %v, %v", name, r, err)
		}
	}
	if _, err := ParseRule("meen"); err == nil {
		t.Error("a misspelt rule is taken")
	}
	if Rule(99).String() != "rule 99" {
		t.Error(Rule(99).String())
	}
}

// bench has n cells and six layers; hole of them are missing, zero of them 0.
func layers(n int, hole, zero float64) [][]float32 {
	r := rand.New(rand.NewSource(7))
	out := make([][]float32, 6)
	for k := range out {
		out[k] = make([]float32, n)
		for i := range out[k] {
			switch p := r.Float64(); {
			case p < hole:
				out[k][i] = nan
			case p < hole+zero:
				out[k][i] = 0
			default:
				out[k][i] = r.Float32()
			}
		}
	}
	return out
}

func six() []Factor {
	out := make([]Factor, 6)
	for k := range out {
		out[k] = Factor{Name: string(rune('a' + k)), Weight: float64(k%3 + 1), Must: k == 2}
	}
	return out
}

func BenchmarkApply(b *testing.B) {
	const n = 512 * 32
	score, coverage := make([]float32, n), make([]float32, n)
	for rule := Mean; rule <= OrderedWeights; rule++ {
		for name, hole := range map[string]float64{"whole": 0, "holes": 0.05} {
			data := layers(n, hole, 0.05)
			s := mustNew(b, six(), rule, Options{OrderWeights: []float64{6, 5, 4, 3, 2, 1}}).Scratch()
			b.Run(rule.String()+" of six/"+name, func(b *testing.B) {
				b.ReportAllocs()
				for i := 0; i < b.N; i++ {
					s.Apply(score, coverage, data)
				}
				b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/n, "ns/cell")
			})
		}
	}
}
