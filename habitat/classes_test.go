package habitat

import (
	"testing"

	"likelyground/habitat/plan"
)

// TestSlip: a class that a map lacks is a slip of the keys only where one of
// the map's own, which the plan does not name, is a letter or two away.
func TestSlip(t *testing.T) {
	c := &classes{m: &plan.Map{Name: "rock"}, texts: []string{"boulder clay", "plateau sand", "sandstone"}}
	for name, want := range map[string]string{
		"sandstome":     "sandstone",
		"Sandstone":     "sandstone",
		"plateau snad":  "plateau sand",
		"mudstone":      "",
		"boulder clays": "", // the plan names the other one beside it
		"peat":          "",
	} {
		if got := c.slip(plan.Class{Name: name}, []plan.Class{{Name: "boulder clay"}}); got != want {
			t.Errorf("%q is taken for %q, want %q", name, got, want)
		}
	}
}
