package plan

import (
	"fmt"
	"strings"

	"github.com/goccy/go-yaml/token"
)

// tidy refuses, before the parser sees them, tokens that a plan has no use
// for, nesting that is too deep, and layouts that the parser would take for
// something else than other YAML readers do.
func (r *reader) tidy(tokens token.Tokens) bool {
	var l layout
	for _, t := range tokens {
		if t.Type == token.CommentType {
			continue
		}
		if message, fix := l.next(t); message != "" {
			r.wrong(r.tokenPos(t), message, fix)
			return false
		}
	}
	return true
}

// layout follows the tokens of a document.
type layout struct {
	count   int
	open    int // [ and { not yet closed
	dashes  int // list marks in a row
	began   bool
	ended   bool
	comma   bool // the last token was , { or [
	anchors int  // anchors in a row
	last    *token.Token
}

// next takes in a token and returns what is wrong with it, or "".
func (l *layout) next(t *token.Token) (message, fix string) {
	message, fix = l.judge(t)
	l.comma = t.Type == token.CollectEntryType || t.Type == token.MappingStartType || t.Type == token.SequenceStartType
	l.last = t
	return message, fix
}

func (l *layout) judge(t *token.Token) (message, fix string) {
	l.count++
	if l.count > maxTokens {
		return fmt.Sprintf("the plan has more than %d words and marks", maxTokens), "a plan holds file names, not data"
	}
	if l.open > maxLevels || l.dashes > maxLevels || l.anchors > maxLevels {
		return fmt.Sprintf("more than %d levels stand inside each other here", maxLevels), "plans need five or six; look for brackets that are not closed"
	}
	if t.Type != token.SequenceEntryType {
		l.dashes = 0
	}
	switch t.Type {
	case token.DocumentHeaderType, token.DocumentEndType:
		return l.border(t)
	case token.SequenceEntryType:
		l.dashes++
		if l.open > 0 {
			return "a list mark - stands inside brackets", "inside [ ] put commas between the entries and no -"
		}
	case token.MappingStartType, token.SequenceStartType:
		l.open++
	case token.MappingEndType, token.SequenceEndType:
		l.open--
	case token.CollectEntryType:
		if l.comma {
			return "a comma with nothing before it", "take it out"
		}
	case token.MappingValueType:
		return "", ""
	default:
		if message, fix = unwanted(t); message == "" {
			message, fix = l.plain(t)
		}
	}
	l.began = true
	if l.ended && message == "" {
		return "a second document begins here", "a plan is one document; put each plan in a file of its own"
	}
	l.chain(t)
	return message, fix
}

// border follows the marks between documents.
func (l *layout) border(t *token.Token) (message, fix string) {
	if l.began && t.Type == token.DocumentHeaderType {
		return "a second document begins here", "a plan is one document; take out the line ---, or put each plan in a file of its own"
	}
	l.ended = l.ended || t.Type == token.DocumentEndType
	return "", ""
}

// chain counts anchors that follow each other at once.
func (l *layout) chain(t *token.Token) {
	switch {
	case t.Type == token.AnchorType:
		l.anchors++
	case l.last != nil && l.last.Type == token.AnchorType:
	default:
		l.anchors = 0
	}
}

// unwanted refuses the parts of YAML that no plan needs.
func unwanted(t *token.Token) (message, fix string) {
	switch t.Type {
	case token.TagType:
		return "a plan has no tags such as " + t.Value, "take it out; put text that begins with ! in quotes"
	case token.MappingKeyType:
		return "a plan has no keys marked by ?", "write `key: value`; put text that begins with ? in quotes"
	case token.DirectiveType:
		return "a plan has no lines or values that begin with %", "take it out; put text that begins with % in quotes"
	case token.MergeKeyType:
		return "a plan cannot merge mappings by <<", "write the keys out, or use an alias for a whole value"
	}
	return "", ""
}

// plain judges text without quotes.
func (l *layout) plain(t *token.Token) (message, fix string) {
	if t.Type != token.StringType || l.last != nil && (l.last.Type == token.LiteralType || l.last.Type == token.FoldedType) {
		return "", ""
	}
	switch {
	case l.open > 0 && strings.Contains(t.Value, ": "):
		return "two entries run together here", "put a comma before the second key, or quotes around text that holds a colon"
	case strings.ContainsAny(t.Value[:min(1, len(t.Value))], "}]"):
		return "a closing " + t.Value[:1] + " without its partner", "take it out, or put the text in quotes"
	case l.open > 0 && touching(l.last) && t.Position.Column == l.last.Position.Column+1 && t.Position.Line == l.last.Position.Line:
		return "the colon touches its value", "put a space after the colon"
	}
	return "", ""
}

// touching reports whether a token is the colon after a key without quotes.
func touching(t *token.Token) bool {
	return t != nil && t.Type == token.MappingValueType && t.Prev != nil &&
		t.Prev.Type != token.DoubleQuoteType && t.Prev.Type != token.SingleQuoteType
}
