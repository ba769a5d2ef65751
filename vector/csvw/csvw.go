// Package csvw writes a table as CSV after RFC 4180 (Shafranovich 2005), and
// its description as JSON after the W3C's Metadata Vocabulary for Tabular Data
// (2015), so that a program knows what each column holds.
//
// The caller gives columns and rows. The file is UTF-8 without a mark, with a
// header, commas, lines that end in CR LF, and quotes where a cell holds a
// comma, a quote or blanks at an end. Decimals have a point.
//
// Spreadsheets take a text that begins with = + - or @ for a formula. Such a
// text, in the header too, gets an apostrophe before it, and so does one that
// begins with an apostrophe: whoever reads the file takes one away. The
// description says so. Numbers are written bare, negative ones too. Text is
// made one line without control characters (package legible).
//
// Missing values: nil, and a number that is NaN or infinite, are empty cells.
package csvw

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"likelyground/vector/legible"
)

// Kind is what the cells of a column hold.
type Kind string

// The kinds, by the names of the vocabulary: text (string), whole number
// (int, int64), number (float64).
const (
	Text    Kind = "string"
	Integer Kind = "integer"
	Number  Kind = "number"
)

// Column is one column. Name is for programs: letters, digits and _; Title
// stands in the header, Name where it is empty.
type Column struct {
	Name, Title string
	Kind        Kind
	About       string // in words; with its unit
}

// Table is what is written.
type Table struct {
	File         string // the CSV's name, as seen from its description
	Title, About string
	Key          string // the name of the column that tells rows apart; "": none
	Columns      []Column
	Rows         [][]any // a value a column
}

// Write writes the table as CSV. A value that does not fit its column, or a
// row of another length, is an error.
func Write(w io.Writer, t Table) error {
	out := bufio.NewWriter(w)
	for i, c := range t.Columns {
		separate(out, i)
		out.WriteString(quoted(c.header()))
	}
	out.WriteString("\r\n")
	for n, row := range t.Rows {
		if len(row) != len(t.Columns) {
			return fmt.Errorf("csv: row %d has %d cells, the table %d columns", n+1, len(row), len(t.Columns))
		}
		for i, v := range row {
			cell, err := t.Columns[i].Kind.cell(v)
			if err != nil {
				return fmt.Errorf("csv: row %d, column %s: %w", n+1, t.Columns[i].Name, err)
			}
			separate(out, i)
			out.WriteString(cell)
		}
		out.WriteString("\r\n")
	}
	return out.Flush()
}

func separate(out *bufio.Writer, i int) {
	if i > 0 {
		out.WriteByte(',')
	}
}

func (c Column) header() string {
	if c.Title == "" {
		return plain(c.Name)
	}
	return plain(c.Title)
}

func (k Kind) cell(v any) (string, error) {
	switch v := v.(type) {
	case nil:
		return "", nil
	case string:
		if k == Text {
			return quoted(plain(v)), nil
		}
	case int:
		if k != Text {
			return strconv.Itoa(v), nil
		}
	case int64:
		if k != Text {
			return strconv.FormatInt(v, 10), nil
		}
	case float64:
		if k == Number {
			return number(v), nil
		}
	}
	return "", fmt.Errorf("%v (%T) is no %s", v, v, k)
}

func number(v float64) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return ""
	}
	return strconv.FormatFloat(v+0, 'f', -1, 64) // +0: no minus before zero
}

// plain returns a text that no spreadsheet takes for a formula.
func plain(s string) string {
	s = legible.Line(s)
	if s != "" && strings.ContainsRune("=+-@'", rune(s[0])) {
		return "'" + s
	}
	return s
}

// quoted returns a cell as RFC 4180 has it.
func quoted(s string) string {
	if !strings.ContainsAny(s, ",\"\r\n") {
		return s
	}
	return `"` + strings.ReplaceAll(s, `"`, `""`) + `"`
}

// apostrophe says how a text is read back.
const apostrophe = "A text that would begin with = + - @ or an apostrophe has an apostrophe before it: take that away."

type description struct {
	Context []any   `json:"@context"`
	URL     string  `json:"url"`
	Title   string  `json:"dc:title,omitempty"`
	About   string  `json:"dc:description"`
	Dialect dialect `json:"dialect"`
	Schema  schema  `json:"tableSchema"`
}

type dialect struct {
	Encoding    string   `json:"encoding"`
	Header      bool     `json:"header"`
	Delimiter   string   `json:"delimiter"`
	Quote       string   `json:"quoteChar"`
	DoubleQuote bool     `json:"doubleQuote"`
	Lines       []string `json:"lineTerminators"`
}

type schema struct {
	Columns []described `json:"columns"`
	Key     string      `json:"primaryKey,omitempty"`
}

type described struct {
	Name  string `json:"name"`
	Title string `json:"titles"`
	Kind  Kind   `json:"datatype"`
	About string `json:"dc:description,omitempty"`
}

// Describe writes the table's description, which belongs beside the CSV under
// the name of the CSV with "-metadata.json" behind it.
func Describe(w io.Writer, t Table) error {
	d := description{
		Context: []any{"http://www.w3.org/ns/csvw", map[string]string{"@language": "en"}},
		URL:     t.File, Title: legible.Line(t.Title), About: strings.TrimSpace(legible.Text(t.About) + "\n" + apostrophe),
		Dialect: dialect{"utf-8", true, ",", `"`, true, []string{"\r\n"}},
		Schema:  schema{Key: t.Key},
	}
	for _, c := range t.Columns {
		d.Schema.Columns = append(d.Schema.Columns, described{c.Name, c.header(), c.Kind, legible.Text(c.About)})
	}
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	return e.Encode(d)
}
