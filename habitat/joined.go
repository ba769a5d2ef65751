package habitat

import (
	"fmt"
	"maps"
	"slices"

	"likelyground/habitat/layers"
	"likelyground/habitat/plan"
	"likelyground/raster"
)

// unnamed is the code, in classes joined by name, of a class that its own map
// has no name for.
const unnamed int32 = -1

// join makes one set of classes of those of several layers: by name, and in
// the order of the names' bytes; or by code, where none of them has names.
func (b *builder) join(d plan.Derived, in []layers.Layer) ([]*raster.CodeTable[int32], func([]plan.Class) (*raster.CodeTable[uint8], error), error) {
	whole := newClasses(&plan.Map{Name: d.Name}, nil)
	whole.derived = true
	b.g.classes[d.Name] = whole
	member := func(of []plan.Class) (*raster.CodeTable[uint8], error) { return whole.member(of, b.faults), nil }
	tables := make([]*raster.CodeTable[int32], len(in))
	var named []map[int32]string
	mixed := false
	var from []string
	for _, l := range in {
		mixed = mixed || b.g.classes[l.Name].mixed()
		from = append(from, l.Name)
		named = append(named, b.g.classes[l.Name].names())
	}
	if !slices.ContainsFunc(named, func(n map[int32]string) bool { return n != nil }) && !mixed {
		return tables, member, nil
	}
	whole.texts = []string{}
	for i, n := range named {
		if n == nil {
			return nil, nil, &layers.Mismatch{What: fmt.Sprintf("%q joins classes by their names, and those of %q are bare codes", d.Name, in[i].Name),
				Fix: fmt.Sprintf("give the map %q a legend", in[i].Name)}
		}
		for _, name := range n {
			whole.texts = append(whole.texts, name)
		}
	}
	slices.Sort(whole.texts)
	whole.texts = slices.Compact(whole.texts)
	whole.groups = make([][]plan.LegendGroup, len(whole.texts))
	into := make([]map[int32]int32, len(in))
	for i, n := range named {
		codes := map[int32]int32{}
		into[i] = codes
		for _, code := range slices.Sorted(maps.Keys(n)) {
			at, _ := slices.BinarySearch(whole.texts, n[code])
			codes[code] = int32(at)
			if whole.groups[at] == nil { // of the first map that groups it
				whole.groups[at] = b.g.classes[in[i].Name].groupsOf(code)
			}
		}
		tables[i] = raster.NewCodeTable(codes, raster.MissingCode, unnamed)
	}
	if mixed {
		tables = b.asMixtures(whole, from, into)
	}
	return tables, member, nil
}

// groupsOf returns what a code belongs to.
func (c *classes) groupsOf(code int32) []plan.LegendGroup {
	if e, ok := c.entry(code); ok {
		return e.Groups
	}
	if code >= 0 && int(code) < len(c.groups) {
		return c.groups[code]
	}
	return nil
}

// names returns the names of the classes by code; nil where codes have none.
func (c *classes) names() map[int32]string {
	if c.texts == nil && c.legend == nil && !c.gone {
		return nil
	}
	out := map[int32]string{}
	for code := range c.texts {
		out[int32(code)] = c.name(int32(code))
	}
	if c.texts == nil {
		for _, e := range c.legend {
			out[e.Code] = e.Name
		}
	}
	return out
}
