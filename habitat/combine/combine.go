// Package combine joins the factor scores of a cell into one score: by a
// mean, a product, the least factor or ordered weights, with a rule for what
// is not known; and it finds weights from a table of pairwise comparisons.
//
// Scores go from 0 to 1 and are missing where they are NaN. A [Combiner] is
// the rule for a whole plan, a [Scratch] the buffers of one worker. The
// package opens nothing and knows neither maps nor grids: it takes and gives
// slices of cells in any order and of any length.
//
// # The unknown
//
// A missing score is missing knowledge, not zero. [ShareOut] leaves the
// factor out of that cell and the weights of the others stand for it;
// [LeaveBlank] makes the cell missing; [Assume] takes a given score in its
// place, which is not counted as known. Coverage is the share of the weight
// that is known. A cell is missing, first, where no factor with a weight
// above 0 is known (assumed scores do not make a cell known); second, where
// a factor that is left blank is missing, if it counts for anything (has a
// weight or is a must). Only then a must that is 0, an assumed 0 too, makes
// the cell 0, whatever the rule; only then the rule is asked.
//
// # Same bytes
//
// Factors are taken in order of their names, so the order they are given in
// changes no bit. Logarithm and exponential are our own and products are
// rounded before they are added, so every platform gives the same bytes.
// Scores come out rounded to multiples of 1/16384.
//
// Methods: weighted means and the least factor are common practice; ordered
// weights after Yager (1988, IEEE Transactions on Systems, Man, and
// Cybernetics 18:183–190); pairwise comparison after Saaty (1980, The
// Analytic Hierarchy Process).
package combine

import (
	"fmt"
	"math"
	"sort"
)

// Step is the number of equal steps between score 0 and score 1: scores are
// multiples of 1/Step, found by rounding the float64 value times Step to the
// nearest whole number, halves to even.
const Step = 16384

// Treatment says what stands for a factor where its score is missing.
type Treatment int

// ShareOut, the zero Treatment, renormalises the weights over the known
// factors; LeaveBlank makes the cell missing; Assumed takes Unknown.Value.
const (
	ShareOut Treatment = iota
	LeaveBlank
	Assumed
)

// Unknown is a factor's rule for cells where its score is missing. The zero
// Unknown shares out. Value, in 0..1, is used by Assumed alone.
type Unknown struct {
	Treatment Treatment
	Value     float64
}

// Assume returns the rule that takes score x where the factor is missing.
func Assume(x float64) Unknown { return Unknown{Assumed, x} }

// Factor is one ground for the score. A weight of 0 counts nothing in any
// rule. Where the score of a Must factor is 0 the cell's score is 0,
// whatever the rule and even with weight 0.
type Factor struct {
	Name    string
	Weight  float64
	Must    bool
	Unknown Unknown
}

// Options are what only some rules use.
type Options struct {
	// Floor is the smallest factor score that enters a mean by logarithm or
	// reciprocal; lower ones are raised to it. With 0 a score of 0 vetoes.
	Floor float64
	// OrderWeights are the weights by place, the highest score's first, of
	// OrderedWeights; one for each factor with a weight above 0. They need
	// not sum to 1.
	OrderWeights []float64
}

// Combiner joins factors by one rule. It never changes and is safe for use
// by many goroutines, each with its own [Scratch].
type Combiner struct {
	rule    Rule
	floor   uint64      // bits of the floor, for comparing scores as integers
	given   int         // how many factors New got
	counted []part      // weight above 0, by name
	vetoes  []part      // must, by name
	total   float64     // sum of weights
	shares  float64     // sum of shares
	powers  bool        // geometric mean by powers
	ordered [][]float64 // ordered[m]: weights by place when m scores are at hand
}

// part is a factor as the arithmetic sees it.
type part struct {
	at        int     // place in the order given
	weight    float64 // as given: what coverage counts
	share     float64 // what the rule counts: the weight, or the power
	power     int     // how often the score enters a product, 0 outside products
	treatment Treatment
	assumed   float32
}

// New checks the factors and options and returns their combiner. Names must
// differ, weights be finite and at least 0, one of them above 0. The error
// is an [*Error].
func New(factors []Factor, rule Rule, o Options) (*Combiner, error) {
	if err := checkFactors(factors); err != nil {
		return nil, err
	}
	if rule < 0 || int(rule) >= len(ruleNames) {
		return nil, &Error{fmt.Sprintf("rule number %d does not exist", int(rule)), "use one of " + ruleList()}
	}
	if !(o.Floor >= 0 && o.Floor <= 1) {
		return nil, &Error{fmt.Sprintf("a floor of %v", o.Floor), "a floor is a score from 0 to 1, such as 0.02"}
	}
	c := &Combiner{rule: rule, floor: math.Float64bits(o.Floor + 0), given: len(factors)}
	for _, i := range byName(factors) {
		c.add(i, factors[i])
	}
	if len(c.counted) == 0 {
		return nil, &Error{"no factor has a weight above 0", "give at least one factor a weight"}
	}
	c.share()
	if rule != OrderedWeights {
		return c, nil
	}
	var err error
	c.ordered, err = orderTable(o.OrderWeights, len(c.counted))
	return c, err
}

// share sets what the rule counts of each factor.
func (c *Combiner) share() {
	powers := wholePowers(c.counted)
	c.powers = c.rule == GeometricMean && powers != nil
	for i := range c.counted {
		p := &c.counted[i]
		p.share = p.weight
		if c.powers {
			p.power = powers[i]
			p.share = float64(p.power)
		}
		c.shares += p.share
	}
}

func (c *Combiner) add(i int, f Factor) {
	p := part{at: i, weight: f.Weight, treatment: f.Unknown.Treatment, assumed: float32(f.Unknown.Value) + 0}
	if f.Weight > 0 {
		c.counted = append(c.counted, p)
		c.total += f.Weight
	}
	if f.Must {
		c.vetoes = append(c.vetoes, p)
	}
}

func byName(factors []Factor) []int {
	order := make([]int, len(factors))
	for i := range order {
		order[i] = i
	}
	sort.Slice(order, func(i, j int) bool { return factors[order[i]].Name < factors[order[j]].Name })
	return order
}

func checkFactors(factors []Factor) error {
	seen := make(map[string]bool, len(factors))
	for _, f := range factors {
		if seen[f.Name] {
			return &Error{fmt.Sprintf("two factors are called %q", f.Name), "rename one of them"}
		}
		seen[f.Name] = true
		if !(f.Weight >= 0) || math.IsInf(f.Weight, 1) {
			return &Error{fmt.Sprintf("factor %q has weight %v", f.Name, f.Weight), "give a weight of 0 or more"}
		}
		u := f.Unknown
		if u.Treatment < ShareOut || u.Treatment > Assumed {
			return &Error{fmt.Sprintf("factor %q has no rule %d for the unknown", f.Name, u.Treatment), "share out, leave blank or assume"}
		}
		if u.Treatment == Assumed && !(u.Value >= 0 && u.Value <= 1) {
			return &Error{fmt.Sprintf("factor %q assumes a score of %v", f.Name, u.Value), "scores go from 0 to 1"}
		}
	}
	return nil
}
