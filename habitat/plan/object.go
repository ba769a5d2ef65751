package plan

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"unicode/utf8"
)

// object is a table of the keys that one kind of mapping may have. It drives
// both the reading and the JSON Schema.
type object[T any] struct {
	what  string // "a factor"
	about string
	fresh func() T // with defaults
	keys  []key[T]
	rules []rule
	hints map[string]string // remedies for keys that belong elsewhere
	// finish is called when all keys are read, with the places of those
	// given. It may be nil.
	finish func(r *reader, to *T, given given)
}

// given holds the places of the keys that a mapping gives.
type given map[string]Pos

// key is one key of an object.
type key[T any] struct {
	name, about string
	needed      bool
	sample      string // how a needed key begins
	schema      schema
	read        func(r *reader, key, value *node, to *T)
}

// entry makes the key of an object from a shape and where its value goes.
func entry[T, V any](name, about string, s shape[V], keep func(to *T, v put[V])) key[T] {
	read := func(r *reader, k, n *node, to *T) {
		if v, ok := s.read(r, n); ok {
			keep(to, put[V]{value: v, key: k.pos, at: n.pos})
		}
	}
	return key[T]{name: name, about: about, schema: s.schema, read: read}
}

// loose keeps a value also where something in it is wrong, so that the rest
// of it can be held against other parts of the plan.
func loose[V any](s shape[V]) shape[V] {
	read := func(r *reader, n *node) (V, bool) {
		v, _ := s.read(r, n)
		return v, true
	}
	return shape[V]{read, s.schema}
}

// needed marks a key that must be given, with a sample of it for messages.
func needed[T any](sample string, k key[T]) key[T] {
	k.needed, k.sample = true, sample
	return k
}

// shape returns the object as a shape.
func (o object[T]) shape() shape[T] {
	return shape[T]{o.read, o.schema()}
}

// read reads a mapping: every key, also behind one that is wrong.
func (o object[T]) read(r *reader, n *node) (T, bool) {
	to := o.fresh()
	before := r.total
	if n.kind != mapNode {
		r.wrong(n.pos, fmt.Sprintf("%s is written as keys with values, not %s", o.what, n.what()), "write such as "+o.sample())
		return to, false
	}
	found, meant := given{}, given{}
	for i, k := range n.keys {
		if slip := o.readKey(r, k, n.items[i], &to, found); slip != "" {
			meant[slip] = k.pos
		}
	}
	known := given{}
	maps.Copy(known, meant)
	maps.Copy(known, found)
	for _, k := range o.keys {
		if _, ok := known[k.name]; k.needed && !ok {
			r.wrong(n.pos, fmt.Sprintf("%s lacks its key %s", o.what, quote(k.name)), "add such as `"+k.sample+"`")
		}
	}
	for _, rule := range o.rules {
		rule.check(r, o.what, n, known)
	}
	if o.finish != nil {
		o.finish(r, &to, found)
	}
	return to, r.total == before
}

// readKey reads one key. For a misspelt one it returns what was meant.
func (o object[T]) readKey(r *reader, k, value *node, to *T, found given) (meant string) {
	i := slices.IndexFunc(o.keys, func(e key[T]) bool { return e.name == k.text })
	if i < 0 {
		fix, better := didYouMean(k.text, o.names(), "its keys are "+listed(o.names()))
		if hint, ok := o.hints[k.text]; ok {
			fix, better = hint, ""
		}
		r.suggest(k.pos, fmt.Sprintf("%s has no key %s", o.what, quote(k.shown())), fix, better)
		return better
	}
	if first, twice := found[k.text]; twice {
		r.wrong(k.pos, fmt.Sprintf("the key %s stands twice, first in line %d", quote(k.text), first.Line), "keep one of them")
		return ""
	}
	found[k.text] = k.pos
	if value.kind == nullNode {
		r.wrong(k.pos, fmt.Sprintf("%s has no value", quote(k.text)), "write one, or leave the key out")
		return ""
	}
	o.keys[i].read(r, k, value, to)
	return ""
}

// names returns the keys in the order of the table.
func (o object[T]) names() []string {
	var out []string
	for _, k := range o.keys {
		out = append(out, k.name)
	}
	return out
}

// sample shows how such a mapping begins.
func (o object[T]) sample() string {
	for _, k := range o.keys {
		if k.needed {
			return "`" + k.sample + "`"
		}
	}
	return "`" + o.keys[0].name + ": …`"
}

// schema says the same as a JSON Schema.
func (o object[T]) schema() schema {
	properties := schema{}
	var required []any
	for _, k := range o.keys {
		described := schema{"description": k.about}
		for name, v := range k.schema {
			described[name] = v
		}
		properties[k.name] = described
		if k.needed {
			required = append(required, k.name)
		}
	}
	s := schema{"type": "object", "properties": properties, "additionalProperties": false}
	if len(required) > 0 {
		s["required"] = required
	}
	if o.about != "" {
		s["description"] = o.about
	}
	var all []any
	for _, rule := range o.rules {
		all = append(all, rule.schema())
	}
	if len(all) > 0 {
		s["allOf"] = all
	}
	return s
}

// named is an entry of a mapping whose keys are names that the user chooses.
type named[T any] struct {
	name  string
	pos   Pos
	value T
	sound bool
}

// maxName bounds the length of a chosen name in characters.
const maxName = 100

// nameForm is what a chosen name looks like.
const nameForm = `^[^\s\p{Cc}]([^\p{Cc}]*[^\s\p{Cc}])?$`

// namedShape is a mapping from chosen names to values, in the plan's order.
// Also what is wrong inside is returned, marked as unsound, so that other
// parts of the plan may refer to it.
func namedShape[T any](what string, s shape[T], least int) shape[[]named[T]] {
	read := func(r *reader, n *node) ([]named[T], bool) {
		if n.kind != mapNode || len(n.keys) < least {
			r.wrong(n.pos, fmt.Sprintf("%s should be names with values", what), "write such as `name: value`, one a line")
			return nil, false
		}
		var out []named[T]
		at := map[string]Pos{}
		for i, k := range n.keys {
			if first, twice := at[k.text]; twice {
				r.wrong(k.pos, fmt.Sprintf("the name %s stands twice, first in line %d", quote(k.shown()), first.Line), "give one of them another name")
				continue
			}
			at[k.text] = k.pos
			v := named[T]{name: k.text, pos: k.pos, sound: r.goodName(k)}
			if value, ok := s.read(r, n.items[i]); ok {
				v.value = value
			} else {
				v.value, v.sound = value, false
			}
			out = append(out, v)
		}
		return out, true
	}
	return shape[[]named[T]]{read, schema{
		"type": "object", "additionalProperties": s.schema, "minProperties": least,
		"propertyNames": schema{"pattern": nameForm, "maxLength": maxName},
	}}
}

// goodName refuses names that could not be shown or written.
func (r *reader) goodName(k *node) bool {
	if utf8.RuneCountInString(k.text) > maxName {
		r.wrong(k.pos, fmt.Sprintf("this name has more than %d characters", maxName), "choose a shorter one")
		return false
	}
	if strings.Contains(k.text, "\n") {
		r.wrong(k.pos, "a name cannot hold a line break", "write it on one line")
		return false
	}
	return r.sound(k.pos, k.text, "a name")
}
