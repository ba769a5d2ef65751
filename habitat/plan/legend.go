package plan

import (
	"cmp"
	"slices"

	"likelyground/habitat/legends"
)

// Legend gives the classes of a map their names, in rising order of codes.
type Legend []LegendEntry

// LegendEntry is one class: several codes may share a name.
type LegendEntry struct {
	Code   int32         `json:"code"`           // 0 where Text is given
	Text   string        `json:"text,omitempty"` // what stands in a field of text; "" in a legend of codes
	Name   string        `json:"name"`
	Groups []LegendGroup `json:"groups,omitempty"` // the narrowest first
}

// LegendGroup is something wider that a class belongs to, Up steps above it.
type LegendGroup struct {
	Name string `json:"name"`
	Up   int    `json:"up"`
}

// Name returns the name of a code, and whether the legend has it.
func (l Legend) Name(code int32) (string, bool) {
	e, ok := l.Entry(code)
	return e.Name, ok
}

// Entry returns the class of a code, and whether the legend has it.
func (l Legend) Entry(code int32) (LegendEntry, bool) {
	for _, e := range l {
		if e.Code == code && e.Text == "" {
			return e, true
		}
	}
	return LegendEntry{}, false
}

// Codes returns all codes of a name, rising; nil when the legend lacks it.
func (l Legend) Codes(name string) []int32 {
	var out []int32
	for _, e := range l {
		if e.Name == name {
			out = append(out, e.Code)
		}
	}
	return out
}

// Names returns each name once, in the order of its lowest code.
func (l Legend) Names() []string {
	return l.each(func(e LegendEntry, add func(string)) { add(e.Name) })
}

// GroupNames returns the name of each group once, in the order of the lowest
// code in it, narrow before wide.
func (l Legend) GroupNames() []string {
	return l.each(func(e LegendEntry, add func(string)) {
		for _, g := range e.Groups {
			add(g.Name)
		}
	})
}

// each gathers names of entries, each once.
func (l Legend) each(names func(e LegendEntry, add func(string))) []string {
	var out []string
	seen := map[string]bool{}
	for _, e := range l {
		names(e, func(name string) {
			if !seen[name] {
				seen[name] = true
				out = append(out, name)
			}
		})
	}
	return out
}

// Texts reports whether the legend is of texts of a field, not of codes.
func (l Legend) Texts() bool { return len(l) > 0 && l[0].Text != "" }

// sort puts codes in order; texts keep theirs.
func (l Legend) sort() {
	slices.SortStableFunc(l, func(a, b LegendEntry) int { return cmp.Compare(a.Code, b.Code) })
}

// LegendUse is the legend of a map: a file to open, entries in the plan, or
// one that the program has built in. Exactly one is given.
type LegendUse struct {
	Pos     Pos    `json:"-"`
	File    string `json:"file,omitempty"` // relative to the plan
	Inline  Legend `json:"inline,omitempty"`
	BuiltIn string `json:"built in,omitempty"` // its name, one of legends.Names()
}

// Known returns the legend as far as the plan alone tells it: nil where a
// file is to be read.
func (u *LegendUse) Known() Legend {
	if b := u.Open(); b != nil {
		return entriesOf(b)
	}
	return u.Inline
}

// Open returns the built-in legend; nil for another one.
func (u *LegendUse) Open() *legends.Legend {
	if u == nil || u.BuiltIn == "" {
		return nil
	}
	return legends.Named(u.BuiltIn)
}

// entriesOf returns the classes of a built-in legend.
func entriesOf(b *legends.Legend) Legend {
	out := Legend{}
	for _, c := range b.Classes {
		e := LegendEntry{Code: c.Code, Text: c.Text, Name: c.Name}
		for _, g := range c.Groups {
			e.Groups = append(e.Groups, LegendGroup(g))
		}
		out = append(out, e)
	}
	out.sort()
	return out
}

// bring takes from a map's built-in legend what the plan does not say itself.
func (m *Map) bring(found given) {
	b := m.Legend.Open()
	if b == nil {
		return
	}
	if _, said := found["credit"]; !said && b.CreditOf(m.Year) != "" {
		m.Credit, m.CreditFrom = b.CreditOf(m.Year), LegendWord
	}
	if _, said := found["licence"]; !said && b.Licence != "" {
		m.Licence, m.LicenceFrom = b.Licence, LegendWord
	}
	if b.Kind == legends.Amounts && m.Unit == "" {
		m.Unit = b.Unit
	}
}

// LegendWord is where a credit or licence is from that the plan leaves to the
// legend.
const LegendWord = "legend"
