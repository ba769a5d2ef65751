package plan

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
)

// measure is a number with a unit.
type measure struct {
	number float64
	unit   string // as the unit table writes it
}

// unitOf is one unit: what one of it is in the base unit, and its spellings.
type unitOf struct {
	name  string
	size  float64
	also  []string
	shown string // an example in this unit
}

// quantity is a kind of measure with its units, the base unit first.
type quantity struct {
	what  string // "a length"
	units []unitOf
}

// One foot is the international one, 0.3048 m exactly (1959 agreement).
var (
	lengths = quantity{"a length", []unitOf{
		{"m", 1, nil, "250 m"}, {"km", 1000, nil, "0.5 km"}, {"ft", 0.3048, nil, "30 ft"},
	}}
	areas = quantity{"an area", []unitOf{
		{"ha", 1e4, nil, "0.5 ha"}, {"m2", 1, []string{"m²"}, "5000 m2"}, {"km2", 1e6, []string{"km²"}, "2 km2"},
	}}
	angles = quantity{"a steepness", []unitOf{
		{"deg", 1, []string{"degrees", "°"}, "12 deg"}, {"percent", 1, []string{"%"}, "40 percent"},
	}}
	depths = quantity{"a depth", []unitOf{{"mm", 1, nil, "800 mm"}}}
)

// measureForm splits a number from what follows it.
var measureForm = regexp.MustCompile(`^(` + numberText + `)\s*(.*)$`)

// find returns the unit of that spelling.
func (q quantity) find(spelling string) (unitOf, bool) {
	for _, u := range q.units {
		if u.name == spelling {
			return u, true
		}
		for _, a := range u.also {
			if a == spelling {
				return u, true
			}
		}
	}
	return unitOf{}, false
}

// spellings returns all spellings of the units.
func (q quantity) spellings() []string {
	var out []string
	for _, u := range q.units {
		out = append(append(out, u.name), u.also...)
	}
	return out
}

// examples names each unit by an example.
func (q quantity) examples() string {
	var out []string
	for _, u := range q.units {
		out = append(out, u.shown)
	}
	return strings.Join(out, ", ")
}

// pattern is the regular expression of the schema.
func (q quantity) pattern() string {
	var parts []string
	for _, s := range q.spellings() {
		parts = append(parts, regexp.QuoteMeta(s))
	}
	return `^` + numberText + `\s*(` + strings.Join(parts, "|") + `)$`
}

// read splits a measure and says what is wrong with it.
func (q quantity) read(r *reader, n *node) (measure, bool) {
	if n.kind != scalarNode {
		r.wrong(n.pos, fmt.Sprintf("%s should stand here, not %s", q.what, n.what()), "write it as "+q.examples())
		return measure{}, false
	}
	m := measureForm.FindStringSubmatch(n.text)
	if m == nil {
		r.wrong(n.pos, fmt.Sprintf("%s is not %s", quote(n.shown()), q.what), "write it as "+q.examples())
		return measure{}, false
	}
	number, err := strconv.ParseFloat(m[1], 64)
	unit, known := q.find(m[len(m)-1])
	switch {
	case err != nil:
		r.wrong(n.pos, "this number is too large", "write one that can be")
	case !known:
		r.noUnit(n, q, m[1], m[len(m)-1])
	default:
		return measure{number + 0, unit.name}, true
	}
	return measure{}, false
}

// noUnit says that a unit is missing or unknown.
func (r *reader) noUnit(n *node, q quantity, number, unit string) {
	base := q.units[0].name
	better := Suggest(unit, q.spellings())
	if _, length := lengths.find(unit); length {
		better = "" // 0.5 m is not meant to be 0.5 m2
	}
	switch {
	case unit == "":
		r.better(n.pos, q.what+" needs its unit", fmt.Sprintf("did you mean %s?", quote(number+" "+base)), number+" "+base)
	case better != "":
		r.better(n.pos, fmt.Sprintf("%s is no unit of %s", quote(unit), q.what), fmt.Sprintf("did you mean %s?", quote(number+" "+better)), number+" "+better)
	default:
		r.wrong(n.pos, fmt.Sprintf("%s is no unit of %s", quote(unit), q.what), "write it as "+q.examples())
	}
}

// measureShape is a measure above 0, in the unit of size 1.
func measureShape(q quantity) shape[float64] {
	read := func(r *reader, n *node) (float64, bool) {
		m, ok := q.read(r, n)
		if !ok {
			return 0, false
		}
		if m.number <= 0 {
			r.wrong(n.pos, q.what+" must be above 0", "write one such as "+q.units[0].shown)
			return 0, false
		}
		unit, _ := q.find(m.unit)
		return m.number * unit.size, true
	}
	s := schema{"type": "string", "pattern": q.pattern(), "not": schema{"pattern": `^(-|[+]?[0.]+([eE][-+]?[0-9]+)?\s*[^0-9.eE\s])`}}
	return shape[float64]{read, s}
}
