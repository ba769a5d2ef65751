package tint

import (
	"fmt"
	"math"
	"testing"
)

func Example() {
	for _, score := range []float64{0, 0.55, 1} {
		fmt.Printf("%.2f #%X\n", score, Of(score))
	}
	// Output:
	// 0.00 #FFE5AD
	// 0.55 #557113
	// 1.00 #003B47
}

// Good ground is darker all the way, also on a grey printer: luminance after
// ITU-R BT.709 (0.2126, 0.7152, 0.0722; from memory), roughly linearised.
func TestDarkens(t *testing.T) {
	before := math.Inf(1)
	for i, c := range Ramp() {
		l := 0.0
		for k, w := range []float64{0.2126, 0.7152, 0.0722} {
			l += w * math.Pow(float64(c[k])/255, 2.2)
		}
		if i%5 == 0 { // between, whole steps of a byte may tie
			if l >= before {
				t.Errorf("step %d is not darker than the one five before", i)
			}
			before = l
		}
		if c != Of(float64(i)/100) {
			t.Errorf("step %d: %v and %v", i, c, Of(float64(i)/100))
		}
	}
}

func TestEnds(t *testing.T) {
	if Of(-3) != Of(0) || Of(1.5) != Of(1) || len(Ramp()) != Steps {
		t.Error("the ends are not held")
	}
	defer func() {
		if recover() == nil {
			t.Error("a missing score got a colour")
		}
	}()
	Of(math.NaN())
}
