package plan

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	fault "github.com/santhosh-tekuri/jsonschema/v6/kind"
)

// compiled returns the schema as another library reads it.
func compiled(t testing.TB) *jsonschema.Schema {
	t.Helper()
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(Schema()))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	c.DefaultDraft(jsonschema.Draft2020)
	if err := c.AddResource("plan.json", doc); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("plan.json")
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// asJSON turns nodes into what a YAML 1.2 reader hands to a schema.
func asJSON(n *node) any {
	switch {
	case n.kind == nullNode:
		return nil
	case n.kind == listNode:
		out := []any{}
		for _, item := range n.items {
			out = append(out, asJSON(item))
		}
		return out
	case n.kind == mapNode:
		out := map[string]any{}
		for i, k := range n.keys {
			out[k.text] = asJSON(n.items[i])
		}
		return out
	case n.isTruth():
		return strings.EqualFold(n.text, "true")
	case n.isNumber():
		return jsonNumber(n.text)
	}
	return n.text
}

func jsonNumber(text string) any {
	text = strings.TrimPrefix(text, "+")
	if strings.HasPrefix(strings.TrimPrefix(text, "-"), ".") {
		text = strings.Replace(text, ".", "0.", 1)
	}
	return json.Number(strings.TrimSuffix(strings.Replace(text, ".e", "e", 1), "."))
}

func document(t *testing.T, data []byte) *node {
	t.Helper()
	return (&reader{}).parse(data)
}

// onlyRead are wrong plans whose fault no schema can tell: what refers to
// something, stands twice, contradicts a number elsewhere, or is about the
// layout of the text.
var onlyRead = []string{
	"absent_class", "absent_text", "area_globe", "area_swapped", "between_swapped", "both_ways",
	"class_code", "class_near_miss", "class_twice", "classes_no_legend", "classes_scale",
	"compare_gap", "compare_mixed", "compare_ratio", "compare_self", "compare_twice", "compare_unknown",
	"curve_twice", "factor_bare", "factor_bare_classes", "factor_case", "factor_reserved", "factor_twice",
	"grid_without_area", "groups_deep", "keep_out_90", "key_twice", "layer_unknown", "layer_unknown_far", "legend_twice",
	"like_derived", "like_optional", "like_unknown", "like_vector", "loop", "loop_self", "missing_range", "must_quoted",
	"legend_amounts_scored", "legend_built_in_classes", "legend_built_in_texts", "legend_case_twice", "legend_class_and_group", "legend_class_far", "legend_class_slip",
	"legend_code_no_data", "legend_code_unknown", "legend_group_slip", "legend_inline_group", "legend_named_twice", "legend_two_parents", "legend_words_none",
	"match_nothing", "match_part_twice", "match_twice", "parts_alone", "parts_classes_no", "parts_no_share", "parts_twice",
	"name_twice", "rule_ordered_count", "rule_ordered_sum", "share_of_amounts", "slope_of_classes", "slope_of_ph",
	"slope_of_slope", "aspect_limit", "aspect_mean", "curvature_limit", "top_twice", "unit_missing", "unit_unknown", "weights_all_zero", "factor_reserved_length",
	"first_missing", "first_mixed", "first_self", "first_slope", "first_twice", "first_units",
	"lasting_class", "lasting_curve", "lasting_derived", "lasting_maps_twice", "lasting_no_maps", "lasting_no_year", "lasting_one_year", "lasting_same_map",
	"water_limit_unit", "water_of_derived", "water_of_ph", "drains_derived", "drains_of_heights",
}

// TestSchemaJudgesAlike holds the schema against Read on whole plans.
func TestSchemaJudgesAlike(t *testing.T) {
	s := compiled(t)
	for path, data := range planFiles(t, "good/*.yaml") {
		if _, err := Read(path, data); err != nil {
			t.Errorf("Read refuses a good plan:\n%v", err)
		}
		if err := s.Validate(asJSON(document(t, data))); err != nil {
			t.Errorf("the schema refuses %s: %v", path, err)
		}
	}
	for path, data := range planFiles(t, "bad/*.yaml") {
		root := document(t, data)
		if root == nil {
			continue // no YAML
		}
		name := strings.TrimSuffix(filepath.Base(path), ".yaml")
		err := s.Validate(asJSON(root))
		if only := slices.Contains(onlyRead, name); only != (err == nil) {
			t.Errorf("%s: the schema says %v; only Read can tell: %v", name, err, only)
		}
	}
}

// TestOnlyReadIsWhole sees to it that each plan of the list exists.
func TestOnlyReadIsWhole(t *testing.T) {
	files := planFiles(t, "bad/*.yaml")
	for _, name := range onlyRead {
		if _, ok := files[filepath.Join("testdata", "bad", name+".yaml")]; !ok {
			t.Errorf("testdata/bad/%s.yaml is named and does not exist", name)
		}
	}
}

// pool are values that the next test puts in place of others.
func pool() []*node {
	scalar := func(text string, quoted bool) *node { return &node{kind: scalarNode, text: text, quoted: quoted} }
	var out []*node
	for _, text := range []string{
		"-1", "0", "0.5", "1", "2", "40", "70000", "1e7", "5000000000", "x", "yes", "true", "none", "mean", "product", "250 m", "0 m", "0.00 ha", "-5 m", ".5 km",
		"0.5 ha", "5000 m²", "12 deg", "40 percent", "7 pH", "1/3", "1/0x", "score", "share out", "degrees", "/vsimem/x", "ftp://x", "https://maps.example/a.tif?x=*", "https://me@maps.example/a.tif", "http://", "a b",
	} {
		out = append(out, scalar(text, false))
	}
	out = append(out, scalar("", true), scalar(" x", true), scalar("x\x1b", true), scalar("x\ny", true), scalar(strings.Repeat("x", 501), true), &node{})
	one := scalar("1", false)
	out = append(out, &node{kind: listNode}, &node{kind: mapNode})
	out = append(out, &node{kind: listNode, items: []*node{one}}, &node{kind: listNode, items: []*node{scalar("1", false), scalar("2", false)}})
	out = append(out, &node{kind: listNode, items: []*node{scalar("a", false), scalar("b", false)}}, &node{kind: listNode, items: []*node{&node{kind: listNode, items: []*node{one, one}}}})
	out = append(out, &node{kind: mapNode, keys: []*node{scalar("a", false)}, items: []*node{one}}, &node{kind: mapNode, keys: []*node{one}, items: []*node{scalar("a", false)}})
	out = append(out, &node{kind: mapNode, keys: []*node{one}, items: []*node{one}}, &node{kind: mapNode, keys: []*node{scalar("assume", false)}, items: []*node{one}})
	for _, key := range []string{"built in", "builtin", "1"} {
		out = append(out, &node{kind: mapNode, keys: []*node{scalar(key, false)}, items: []*node{scalar("corine", false)}})
	}
	return append(out, scalar("contains", false), scalar("last part", false))
}

// beyondSchema are messages of what Read can tell and a schema cannot.
var beyondSchema = []string{
	"further than", "globe", "below its beginning", "single value", "stands twice", "two points", "do not go together: classes are not measured",
	"do not go together: a legend names classes", "groups stand inside", "no fraction", "no class code",
	"under lasting already", "lasting ground are not named",
}

// TestSchemaAgreesOnEveryValue puts values of every kind in the place of each
// value of the good plans and asks Read's tables and the schema about each.
func TestSchemaAgreesOnEveryValue(t *testing.T) {
	s := compiled(t)
	tried := 0
	for path, data := range planFiles(t, "good/*.yaml") {
		for _, root := range pieces(t, data) {
			everyValue(&node{kind: listNode, items: root.items[:1]}, "", func(where string, slot **node) {
				old := *slot
				for _, v := range pool() {
					*slot = v
					tried++
					agree(t, s, root, fmt.Sprintf("%s%s = %v", path, where, asJSON(v)))
				}
				*slot = old
			})
		}
	}
	if tried < 1000 {
		t.Errorf("only %d changes were tried", tried)
	}
}

// pieces splits a plan into small ones, so that each can be judged fast: one
// for each key at its top, and for each map, derived layer and factor.
func pieces(t *testing.T, data []byte) []*node {
	whole := document(t, data)
	var out []*node
	for i, k := range whole.keys {
		value := whole.items[i]
		if !slices.Contains([]string{"maps", "derived", "factors"}, k.text) {
			out = append(out, &node{kind: mapNode, keys: []*node{k}, items: []*node{value}})
			continue
		}
		for j := range value.keys {
			one := &node{kind: mapNode, keys: value.keys[j : j+1], items: value.items[j : j+1]}
			out = append(out, &node{kind: mapNode, keys: []*node{k}, items: []*node{one}})
		}
	}
	for _, piece := range out {
		complete(piece)
	}
	return out
}

// complete adds the keys that every plan needs.
func complete(n *node) {
	scalar := func(text string) *node { return &node{kind: scalarNode, text: text} }
	mapping := func(key string, value *node) *node {
		return &node{kind: mapNode, keys: []*node{scalar(key)}, items: []*node{value}}
	}
	for key, value := range map[string]*node{
		"format":  scalar("1"),
		"grid":    mapping("like", scalar("g")),
		"maps":    mapping("g", mapping("file", scalar("g.tif"))),
		"factors": mapping("f", mapping("from", scalar("g"))),
		"compare": mapping("a", mapping("b", scalar("2"))),
	} {
		if !slices.ContainsFunc(n.keys, func(k *node) bool { return k.text == key }) {
			n.keys, n.items = append(n.keys, scalar(key)), append(n.items, value)
		}
	}
}

func agree(t *testing.T, s *jsonschema.Schema, root *node, where string) {
	t.Helper()
	r := &reader{}
	top().read(r, root)
	err := s.Validate(asJSON(root))
	beyond := slices.ContainsFunc(r.problems, func(p Problem) bool {
		return slices.ContainsFunc(beyondSchema, func(m string) bool { return strings.Contains(p.Message, m) })
	})
	switch {
	case len(r.problems) == 0 && err != nil:
		t.Errorf("%s: read, but the schema says %v", where, err)
	case len(r.problems) > 0 && err == nil && !beyond:
		t.Errorf("%s: the schema takes it, but it reads %v", where, r.problems)
	}
}

// everyValue visits the place of every value below a node.
func everyValue(n *node, where string, visit func(where string, slot **node)) {
	for i := range n.items {
		at := where + fmt.Sprintf("/%d", i)
		if n.kind == mapNode {
			at = where + "/" + n.keys[i].text
		}
		visit(at, &n.items[i])
		everyValue(n.items[i], at, visit)
	}
}

// TestSchemaHasEveryKey puts every key that stands anywhere in the schema into
// every mapping of the good plans: where Read knows no such key the schema
// knows none, and the other way round. Each key of the schema stands in a
// good plan.
func TestSchemaHasEveryKey(t *testing.T) {
	s := compiled(t)
	var doc any
	if err := json.Unmarshal(Schema(), &doc); err != nil {
		t.Fatal(err)
	}
	keys := map[string]bool{}
	schemaKeys(doc, keys)
	used := map[string]bool{}
	for path, data := range planFiles(t, "good/*.yaml") {
		everyMapping(document(t, data), func(n *node) {
			for _, k := range n.keys {
				used[k.text] = true
			}
		})
		for i, root := range pieces(t, data) {
			everyMapping(root, func(n *node) {
				if i > 0 && n == root {
					return
				}
				for key := range keys {
					sameKeys(t, s, root, n, key, path)
				}
			})
		}
	}
	for key := range keys {
		if !used[key] {
			t.Errorf("no good plan has the key %q", key)
		}
	}
}

func sameKeys(t *testing.T, s *jsonschema.Schema, root, n *node, key, path string) {
	t.Helper()
	if slices.ContainsFunc(n.keys, func(k *node) bool { return k.text == key }) {
		return
	}
	oldKeys, oldItems := n.keys, n.items
	defer func() { n.keys, n.items = oldKeys, oldItems }()
	n.keys = append(slices.Clone(oldKeys), &node{kind: scalarNode, text: key})
	n.items = append(slices.Clone(oldItems), &node{kind: scalarNode, text: "1"})
	r := &reader{}
	top().read(r, root)
	unread := slices.ContainsFunc(r.problems, func(p Problem) bool { return strings.Contains(p.Message, "has no key "+quote(key)) })
	if unschemed := extra(s.Validate(asJSON(root)), key); unread != unschemed {
		t.Errorf("%s: key %q: Read refuses it %v, the schema %v", path, key, unread, unschemed)
	}
}

// extra reports whether a validation failed over a key that is not known.
func extra(err error, key string) bool {
	var v *jsonschema.ValidationError
	if !errors.As(err, &v) {
		return false
	}
	if a, ok := v.ErrorKind.(*fault.AdditionalProperties); ok && slices.Contains(a.Properties, key) {
		return true
	}
	return slices.ContainsFunc(v.Causes, func(c *jsonschema.ValidationError) bool { return extra(c, key) })
}

func everyMapping(n *node, visit func(*node)) {
	if n.kind == mapNode {
		visit(n)
	}
	for i, item := range n.items {
		if i == 0 || n.pos.Line > 0 { // what complete added has no place
			everyMapping(item, visit)
		}
	}
}

// schemaKeys gathers the names of all properties of a schema.
func schemaKeys(doc any, into map[string]bool) {
	switch doc := doc.(type) {
	case map[string]any:
		properties, _ := doc["properties"].(map[string]any)
		for name := range properties {
			into[name] = true
		}
		for _, part := range doc {
			schemaKeys(part, into)
		}
	case []any:
		for _, part := range doc {
			schemaKeys(part, into)
		}
	}
}
