package where

import (
	"cmp"
	"strings"
	"unicode"
	"unicode/utf8"
)

// truth is the logic of SQL-92, table 11 to 13: AND is the lesser, OR the
// greater of two.
type truth int8

const (
	no      truth = -1
	unknown truth = 0
	yes     truth = 1
)

func truthOf(b bool) truth {
	if b {
		return yes
	}
	return no
}

// node is a part of a condition.
type node interface {
	eval(values []Value) truth
	walk(see func(node))
}

type (
	both    struct{ a, b node } // AND
	either  struct{ a, b node } // OR
	negated struct{ of node }   // NOT

	isNull struct{ field int }

	// comparison is field op operand.
	comparison struct {
		left  int
		op    string
		right operand
	}
	// among is field IN (…).
	among struct {
		field int
		list  []Value
	}
	// like is field LIKE pattern; fold: whatever the case.
	like struct {
		field   int
		pattern []rune
		fold    bool
	}
)

// operand is the right side of a comparison: a field, or a value where field
// is -1.
type operand struct {
	field int
	value Value
}

func (n *both) eval(v []Value) truth    { return min(n.a.eval(v), n.b.eval(v)) }
func (n *either) eval(v []Value) truth  { return max(n.a.eval(v), n.b.eval(v)) }
func (n *negated) eval(v []Value) truth { return -n.of.eval(v) }
func (n *isNull) eval(v []Value) truth  { return truthOf(v[n.field].Null) }

func (n *comparison) eval(v []Value) truth {
	left, right := &v[n.left], &n.right.value
	if n.right.field >= 0 {
		right = &v[n.right.field]
	}
	if left.Null || right.Null {
		return unknown
	}
	order, comparable := compare(left, right)
	if !comparable {
		return truthOf(n.op == "<>")
	}
	switch n.op {
	case "=":
		return truthOf(order == 0)
	case "<>":
		return truthOf(order != 0)
	case "<":
		return truthOf(order < 0)
	case "<=":
		return truthOf(order <= 0)
	case ">":
		return truthOf(order > 0)
	}
	return truthOf(order >= 0)
}

// compare orders two values of one kind; false where one is not a number.
func compare(a, b *Value) (int, bool) {
	switch {
	case a.Exact && b.Exact:
		return cmp.Compare(a.Whole, b.Whole), true
	case a.Text != "" || b.Text != "":
		return strings.Compare(a.Text, b.Text), true
	}
	x, y := a.number(), b.number()
	return cmp.Compare(x, y), x == x && y == y
}

// number is the value as a number; 0 for the empty text, which so equals
// itself.
func (v *Value) number() float64 {
	if v.Exact {
		return float64(v.Whole)
	}
	return v.Number
}

func (n *among) eval(v []Value) truth {
	at := &v[n.field]
	if at.Null {
		return unknown
	}
	for i := range n.list {
		if order, ok := compare(at, &n.list[i]); ok && order == 0 {
			return yes
		}
	}
	return no
}

func (n *like) eval(v []Value) truth {
	at := &v[n.field]
	if at.Null {
		return unknown
	}
	return truthOf(n.matches(at.Text))
}

// matches walks text and pattern together and goes back to the last % where
// they part, in at most their product of steps.
func (n *like) matches(text string) bool {
	p, back, retry := 0, -1, ""
	for text != "" {
		r, size := utf8.DecodeRuneInString(text)
		switch {
		case p < len(n.pattern) && n.pattern[p] == '%':
			back, retry = p, text
			p++
			continue
		case p < len(n.pattern) && (n.pattern[p] == '_' || n.same(n.pattern[p], r)):
			p++
			text = text[size:]
			continue
		case back < 0:
			return false
		}
		_, size = utf8.DecodeRuneInString(retry)
		retry = retry[size:]
		p, text = back+1, retry
	}
	for p < len(n.pattern) && n.pattern[p] == '%' {
		p++
	}
	return p == len(n.pattern)
}

func (n *like) same(a, b rune) bool {
	return a == b || n.fold && unicode.ToLower(unicode.ToUpper(a)) == unicode.ToLower(unicode.ToUpper(b))
}

func (n *both) walk(see func(node))       { n.a.walk(see); n.b.walk(see) }
func (n *either) walk(see func(node))     { n.a.walk(see); n.b.walk(see) }
func (n *negated) walk(see func(node))    { n.of.walk(see) }
func (n *isNull) walk(see func(node))     { see(n) }
func (n *comparison) walk(see func(node)) { see(n) }
func (n *among) walk(see func(node))      { see(n) }
func (n *like) walk(see func(node))       { see(n) }
