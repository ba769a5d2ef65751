package maps

import (
	"errors"
	"fmt"
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
		fmt.Fprintf(&b, "%s: ", vector.Shown(p.File))
	}
	if p.Band > 0 {
		fmt.Fprintf(&b, "band %d: ", p.Band)
	}
	b.WriteString(p.What)
	if p.Err != nil {
		b.WriteString(": " + vector.Brief(strings.ReplaceAll(p.Err.Error(), "\n", "; "))) // GDAL says several things at once
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
	p := vector.MissingFile(path)
	return &Problem{Map: mapName, File: path, What: p.What, Fix: p.Fix}
}
