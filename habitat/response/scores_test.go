package response

import (
	"errors"
	"math"
	"testing"

	"likelyground/raster"
)

func TestScores(t *testing.T) {
	s, err := NewScores(map[int32]float64{3: 1, 7: 0.25, 1 << 30: 0.5}, 0.1)
	if err != nil {
		t.Fatal(err)
	}
	got := make([]float32, 5)
	s.Apply(got, []int32{3, 7, 1 << 30, 4, raster.MissingCode})
	for i, want := range []float32{1, 0.25, 0.5, 0.1} {
		if got[i] != want {
			t.Errorf("cell %d: %v, want %v", i, got[i], want)
		}
	}
	if got[4] == got[4] {
		t.Errorf("missing class scores %v, want missing", got[4])
	}
}

func TestScoresWithoutOthersAreMissing(t *testing.T) {
	s, err := NewScores(map[int32]float64{3: 1}, math.NaN())
	if err != nil {
		t.Fatal(err)
	}
	if y := s.At(4); y == y {
		t.Errorf("unlisted class scores %v, want missing", y)
	}
}

func TestScoresRefuse(t *testing.T) {
	for name, c := range map[string]struct {
		scores map[int32]float64
		others float64
	}{
		"above 1": {map[int32]float64{1: 1.01}, 0}, "below 0": {map[int32]float64{1: -1}, 0},
		"NaN": {map[int32]float64{1: math.NaN()}, 0}, "others": {nil, 2},
	} {
		_, err := NewScores(c.scores, c.others)
		var e *Error
		if !errors.As(err, &e) || !e.MustChange() || e.Remedy() == "" {
			t.Errorf("%s: got %v, want an error with a remedy", name, err)
		}
	}
}
