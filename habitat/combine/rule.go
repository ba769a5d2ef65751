package combine

import (
	"fmt"
	"strings"
)

// Rule says how the factor scores s of a cell, with weights w, become one.
// Only factors with a weight above 0 take part.
type Rule int

// The rules. A mean is Σws/Σw; a geometric mean exp(Σw ln s/Σw) and a
// harmonic mean Σw/Σ(w/s), both with scores raised to Options.Floor and 0
// where a score is still 0. A product is the plain product of the scores:
// weights would need exponents that nobody can judge, so they only leave
// out where 0. The least factor is the smallest score (Liebig's law of the
// minimum). Ordered weights weigh scores by their place from the highest
// down (Yager 1988), not by factor. Coverage uses the weights in every rule.
const (
	Mean Rule = iota
	GeometricMean
	HarmonicMean
	Product
	LeastFactor
	OrderedWeights
)

var ruleNames = []string{"mean", "geometric mean", "harmonic mean", "product", "least factor", "ordered weights"}

// String returns the rule's name in a plan.
func (r Rule) String() string {
	if r < 0 || int(r) >= len(ruleNames) {
		return fmt.Sprintf("rule %d", int(r))
	}
	return ruleNames[r]
}

// Rules returns the names of all rules, in the order of their constants.
func Rules() []string { return append([]string(nil), ruleNames...) }

// ParseRule returns the rule of a name in a plan. The error is an [*Error].
func ParseRule(name string) (Rule, error) {
	for i, n := range ruleNames {
		if n == name {
			return Rule(i), nil
		}
	}
	return 0, &Error{fmt.Sprintf("there is no rule %q", name), "use one of " + ruleList()}
}

func ruleList() string { return strings.Join(ruleNames, ", ") }
