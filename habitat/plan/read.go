package plan

import (
	"slices"
	"strconv"
	"strings"
)

// reader gathers what is wrong while a plan is read.
type reader struct {
	file     string
	source   []string
	line     []rune // characters of line lineAt
	lineAt   int
	problems []Problem
	total    int // problems found, those beyond the bound counted only
	groups   int // factors around what is being read
}

// maxProblems bounds how many problems are kept.
const maxProblems = 500

// Read reads a plan from the bytes of its file; name is used in messages
// alone. Nothing is opened. The error is [Problems], all that is wrong with
// the plan in order of lines; what is odd but allowed is in Plan.Warnings.
func Read(name string, data []byte) (*Plan, error) {
	r := &reader{file: name}
	p := r.plan(data)
	if len(r.problems) > 0 {
		return nil, Problems(sorted(r.problems))
	}
	return p, nil
}

func (r *reader) plan(data []byte) *Plan {
	root := r.parse(data)
	if root == nil {
		return nil
	}
	p, _ := top().read(r, root)
	p.File, p.source = r.file, r.source
	c := &checker{r: r, p: &p}
	c.all()
	p.Warnings = sorted(c.warnings)
	return &p
}

// sorted returns problems in order of their places, each once: what an alias
// repeats is wrong in one place.
func sorted(all []Problem) []Problem {
	var ps []Problem
	seen := map[Problem]bool{}
	for _, p := range all {
		if !seen[p] {
			ps = append(ps, p)
		}
		seen[p] = true
	}
	slices.SortStableFunc(ps, func(a, b Problem) int {
		if a.Line != b.Line {
			return a.Line - b.Line
		}
		return a.Column - b.Column
	})
	return ps
}

// wrong notes a problem.
func (r *reader) wrong(at Pos, message, fix string) { r.note(r.at(at, message, fix)) }

// better notes a problem whose line can be put right by writing text in
// place of what stands there.
func (r *reader) better(at Pos, message, fix, text string) {
	r.note(r.at(at, message, fix).with(text))
}

func (r *reader) at(at Pos, message, fix string) Problem {
	return problemAt(r.file, r.source, at, message, fix)
}

func (r *reader) note(p Problem) {
	r.total++
	if len(r.problems) < maxProblems {
		r.problems = append(r.problems, p)
	}
}

// number reads a bare finite number. Where a text is no number it says why.
func (r *reader) number(n *node) (float64, bool) {
	if !n.isNumber() {
		r.noNumber(n)
		return 0, false
	}
	v, err := strconv.ParseFloat(n.text, 64)
	if err != nil {
		r.wrong(n.pos, "this number is too large", "write one that can be")
		return 0, false
	}
	return v + 0, true // -0 and 0 are one
}

// noNumber says what stands where a number should.
func (r *reader) noNumber(n *node) {
	switch {
	case n.kind == nullNode:
		r.wrong(n.pos, "a number is missing here", "write one, or leave the key out")
	case n.kind != scalarNode:
		r.wrong(n.pos, "one number should stand here, not "+n.what(), "write a number")
	case n.quoted && numberForm.MatchString(n.text):
		r.better(n.pos, "a number in quotes is text", "take the quotes off", n.text)
	case oddNumber.MatchString(n.text):
		r.wrong(n.pos, quote(n.shown())+" is no number to reckon with", "write a finite number")
	case decimalComm.MatchString(n.text):
		better := strings.Replace(n.text, ",", ".", 1)
		r.better(n.pos, "a number has a decimal point, not a comma", "did you mean "+better+"?", better)
	case strings.HasSuffix(n.text, "%") && leadingNumber(n.text) != "":
		r.wrong(n.pos, "a bare number should stand here, not "+quote(n.shown()), "write shares as numbers from 0 to 1, such as 0.85")
	case leadingNumber(n.text) != "":
		better := leadingNumber(n.text)
		r.better(n.pos, "a bare number should stand here, not "+quote(n.shown()), "did you mean "+better+"?", better)
	default:
		r.wrong(n.pos, "a number should stand here, not "+quote(n.shown()), "write a number")
	}
}

// leadingNumber returns the number that a text begins with, before a space
// or a unit; "" where there is none.
func leadingNumber(text string) string {
	m := measureForm.FindStringSubmatch(text)
	if m == nil || !numberForm.MatchString(m[1]) {
		return ""
	}
	return m[1]
}

// what names the kind of a node for a message.
func (n *node) what() string {
	switch {
	case n.kind == nullNode:
		return "nothing"
	case n.kind == listNode:
		return "a list"
	case n.kind == mapNode:
		return "keys with values"
	case n.isNumber():
		return "a number"
	}
	return "a text"
}

// quote puts text in the quotation marks of messages.
func quote(text string) string { return `"` + text + `"` }
