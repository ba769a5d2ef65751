package where

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

const (
	mostBytes = 1 << 16 // of a condition
	deepest   = 50      // parentheses and NOTs in one another
)

// sort tells what a word of the condition is.
type sort int

const (
	end    sort = iota
	name        // a bare word: a field or a key word
	quoted      // a field in double quotes
	text        // in single quotes
	number
	sign // an operator, a parenthesis, a comma
)

// token is a word of the condition.
type token struct {
	sort
	word string // without quotes
	at   int    // character, from 1
}

// is reports whether the token is a key word or a sign.
func (t token) is(word string) bool {
	return t.sort == sign && t.word == word || t.sort == name && strings.EqualFold(t.word, word)
}

// Parse reads a condition. The error is an [Error].
func Parse(condition string) (*Condition, error) {
	if len(condition) > mostBytes || !utf8.ValidString(condition) {
		return nil, &Error{0, "the condition is too long or no text", "write such as \"TYPE\" = 'wood'"}
	}
	tokens, err := split(condition)
	if err != nil {
		return nil, err
	}
	p := &parser{tokens: tokens, c: &Condition{}}
	if p.c.root, err = p.or(0); err != nil {
		return nil, err
	}
	if t := p.peek(); t.sort != end {
		return nil, &Error{t.at, fmt.Sprintf("%s was not expected there", t.shown()), "join conditions by AND or OR; nothing but a condition on the features' own fields may stand here"}
	}
	return p.c, nil
}

func (t token) shown() string {
	switch t.sort {
	case end:
		return "the end"
	case text:
		return "'" + t.word + "'"
	}
	return strconv.Quote(t.word)
}

// split cuts a condition into its words.
func split(s string) ([]token, error) {
	var out []token
	runes := []rune(s)
	for i := 0; i < len(runes); {
		if unicode.IsSpace(runes[i]) {
			i++
			continue
		}
		t, n, err := next(runes[i:], i+1)
		if err != nil {
			return nil, err
		}
		out = append(out, t)
		i += n
	}
	return append(out, token{sort: end, at: len(runes) + 1}), nil
}

// next takes the first word off, which stands at a character of the whole.
func next(r []rune, at int) (token, int, error) {
	switch c := r[0]; {
	case c == '\'' || c == '"':
		word, n := unquote(r)
		if n == 0 {
			return token{}, 0, &Error{at, fmt.Sprintf("the quote %c is not closed", c), "close it; a quote within a text is written twice"}
		}
		return token{map[rune]sort{'\'': text, '"': quoted}[c], word, at}, n, nil
	case unicode.IsLetter(c) || c == '_':
		n := span(r, func(c rune) bool { return unicode.IsLetter(c) || unicode.IsDigit(c) || c == '_' })
		return token{name, string(r[:n]), at}, n, nil
	case c >= '0' && c <= '9' || (c == '.' || c == '-' || c == '+') && len(r) > 1 && (r[1] >= '0' && r[1] <= '9' || r[1] == '.'):
		n := numberEnd(r)
		return token{number, string(r[:n]), at}, n, nil
	}
	for _, s := range []string{"<>", "!=", "<=", ">=", "==", "=", "<", ">", "(", ")", ","} {
		if strings.HasPrefix(string(r[:min(2, len(r))]), s) {
			return token{sign, cmp.Or(alias[s], s), at}, len(s), nil
		}
	}
	return token{}, 0, &Error{at, fmt.Sprintf("%q means nothing there", string(r[0])), "write such as \"TYPE\" = 'wood' AND HEIGHT > 5"}
}

// alias are signs that have another spelling.
var alias = map[string]string{"!=": "<>", "==": "="}

// unquote reads a quoted word and tells how long it is with its quotes; 0
// where it is not closed.
func unquote(r []rune) (string, int) {
	var word []rune
	for i := 1; i < len(r); i++ {
		if r[i] != r[0] {
			word = append(word, r[i])
			continue
		}
		if i+1 < len(r) && r[i+1] == r[0] {
			word = append(word, r[0])
			i++
			continue
		}
		return string(word), i + 1
	}
	return "", 0
}

func span(r []rune, of func(rune) bool) int {
	n := 0
	for n < len(r) && of(r[n]) {
		n++
	}
	return n
}

// numberEnd is how long the number is that a text begins with.
func numberEnd(r []rune) int {
	n := 1
	for ; n < len(r); n++ {
		c := r[n]
		exponent := (c == '-' || c == '+') && (r[n-1] == 'e' || r[n-1] == 'E')
		if !exponent && !(c >= '0' && c <= '9') && c != '.' && !unicode.IsLetter(c) {
			break
		}
	}
	return n
}

// parser builds a condition from its words.
type parser struct {
	tokens []token
	at     int
	c      *Condition
}

func (p *parser) peek() token { return p.tokens[p.at] }

// take moves on when the next word is the one given.
func (p *parser) take(word string) bool {
	if !p.peek().is(word) {
		return false
	}
	p.at++
	return true
}

func (p *parser) need(word string) error {
	if p.take(word) {
		return nil
	}
	t := p.peek()
	return &Error{t.at, fmt.Sprintf("%s should stand there, not %s", word, t.shown()), "write such as TYPE IN ('wood', 'heath') or HEIGHT BETWEEN 5 AND 20"}
}

func (p *parser) or(depth int) (node, error) {
	a, err := p.and(depth)
	for err == nil && p.take("OR") {
		var b node
		if b, err = p.and(depth); err == nil {
			a = &either{a, b}
		}
	}
	return a, err
}

func (p *parser) and(depth int) (node, error) {
	a, err := p.not(depth)
	for err == nil && p.take("AND") {
		var b node
		if b, err = p.not(depth); err == nil {
			a = &both{a, b}
		}
	}
	return a, err
}

func (p *parser) not(depth int) (node, error) {
	if depth > deepest {
		return nil, &Error{p.peek().at, "parentheses lie too deep in one another", "write a simpler condition"}
	}
	if p.take("NOT") {
		of, err := p.not(depth + 1)
		return &negated{of}, err
	}
	if p.take("(") {
		n, err := p.or(depth + 1)
		if err != nil {
			return nil, err
		}
		return n, p.need(")")
	}
	return p.test()
}

// test reads what is asked of one field.
func (p *parser) test() (node, error) {
	field, err := p.field()
	if err != nil {
		return nil, err
	}
	if p.take("IS") {
		negate := p.take("NOT")
		return wrap(&isNull{field}, negate), p.need("NULL")
	}
	negate := p.take("NOT")
	switch t := p.peek(); {
	case p.take("IN"):
		n, err := p.among(field)
		return wrap(n, negate), err
	case p.take("BETWEEN"):
		n, err := p.between(field)
		return wrap(n, negate), err
	case p.take("LIKE"), p.take("ILIKE"):
		n, err := p.like(field, strings.EqualFold(t.word, "ILIKE"))
		return wrap(n, negate), err
	case t.sort == sign && !negate && strings.Contains("= <> < <= > >=", t.word):
		p.at++
		right, err := p.operand(field)
		return &comparison{field, t.word, right}, err
	default:
		return nil, &Error{t.at, fmt.Sprintf("after the field %q a comparison should stand, not %s", p.c.fields[field].name, t.shown()), "write =, <>, <, <=, >, >=, IN, BETWEEN, LIKE, ILIKE or IS NULL; functions and sums are not known"}
	}
}

func wrap(n node, negate bool) node {
	if negate {
		return &negated{n}
	}
	return n
}

// keywords are no names of fields unless in quotes.
var keywords = []string{"AND", "OR", "NOT", "IN", "BETWEEN", "LIKE", "ILIKE", "IS", "NULL", "SELECT", "TRUE", "FALSE"}

func (t token) keyword() bool {
	return t.sort == name && slices.Contains(keywords, strings.ToUpper(t.word))
}

// field reads a field's name and returns its place in the condition's fields.
func (p *parser) field() (int, error) {
	t := p.peek()
	switch {
	case t.sort == text:
		return 0, &Error{t.at, fmt.Sprintf("a field should stand there, and %s is a text", t.shown()), fmt.Sprintf("write \"%s\" in double quotes if it is a field", t.word)}
	case t.sort != quoted && t.sort != name || t.keyword():
		return 0, &Error{t.at, fmt.Sprintf("a field should stand there, not %s", t.shown()), "write the name of a field, in double quotes where it holds more than letters and figures"}
	}
	p.at++
	for i, f := range p.c.fields {
		if f.name == t.word {
			return i, nil
		}
	}
	p.c.fields = append(p.c.fields, mention{t.word, t.at})
	return len(p.c.fields) - 1, nil
}

// operand reads a value or a field.
func (p *parser) operand(beside int) (operand, error) {
	if t := p.peek(); t.sort == quoted || t.sort == name && !t.keyword() {
		field, err := p.field()
		return operand{field: field}, err
	}
	v, err := p.value(beside)
	return operand{-1, v}, err
}

// value reads a text or a number that is held against a field.
func (p *parser) value(field int) (Value, error) {
	t := p.peek()
	use := literalUse{field, t.sort == text, t.shown(), t.at}
	v := Value{Text: t.word}
	switch {
	case t.is("NULL"):
		return v, &Error{t.at, "nothing equals NULL", "write IS NULL or IS NOT NULL"}
	case t.sort == number:
		use.shown = t.word
		var ok bool
		if v, ok = numberOf(t.word); !ok {
			return v, &Error{t.at, fmt.Sprintf("%q is no number", t.word), "write such as 12.5; texts stand in single quotes"}
		}
	case t.sort != text:
		return v, &Error{t.at, fmt.Sprintf("a text in single quotes or a number should stand there, not %s", t.shown()), "write such as 'wood' or 12.5"}
	}
	p.at++
	p.c.loose = append(p.c.loose, use)
	return v, nil
}

func numberOf(word string) (Value, bool) {
	if whole, err := strconv.ParseInt(word, 10, 64); err == nil {
		return Value{Exact: true, Whole: whole}, true
	}
	x, err := strconv.ParseFloat(word, 64)
	return Value{Number: x}, err == nil && !math.IsInf(x, 0) && !math.IsNaN(x) && !strings.ContainsAny(word, "xXpP_")
}

func (p *parser) among(field int) (node, error) {
	n := &among{field: field}
	if err := p.need("("); err != nil {
		return n, err
	}
	for {
		v, err := p.value(field)
		if err != nil {
			return n, err
		}
		n.list = append(n.list, v)
		if !p.take(",") {
			return n, p.need(")")
		}
	}
}

func (p *parser) between(field int) (node, error) {
	low, err := p.value(field)
	if err != nil {
		return nil, err
	}
	if err := p.need("AND"); err != nil {
		return nil, err
	}
	high, err := p.value(field)
	return &both{&comparison{field, ">=", operand{-1, low}}, &comparison{field, "<=", operand{-1, high}}}, err
}

func (p *parser) like(field int, fold bool) (node, error) {
	t := p.peek()
	if t.sort != text {
		return nil, &Error{t.at, fmt.Sprintf("a text in single quotes should stand there, not %s", t.shown()), "write such as 'sand%': % stands for any text, _ for one character"}
	}
	v, err := p.value(field)
	return &like{field, []rune(v.Text), fold}, err
}
