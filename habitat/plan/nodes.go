package plan

import (
	"fmt"
	"regexp"
	"strings"

	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/token"
)

// document returns the one value of a file.
func (r *reader) document(file *ast.File) *node {
	var body ast.Node
	for _, d := range file.Docs {
		if d != nil && d.Body != nil && body == nil {
			body = d.Body
		}
	}
	if body == nil {
		r.wrong(Pos{}, "the plan is empty", "begin with the line `format: 1`")
		return nil
	}
	t := tree{r: r, anchors: map[string]*node{}, open: map[string]bool{}}
	return t.build(body)
}

// tree builds nodes from the parser's.
type tree struct {
	r       *reader
	anchors map[string]*node
	open    map[string]bool // anchors whose value is being built
	failed  bool
}

// build returns the node of a parser's node, nil once something failed that
// makes the rest senseless.
func (t *tree) build(a ast.Node) *node {
	n := t.convert(a)
	if n == nil || t.failed {
		return nil
	}
	n.size, n.depth = 1, 1
	for _, group := range [][]*node{n.keys, n.items} {
		for _, child := range group {
			n.size += child.size
			n.depth = max(n.depth, child.depth+1)
		}
	}
	if n.depth > maxLevels {
		return t.fail(n.pos, fmt.Sprintf("more than %d levels stand inside each other here", maxLevels), "plans need five or six")
	}
	if n.size > maxNodes {
		return t.fail(n.pos, fmt.Sprintf("written out, the aliases of this make more than %d values", maxNodes), "use fewer aliases inside aliased values")
	}
	return n
}

func (t *tree) fail(pos Pos, message, fix string) *node {
	if !t.failed {
		t.r.wrong(pos, message, fix)
	}
	t.failed = true
	return nil
}

func (t *tree) convert(a ast.Node) *node {
	switch a := a.(type) {
	case nil:
		return &node{}
	case *ast.MappingNode:
		return t.mapping(a.GetToken(), a.Values)
	case *ast.MappingValueNode:
		return t.mapping(a.Key.GetToken(), []*ast.MappingValueNode{a})
	case *ast.SequenceNode:
		return t.list(a)
	case *ast.AnchorNode:
		return t.anchor(a)
	case *ast.AliasNode:
		return t.alias(a)
	case *ast.LiteralNode:
		return &node{kind: scalarNode, pos: t.r.tokenPos(a.Start), text: a.Value.Value, quoted: true}
	case ast.ScalarNode:
		return t.scalar(a)
	}
	return t.fail(t.r.tokenPos(a.GetToken()), "this cannot be read as YAML", "write plain keys, values and lists")
}

func (t *tree) scalar(a ast.ScalarNode) *node {
	tk := a.GetToken()
	n := &node{kind: scalarNode, pos: t.r.tokenPos(tk), text: tk.Value}
	n.quoted = tk.Type == token.SingleQuoteType || tk.Type == token.DoubleQuoteType
	if a.Type() == ast.NullType {
		n.kind = nullNode
	}
	return n
}

func (t *tree) list(a *ast.SequenceNode) *node {
	n := &node{kind: listNode, pos: t.r.tokenPos(a.Start)}
	for _, v := range a.Values {
		item := t.build(v)
		if item == nil {
			return nil
		}
		if item.pos.Line == 0 {
			item.pos = n.pos
		}
		n.items = append(n.items, item)
	}
	return n
}

func (t *tree) mapping(start *token.Token, values []*ast.MappingValueNode) *node {
	n := &node{kind: mapNode, pos: t.r.tokenPos(start)}
	for _, v := range values {
		key, value := t.build(v.Key), t.build(v.Value)
		if key == nil || value == nil {
			return nil
		}
		if key.kind != scalarNode && key.kind != nullNode {
			return t.fail(key.pos, "a key cannot be a list or a mapping", "write a name before the colon")
		}
		if value.kind == nullNode {
			value = &node{pos: key.pos, size: 1, depth: 1}
		}
		n.keys = append(n.keys, key)
		n.items = append(n.items, value)
	}
	if len(n.keys) > 0 && n.keys[0].pos.Line != 0 && start.Type != token.MappingStartType {
		n.pos = n.keys[0].pos
	}
	return n
}

func (t *tree) anchor(a *ast.AnchorNode) *node {
	name := a.Name.GetToken().Value
	t.open[name] = true
	n := t.build(a.Value)
	delete(t.open, name)
	if n == nil {
		return nil
	}
	if n.pos.Line == 0 {
		n.pos = t.r.tokenPos(a.Start)
	}
	t.anchors[name] = n
	return n
}

func (t *tree) alias(a *ast.AliasNode) *node {
	tk := a.Value.GetToken()
	pos := t.r.tokenPos(tk)
	if t.open[tk.Value] {
		return t.fail(pos, fmt.Sprintf("the alias *%s stands inside the value that it names", tk.Value), "write the value out")
	}
	n, ok := t.anchors[tk.Value]
	if !ok {
		return t.fail(pos, fmt.Sprintf("no earlier value is marked &%s", tk.Value), "mark one with &, or put text that begins with * in quotes")
	}
	return n
}

// numberText is the form of a number, for reading and for the schema of keys
// that are numbers.
const numberText = `[-+]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][-+]?[0-9]+)?`

var (
	numberForm  = regexp.MustCompile(`^` + numberText + `$`)
	integerForm = regexp.MustCompile(`^[-+]?[0-9]+$`)
	oddNumber   = regexp.MustCompile(`(?i)^[-+]?\.?(nan|inf|infinity)$`)
	truthForm   = regexp.MustCompile(`^(true|True|TRUE|false|False|FALSE)$`)
	decimalComm = regexp.MustCompile(`^[-+]?[0-9]+,[0-9]+$`)
)

// isNumber reports whether the node is a number: a bare one, as in quotes it
// is text.
func (n *node) isNumber() bool {
	return n.kind == scalarNode && !n.quoted && numberForm.MatchString(n.text)
}

// isTruth reports whether the node is a bare true or false, which other YAML
// readers take for no text.
func (n *node) isTruth() bool {
	return n.kind == scalarNode && !n.quoted && truthForm.MatchString(n.text)
}

// shown returns the node's text for a message, cut short.
func (n *node) shown() string {
	text := strings.Join(strings.Fields(n.text), " ")
	if runes := []rune(text); len(runes) > 60 {
		text = string(runes[:59]) + "…"
	}
	return text
}
