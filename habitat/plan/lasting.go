package plan

import (
	"cmp"
	"fmt"
	"slices"
)

// lastingShape is a list of classes, or maps with a list each. A list stands
// as one witness without a map.
func lastingShape() shape[[]Witness] {
	one := asIs(classesShape(), func(of []Class) []Witness { return []Witness{{Of: of}} })
	each := namedShape("lasting", classesShape(), 1)
	read := func(r *reader, n *node) ([]Witness, bool) {
		all, ok := each.read(r, n)
		if ok && len(all) < 2 {
			r.wrong(n.pos, "one map alone does not tell what lasts", "name two or more maps of different years")
			return nil, false
		}
		var out []Witness
		for _, v := range all {
			out = append(out, Witness{Map: v.name, Pos: v.pos, Of: v.value})
		}
		return out, ok
	}
	maps := shape[[]Witness]{read, namedShape("lasting", classesShape(), 2).schema}
	return byKind("lasting", &one, &one, &maps)
}

// finishLasting puts classes and maps together that stand apart.
func finishLasting(r *reader, d *Derived, found given) {
	at, said := found["on"]
	switch apart := len(d.On) == 1 && d.On[0].Map == ""; {
	case d.Verb != Lasting || len(d.On) == 0:
	case !apart && said:
		r.wrong(at, "the maps stand under lasting already", "take this out, or write {lasting: [classes], on: [maps]}")
	case apart && !said:
		r.wrong(found["lasting"], "the maps that show lasting ground are not named", "add on: with two or more maps of different years")
		d.On = nil
	case apart:
		of := d.On[0].Of
		d.On = nil
		for _, m := range d.onPos {
			d.On = append(d.On, Witness{Map: m.value, Pos: m.at, Of: of})
		}
	}
	d.onPos = nil
}

// lasting reports whether a layer tells lasting ground from other.
func (l *layer) lasting() bool { return l != nil && l.d != nil && l.d.Verb == Lasting }

// linkWitnesses joins a lasting layer to its maps; from is nil where one
// cannot be judged.
func (c *checker) linkWitnesses(l *layer) {
	for i := range l.d.On {
		w := &l.d.On[i]
		from := c.find(w.Map, w.Pos)
		if from != nil && from.m == nil {
			c.r.wrong(w.Pos, fmt.Sprintf("lasting ground is told by dated maps, and %s is a derived layer", quote(w.Map)), "name the map that it is made from")
			from = nil
		}
		l.witnesses = append(l.witnesses, from)
	}
	if len(l.witnesses) > 0 && !slices.Contains(l.witnesses, nil) {
		l.from = l.witnesses[0]
	}
}

// witnesses checks the maps of a lasting layer and puts them in order of
// their years.
func (c *checker) witnesses(l *layer) {
	lines := map[string]Pos{}
	for i := range l.d.On {
		w, from := &l.d.On[i], l.witnesses[i]
		if first, twice := lines[w.Map]; twice {
			c.r.wrong(w.Pos, fmt.Sprintf("the map %s is named twice, first in line %d", quote(w.Map), first.Line), "keep one of them")
			continue
		}
		lines[w.Map] = w.Pos
		if w.Year = from.m.Year; w.Year == 0 {
			c.r.wrong(w.Pos, fmt.Sprintf("the map %s does not say which year it shows", quote(w.Map)), fmt.Sprintf("add year: to the map in line %d", from.pos.Line))
		}
		if c.classes(from, w.Pos, string(Lasting)) {
			c.known(from, w.Of, false)
		}
	}
	slices.SortStableFunc(l.d.On, func(a, b Witness) int { return cmp.Or(cmp.Compare(a.Year, b.Year), cmp.Compare(a.Map, b.Map)) })
	if first, last := l.d.On[0].Year, l.d.On[len(l.d.On)-1].Year; first == last && first != 0 && len(lines) > 1 {
		c.r.wrong(l.d.FromPos, fmt.Sprintf("all its maps show the year %d, and one year does not tell what lasts", first), "name maps of different years")
	}
}
