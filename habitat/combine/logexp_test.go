package combine

import (
	"math"
	"math/rand"
	"testing"

	"pgregory.net/rapid"
)

// The referee is the math package, itself good to one unit in the last place.
func TestLogAndExpKeepTheirStatedError(t *testing.T) {
	r := rand.New(rand.NewSource(3))
	for range 200_000 {
		v := r.Float32()
		for range r.Intn(4) {
			v *= r.Float32() * 0.01
		}
		if v == 0 {
			continue
		}
		if got, want := log(math.Float64bits(float64(v))), math.Log(float64(v)); math.Abs(got-want) > 3e-14 {
			t.Fatalf("log(%v) = %v, want %v", v, got, want)
		}
		x := -25 * r.Float64()
		if got, want := exp(x), math.Exp(x); math.Abs(got-want) > 2e-15*want {
			t.Fatalf("exp(%v) = %v, want %v", x, got, want)
		}
	}
}

func TestLogAndExpAtTheirEnds(t *testing.T) {
	bits := func(v float64, floor float64) uint64 { return lift(v, math.Float64bits(floor)) }
	if l := log(bits(0, 0)); !math.IsInf(l, -1) {
		t.Errorf("log 0 = %v", l)
	}
	if l := log(bits(math.Copysign(0, -1), 0.5)); math.Abs(l-math.Log(0.5)) > 1e-12 {
		t.Errorf("log of -0 raised to 0.5 = %v", l)
	}
	if l := log(bits(math.NaN(), 0.5)); l == l {
		t.Errorf("log NaN = %v", l)
	}
	if y := exp(math.NaN()); y == y {
		t.Errorf("exp NaN = %v", y)
	}
	if l := log(bits(1, 0)); l != 0 {
		t.Errorf("log 1 = %v", l)
	}
	if exp(0) != 1 || round(exp(math.Inf(-1))) != 0 || exp(-1e300) != exp(-31) {
		t.Errorf("exp at 0, -Inf, far below: %v %v %v", exp(0), exp(math.Inf(-1)), exp(-1e300))
	}
	least := float64(math.SmallestNonzeroFloat32)
	if l := log(bits(least, 0)); math.Abs(l-math.Log(least)) > 3e-14 {
		t.Errorf("log of the least float32 = %v", l)
	}
}

// exact is the rule as the textbook has it, by the math package.
func exact(rule Rule, scores []float32, weights []float64, floor float64) float64 {
	sum, total, product, least := 0.0, 0.0, 1.0, 1.0
	for i, s := range scores {
		if weights[i] == 0 {
			continue
		}
		v := float64(s)
		total += weights[i]
		product *= v
		least = math.Min(least, v)
		switch rule {
		case Mean:
			sum += weights[i] * v
		case GeometricMean:
			sum += weights[i] * math.Log(math.Max(v, floor))
		case HarmonicMean:
			sum += weights[i] / math.Max(v, floor)
		}
	}
	switch rule {
	case Mean:
		return sum / total
	case GeometricMean:
		return math.Exp(sum / total)
	case HarmonicMean:
		return total / sum
	case Product:
		return product
	}
	return least
}

// agrees asks for the same step as exact arithmetic, but where that lies
// within 1e-9 of the middle between two steps.
func agrees(got float32, want float64) bool {
	steps := want * Step
	tie := math.Abs(steps-math.Floor(steps)-0.5) < 1e-9*Step
	return float64(got) == math.RoundToEven(steps)/Step || tie && math.Abs(float64(got)-want) < 0.6/Step
}

func drawScore(t *rapid.T) float32 {
	if rapid.IntRange(0, 9).Draw(t, "kind") == 0 {
		return 0
	}
	return rapid.Float32Range(0, 1).Draw(t, "score")
}

// drawWeight gives whole, decimal and odd weights, so that geometric means
// go by powers and by logarithms.
func drawWeight(t *rapid.T) float64 {
	switch rapid.IntRange(0, 3).Draw(t, "kind") {
	case 0:
		return rapid.Float64Range(0, 5).Draw(t, "weight")
	case 1:
		return float64(rapid.IntRange(0, 20).Draw(t, "weight")) / 10
	}
	return float64(rapid.IntRange(0, 5).Draw(t, "weight"))
}

func TestScoresAgreeWithExactArithmetic(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 8).Draw(t, "factors")
		factors, weights, data := make([]Factor, n), make([]float64, n), make([][]float32, n)
		for k := range factors {
			weights[k] = drawWeight(t)
			factors[k] = Factor{Name: string(rune('z' - k)), Weight: weights[k]}
		}
		weights[0]++
		factors[0].Weight++
		cells := 20
		for k := range data {
			for range cells {
				data[k] = append(data[k], drawScore(t))
			}
		}
		o := Options{Floor: rapid.SampledFrom([]float64{0, 0.02, 0.5}).Draw(t, "floor")}
		for rule := Mean; rule < OrderedWeights; rule++ {
			c, err := New(factors, rule, o)
			if err != nil {
				t.Fatal(err)
			}
			score := make([]float32, cells)
			c.Scratch().Apply(score, nil, data)
			for i := range score {
				cell := make([]float32, n)
				for k := range cell {
					cell[k] = data[k][i]
				}
				if want := exact(rule, cell, weights, o.Floor); !agrees(score[i], want) {
					t.Fatalf("%v of %v, weights %v, floor %v: %v, want %v", rule, cell, weights, o.Floor, score[i], want)
				}
			}
		}
	})
}

// Powers and logarithms are two ways to one geometric mean.
func TestPowersAndLogarithmsAgree(t *testing.T) {
	data := layers(20_000, 0.1, 0.02)
	c := mustNew(t, six(), GeometricMean, Options{})
	byLogs := mustNew(t, six(), GeometricMean, Options{})
	byLogs.powers = false
	if !c.powers {
		t.Fatal("weights 1, 2, 3 do not go by powers")
	}
	a, b := make([]float32, 20_000), make([]float32, 20_000)
	c.Scratch().Apply(a, nil, data)
	byLogs.Scratch().Apply(b, nil, data)
	for i := range a {
		if a[i] != b[i] && (a[i] == a[i] || b[i] == b[i]) {
			t.Errorf("cell %d: %v by powers, %v by logarithms", i, a[i], b[i])
		}
	}
}

func TestWholePowers(t *testing.T) {
	for _, c := range []struct {
		weights []float64
		want    []int
	}{
		{[]float64{3, 2, 1}, []int{3, 2, 1}},
		{[]float64{0.3, 0.25, 0.45}, []int{6, 5, 9}},
		{[]float64{300, 200, 100}, []int{3, 2, 1}},
		{[]float64{1.5, 1, 0.5}, []int{3, 2, 1}},
		{[]float64{math.Pi, 1}, nil},
		{[]float64{64, 1}, nil},
	} {
		parts := make([]part, len(c.weights))
		for i, w := range c.weights {
			parts[i].weight = w
		}
		got := wholePowers(parts)
		if len(got) != len(c.want) {
			t.Errorf("%v: %v, want %v", c.weights, got, c.want)
			continue
		}
		for i := range got {
			if got[i] != c.want[i] {
				t.Errorf("%v: %v, want %v", c.weights, got, c.want)
			}
		}
	}
}

// 64 scores at once may sink below the least float64 on the way.
func TestPowersMaySinkBelowTheLeastFloat(t *testing.T) {
	c := mustNew(t, []Factor{{Name: "a", Weight: 63}, {Name: "b", Weight: 1}}, GeometricMean, Options{})
	for _, v := range []float32{1e-3, 1e-4, 2e-5, 1e-6, 1e-20} {
		score, _ := join(c, v, v)
		if want := round(float64(v)); score != want {
			t.Errorf("mean of %v alone: %v, want %v", v, score, want)
		}
	}
}
