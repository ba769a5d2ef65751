package store

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
)

// About says what an entry is and what it depends on.
type About struct {
	Kind    string // one word for all entries that are made the same way
	Title   string // for people
	Depends []Part // in any order
}

// Part is one thing that an entry depends on.
type Part struct {
	Name  string // for people: what changed, when it did
	Value string // a hash, or whatever tells one state from another
}

// Key returns the name under which an entry is kept. The title is no part of
// it, nor is the order of what it depends on.
func (a About) Key() string {
	sum := sha256.New()
	fmt.Fprintf(sum, "%q\n", a.Kind)
	for _, p := range a.sorted() {
		fmt.Fprintf(sum, "%q %q\n", p.Name, p.Value)
	}
	return hex.EncodeToString(sum.Sum(nil)[:16])
}

func (a About) sorted() []Part {
	parts := slices.Clone(a.Depends)
	slices.SortFunc(parts, func(x, y Part) int { return compare(x.Name, y.Name, x.Value, y.Value) })
	return parts
}

// differs names what is not the same for two entries, each once.
func (a About) differs(b About) []string {
	var out []string
	for _, p := range a.sorted() {
		if !slices.Contains(b.Depends, p) && !slices.Contains(out, p.Name) {
			out = append(out, p.Name)
		}
	}
	for _, p := range b.sorted() {
		if !slices.ContainsFunc(a.Depends, func(x Part) bool { return x.Name == p.Name }) && !slices.Contains(out, p.Name) {
			out = append(out, p.Name)
		}
	}
	return out
}

// Changed says why an entry is not there: the names of what has changed since
// the most recent entry of the same kind and title; nil where there is none.
func (s *Store) Changed(a About) []string {
	var best *manifest
	for _, key := range s.keys() {
		m, err := readManifest(s.done(key))
		if err == nil && m.About.Kind == a.Kind && m.About.Title == a.Title && (best == nil || m.Made.After(best.Made)) {
			best = m
		}
	}
	if best == nil {
		return nil
	}
	return a.differs(best.About)
}

func compare(texts ...string) int {
	for i := 0; i < len(texts); i += 2 {
		if texts[i] != texts[i+1] {
			if texts[i] < texts[i+1] {
				return -1
			}
			return 1
		}
	}
	return 0
}
