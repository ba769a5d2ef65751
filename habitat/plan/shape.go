package plan

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"
)

// schema is a piece of a JSON Schema.
type schema = map[string]any

// shape is one form that a value of the plan may have: how it is read, and
// how the JSON Schema says the same. Every key of a plan has one.
type shape[V any] struct {
	read   func(r *reader, n *node) (V, bool)
	schema schema
}

// put is a value together with its places.
type put[V any] struct {
	value V
	key   Pos // of the key that holds it
	at    Pos // of the value
}

// numberShape is a bare number from low to high.
func numberShape(low, high float64) shape[float64] {
	s := schema{"type": "number"}
	if !math.IsInf(low, 0) {
		s["minimum"] = low
	}
	if !math.IsInf(high, 0) {
		s["maximum"] = high
	}
	read := func(r *reader, n *node) (float64, bool) {
		v, ok := r.number(n)
		if ok && (v < low || v > high) {
			r.wrong(n.pos, fmt.Sprintf("%s is not %s", n.shown(), between(low, high)), "write a number "+between(low, high))
			return 0, false
		}
		return v, ok
	}
	return shape[float64]{read, s}
}

// anyNumber is a bare finite number.
func anyNumber() shape[float64] { return numberShape(math.Inf(-1), math.Inf(1)) }

// between says in words from where to where numbers go.
func between(low, high float64) string {
	lo, hi := trimmed(low), trimmed(high)
	switch {
	case math.IsInf(high, 0):
		return "at least " + lo
	case math.IsInf(low, 0):
		return "at most " + hi
	}
	return "from " + lo + " to " + hi
}

// trimmed writes a number with no more digits than it needs.
func trimmed(v float64) string {
	if math.Abs(v) < 1e9 && math.Abs(v) > 1e-6 {
		return strconv.FormatFloat(v, 'f', -1, 64)
	}
	return strconv.FormatFloat(v, 'g', -1, 64)
}

// integerShape is a bare whole number from low to high.
func integerShape(low, high int) shape[int] {
	read := func(r *reader, n *node) (int, bool) {
		v, ok := r.number(n)
		if !ok {
			return 0, false
		}
		if v != math.Trunc(v) || v < float64(low) || v > float64(high) {
			r.wrong(n.pos, fmt.Sprintf("%s is no whole number from %d to %d", n.shown(), low, high), "write a whole number")
			return 0, false
		}
		return int(v), true
	}
	return shape[int]{read, schema{"type": "integer", "minimum": low, "maximum": high}}
}

// truthShape is yes or no, true or false.
func truthShape() shape[bool] {
	read := func(r *reader, n *node) (bool, bool) {
		if n.kind == scalarNode && !n.quoted {
			switch n.text {
			case "yes", "true":
				return true, true
			case "no", "false":
				return false, true
			}
		}
		if n.kind != scalarNode {
			r.wrong(n.pos, "yes or no should stand here, not "+n.what(), "write yes or no")
			return false, false
		}
		if n.quoted && slices.Contains([]string{"yes", "no", "true", "false"}, n.text) {
			r.better(n.pos, fmt.Sprintf("%q in quotes is a text, not yes or no", n.text), "take the quotes away", n.text)
			return false, false
		}
		fix, better := didYouMean(n.text, []string{"yes", "no"}, "write yes or no")
		r.suggest(n.pos, "yes or no should stand here, not "+quote(n.shown()), fix, better)
		return false, false
	}
	return shape[bool]{read, schema{"enum": []any{true, false, "yes", "no"}}}
}

// suggest notes a problem, with the line put right where a better text is
// known.
func (r *reader) suggest(at Pos, message, fix, better string) {
	if better == "" {
		r.wrong(at, message, fix)
		return
	}
	if !plainText(better) {
		better = quote(better)
	}
	r.better(at, message, fix, better)
}

// textForm is what any text of a plan looks like: not empty, no blank at its
// ends, no control characters.
const textForm = `^[^\s\p{Cc}]([^\p{Cc}]*[^\s\p{Cc}])?\n*$`

// maxText bounds the length of a text in characters.
const maxText = 500

// textShape is a text of one line; what names it for messages.
func textShape(what string) shape[string] {
	read := func(r *reader, n *node) (string, bool) {
		if n.kind == scalarNode && (n.isNumber() || n.isTruth()) {
			r.better(n.pos, fmt.Sprintf("%s is a text, but %s without quotes is not", what, n.shown()), "put it in quotes", quote(n.text))
			return "", false
		}
		if n.kind != scalarNode {
			r.wrong(n.pos, fmt.Sprintf("%s is a text, not %s", what, n.what()), "write a text")
			return "", false
		}
		text := strings.TrimRight(n.text, "\n")
		return text, r.sound(n.pos, text, what)
	}
	return shape[string]{read, schema{"type": "string", "minLength": 1, "maxLength": maxText, "pattern": textForm}}
}

// sound refuses texts that are empty, endless or could not be shown.
func (r *reader) sound(at Pos, text, what string) bool {
	switch {
	case strings.TrimSpace(text) == "":
		r.wrong(at, what+" is empty", "write a text, or leave the key out")
	case strings.TrimSpace(text) != text:
		r.better(at, what+" begins or ends with a blank", "take the blank out", quote(strings.TrimSpace(text)))
	case utf8.RuneCountInString(text) > maxText:
		r.wrong(at, fmt.Sprintf("%s has more than %d characters", what, maxText), "write a shorter one")
	case strings.ContainsFunc(text, hidden):
		r.wrong(at, what+" holds a character that cannot be shown, such as a line break", "write it in visible characters, on one line")
	default:
		return true
	}
	return false
}

// placed keeps the place of a value.
func placed[V any](s shape[V]) shape[put[V]] {
	read := func(r *reader, n *node) (put[V], bool) {
		v, ok := s.read(r, n)
		return put[V]{value: v, at: n.pos}, ok
	}
	return shape[put[V]]{read, s.schema}
}

// wordShape is one of some words.
func wordShape[V ~string](what string, words ...V) shape[V] {
	var known []string
	var enum []any
	for _, w := range words {
		known = append(known, string(w))
		enum = append(enum, string(w))
	}
	read := func(r *reader, n *node) (V, bool) {
		if n.kind == scalarNode && slices.Contains(known, n.text) {
			return V(n.text), true
		}
		if n.kind != scalarNode {
			r.wrong(n.pos, fmt.Sprintf("%s is one word, not %s", what, n.what()), "write one of "+listed(known))
			return "", false
		}
		fix, better := didYouMean(n.text, known, "write one of "+listed(known))
		r.suggest(n.pos, fmt.Sprintf("%s cannot be %s", what, quote(n.shown())), fix, better)
		return "", false
	}
	return shape[V]{read, schema{"enum": enum}}
}

// listShape is a list of at least some items.
func listShape[V any](what string, item shape[V], least, most int) shape[[]V] {
	s := schema{"type": "array", "items": item.schema, "minItems": least}
	if most > 0 {
		s["maxItems"] = most
	}
	read := func(r *reader, n *node) ([]V, bool) {
		if n.kind != listNode {
			r.wrong(n.pos, fmt.Sprintf("%s is a list, not %s", what, n.what()), "write it as [a, b]")
			return nil, false
		}
		if len(n.items) < least || most > 0 && len(n.items) > most {
			r.wrong(n.pos, fmt.Sprintf("%s needs %s, and has %d", what, entries(least, most), len(n.items)), "write it as [a, b]")
			return nil, false
		}
		return readAll(r, n.items, item)
	}
	return shape[[]V]{read, s}
}

func entries(least, most int) string {
	switch {
	case least == most:
		return fmt.Sprintf("%d entries", least)
	case most == 0 && least == 1:
		return "at least 1 entry"
	case most == 0:
		return fmt.Sprintf("at least %d entries", least)
	}
	return fmt.Sprintf("%d to %d entries", least, most)
}

// readAll reads every item, also behind one that is wrong.
func readAll[V any](r *reader, items []*node, item shape[V]) ([]V, bool) {
	var out []V
	sound := true
	for _, n := range items {
		v, ok := item.read(r, n)
		if ok {
			out = append(out, v)
		}
		sound = sound && ok
	}
	return out, sound
}

// oneOrMore is one value, or a list of some.
func oneOrMore[V any](what string, item shape[V]) shape[[]V] {
	many := listShape(what, item, 1, 0)
	read := func(r *reader, n *node) ([]V, bool) {
		if n.kind == listNode {
			return many.read(r, n)
		}
		v, ok := item.read(r, n)
		return []V{v}, ok
	}
	return shape[[]V]{read, anyOf(item.schema, many.schema)}
}

// byKind picks the shape by what stands there; a nil shape is not allowed.
func byKind[V any](what string, scalar, list, mapping *shape[V]) shape[V] {
	var options []schema
	var words []string
	for _, o := range []struct {
		s    *shape[V]
		word string
	}{{scalar, "one value"}, {list, "a list"}, {mapping, "keys with values"}} {
		if o.s != nil {
			options, words = append(options, o.s.schema), append(words, o.word)
		}
	}
	read := func(r *reader, n *node) (V, bool) {
		s := map[kind]*shape[V]{scalarNode: scalar, listNode: list, mapNode: mapping}[n.kind]
		if s == nil {
			var none V
			r.wrong(n.pos, fmt.Sprintf("%s cannot be %s", what, n.what()), "write "+strings.Join(words, " or "))
			return none, false
		}
		return s.read(r, n)
	}
	return shape[V]{read, anyOf(options...)}
}

// asIs turns the values of a shape into those of another type.
func asIs[V, W any](s shape[V], turn func(V) W) shape[W] {
	read := func(r *reader, n *node) (W, bool) {
		v, ok := s.read(r, n)
		return turn(v), ok
	}
	return shape[W]{read, s.schema}
}

func anyOf(options ...schema) schema {
	list := make([]any, len(options))
	for i, o := range options {
		list[i] = o
	}
	return schema{"anyOf": list}
}
