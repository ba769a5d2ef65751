package vector

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sort"
	"strconv"
	"strings"
	"unicode"
)

// ErrEmpty is the cause of the [Problem] of a layer without any feature.
var ErrEmpty = errors.New("the layer is empty")

// Problem is an error that only a change of the plan or of its data can
// cure: it says what is wrong with which layer of which file.
type Problem struct {
	File  string
	Layer string // "" where no single layer is meant
	What  string
	Fix   string
	Err   error // the cause, may be nil
}

// Error says what is wrong and where; the remedy is told by Remedy.
func (p *Problem) Error() string {
	where := Shown(p.File)
	if p.Layer != "" {
		where += fmt.Sprintf(": layer %q", p.Layer)
	}
	if p.Err != nil && p.What == "" {
		return fmt.Sprintf("%s: %v", where, p.Err)
	}
	if p.Err != nil {
		return fmt.Sprintf("%s: %s: %s", where, p.What, Brief(p.Err.Error()))
	}
	return where + ": " + p.What
}

// Shown writes a path so that it stays on one line and moves no cursor.
func Shown(path string) string {
	var b strings.Builder
	for _, r := range path {
		if unicode.IsPrint(r) {
			b.WriteRune(r)
		} else {
			b.WriteString(strings.Trim(strconv.QuoteRune(r), "'"))
		}
	}
	return b.String()
}

// Remedy says what to change.
func (p *Problem) Remedy() string { return p.Fix }

// MustChange reports true: trying again cannot help.
func (p *Problem) MustChange() bool { return true }

// Unwrap returns the cause.
func (p *Problem) Unwrap() error { return p.Err }

// MissingFile is the problem of a file that is not there, with the names in
// its folder that look like it.
func MissingFile(path string) *Problem {
	p := &Problem{File: path, What: "there is no such file", Fix: "correct the path; it is relative to the plan"}
	folder := filepath.Dir(path)
	entries, err := os.ReadDir(folder)
	if err != nil {
		p.Fix = fmt.Sprintf("the folder %s cannot be read either; paths are relative to the plan", folder)
		return p
	}
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	if near := nearest(filepath.Base(path), names); len(near) > 0 {
		p.Fix = "did you mean " + strings.Join(near, " or ") + "?"
	}
	return p
}

// choice words a remedy: the likely names if there are any, else all.
func choice(what, asked string, names []string) string {
	if len(names) == 0 {
		return "there is none: use another file"
	}
	if near := nearest(asked, names); len(near) > 0 {
		return fmt.Sprintf("did you mean %s? %s", quoted(near, " or "), all(what, names))
	}
	return all(what, names)
}

// all lists the names there are, the first thirty in full.
func all(what string, names []string) string {
	const most = 30
	rest := ""
	if len(names) > most {
		rest = fmt.Sprintf(" and %d more", len(names)-most)
		names = names[:most]
	}
	return fmt.Sprintf("the %s there are: %s%s", what, quoted(names, ", "), rest)
}

func quoted(names []string, between string) string {
	out := make([]string, len(names))
	for i, n := range names {
		out[i] = fmt.Sprintf("%q", n)
	}
	return strings.Join(out, between)
}

// nearest returns up to three of the names that differ from the one asked
// for by slips of the keys, the nearest first.
func nearest(asked string, names []string) []string {
	asked = strings.ToLower(asked)
	limit := max(2, len(asked)/4)
	type near struct {
		name string
		far  int
	}
	var found []near
	for _, n := range names {
		if d := distance(asked, strings.ToLower(n)); d <= limit && d < len(asked) {
			found = append(found, near{n, d})
		}
	}
	sort.SliceStable(found, func(i, j int) bool { return found[i].far < found[j].far })
	var out []string
	for _, f := range found[:min(3, len(found))] {
		out = append(out, f.name)
	}
	return out
}

// distance counts the letters to insert, delete or change (Levenshtein 1966).
func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		before := row[0]
		row[0] = i + 1
		for j := range len(b) {
			change := before
			if a[i] != b[j] {
				change++
			}
			before = row[j+1]
			row[j+1] = min(change, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(b)]
}
