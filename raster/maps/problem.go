package maps

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sort"
	"strings"

	"likelyground/vector"
)

// Problem is an error that only a change of the plan or of its data can
// cure. It says what failed, on which map, file and band, and the remedy.
type Problem struct {
	Map  string // the plan's name of the map
	File string // "" where no single file is meant
	Band int    // from 1; 0 where no band is meant
	What string
	Fix  string
	Err  error // the cause, may be nil

	// Elsewhere marks a map that says nothing about the grid: it lies outside
	// or knows no cell there. A plan may go on without it.
	Elsewhere bool
}

// Elsewhere reports whether an error says that a map tells nothing about the
// grid's ground, or nothing at all.
func Elsewhere(err error) bool {
	var p *Problem
	return errors.As(err, &p) && (p.Elsewhere || errors.Is(p, vector.ErrEmpty))
}

// Error returns what failed and where; the remedy is told by [Problem.Remedy].
func (p *Problem) Error() string {
	var b strings.Builder
	if p.Map != "" {
		fmt.Fprintf(&b, "map %q: ", p.Map)
	}
	if p.File != "" {
		fmt.Fprintf(&b, "%s: ", p.File)
	}
	if p.Band > 0 {
		fmt.Fprintf(&b, "band %d: ", p.Band)
	}
	b.WriteString(p.What)
	if p.Err != nil {
		b.WriteString(": " + strings.ReplaceAll(p.Err.Error(), "\n", "; ")) // GDAL says several things at once
	}
	return b.String()
}

// Remedy says what to change.
func (p *Problem) Remedy() string { return p.Fix }

// MustChange reports true: trying again cannot help.
func (p *Problem) MustChange() bool { return true }

// Unwrap returns the cause.
func (p *Problem) Unwrap() error { return p.Err }

// missingFile is the problem of a file that is not there, with the names in
// its folder that look like it.
func missingFile(mapName, path string) *Problem {
	p := &Problem{Map: mapName, File: path, What: "there is no such file", Fix: "correct the path; it is relative to the plan"}
	if near := nearNames(path); len(near) > 0 {
		p.Fix = "did you mean " + strings.Join(near, " or ") + "?"
	} else if _, err := os.Stat(filepath.Dir(path)); err != nil {
		p.Fix = fmt.Sprintf("the folder %s does not exist either; paths are relative to the plan", filepath.Dir(path))
	}
	return p
}

// nearNames returns up to three names in the folder of path that differ from
// it by a slip of the keys, nearest first.
func nearNames(path string) []string {
	entries, err := os.ReadDir(filepath.Dir(path))
	if err != nil {
		return nil
	}
	want := strings.ToLower(filepath.Base(path))
	limit := max(2, len(want)/4)
	type near struct {
		name string
		far  int
	}
	var found []near
	for _, e := range entries {
		if d := editDistance(want, strings.ToLower(e.Name())); d <= limit {
			found = append(found, near{e.Name(), d})
		}
	}
	sort.SliceStable(found, func(i, j int) bool { return found[i].far < found[j].far })
	var names []string
	for _, n := range found[:min(3, len(found))] {
		names = append(names, n.name)
	}
	return names
}

// editDistance counts the insertions, deletions and changes of one letter
// that turn a into b (Levenshtein 1966).
func editDistance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			change := diagonal
			if a[i] != b[j] {
				change++
			}
			diagonal = row[j+1]
			row[j+1] = min(change, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(b)]
}
