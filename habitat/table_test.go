package habitat

import (
	"slices"
	"testing"

	"likelyground/habitat/plan"
)

// No factor may bear the name of a column, or two columns would be one.
func TestOwnColumnsAreReserved(t *testing.T) {
	for _, c := range ownColumns {
		if !slices.Contains(plan.Reserved, c.Name) {
			t.Errorf("a factor may be called %s", c.Name)
		}
	}
}
