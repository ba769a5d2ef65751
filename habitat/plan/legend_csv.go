package plan

import (
	"bytes"
	"fmt"
	"maps"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"
)

// Bounds of a legend file.
const (
	maxLegendBytes   = 4 << 20
	maxLegendClasses = 100_000
)

// ReadLegend reads the bytes of a class legend: a table with a header that
// has the columns code and name, in any order and among others, separated by
// commas or semicolons, in UTF-8. Quotes, a byte order mark and any line ends
// are read; empty lines are passed over. Several codes may share a name; one
// code twice is wrong, as is a code that is no whole number or an empty name.
//
// For a field of text the column text stands in place of code. What classes
// belong to stands in a column group, or in group 1, group 2, … of which the
// first is the widest; an empty cell is no group.
//
// name is used in messages alone. The error is [Problems], all that is wrong
// with their lines.
func ReadLegend(name string, data []byte) (Legend, error) {
	t := &table{r: &reader{file: name}}
	if t.admit(data) {
		t.header()
		t.rows()
	}
	if len(t.r.problems) > 0 {
		return nil, Problems(sorted(t.r.problems))
	}
	t.out.sort()
	return t.out, nil
}

// table reads the rows of a legend.
type table struct {
	r          *reader
	text       []rune
	at         int // next character
	line, col  int // of that character
	separator  rune
	code, name int // columns; code is that of texts where there are no codes
	texts      bool
	groups     []int // columns, the narrowest first
	out        Legend
	seen       map[string]Pos
}

// cell is one value of a row.
type cell struct {
	text string
	pos  Pos
}

func (t *table) admit(data []byte) bool {
	switch {
	case len(data) > maxLegendBytes:
		t.r.wrong(Pos{}, "the legend has more than 4 MB", "a legend is a short table of code,name")
	case !utf8.Valid(data):
		t.r.source = strings.Split(strings.ToValidUTF8(lines(data), "\uFFFD"), "\n")
		t.r.wrong(t.r.firstOf('\uFFFD'), "the legend is not UTF-8 text", "save it as CSV in UTF-8")
	case bytes.IndexByte(data, 0) >= 0:
		t.r.wrong(Pos{}, "the legend holds zero bytes: it is no text file", "save it as CSV in UTF-8")
	default:
		text := lines(data)
		t.r.source = strings.Split(text, "\n")
		t.text, t.line, t.col = []rune(text), 1, 1
		t.seen = map[string]Pos{}
		return true
	}
	return false
}

// header finds the two columns.
func (t *table) header() {
	t.separator = ','
	first := ""
	for _, line := range t.r.source {
		if first = line; strings.TrimSpace(line) != "" {
			break
		}
	}
	if strings.Count(first, ";") > strings.Count(first, ",") {
		t.separator = ';'
	}
	row, _ := t.row()
	t.code, t.name = column(row, "code"), column(row, "name")
	if t.code < 0 {
		t.code = column(row, "text")
		t.texts = t.code >= 0
	}
	if t.code >= 0 && t.name >= 0 {
		t.groupColumns(row)
		return
	}
	at := Pos{Line: 1, Column: 1, Length: 1}
	if len(row) > 0 {
		at = row[0].pos
	}
	t.r.wrong(at, "the legend's first line does not name the columns code and name", "begin it with the line code,name")
	t.at = len(t.text)
}

// column returns the place of a column, -1 where there is none.
func column(row []cell, name string) int {
	for i, c := range row {
		if strings.EqualFold(strings.TrimSpace(c.text), name) {
			return i
		}
	}
	return -1
}

// mostLevels bounds the levels of groups.
const mostLevels = 20

var groupForm = regexp.MustCompile(`^group ?([0-9]{1,3})?$`)

// groupColumns finds the columns of groups.
func (t *table) groupColumns(row []cell) {
	at := map[int]int{}
	for i, c := range row {
		m := groupForm.FindStringSubmatch(folded(c.text))
		if m == nil {
			continue
		}
		level, _ := strconv.Atoi(m[1])
		_, twice := at[level]
		_, bare := at[0]
		if twice || len(at) > 0 && (bare || m[1] == "") || len(at) == mostLevels {
			t.r.wrong(c.pos, quote(strings.TrimSpace(c.text))+" does not go together with the other columns of groups", fmt.Sprintf("name one group, or group 1, group 2, … from the widest on, at most %d", mostLevels))
			continue
		}
		at[level] = i
	}
	for _, level := range slices.Backward(slices.Sorted(maps.Keys(at))) {
		t.groups = append(t.groups, at[level])
	}
}

func (t *table) rows() {
	for {
		row, ok := t.row()
		if !ok {
			break
		}
		if len(t.out) == maxLegendClasses {
			t.r.wrong(row[0].pos, fmt.Sprintf("the legend has more than %d classes", maxLegendClasses), "leave those out that no map holds")
			return
		}
		t.class(row)
	}
	if len(t.out) == 0 && len(t.r.problems) == 0 {
		t.r.wrong(Pos{}, "the legend names no class", "add lines such as 1,broadleaf")
	}
}

// class takes in one row.
func (t *table) class(row []cell) {
	if len(row) <= max(t.code, t.name) {
		t.r.wrong(row[0].pos, fmt.Sprintf("this line has %d values, too few for code and name", len(row)), "write code and name, separated as in the first line")
		return
	}
	e, ok := t.keyOf(row[t.code])
	e.Name = strings.TrimSpace(row[t.name].text)
	if !t.r.sound(row[t.name].pos, e.Name, "the name of a class") || !ok {
		return
	}
	at, key := row[t.code].pos, e.coded()
	if first, twice := t.seen[key]; twice {
		t.r.wrong(at, fmt.Sprintf("the %s %s stands twice, first in line %d", t.keyWord(), key, first.Line), "keep one of the lines")
		return
	}
	t.seen[key] = at
	if e.Groups, ok = t.groupsOf(row); ok {
		t.out = append(t.out, e)
	}
}

func (t *table) keyWord() string {
	if t.texts {
		return "text"
	}
	return "code"
}

// keyOf reads what stands in the map for a class.
func (t *table) keyOf(c cell) (e LegendEntry, ok bool) {
	if !t.texts {
		e.Code, ok = t.codeOf(c)
		return e, ok
	}
	e.Text = strings.TrimSpace(c.text)
	return e, t.r.sound(c.pos, e.Text, "the text of a class")
}

// groupsOf reads the groups of a class.
func (t *table) groupsOf(row []cell) (out []LegendGroup, ok bool) {
	for up, at := range t.groups {
		if at >= len(row) || strings.TrimSpace(row[at].text) == "" {
			continue
		}
		name := strings.TrimSpace(row[at].text)
		if !t.r.sound(row[at].pos, name, "the name of a group") {
			return nil, false
		}
		out = append(out, LegendGroup{Name: name, Up: up + 1})
	}
	return out, true
}

func (t *table) codeOf(c cell) (int32, bool) {
	text := strings.TrimSpace(c.text)
	v, err := strconv.ParseInt(text, 10, 32)
	if err == nil && v > math.MinInt32 {
		return int32(v), true
	}
	shown := (&node{text: text}).shown()
	t.r.wrong(c.pos, quote(shown)+" is no class code", "write the whole number that stands in the map")
	return 0, false
}

// row returns the cells of the next line that is not empty.
func (t *table) row() ([]cell, bool) {
	for t.at < len(t.text) {
		row := []cell{t.cell()}
		for t.peek() == t.separator {
			t.step()
			row = append(row, t.cell())
		}
		t.step() // the line end
		if len(row) > 1 || strings.TrimSpace(row[0].text) != "" {
			return row, true
		}
	}
	return nil, false
}

// peek returns the next character, a line end behind the last.
func (t *table) peek() rune {
	if t.at < len(t.text) {
		return t.text[t.at]
	}
	return '\n'
}

func (t *table) step() {
	if t.peek() == '\n' {
		t.line, t.col = t.line+1, 0
	}
	t.at++
	t.col++
}

// cell reads up to the next separator or line end.
func (t *table) cell() cell {
	for t.peek() == ' ' || t.peek() == '\t' {
		t.step()
	}
	c := cell{pos: Pos{Line: t.line, Column: t.col, Length: 1}}
	var b strings.Builder
	if t.peek() == '"' {
		t.quotes(&b, c.pos)
	}
	for p := t.peek(); p != t.separator && p != '\n'; p = t.peek() {
		b.WriteRune(p)
		t.step()
	}
	c.text = b.String()
	if t.line == c.pos.Line {
		c.pos.Length = max(t.col-c.pos.Column, 1)
	}
	return c
}

// quotes reads quoted text; two quotes inside it stand for one.
func (t *table) quotes(b *strings.Builder, from Pos) {
	t.step()
	for t.at < len(t.text) {
		p := t.peek()
		t.step()
		if p == '"' && t.peek() != '"' {
			return
		}
		if p == '"' {
			t.step()
		}
		b.WriteRune(p)
	}
	t.r.wrong(from, "a quotation mark \" has no partner", "close the quotes; inside quotes write \"\" for one")
}
