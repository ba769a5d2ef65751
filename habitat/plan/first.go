package plan

import (
	"fmt"
	"slices"
)

// firstShape is the list of layers of a first of.
func firstShape() shape[[]put[string]] {
	return listShape("first of", placed(textShape("a layer's name")), 2, 0)
}

// firstOf reports whether a layer is the first of several.
func (l *layer) firstOf() bool { return l != nil && l.d != nil && l.d.Verb == FirstOf }

// linkFirst joins a first of to its layers; from is nil where one cannot be
// judged.
func (c *checker) linkFirst(l *layer) {
	lines := map[string]Pos{}
	for i, name := range l.d.First {
		at := l.d.firstPos[i]
		if first, twice := lines[name]; twice {
			c.r.wrong(at, fmt.Sprintf("the layer %s is named twice, first in line %d", quote(name), first.Line), "keep one of them")
			return
		}
		lines[name] = at
		l.members = append(l.members, c.find(name, at))
	}
	if len(l.members) > 0 && !slices.Contains(l.members, nil) {
		l.from = l.members[0]
	}
}

// firstOfAll asks the same of all layers of a first of, so that each that is
// wrong is told.
func firstOfAll(l *layer, ask func(m *layer, at Pos) bool) bool {
	ok := true
	for i, m := range l.members {
		if m.d == nil || m.from != nil {
			ok = ask(m, l.d.firstPos[i]) && ok
		}
	}
	return ok
}

// oneUnit refuses amounts in several units.
func (c *checker) oneUnit(l *layer) {
	named := ""
	var of *layer
	for i, m := range l.members {
		switch unit := m.unit(); {
		case unit == "" || unit == named:
		case named == "":
			named, of = unit, m
		default:
			c.r.wrong(l.d.firstPos[i], fmt.Sprintf("%s is in %s, and %s in %s", quote(m.name), unit, quote(of.name), named), "bring them to one unit by scale: and unit: of the maps")
		}
	}
}

// everyShare reports whether all layers of a first of are shares.
func (l *layer) everyShare() bool {
	return !slices.ContainsFunc(l.members, func(m *layer) bool { return !m.share() })
}

// wholeSpan is from where to where the values of any layer of a first of go.
func (l *layer) wholeSpan() (low, high float64) {
	for i, m := range l.members {
		from, to := m.span()
		if i == 0 {
			low, high = from, to
		}
		low, high = min(low, from), max(high, to)
	}
	return low, high
}
