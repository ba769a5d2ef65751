package combine

import (
	"fmt"
	"testing"
)

func TestGroups(t *testing.T) {
	beech := []float32{.2, nan, .9, nan, 0}
	birch := []float32{.8, .5, .1, nan, 0}
	dst := make([]float32, 5)
	for _, c := range []struct {
		name string
		run  func()
		want string
	}{
		{"best", func() { BestOf(dst, [][]float32{beech, birch}) }, "[0.8 0.5 0.9 NaN 0]"},
		{"best of none", func() { BestOf(dst, nil) }, "[NaN NaN NaN NaN NaN]"},
		{"mean", func() { MeanOf(dst, [][]float32{beech, birch}, nil) }, "[0.5 0.5 0.5 NaN 0]"},
		{"weighted", func() { MeanOf(dst, [][]float32{beech, birch}, []float64{3, 1}) }, "[0.35 0.5 0.7 NaN 0]"},
		{"weight 0", func() { MeanOf(dst, [][]float32{beech, birch}, []float64{1, 0}) }, "[0.2 NaN 0.9 NaN 0]"},
	} {
		c.run()
		if got := fmt.Sprint(dst); got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
}

func TestMeanOfOnesIsOne(t *testing.T) {
	dst, ones := make([]float32, 1), []float32{1}
	MeanOf(dst, [][]float32{ones, ones, ones}, []float64{.1, .7, .3})
	if dst[0] != 1 {
		t.Errorf("got %v", dst[0])
	}
}
