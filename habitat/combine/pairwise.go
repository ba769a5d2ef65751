package combine

import (
	"fmt"
	"math"
)

// ConsistencyLimit is the consistency ratio above which Saaty (1980) asks
// for the judgements to be made again.
const ConsistencyLimit = 0.1

// Comparison is what a table of pairwise judgements comes to.
type Comparison struct {
	Weights []float64 // sum to 1, in the order of the table
	Lambda  float64   // principal eigenvalue; the number of rows if wholly consistent
	Index   float64   // consistency index (Lambda - n)/(n - 1)
	Ratio   float64   // Index over the mean index of random tables; compare with ConsistencyLimit
}

// randomIndex is the mean consistency index of random tables by number of
// rows: Saaty (1980) for 3 to 10; 11 to 15, the end of the same table, from
// memory. One or two rows are always consistent.
var randomIndex = []float64{0, 0, 0, 0.58, 0.90, 1.12, 1.24, 1.32, 1.41, 1.45, 1.49, 1.51, 1.48, 1.56, 1.57, 1.59}

// reciprocal is how far a judgement times its mirror may be from 1: so much
// is lost by writing 1/3 as 0.3333333.
const reciprocal = 1e-6

// Pairwise returns the weights of a square table that says in row i, column
// j how many times more i matters than j: positive numbers, 1 on the
// diagonal, each the reciprocal of its mirror. Weights are the principal
// eigenvector (Saaty 1980), by power iteration. They belong to the rows, but
// in their last bits they depend on the order of rows: pass factors by name.
// The error is an [*Error]; an inconsistent table is none.
func Pairwise(matrix [][]float64) (Comparison, error) {
	if err := checkTable(matrix); err != nil {
		return Comparison{}, err
	}
	n := len(matrix)
	weights, lambda := eigenvector(matrix)
	c := Comparison{Weights: weights, Lambda: lambda}
	if n > 2 {
		c.Index = (lambda - float64(n)) / float64(n-1)
		c.Ratio = c.Index / randomIndex[n]
	}
	return c, nil
}

func checkTable(matrix [][]float64) error {
	n := len(matrix)
	if n == 0 || n >= len(randomIndex) {
		return &Error{fmt.Sprintf("a pairwise table of %d rows", n),
			fmt.Sprintf("compare 1 to %d things; put more into groups first", len(randomIndex)-1)}
	}
	for i, row := range matrix {
		if len(row) != n {
			return &Error{fmt.Sprintf("row %d of a pairwise table of %d rows has %d entries", i+1, n, len(row)), "make it square"}
		}
		for j, a := range row[:i+1] {
			if err := checkPair(i, j, a, matrix[j][i]); err != nil {
				return err
			}
		}
	}
	return nil
}

func checkPair(i, j int, a, mirror float64) error {
	if !(a > 0) || !(mirror > 0) || math.IsInf(a, 1) || math.IsInf(mirror, 1) {
		return &Error{fmt.Sprintf("the pair %d, %d is compared as %v and %v", i+1, j+1, a, mirror), "give numbers above 0, such as 3 or 1/3"}
	}
	if math.Abs(float64(a*mirror)-1) > reciprocal {
		return &Error{fmt.Sprintf("the pair %d, %d is compared as %v and %v, which are not reciprocal", i+1, j+1, a, mirror),
			"give one of them and let the other follow; a thing compared with itself is 1"}
	}
	return nil
}

// eigenvector returns the principal eigenvector, summing to 1, and its
// eigenvalue. For a positive matrix the iteration converges (Perron and
// Frobenius); it stops when no weight moves, or hardly.
func eigenvector(matrix [][]float64) (weights []float64, lambda float64) {
	n := len(matrix)
	weights = make([]float64, n)
	next := make([]float64, n)
	for i := range weights {
		weights[i] = 1 / float64(n)
	}
	for range 100_000 {
		lambda = 0
		for i, row := range matrix {
			next[i] = weigh(row, weights)
			lambda += next[i]
		}
		moved := 0.0
		for i := range next {
			next[i] /= lambda
			moved = max(moved, math.Abs(next[i]-weights[i]))
		}
		weights, next = next, weights
		if moved < 1e-16 {
			break
		}
	}
	return weights, lambda
}
