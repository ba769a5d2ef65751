package plan

import (
	"fmt"
	"slices"
	"strings"
)

// checker holds the parts of a plan against each other once each is read.
type checker struct {
	r        *reader
	p        *Plan
	warnings []Problem
	layers   map[string]*layer
	names    []string // of layers, in order
}

// layer is a map or a derived layer, and what the plan makes of it.
type layer struct {
	name      string
	pos       Pos
	m         *Map // one of m and d
	d         *Derived
	from      *layer   // of d
	witnesses []*layer // of d where it is lasting, in the order of On until that is sorted
	members   []*layer // of d where it is a first of
	unsound   bool
	used      bool
	asClasses Pos // first use of its values as classes
	asAmounts Pos
}

// all runs every check. Each one passes over what is wrong already.
func (c *checker) all() {
	c.collect()
	c.link()
	c.order()
	c.matching()
	c.derived()
	c.grid()
	c.factors()
	c.keepOut()
	c.absent()
	c.joining()
	c.compare()
	c.idle()
}

func (c *checker) warn(at Pos, message, fix string) {
	c.warnings = append(c.warnings, c.r.at(at, message, fix))
}

// collect gathers the layers under their names.
func (c *checker) collect() {
	c.layers = map[string]*layer{}
	for i := range c.p.Maps {
		m := &c.p.Maps[i]
		c.layers[m.Name] = &layer{name: m.Name, pos: m.Pos, m: m, unsound: m.unsound}
	}
	for i := range c.p.Derived {
		d := &c.p.Derived[i]
		if other, taken := c.layers[d.Name]; taken {
			c.r.wrong(d.Pos, fmt.Sprintf("a map in line %d has the name %s already", other.pos.Line, quote(d.Name)), "give the derived layer another name")
			continue
		}
		c.layers[d.Name] = &layer{name: d.Name, pos: d.Pos, d: d, unsound: d.unsound}
	}
	for name := range c.layers {
		c.names = append(c.names, name)
	}
	slices.Sort(c.names)
}

// find returns the layer of a name and notes that it is used; nil where there
// is none that could be judged.
func (c *checker) find(name string, at Pos) *layer {
	l, ok := c.layers[name]
	switch {
	case name == "" || len(c.p.Maps) == 0:
		return nil
	case !ok:
		fix, better := didYouMean(name, c.names, "the plan has "+listed(c.names))
		c.r.suggest(at, "there is no map or derived layer "+quote(name), fix, better)
		return nil
	}
	l.used = true
	if l.unsound {
		return nil
	}
	return l
}

// link joins each derived layer to the layer that it is made from.
func (c *checker) link() {
	for i := range c.p.Derived {
		d := &c.p.Derived[i]
		l := c.layers[d.Name]
		switch {
		case l == nil || l.d != d:
		case d.Verb == Lasting:
			c.linkWitnesses(l)
		case d.Verb == FirstOf:
			c.linkFirst(l)
		default:
			l.from = c.find(d.From, d.FromPos)
			if d.Drains != nil {
				c.find(d.Drains.Map, d.Drains.Pos)
			}
		}
	}
}

// order sorts derived layers behind those that they read and refuses loops.
func (c *checker) order() {
	var done []Derived
	state := map[*layer]int{} // 1 being visited, 2 done
	var visit func(l *layer, path []string)
	visit = func(l *layer, path []string) {
		if l == nil || l.d == nil || state[l] == 2 {
			return
		}
		path = append(path, l.name)
		if state[l] == 1 {
			c.loop(l, path)
			return
		}
		state[l] = 1
		for _, from := range l.d.Reads() {
			visit(c.layers[from], path)
		}
		state[l] = 2
		done = append(done, *l.d)
	}
	for _, name := range c.names {
		visit(c.layers[name], nil)
	}
	c.p.Derived = done
	for i := range done {
		c.layers[done[i].Name].d = &done[i]
	}
}

// loop reports derived layers that are made from each other.
func (c *checker) loop(l *layer, path []string) {
	at := slices.Index(path, l.name)
	c.r.wrong(l.d.FromPos, "derived layers are made from each other: "+strings.Join(path[at:], " ← "), "let one of them be made from a map")
	for _, name := range path[at:] {
		c.layers[name].unsound, c.layers[name].from = true, nil
	}
}

// derived checks what each verb is given.
func (c *checker) derived() {
	for i := range c.p.Derived {
		d := &c.p.Derived[i]
		l := c.layers[d.Name]
		if l.unsound || l.from == nil || l.from.unsound {
			continue
		}
		switch d.Verb {
		case Share, Distance, EdgeDistance:
			if c.classes(l.from, d.FromPos, string(d.Verb)) {
				c.known(l.from, d.Of, false)
			}
		case Lasting:
			c.witnesses(l)
		case FirstOf:
			c.oneUnit(l)
		case Mean:
			c.amounts(l.from, d.FromPos, string(d.Verb))
			if l.from.direction() {
				c.r.wrong(d.FromPos, fmt.Sprintf("%s is a direction, and directions have no mean: that of 350 and 10 degrees would be south", quote(l.from.name)), "take the mean of northness and of eastness, or the aspect of a mean of the heights")
			}
		default:
			if c.amounts(l.from, d.FromPos, string(d.Verb)) {
				c.heights(l.from, d)
			}
			c.drained(d)
			if d.Verb.Water() && l.from.m == nil {
				c.r.wrong(d.FromPos, fmt.Sprintf("water runs over the ground as a map has it, and %s is a derived layer", quote(l.from.name)), "name the map that it is made from")
			}
		}
	}
}

// heights refuses to make terrain of what is no height.
func (c *checker) heights(from *layer, d *Derived) {
	switch base := from.height(); {
	case from.firstOf():
		firstOfAll(from, func(m *layer, _ Pos) bool { c.heights(m, d); return true })
	case base == nil:
		c.r.wrong(d.FromPos, fmt.Sprintf("%s is made of heights, and %s is none", d.Verb, quote(from.name)), "name a map of elevation")
	case base.m != nil && base.m.Unit != "" && !base.m.Height():
		c.r.wrong(d.FromPos, fmt.Sprintf("%s is made of heights in m or ft, and %s has the unit %s", d.Verb, quote(base.name), base.m.Unit), "name a map of elevation, or mend its unit")
	}
}

// height returns the layer whose heights a layer holds: itself, or what its
// mean is of; nil where it holds none.
func (l *layer) height() *layer {
	switch {
	case l == nil || l.m != nil:
		return l
	case l.d.Verb == Elevation, l.d.Verb == Filled:
		return l
	case (l.d.Verb == Mean || l.d.Verb == FirstOf) && l.from != nil:
		return l.from.height()
	}
	return nil
}

// classes notes that a layer's values are used as classes, and refuses that
// where they are amounts.
func (c *checker) classes(l *layer, at Pos, what string) bool {
	switch {
	case l.lasting():
		return true
	case l.firstOf():
		return firstOfAll(l, func(m *layer, at Pos) bool { return c.classes(m, at, what+" of "+quote(l.name)) })
	case l.m == nil:
		c.r.wrong(at, fmt.Sprintf("%s needs classes, and the derived layer %s has amounts", what, quote(l.name)), "name a map of classes, or use a curve or a limit")
	case l.m.saidAmounts || l.m.Scale != nil || l.m.Offset != nil || l.m.Between != nil || l.m.Unit != "":
		c.r.wrong(at, fmt.Sprintf("%s needs classes, and the map %s has measured amounts", what, quote(l.name)), fmt.Sprintf("use a curve or a limit, or mend the map in line %d", l.pos.Line))
	case l.asAmounts.Line != 0:
		c.both(l, at, l.asAmounts)
	default:
		l.m.Classes = true
		if l.asClasses.Line == 0 {
			l.asClasses = at
		}
		return true
	}
	return false
}

// amounts notes that a layer's values are used as amounts, and refuses that
// where they are classes.
func (c *checker) amounts(l *layer, at Pos, what string) bool {
	switch {
	case l.lasting():
		c.r.wrong(at, fmt.Sprintf("%s needs amounts, and %s tells the classes lasting and other", what, quote(l.name)), "use it as it stands, or scores, or a share of it")
		return false
	case l.firstOf():
		return firstOfAll(l, func(m *layer, at Pos) bool { return c.amounts(m, at, what+" of "+quote(l.name)) })
	case l.m == nil:
	case l.asClasses.Line != 0:
		c.both(l, at, l.asClasses)
		return false
	case l.m.Classes:
		c.r.wrong(at, fmt.Sprintf("%s needs amounts, and %s is a map of classes", what, quote(l.name)), "use scores or of: with class names")
		return false
	}
	if l.asAmounts.Line == 0 {
		l.asAmounts = at
	}
	return true
}

func (c *checker) both(l *layer, at, other Pos) {
	c.r.wrong(at, fmt.Sprintf("the map %s is used as classes and as amounts, the other way in line %d", quote(l.name), other.Line), "use it one way; a file that serves both ways can be named by two maps")
}

// legend returns the legend of a layer of classes; nil where it has none.
func (l *layer) legend() *LegendUse {
	if l.lasting() {
		return &LegendUse{Inline: LastingLegend}
	}
	if l.m == nil {
		return nil
	}
	return l.m.Legend
}

// codeForName refuses a code where the map's classes have names.
func (c *checker) codeForName(l *layer, class Class) {
	message := fmt.Sprintf("the classes of %s have names, and %d is a code", quote(l.name), class.Code)
	if name, ok := l.legend().Known().Name(class.Code); ok {
		c.r.better(class.Pos, message, "did you mean "+quote(name)+"?", name)
		return
	}
	c.r.wrong(class.Pos, message, "write the name that the legend gives it; in quotes if the name is a number")
}

// plainText reports whether a text can stand in a plan without quotes,
// wherever it stands.
func plainText(text string) bool {
	n := node{kind: scalarNode, text: text}
	if text == "" || n.isNumber() || n.isTruth() || strings.ContainsAny(text, ",[]{}:#\"\\") || strings.ContainsAny(text[:1], "'&*!|>%@`?- ~") {
		return false
	}
	return text != "null"
}
