package plan

import (
	"bytes"
	"errors"
	"fmt"
	"regexp"
	"strings"
	"unicode/utf8"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/lexer"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"
)

// Bounds of a plan.
const (
	maxBytes  = 1 << 20
	maxLevels = 32
	maxTokens = 40_000  // words, numbers and marks, comments aside
	maxNodes  = 200_000 // values once every alias is written out
)

// kind tells the shapes of YAML apart.
type kind int

const (
	nullNode kind = iota
	scalarNode
	listNode
	mapNode
)

// node is a value of the document, with its place. Aliases share the node
// they stand for.
type node struct {
	kind   kind
	pos    Pos
	text   string  // of a scalar
	quoted bool    // a scalar in quotes or a block of text: never a number
	keys   []*node // of a mapping, scalars
	items  []*node // of a list, or the values of a mapping

	size, depth int // with every alias written out
}

// parse turns the bytes of a plan into its nodes. It returns nil when the
// reader has a problem that keeps the document from being read.
func (r *reader) parse(data []byte) *node {
	if !r.admit(data) {
		return nil
	}
	text := lines(data)
	r.source = strings.Split(text, "\n")
	tokens := lexer.Tokenize(text)
	if !r.tidy(tokens) {
		return nil
	}
	file, err := parseTokens(tokens)
	if err != nil {
		r.syntax(err)
		return nil
	}
	return r.document(file)
}

// admit refuses what is no text of a fair size.
func (r *reader) admit(data []byte) bool {
	switch {
	case len(data) > maxBytes:
		r.wrong(Pos{}, fmt.Sprintf("the plan has %d bytes, more than 1 MB", len(data)), "a plan holds file names, not data; take out what is not part of the plan")
	case bytes.HasPrefix(data, []byte{0xff, 0xfe}), bytes.HasPrefix(data, []byte{0xfe, 0xff}):
		r.wrong(Pos{}, "the plan is written as UTF-16", "save it as UTF-8 text")
	case !utf8.Valid(data):
		r.source = strings.Split(strings.ToValidUTF8(lines(data), "\uFFFD"), "\n")
		r.wrong(r.firstOf('\uFFFD'), "the plan is not UTF-8 text", "save it as UTF-8")
	case bytes.IndexByte(data, 0) >= 0:
		r.wrong(Pos{}, "the plan holds zero bytes: it is no text file", "name the plan file, a text that ends in .yaml")
	default:
		return true
	}
	return false
}

// firstOf returns the place of a character in the source.
func (r *reader) firstOf(c rune) Pos {
	for i, line := range r.source {
		if at := strings.IndexRune(line, c); at >= 0 {
			return Pos{Line: i + 1, Column: utf8.RuneCountInString(line[:at]) + 1, Length: 1}
		}
	}
	return Pos{}
}

// lines returns the text without byte order mark and with plain line ends.
func lines(data []byte) string {
	text := strings.TrimPrefix(string(data), "\uFEFF")
	text = strings.ReplaceAll(text, "\r\n", "\n")
	return strings.ReplaceAll(text, "\r", "\n")
}

// parseTokens calls the YAML parser and turns a panic of it into an error.
func parseTokens(tokens token.Tokens) (file *ast.File, err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("%v", p)
		}
	}()
	return parser.Parse(tokens, 0, parser.AllowDuplicateMapKey())
}

// plain words for what the YAML parser says.
var syntaxWords = []struct{ has, message, fix string }{
	{"cannot start any token", "a tab stands where the line is indented", "indent with spaces"},
	{"end character of double-quoted", "a quotation mark \" has no partner", "close the quotes"},
	{"end character of single-quoted", "a quotation mark ' has no partner", "close the quotes; inside single quotes write '' for an apostrophe"},
	{"',' or '}' must be", "a comma or a closing } is missing before this", "put a comma between entries, and } after the last"},
	{"',' or ']' must be", "a comma or a closing ] is missing before this", "put a comma between entries, and ] after the last"},
	{"sequence end token ']' not found", "this [ has no closing ]", "close it"},
	{"mapping end token '}' not found", "this { has no closing }", "close it"},
	{"could not find map value", "this { has no closing }", "close it"},
	{"could not find '[' character", "a closing ] without its [", "take it out, or open with ["},
	{"could not find '{' character", "a closing } without its {", "take it out, or open with {"},
	{"mapping value is not allowed", "this text holds a key where its value should end", "start each key of one level in the same column; put text that holds a colon in quotes"},
	{"reserved character", "a value cannot begin with this character", "put the text in quotes"},
	{"block sequence entries are not allowed", "a list begins behind its key", "start the list on the next line, or write it as [a, b]"},
	{"non-map value", "this is no key with a value", "write it as `key: value`, with a space after the colon"},
	{"value is not allowed in this context", "this does not belong here", "start each key of one level in the same column; put text with marks such as { } [ ] in quotes"},
	{"unexpected scalar value type", "something is missing here", "take out the extra comma or mark"},
	{"invalid key for this map", "a key cannot be a list or a mapping", "write a name before the colon"},
	{"unexpected key name", "the colon has no key before it", "write a name before the colon"},
}

// syntax reports what the YAML parser refused.
func (r *reader) syntax(err error) {
	message, fix := "this cannot be read as YAML", "check quotes, brackets and indents"
	for _, w := range syntaxWords {
		if strings.Contains(err.Error(), w.has) {
			message, fix = w.message, w.fix
			break
		}
	}
	var at Pos
	var placed yaml.Error
	if errors.As(err, &placed) && placed.GetToken() != nil {
		at = r.tokenPos(placed.GetToken())
		if strings.HasPrefix(message, "a tab") {
			at = r.tabPos(at.Line)
		}
	}
	if at.Line >= 1 && missingSpace.MatchString(r.source[at.Line-1]) {
		message, fix = "a colon touches its value", "put a space after the colon"
	}
	r.wrong(at, message, fix)
}

// tabPos returns the place of the tab that indents a line.
func (r *reader) tabPos(line int) Pos {
	if line >= 1 && line <= len(r.source) {
		if at := strings.IndexByte(r.source[line-1], '\t'); at >= 0 {
			return Pos{Line: line, Column: utf8.RuneCountInString(r.source[line-1][:at]) + 1, Length: 1}
		}
	}
	return Pos{Line: line, Column: 1, Length: 1}
}

// tokenPos returns the place of a token, mended where the parser counts
// white space before it.
func (r *reader) tokenPos(t *token.Token) Pos {
	if t == nil || t.Position == nil {
		return Pos{}
	}
	p := Pos{Line: max(t.Position.Line, 1), Column: max(t.Position.Column, 1), Length: 1}
	if p.Line > len(r.source) {
		p.Line = len(r.source)
	}
	line := r.characters(p.Line)
	for p.Column <= len(line) && (line[p.Column-1] == ' ' || line[p.Column-1] == '\t') {
		p.Column++
	}
	p.Column = min(p.Column, len(line)+1)
	p.Length = max(tokenLength(t, line[p.Column-1:]), 1)
	return p
}

// characters returns those of a line. Tokens come line by line, so the last
// one is kept.
func (r *reader) characters(line int) []rune {
	if r.lineAt != line {
		r.lineAt, r.line = line, []rune(r.source[line-1])
	}
	return r.line
}

// tokenLength returns how many characters of the rest of a line a token has.
func tokenLength(t *token.Token, rest []rune) int {
	text := strings.TrimSpace(t.Origin)
	if t.Type == token.DoubleQuoteType || t.Type == token.SingleQuoteType {
		return quotedLength(rest)
	}
	if cut := strings.IndexByte(text, '\n'); cut >= 0 {
		text = strings.TrimRight(text[:cut], " ")
	}
	return min(utf8.RuneCountInString(text), len(rest))
}

// quotedLength returns the length of the quoted text that begins a line's
// rest, the whole rest where it ends on a later line.
func quotedLength(rest []rune) int {
	if len(rest) == 0 {
		return 0
	}
	for i := 1; i < len(rest); i++ {
		switch {
		case rest[i] == '\\' && rest[0] == '"':
			i++
		case rest[i] == rest[0] && rest[0] == '\'' && i+1 < len(rest) && rest[i+1] == '\'':
			i++
		case rest[i] == rest[0]:
			return i + 1
		}
	}
	return len(rest)
}

// missingSpace finds a key whose colon touches its value, as in `weight:3`.
var missingSpace = regexp.MustCompile(`^\s*[\p{L}\p{N} _-]+:[^\s:/\\]`)
