package plan

import (
	"fmt"
	"slices"

	"likelyground/habitat/match"
)

// matching gives every class that is read from a map the way in which it is
// compared: that of its reader, or else of the map.
func (c *checker) matching() {
	for i := range c.p.Derived {
		d := &c.p.Derived[i]
		c.matched(d.From, d.Match, d.Of)
		if d.Drains != nil {
			c.matched(d.Drains.Map, d.Drains.Match, d.Drains.Of)
		}
		for j := range d.On { // each by its own map, though they may share a list
			d.On[j].Of = slices.Clone(d.On[j].Of)
			c.matched(d.On[j].Map, d.Match, d.On[j].Of)
		}
	}
	for i := range c.p.KeepOut {
		k := &c.p.KeepOut[i]
		c.matched(k.Layer, k.Match, k.Of)
	}
	c.matchedFactors(c.p.Factors)
}

func (c *checker) matchedFactors(factors []Factor) {
	for i := range factors {
		f := &factors[i]
		c.matchedFactors(f.Members)
		if f.Scores == nil {
			continue
		}
		named := f.Scores.Named()
		c.matched(f.From, f.Scores.Match, named)
		for j := range named {
			f.Scores.Classes[j].Class = named[j]
		}
	}
}

// matched settles how the classes of one list are compared, and refuses those
// that this way cannot tell apart.
func (c *checker) matched(layer string, own Match, classes []Class) {
	if own == "" {
		own = c.layers[layer].match(0)
	}
	if own == WholeText {
		own = ""
	}
	first := map[string]Class{}
	for i := range classes {
		k := &classes[i]
		if k.IsCode && own != Contains {
			continue
		}
		k.Match = own
		form := ""
		switch own {
		case Contains:
			form = match.Key(k.Written())
		case LastPart:
			form = match.LastPart(k.Name)
		default:
			continue
		}
		if form == "" {
			c.r.wrong(k.Pos, fmt.Sprintf("%s holds nothing to compare by `match: %s`", k, own), "write a word")
			continue
		}
		if other, twice := first[form]; twice {
			c.r.wrong(k.Pos, fmt.Sprintf("%s and %s in line %d are one by `match: %s`", k, other, other.Pos.Line, own), "keep one of them")
			continue
		}
		first[form] = *k
	}
}

// match is how a layer's class names are compared where its reader does not
// say: as its map says, or as all layers say that it is the first of.
func (l *layer) match(depth int) Match {
	switch {
	case l == nil || depth > maxLevels:
		return ""
	case l.m != nil:
		return l.m.Match
	case !l.firstOf() || len(l.members) == 0:
		return ""
	}
	first := l.members[0].match(depth + 1)
	for _, m := range l.members[1:] {
		if m.match(depth+1) != first {
			return ""
		}
	}
	return first
}

// Written returns a class as the plan writes it, without quotes.
func (c Class) Written() string {
	if c.IsCode {
		return fmt.Sprint(c.Code)
	}
	return c.Name
}

// known holds classes against a legend in the plan, or one that the program
// has. scored: two classes may not mean one.
func (c *checker) known(l *layer, classes []Class, scored bool) {
	use := l.legend()
	if use == nil || l.unsound {
		return
	}
	if use.BuiltIn != "" {
		c.naming(l, classes, scored)
		return
	}
	for _, class := range classes {
		if class.IsCode {
			c.codeForName(l, class)
		}
	}
	if use.File == "" {
		c.naming(l, classes, scored)
	}
}

// naming tells what is wrong with classes that a known legend should have.
func (c *checker) naming(l *layer, classes []Class, scored bool) {
	m := &Map{Name: l.name, Legend: l.legend()}
	v := m.Legend.Vocabulary()
	n := v.Name(classes)
	for _, i := range n.Idle {
		if k := classes[i]; !k.IsCode || v.Loose {
			c.r.note(c.p.UnknownClass(k, m, v))
		}
	}
	for _, i := range n.Both {
		c.r.note(c.p.ClassAndGroup(classes[i], m, v))
	}
	if scored {
		c.ties(n, classes, v)
	}
}

func (c *checker) ties(n Naming, classes []Class, v Vocabulary) {
	told := map[[2]int]bool{}
	for _, t := range n.Ties {
		if pair := [2]int{t.First, t.Other}; !told[pair] {
			told[pair] = true
			c.r.note(c.p.TiedClasses(classes[t.First], classes[t.Other], v.Classes[t.Class]))
		}
	}
}

// Vocabulary returns the classes of a legend that the plan alone tells.
func (u *LegendUse) Vocabulary() Vocabulary {
	return Vocabulary{Classes: u.Known(), Loose: u.BuiltIn != ""}
}

// UnknownClass returns the problem of a class that the legend of a map does
// not have, with a suggestion.
func (p *Plan) UnknownClass(class Class, m *Map, v Vocabulary) Problem {
	message := fmt.Sprintf("the %s %s has no class %s", p.kind(m), quote(m.Name), class)
	if class.Match == Contains {
		message = fmt.Sprintf("no class of the %s %s holds the words %s", p.kind(m), quote(m.Name), class)
	}
	if b := m.Legend.Open(); b != nil {
		if _, noData := b.Has(class.Code); class.IsCode && noData {
			return p.PointAt(class.Pos, fmt.Sprintf("the code %d means no data in the legend %s: such ground is missing", class.Code, quote(b.Name)), "take it out; `unknown:` says what missing ground does")
		}
	}
	fix := "its classes are " + listed(v.Classes.Names())
	if groups := v.Classes.GroupNames(); len(groups) > 0 {
		fix += ", its groups " + listed(groups)
	}
	better := v.Near(class)
	if better == "" || class.IsCode {
		return p.PointAt(class.Pos, message, fix)
	}
	out := p.PointAt(class.Pos, message, "did you mean "+quote(better)+"?")
	if !plainText(better) {
		better = quote(better)
	}
	return out.with(better)
}

// kind says what has the classes that m stands for.
func (p *Plan) kind(m *Map) string {
	if _, derived := p.DerivedLayer(m.Name); derived {
		return "layer"
	}
	return "map"
}

// ClassAndGroup returns the problem of a word that is a class and a group with
// other classes in it.
func (p *Plan) ClassAndGroup(class Class, m *Map, v Vocabulary) Problem {
	fix := "give one of the two another name in the legend"
	if v.Loose {
		own, others := v.within(class)
		fix = fmt.Sprintf("write the code %s for the class alone; for the group name what is in it: %s", own, listed(others))
	}
	return p.PointAt(class.Pos, fmt.Sprintf("%s is a class of the %s %s and also a group of several", class, p.kind(m), quote(m.Name)), fix)
}

// within returns the code of the class that a word names, and the names of
// classes and narrower groups that together are the group of that name.
func (v Vocabulary) within(class Class) (own string, others []string) {
	form := v.form(class.Name, WholeText)
	seen := map[string]bool{}
	for _, e := range v.Classes {
		if v.form(e.Name, WholeText) == form {
			own = (LegendEntry{Code: e.Code, Text: e.Text}).coded()
		}
		for i, g := range e.Groups {
			name := e.Name
			if i > 0 {
				name = e.Groups[i-1].Name
			}
			if v.form(g.Name, WholeText) == form && !seen[name] {
				seen[name] = true
				others = append(others, name)
			}
		}
	}
	return own, others
}

// coded is what stands for the class in the map.
func (e LegendEntry) coded() string {
	if e.Text != "" {
		return quote(e.Text)
	}
	return fmt.Sprint(e.Code)
}

// TiedClasses returns the problem of two classes of the plan that name one
// class of a map equally well.
func (p *Plan) TiedClasses(first, other Class, e LegendEntry) Problem {
	fix := "keep one of them"
	if !first.same(e) && !other.same(e) && first.Match == "" {
		fix = fmt.Sprintf("give %s a score of its own, or keep one of them", quote(e.Name))
	}
	return p.PointAt(other.Pos, fmt.Sprintf("%s and %s in line %d both name the class %s", other, first, first.Pos.Line, quote(e.Name)), fix)
}

// same reports whether a class of the plan names an entry by itself.
func (c Class) same(e LegendEntry) bool {
	return c.IsCode || match.Key(c.Name) == match.Key(e.Name)
}
