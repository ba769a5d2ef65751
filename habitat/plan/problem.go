package plan

import (
	"encoding/json"
	"fmt"
	"strings"
	"unicode"
)

// Problem is one thing wrong (or, among [Plan.Warnings], odd) in a plan.
type Problem struct {
	File    string `json:"file"`
	Line    int    `json:"line"`             // from 1; 0: the file as a whole
	Column  int    `json:"column"`           // in characters, from 1
	Length  int    `json:"length"`           // characters pointed at
	Message string `json:"message"`          // what is wrong, one sentence without full stop
	Fix     string `json:"fix,omitempty"`    // what to do, in words
	Source  string `json:"source,omitempty"` // the plan's line as it stands
	Fixed   string `json:"fixed,omitempty"`  // the same line put right, where that can be known
}

// Error returns the problem as lines to print: place and message, the text
// with a pointer, and the remedy.
func (p Problem) Error() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %s", p.place(), p.Message)
	if p.Fix != "" {
		b.WriteString("; " + p.Fix)
	}
	if p.Source != "" {
		before, at, line := clip(p.Source, p.Column, p.Length)
		fmt.Fprintf(&b, "\n      %s\n      %s%s", line, blank(before), pointer(at))
	}
	if p.Fixed != "" {
		_, _, line := clip(p.Fixed, p.Column, p.Length)
		b.WriteString("\n  so: " + line)
	}
	return b.String()
}

// MarshalJSON writes the fields, lines no longer than people write them.
func (p Problem) MarshalJSON() ([]byte, error) {
	type plain Problem
	p.Source, p.Fixed = cropped(p.Source), cropped(p.Fixed)
	return json.Marshal(plain(p))
}

func cropped(line string) string {
	const most = 2000
	if r := []rune(line); len(r) > most {
		return string(r[:most]) + "…"
	}
	return line
}

func (p Problem) place() string {
	if p.Line == 0 {
		return printable(p.File)
	}
	return fmt.Sprintf("%s:%d:%d", printable(p.File), p.Line, p.Column)
}

// Remedy returns what to do.
func (p Problem) Remedy() string {
	if p.Fix == "" {
		return "change the plan at the place named"
	}
	return p.Fix
}

// MustChange tells that trying again without a change cannot help.
func (p Problem) MustChange() bool { return true }

// Problems is the error of a plan that cannot be used: all that is wrong with
// it, in order of lines.
type Problems []Problem

// maxShown bounds how many problems are printed in full.
const maxShown = 40

// Error returns all problems, one after the other.
func (ps Problems) Error() string {
	var lines []string
	for i, p := range ps {
		if i == maxShown {
			lines = append(lines, fmt.Sprintf("… and %d more", len(ps)-maxShown))
			break
		}
		lines = append(lines, p.Error())
	}
	return strings.Join(lines, "\n")
}

// Remedy returns what to do.
func (ps Problems) Remedy() string {
	if len(ps) == 1 {
		return ps[0].Remedy()
	}
	return "change the plan at the places named"
}

// MustChange tells that trying again without a change cannot help.
func (ps Problems) MustChange() bool { return true }

// PointAt returns a problem that points at a place of the plan. The zero Pos
// points at the plan as a whole.
func (p *Plan) PointAt(pos Pos, message, fix string) Problem {
	if p.Shown != nil {
		message, fix = p.Shown(message), p.Shown(fix)
	}
	return problemAt(p.File, p.source, pos, message, fix)
}

func problemAt(file string, source []string, pos Pos, message, fix string) Problem {
	out := Problem{
		File: file, Line: pos.Line, Column: pos.Column, Length: pos.Length,
		Message: printable(message), Fix: printable(fix),
	}
	if pos.Line >= 1 && pos.Line <= len(source) {
		out.Source = printable(source[pos.Line-1])
	}
	return out
}

// with returns the problem with the text pointed at replaced in Fixed.
func (p Problem) with(text string) Problem {
	line := []rune(p.Source)
	from, to := p.Column-1, p.Column-1+p.Length
	if p.Source == "" || from < 0 || to > len(line) {
		return p
	}
	p.Fixed = string(line[:from]) + printable(text) + string(line[to:])
	return p
}

// printable returns text with every character that could move a terminal's
// cursor or turn the reading direction replaced, one for one.
func printable(text string) string {
	return strings.Map(func(r rune) rune {
		if r != '\t' && hidden(r) {
			return unicode.ReplacementChar
		}
		return r
	}, text)
}

// hidden reports whether a character is a control, or turns the direction of
// the text around it.
func hidden(r rune) bool {
	return unicode.IsControl(r) || r >= 0x202a && r <= 0x202e || r >= 0x2066 && r <= 0x2069 ||
		r == 0x2028 || r == 0x2029 || r == unicode.ReplacementChar
}

// Widest piece of a line that is printed, and how much of it stands before
// the text pointed at.
const (
	clipWidth = 100
	clipLead  = 50
)

// clip returns the line without its indent, cut to a printable width around
// the text pointed at: the part before it, that text, and the whole piece.
func clip(source string, column, length int) (before, at, line string) {
	runes := []rune(source)
	from := min(max(column-1, 0), len(runes))
	start := 0
	for start < from && (runes[start] == ' ' || runes[start] == '\t') {
		start++
	}
	lead := ""
	if from-start > clipLead && len(runes)-start > clipWidth {
		start, lead = from-clipLead, "…"
	}
	end, tail := len(runes), ""
	if end-start > clipWidth {
		end, tail = start+clipWidth, "…"
	}
	to := min(from+max(length, 1), end)
	return lead + string(runes[start:from]), string(runes[from:to]), lead + string(runes[start:end]) + tail
}

// blank returns spaces as wide as text, tabs kept.
func blank(text string) string {
	return strings.Map(func(r rune) rune {
		if r == '\t' {
			return r
		}
		return ' '
	}, text)
}

// pointer returns ^~~~ as long as text.
func pointer(text string) string {
	return "^" + strings.Repeat("~", max(len([]rune(text))-1, 0))
}
