package plan

import (
	"fmt"
	"slices"
	"strings"
)

// rule is a condition on which keys of a mapping may stand together.
type rule struct {
	kind ruleOf
	keys []string
	with []string
	why  string // for messages
	fix  string
}

type ruleOf int

const (
	exactlyOne ruleOf = iota // one of keys
	atMostOne                // of keys
	clashes                  // none of keys beside any of with
	goesWith                 // any of keys needs one of with
)

// check notes what breaks the rule.
func (u rule) check(r *reader, what string, n *node, found given) {
	have, with := found.of(u.keys), found.of(u.with)
	switch u.kind {
	case exactlyOne, atMostOne:
		if len(have) == 0 && u.kind == exactlyOne {
			r.wrong(n.pos, fmt.Sprintf("%s lacks one of its keys %s", what, listed(u.keys)), u.fix)
		}
		if len(have) > 1 {
			r.wrong(found[have[1]], fmt.Sprintf("%s has both %s and %s", what, quote(have[0]), quote(have[1])), u.fix)
		}
	case clashes:
		if len(have) > 0 && len(with) > 0 {
			r.wrong(found[have[0]], fmt.Sprintf("%s and %s do not go together: %s", quote(have[0]), quote(with[0]), u.why), u.fix)
		}
	case goesWith:
		if len(have) > 0 && len(with) == 0 {
			r.wrong(found[have[0]], fmt.Sprintf("%s needs %s beside it: %s", quote(have[0]), either(u.with), u.why), u.fix)
		}
	}
}

// of returns those of the keys that are given.
func (g given) of(keys []string) []string {
	var out []string
	for _, k := range keys {
		if _, ok := g[k]; ok {
			out = append(out, k)
		}
	}
	return out
}

func either(names []string) string {
	var parts []string
	for _, n := range names {
		parts = append(parts, quote(n))
	}
	return strings.Join(parts, " or ")
}

// schema says the same as a JSON Schema.
func (u rule) schema() schema {
	switch u.kind {
	case exactlyOne:
		return schema{"oneOf": present(u.keys)}
	case atMostOne:
		return schema{"oneOf": append(present(u.keys), schema{"not": schema{"anyOf": present(u.keys)}})}
	case clashes:
		return schema{"not": schema{"allOf": []any{schema{"anyOf": present(u.keys)}, schema{"anyOf": present(u.with)}}}}
	}
	return schema{"if": schema{"anyOf": present(u.keys)}, "then": schema{"anyOf": present(u.with)}}
}

func present(keys []string) []any {
	var out []any
	for _, k := range slices.Clone(keys) {
		out = append(out, schema{"required": []any{k}})
	}
	return out
}
