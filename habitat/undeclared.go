package habitat

import (
	"fmt"
	"strconv"
	"strings"

	"likelyground/habitat/look"
	"likelyground/habitat/plan"
)

// mostLooked is how many files of a map are looked into for numbers that may
// mean no data.
const mostLooked = 4

// undeclared returns a warning for each map of amounts in whose files, area or
// not, numbers stand out as a sign for no data that neither file nor plan
// declares. The well-known ones that the area uses are refused elsewhere; what
// merely stands apart may be a real value.
func (d *desk) undeclared() ([]string, error) {
	var out []string
	for i := range d.plan.Maps {
		m := &d.plan.Maps[i]
		s := d.sources[m.Name]
		if s == nil || s.raster == nil || m.Classes || m.Missing.None {
			continue
		}
		files, err := expand(d.plan, m, d.dir)
		if err != nil {
			return nil, err
		}
		for _, file := range files[:min(len(files), mostLooked)] {
			numbers, err := look.Undeclared(file, m.Band)
			if err != nil {
				continue // what cannot be looked into by itself has been opened as part of the map
			}
			if w := oddNumbers(m, numbers); w != "" {
				out = append(out, fmt.Sprintf("the map %q: in %s %s", m.Name, d.fromPlan(file), w))
				break
			}
		}
	}
	return out, nil
}

// oddNumbers puts into words which of the numbers the plan says nothing about.
func oddNumbers(m *plan.Map, numbers []float64) string {
	var odd []string
	for _, x := range numbers {
		if !settled(m, x) {
			odd = append(odd, strconv.FormatFloat(x, 'g', -1, 64))
		}
	}
	switch len(odd) {
	case 0:
		return ""
	case 1:
		return fmt.Sprintf("%s looks like a sign for no data, and nothing declares it; say missing: %s if it is one, or missing: none if it is a real value", odd[0], odd[0])
	}
	list := strings.Join(odd, ", ")
	return fmt.Sprintf("%s look like signs for no data, and nothing declares them; say missing: [%s] if they are, or missing: none if they are real values", list, list)
}

// settled tells whether the plan says that a number of the file is missing.
func settled(m *plan.Map, x float64) bool {
	for _, v := range m.Missing.Values {
		if x == v || float32(x) == float32(v) {
			return true
		}
	}
	for _, r := range m.Missing.Ranges {
		if x >= r.Low && x <= r.High {
			return true
		}
	}
	if m.Between == nil {
		return false
	}
	v := x
	if m.Scale != nil {
		v *= *m.Scale
	}
	if m.Offset != nil {
		v += *m.Offset
	}
	return v < m.Between.Low || v > m.Between.High
}
