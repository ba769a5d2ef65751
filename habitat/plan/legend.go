package plan

import (
	"cmp"
	"slices"
)

// Legend gives the classes of a map their names, in rising order of codes.
type Legend []LegendEntry

// LegendEntry is one class: several codes may share a name.
type LegendEntry struct {
	Code int32  `json:"code"`
	Name string `json:"name"`
}

// Name returns the name of a code, and whether the legend has it.
func (l Legend) Name(code int32) (string, bool) {
	for _, e := range l {
		if e.Code == code {
			return e.Name, true
		}
	}
	return "", false
}

// Codes returns all codes of a name, rising; nil when the legend lacks it.
func (l Legend) Codes(name string) []int32 {
	var out []int32
	for _, e := range l {
		if e.Name == name {
			out = append(out, e.Code)
		}
	}
	return out
}

// Names returns each name once, in the order of its lowest code.
func (l Legend) Names() []string {
	var out []string
	seen := map[string]bool{}
	for _, e := range l {
		if !seen[e.Name] {
			seen[e.Name] = true
			out = append(out, e.Name)
		}
	}
	return out
}

func (l Legend) sort() {
	slices.SortStableFunc(l, func(a, b LegendEntry) int { return cmp.Compare(a.Code, b.Code) })
}
