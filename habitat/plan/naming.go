package plan

import (
	"slices"
	"strconv"
	"strings"

	"likelyground/habitat/match"
)

// Match says how the classes that a plan writes are compared with the texts
// of a field or the names of a legend.
type Match string

// The ways to compare, as the plan writes them.
const (
	WholeText Match = "whole text" // the text or name as it stands, or a group's; the default
	Contains  Match = "contains"   // whole words in it, whatever their case
	LastPart  Match = "last part"  // what follows the last / or # of it
)

// Vocabulary is the classes of a map as they can be named.
type Vocabulary struct {
	Classes Legend
	Loose   bool // names are compared whatever their case and marks, and codes are allowed: a built-in legend
}

// As tells by what a class of the plan names one of a map.
type As string

// The ways to name a class.
const (
	AsName     As = "class"
	AsCode     As = "code"
	AsGroup    As = "group"
	AsWords    As = "words"
	AsLastPart As = "last part"
)

// Hit is the class of the plan that names a class of a map.
type Hit struct {
	Key int // place in the list; -1: none
	As  As
}

// Naming is a list of the plan's classes tied to those of a map.
type Naming struct {
	Hits []Hit // for each class of the vocabulary
	Idle []int // keys that name no class, and no group of any
	Both []int // keys that are the name of a class and of a group with that class and others in it
	Ties []Tie // classes that two keys name equally well: neither is taken
}

// Tie is a class that two keys name equally well.
type Tie struct {
	Class        int // place in the vocabulary
	First, Other int // keys
}

// Name ties the classes that a plan lists to those of the map. All of the list
// compare in one way, that of the first; a code names its class whatever that
// way is. A class is named by itself before its groups, by a narrow group before
// a wide one; of words in it the longest key wins, then the earliest in it.
func (v Vocabulary) Name(keys []Class) Naming {
	n := Naming{Hits: make([]Hit, len(v.Classes))}
	for i := range n.Hits {
		n.Hits[i].Key = -1
	}
	how := WholeText
	if len(keys) > 0 && keys[0].Match != "" {
		how = keys[0].Match
	}
	v.byCode(keys, &n)
	if how == Contains {
		v.byWords(keys, &n)
	} else {
		v.byText(keys, how, &n)
	}
	v.idle(keys, how, &n)
	return n
}

// byCode ties codes to their classes and all that share the name.
func (v Vocabulary) byCode(keys []Class, n *Naming) {
	code, name := map[int32]int{}, map[string]int{}
	for i, k := range keys {
		if !k.IsCode {
			continue
		}
		code[k.Code] = i
		if e, ok := v.Classes.Entry(k.Code); ok && v.Loose {
			if first, twice := name[e.Name]; twice {
				at := slices.IndexFunc(v.Classes, func(c LegendEntry) bool { return c.Name == e.Name })
				n.Ties = append(n.Ties, Tie{at, first, i})
				continue
			}
			name[e.Name] = i
		}
	}
	for c, e := range v.Classes {
		if at, ok := name[e.Name]; ok {
			n.Hits[c] = Hit{at, AsCode}
		} else if at, ok := code[e.Code]; ok && e.Text == "" {
			n.Hits[c] = Hit{at, AsCode}
		}
	}
}

// byWords ties each class to the key that its name contains.
func (v Vocabulary) byWords(keys []Class, n *Naming) {
	texts := make([]string, len(keys))
	for i, k := range keys {
		texts[i] = k.Name
	}
	find := match.NewContains(texts)
	for c, e := range v.Classes {
		if n.Hits[c].Key < 0 {
			n.Hits[c] = Hit{find.Find(e.Name), AsWords}
		}
	}
}

// byText ties each class to the key of its name, or else of the narrowest of
// its groups that has one.
func (v Vocabulary) byText(keys []Class, how Match, n *Naming) {
	place := map[string]int{}
	for i, k := range keys {
		if k.IsCode {
			continue
		}
		form := v.form(k.Name, how)
		if first, twice := place[form]; twice {
			v.tied(form, how, first, i, n)
			continue
		}
		place[form] = i
	}
	as := AsName
	if how == LastPart {
		as = AsLastPart
	}
	for c, e := range v.Classes {
		at, ok := place[v.form(e.Name, how)]
		switch {
		case ok && n.Hits[c].Key >= 0 && n.Hits[c].Key != at:
			n.tie(c, n.Hits[c].Key, at)
		case ok:
			n.Hits[c] = Hit{at, as}
		case n.Hits[c].Key < 0 && how == WholeText:
			v.byGroup(c, place, n)
		}
	}
	if how == WholeText {
		v.both(place, n)
	}
}

// tie notes a class that two keys name, the former first.
func (n *Naming) tie(class, a, b int) {
	n.Ties = append(n.Ties, Tie{class, min(a, b), max(a, b)})
}

// tied notes that two keys are written differently and mean the same.
func (v Vocabulary) tied(form string, how Match, first, other int, n *Naming) {
	for c, e := range v.Classes {
		if v.form(e.Name, how) == form || slices.ContainsFunc(e.Groups, func(g LegendGroup) bool { return v.form(g.Name, how) == form }) {
			n.Ties = append(n.Ties, Tie{c, first, other})
			return
		}
	}
}

// byGroup ties a class to the key of the narrowest of its groups.
func (v Vocabulary) byGroup(c int, place map[string]int, n *Naming) {
	up := 0
	for _, g := range v.Classes[c].Groups {
		at, ok := place[v.form(g.Name, WholeText)]
		switch {
		case !ok || up > 0 && g.Up > up:
		case up == 0:
			up = g.Up
			n.Hits[c] = Hit{at, AsGroup}
		case at != n.Hits[c].Key:
			n.tie(c, n.Hits[c].Key, at)
		}
	}
}

// both finds keys that mean a class, or a group that holds it among others.
func (v Vocabulary) both(place map[string]int, n *Naming) {
	with, without := map[string]bool{}, map[string]bool{}
	for _, e := range v.Classes {
		own := v.form(e.Name, WholeText)
		for _, g := range e.Groups {
			if form := v.form(g.Name, WholeText); form == own {
				with[form] = true
			} else {
				without[form] = true
			}
		}
	}
	for form, at := range place {
		if with[form] && without[form] {
			n.Both = append(n.Both, at)
		}
	}
	slices.Sort(n.Both)
}

// idle finds the keys that name nothing. A key that only loses its classes to
// other keys is not idle.
func (v Vocabulary) idle(keys []Class, how Match, n *Naming) {
	used := make([]bool, len(keys))
	for _, h := range n.Hits {
		if h.Key >= 0 {
			used[h.Key] = true
		}
	}
	for _, t := range n.Ties {
		used[t.First], used[t.Other] = true, true
	}
	for i, k := range keys {
		if !used[i] && !v.names(k, how) {
			n.Idle = append(n.Idle, i)
		}
	}
}

// names reports whether a key alone would name any class.
func (v Vocabulary) names(k Class, how Match) bool {
	if k.IsCode {
		_, ok := v.Classes.Entry(k.Code)
		return ok
	}
	if how == Contains {
		find := match.NewContains([]string{k.Name})
		return slices.ContainsFunc(v.Classes, func(e LegendEntry) bool { return find.Find(e.Name) == 0 })
	}
	form := v.form(k.Name, how)
	return slices.ContainsFunc(v.Classes, func(e LegendEntry) bool {
		return v.form(e.Name, how) == form || how == WholeText && slices.ContainsFunc(e.Groups, func(g LegendGroup) bool { return v.form(g.Name, how) == form })
	})
}

// form is a text as it is compared.
func (v Vocabulary) form(text string, how Match) string {
	if how == LastPart {
		text = match.LastPart(text)
	}
	if key := match.Key(text); v.Loose && key != "" {
		return key
	}
	return text
}

// Near returns the text, of those that could be written, that a key is most
// likely a slip of, in the way that it compares; "" where none is near.
func (v Vocabulary) Near(key Class) string {
	text := key.Name
	if key.IsCode {
		text = strconv.Itoa(int(key.Code))
	}
	known := v.Classes.Names()
	switch key.Match {
	case LastPart:
		text = match.LastPart(text)
		for i, k := range known {
			known[i] = match.LastPart(k)
		}
	case Contains:
		return nearWords(text, known)
	default:
		known = append(known, v.Classes.GroupNames()...)
	}
	return Suggest(text, known)
}

// nearWords returns the words, as many in a row as the key has, in any of the
// texts that are most like it.
func nearWords(key string, texts []string) string {
	n := len(match.Words(key))
	seen := map[string]bool{}
	var known []string
	for _, text := range texts {
		words := match.Words(text)
		for i := 0; i+n <= len(words) && n > 0; i++ {
			if w := strings.Join(words[i:i+n], " "); !seen[w] {
				seen[w] = true
				known = append(known, w)
			}
		}
	}
	return Suggest(match.Key(key), known)
}
