package habitat

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"likelyground/habitat/layers"
	"likelyground/habitat/look"
	"likelyground/habitat/plan"
)

// surfaceModel tells whether a map of heights shows tree tops and roofs: the
// plan says so, or says nothing and a file bears the name of such a model. why
// tells which.
func surfaceModel(m *plan.Map) (why string, yes bool) {
	if m.Surface != nil {
		return "the plan says so", *m.Surface
	}
	for _, path := range m.Files {
		// The folder counts for a pattern, where the tiles may have bare numbers.
		for _, part := range []string{path.Text, filepath.Dir(path.Text)} {
			if look.SurfaceModel(part) {
				return fmt.Sprintf("the name %q tells of one", path.Text), true
			}
		}
	}
	return "", false
}

// surfaceWarning warns where something that woods and roofs spoil is worked
// out from a surface model.
func (d *desk) surfaceWarning(m *plan.Map) []string {
	why, yes := surfaceModel(m)
	spoilt := d.spoilt(m.Name)
	if !yes || len(spoilt) == 0 {
		return nil
	}
	fix := "; take a terrain model for it, or say `surface: no` if this is one"
	if m.Surface != nil {
		fix = "; take a terrain model for it where there is one"
	}
	return []string{fmt.Sprintf("the map %q is a surface model (%s), which shows tree tops and roofs: under trees %s is that of the crowns, and no guide to how safe the ground is%s",
		m.Name, why, strings.Join(spoilt, ", "), fix)}
}

// spoilt lists the layers worked out from a map, straight or by way of others,
// in which a tree top counts as ground: all that need heights but height.
func (d *desk) spoilt(name string) []string {
	from, out := []string{name}, []string{}
	for _, v := range d.plan.Derived { // readers after what they read
		if !slices.Contains(from, v.From) {
			continue
		}
		from = append(from, v.Name)
		if layers.Height(v.Verb) && v.Verb != plan.Elevation {
			out = append(out, fmt.Sprintf("%q", v.Name))
		}
	}
	return out
}
