package response

import (
	"fmt"
	"math"

	"likelyground/raster"
)

// Scores gives each class of a map its score. Get one from [NewScores]; it is
// safe for concurrent use.
type Scores struct{ table *raster.CodeTable[float32] }

// NewScores returns scores by class code, each in 0..1. Others is the score
// of a class that the map does not list; NaN makes such a class missing. The
// error is an [*Error].
func NewScores(scores map[int32]float64, others float64) (Scores, error) {
	if others < 0 || others > 1 {
		return Scores{}, &Error{fmt.Sprintf("a score of %v for other classes", others), "scores go from 0 to 1"}
	}
	values := make(map[int32]float32, len(scores))
	bad, found := int32(0), false
	for code, y := range scores {
		if !(y >= 0 && y <= 1) && (!found || code < bad) {
			bad, found = code, true
		}
		values[code] = float32(y) + 0
	}
	if found {
		return Scores{}, &Error{fmt.Sprintf("a score of %v for class code %d", scores[bad], bad), "scores go from 0 to 1"}
	}
	missing := float32(math.NaN())
	return Scores{raster.NewCodeTable(values, missing, float32(others)+0)}, nil
}

// Apply writes the score of each code to dst, which must be at least as
// long. A missing class (raster.MissingCode) gives a missing score (NaN).
func (s Scores) Apply(dst []float32, codes []int32) {
	dst = dst[:len(codes)]
	for i, code := range codes {
		dst[i] = s.table.At(code)
	}
}

// At returns the score of one class.
func (s Scores) At(code int32) float32 { return s.table.At(code) }
