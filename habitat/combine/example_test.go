package combine_test

import (
	"fmt"
	"math"

	"likelyground/habitat/combine"
)

// Three grounds for a wood fungus; host trees are a must. The second cell
// has no trees, in the third nobody mapped the soil.
func Example() {
	c, err := combine.New([]combine.Factor{
		{Name: "soil", Weight: 3},
		{Name: "rock", Weight: 2},
		{Name: "hosts", Weight: 3, Must: true},
	}, combine.GeometricMean, combine.Options{Floor: 0.02})
	if err != nil {
		panic(err)
	}
	soil := []float32{1, 1, float32(math.NaN())}
	rock := []float32{0.9, 0.9, 0.4}
	hosts := []float32{0.8, 0, 0.8}
	score, coverage := make([]float32, 3), make([]float32, 3)
	c.Scratch().Apply(score, coverage, [][]float32{soil, rock, hosts})
	fmt.Printf("%.3f known %.3f\n", score, coverage)
	// Output: [0.896 0.000 0.606] known [1.000 1.000 0.625]
}

// Soil matters three times as much as rock and five times as much as slope.
func ExamplePairwise() {
	c, err := combine.Pairwise([][]float64{
		{1, 3, 5},
		{1. / 3, 1, 3},
		{1. / 5, 1. / 3, 1},
	})
	if err != nil {
		panic(err)
	}
	fmt.Printf("%.3f ratio %.3f\n", c.Weights, c.Ratio)
	// Output: [0.637 0.258 0.105] ratio 0.033
}
