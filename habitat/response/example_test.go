package response_test

import (
	"fmt"
	"math"

	"likelyground/habitat/response"
)

// Acid soil is best, and above pH 6.5 the ground is of no use.
func Example() {
	acid, err := response.NewCurve([]response.Point{{X: 4.5, Y: 1}, {X: 5.5, Y: 1}, {X: 6.5, Y: 0}})
	if err != nil {
		panic(err)
	}
	soil := []float32{4, 5.75, 6, 7.2, float32(math.NaN())}
	score := make([]float32, len(soil))
	acid.Apply(score, soil)
	_, hi := acid.Bounds()
	fmt.Println(score, "flat beyond", hi)
	// Output: [1 0.75 0.5 0 NaN] flat beyond 6.5
}
