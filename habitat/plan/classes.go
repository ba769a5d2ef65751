package plan

import (
	"fmt"
	"math"
	"strconv"

	"likelyground/habitat/legends"
)

// classShape is a class: a name, or a code where the plan writes a bare whole
// number.
func classShape(what string) shape[Class] {
	read := func(r *reader, n *node) (Class, bool) {
		if n.kind != scalarNode {
			r.wrong(n.pos, fmt.Sprintf("%s is a class name or a code, not %s", what, n.what()), "write one; put a name that YAML takes for something else in quotes")
			return Class{}, false
		}
		if n.isTruth() {
			r.better(n.pos, fmt.Sprintf("%s without quotes is no name", n.text), "put it in quotes", quote(n.text))
			return Class{}, false
		}
		return r.class(n, what)
	}
	text := textShape(what).schema
	return shape[Class]{read, anyOf(text, schema{"type": "integer", "minimum": math.MinInt32 + 1, "maximum": math.MaxInt32})}
}

// class reads a scalar, or the key of a mapping, as a class.
func (r *reader) class(n *node, what string) (Class, bool) {
	if !n.isNumber() {
		return Class{Name: n.text, Pos: n.pos}, r.sound(n.pos, n.text, what)
	}
	code, ok := r.code(n)
	return Class{Code: code, IsCode: true, Pos: n.pos}, ok
}

// code reads a bare whole number that fits a class code.
func (r *reader) code(n *node) (int32, bool) {
	if !n.isNumber() {
		r.noNumber(n)
		return 0, false
	}
	v, err := strconv.ParseFloat(n.text, 64)
	if err != nil || !integerForm.MatchString(n.text) || v <= math.MinInt32 || v > math.MaxInt32 {
		r.better(n.pos, n.shown()+" is no class code: codes are whole numbers", "if it is a name, put it in quotes", quote(n.text))
		return 0, false
	}
	return int32(v), true
}

// codeForm is a code as the key of a mapping, in the schema.
const codeForm = `^[-+]?[0-9]+$`

// scoresShape maps classes to their scores.
func scoresShape() shape[[]ClassScore] {
	score := numberShape(0, 1)
	read := func(r *reader, n *node) ([]ClassScore, bool) {
		if n.kind != mapNode || len(n.keys) == 0 {
			r.wrong(n.pos, "scores are classes with a number from 0 to 1 each", "write such as {sand: 1, clay: 0.1}")
			return nil, false
		}
		var out []ClassScore
		sound := true
		seen := map[Class]Pos{}
		for i, k := range n.keys {
			c, ok := r.class(k, "a class name")
			v, scored := r.scoreOf(k, n.items[i], score)
			sound = sound && ok && scored
			if ok && r.newClass(seen, c) {
				out = append(out, ClassScore{Class: c, Score: v})
			}
		}
		return out, sound && len(out) == len(n.keys)
	}
	return shape[[]ClassScore]{read, schema{
		"type": "object", "additionalProperties": score.schema, "minProperties": 1,
		"propertyNames": schema{"pattern": nameForm, "maxLength": maxText},
	}}
}

// newClass notes a class that stands twice.
func (r *reader) newClass(seen map[Class]Pos, c Class) bool {
	at := c.Pos
	c.Pos = Pos{}
	if first, twice := seen[c]; twice {
		r.wrong(at, fmt.Sprintf("the class %s stands twice, first in line %d", c, first.Line), "keep one of them")
		return false
	}
	seen[c] = at
	return true
}

// String returns the class as messages show it: a name in quotes, or a code.
func (c Class) String() string {
	if c.IsCode {
		return strconv.Itoa(int(c.Code))
	}
	return quote(c.Name)
}

// classesShape is one class or a list of them, none twice.
func classesShape() shape[[]Class] {
	s := oneOrMore("a list of classes", classShape("a class"))
	read := func(r *reader, n *node) ([]Class, bool) {
		all, ok := s.read(r, n)
		seen := map[Class]Pos{}
		for _, c := range all {
			ok = r.newClass(seen, c) && ok
		}
		return all, ok
	}
	return shape[[]Class]{read, s.schema}
}

// matchWords are for the schema.
const matchWords = "How classes are compared with the texts of a field or the names of a legend: whole text (the default; groups of a legend count too), contains (whole words, whatever their case; the longest wins, then the earliest in the text), last part (what follows the last / or #)."

func matchShape() shape[Match] { return wordShape("match", WholeText, Contains, LastPart) }

// legendShape is the path of a legend, codes with names, or the name of one
// that the program has.
func legendShape() shape[*LegendUse] {
	file := asIs(placed(pathShape()), func(p put[string]) *LegendUse { return &LegendUse{Pos: p.at, File: p.value} })
	inline := shape[*LegendUse]{readInlineLegend, schema{
		"type": "object", "additionalProperties": textShape("a class name").schema, "minProperties": 1,
		"propertyNames": schema{"pattern": codeForm},
	}}
	own := builtInShape()
	either := shape[*LegendUse]{func(r *reader, n *node) (*LegendUse, bool) {
		for _, k := range n.keys {
			if !k.isNumber() && Misspelling(k.text, builtIn) >= 0 {
				return own.read(r, n)
			}
		}
		return inline.read(r, n)
	}, anyOf(inline.schema, own.schema)}
	return byKind("a legend", &file, nil, &either)
}

// builtIn is the key that names a legend of the program's own.
const builtIn = "built in"

func builtInShape() shape[*LegendUse] {
	return object[*LegendUse]{
		what: "a built-in legend", fresh: func() *LegendUse { return &LegendUse{} },
		keys: []key[*LegendUse]{
			needed(builtIn+": worldcover", entry(builtIn, "The name of the legend.", wordShape(builtIn, legends.Names()...), func(u **LegendUse, v put[string]) { (*u).BuiltIn, (*u).Pos = v.value, v.at })),
		},
	}.shape()
}

// finishLegend refuses a built-in legend on a map that cannot have it.
func finishLegend(r *reader, m *Map) {
	if b := m.Legend.Open(); b != nil && b.Kind == legends.Texts && m.Field == "" {
		r.wrong(m.Legend.Pos, fmt.Sprintf("the legend %s is of texts, and the map names no field that holds any", quote(b.Name)), "add field: with the name of the column")
	}
}

// legendCode reads the key of a legend.
func (r *reader) legendCode(k *node) (int32, bool) {
	if !k.isNumber() && !k.quoted {
		r.wrong(k.pos, fmt.Sprintf("a legend in the plan has no key %s: its keys are codes", quote(k.shown())), "write such as {1: broadleaf}, or {built in: NAME} for one that the program has")
		return 0, false
	}
	return r.code(k)
}

func readInlineLegend(r *reader, n *node) (*LegendUse, bool) {
	if len(n.keys) == 0 {
		r.wrong(n.pos, "the legend is empty", "write such as {1: broadleaf, 2: conifer}")
		return nil, false
	}
	out := &LegendUse{Pos: n.pos}
	name := textShape("a class name")
	seen := map[Class]Pos{}
	sound := true
	for i, k := range n.keys {
		code, ok := r.legendCode(k)
		text, named := name.read(r, n.items[i])
		if ok {
			ok = r.newClass(seen, Class{Code: code, IsCode: true, Pos: k.pos})
		}
		sound = sound && ok && named
		out.Inline = append(out.Inline, LegendEntry{Code: code, Name: text})
	}
	out.Inline.sort()
	return out, sound
}
