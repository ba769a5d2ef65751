package habitat

import (
	"slices"
	"testing"

	"likelyground/habitat/plan"
)

// No factor may bear the name of a column, or two columns would be one.
func TestOwnColumnsAreReserved(t *testing.T) {
	told := (&Spot{Steepest: new(float64), WetShare: new(float64)}).Properties()
	for _, c := range toldColumns {
		if !slices.ContainsFunc(told, func(p Property) bool { return p.Name == c.Name }) {
			t.Errorf("no property is called %s", c.Name)
		}
	}
	for _, p := range told {
		if !slices.Contains(plan.Reserved, p.Name) {
			t.Errorf("a factor may be called %s", p.Name)
		}
	}
	for _, c := range ownColumns {
		if !slices.Contains(plan.Reserved, c.Name) {
			t.Errorf("a factor may be called %s", c.Name)
		}
	}
}
