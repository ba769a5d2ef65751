package raster

import (
	"testing"

	"pgregory.net/rapid"
)

func TestRunIsTheLengthOfTheFirstRun(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		codes := rapid.SliceOfN(rapid.SampledFrom([]int32{0, 1, MissingCode}), 0, 40).Draw(t, "codes")
		if rapid.Bool().Draw(t, "long") {
			head := make([]int32, rapid.IntRange(1, 40).Draw(t, "head"))
			codes = append(head, codes...)
		}
		want := 0
		for want < len(codes) && codes[want] == codes[0] {
			want++
		}
		if got := Run(codes); got != want {
			t.Fatalf("%v: %d, want %d", codes, got, want)
		}
	})
}
