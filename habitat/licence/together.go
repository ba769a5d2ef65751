package licence

import (
	"fmt"
	"slices"
	"strings"
)

// Share is what a plan says of passing on what was made from a map; it goes
// beside the licence.
type Share string

// What a plan may say.
const (
	Unsaid         Share = ""
	Yes            Share = "yes"      // it may be passed on, whatever else is known
	No             Share = "no"       // it may not
	WhenSaidSo     Share = "modified" // it may where it is said that the map was changed
	mayYes               = "yes"
	mayNo                = "no"
	mayNotKnown          = "not known"
	asStatedByPlan       = "as the plan states it; this is no legal advice"
)

// Map is a map and what its plan states of it.
type Map struct {
	Name    string
	Licence string // as written; "" where none is given
	Share   Share
}

// Licence returns what is asked of who passes on what was made from the map.
func (m Map) licence() Licence {
	l := Read(m.Licence)
	switch m.Share {
	case Yes:
		l.Known, l.NotShared = true, false
	case No:
		l.NotShared = true
	case WhenSaidSo:
		l.Known, l.NotShared, l.SayModified = true, false, true
	}
	return l
}

// Together is what several maps ask of who passes on what was made of them
// all, as the plan states it.
type Together struct {
	MayBeShared string   `json:"outputs_may_be_passed_on"`   // "yes", "no" or "not known"
	Not         []string `json:"not_because_of,omitempty"`   // the maps that forbid it
	NotStated   []string `json:"not_stated_for,omitempty"`   // the maps without a licence that is known
	Strictest   string   `json:"strictest_licence"`          // of all; "" where it is not stated
	Of          string   `json:"strictest_map"`              // the first map by name that has it
	Credit      bool     `json:"give_credit"`                //
	SayModified bool     `json:"say_that_maps_were_changed"` //
	ShareAlike  []string `json:"share_alike,omitempty"`      // the licences that outputs would have to bear
	NotForMoney []string `json:"not_for_money,omitempty"`    // the maps that ask for that
	Conflicts   []string `json:"conflicts"`                  // duties that cannot be met together, in words
	Note        string   `json:"note"`
}

// Sum returns what maps ask together. Their order does not matter.
func Sum(maps []Map) Together {
	maps = slices.Clone(maps)
	slices.SortFunc(maps, func(a, b Map) int { return strings.Compare(a.Name, b.Name) })
	t := Together{MayBeShared: mayYes, Conflicts: []string{}, Note: asStatedByPlan}
	families := map[string][]Map{}
	var order []string
	strictest := Strictness(-1)
	for _, m := range maps {
		l := m.licence()
		if s := l.Strictness(); s > strictest {
			strictest, t.Strictest, t.Of = s, l.Name, m.Name
		}
		t.add(m, l)
		if l.ShareAlike {
			if families[l.Family] == nil {
				order = append(order, l.Family)
				t.ShareAlike = append(t.ShareAlike, l.Name)
			}
			families[l.Family] = append(families[l.Family], m)
		}
	}
	t.conflicts(order, families)
	switch {
	case len(t.Not) > 0:
		t.MayBeShared = mayNo
	case len(t.NotStated) > 0:
		t.MayBeShared = mayNotKnown
	}
	return t
}

// add adds the duties of one map.
func (t *Together) add(m Map, l Licence) {
	t.Credit = t.Credit || l.Credit
	t.SayModified = t.SayModified || l.SayModified
	switch {
	case l.NotShared:
		t.Not = append(t.Not, m.Name)
	case !l.Known:
		t.NotStated = append(t.NotStated, m.Name)
	}
	if l.NonCommercial {
		t.NotForMoney = append(t.NotForMoney, m.Name)
	}
}

// conflicts names duties that exclude one another: share-alike licences of
// two kinds, and one that allows trade beside a map that does not.
func (t *Together) conflicts(order []string, families map[string][]Map) {
	for i, a := range order {
		for _, b := range order[i+1:] {
			t.Conflicts = append(t.Conflicts, fmt.Sprintf("%s asks for outputs under %s, %s for %s: both cannot be met",
				listed(families[a]), families[a][0].licence().Name, listed(families[b]), families[b][0].licence().Name))
		}
		if l := families[a][0].licence(); !l.NonCommercial && len(t.NotForMoney) > 0 && !strings.Contains(strings.Join(order, " "), "NC") {
			t.Conflicts = append(t.Conflicts, fmt.Sprintf("%s asks for outputs under %s, which allows trade, and %s does not: both cannot be met",
				listed(families[a]), l.Name, quotedList(t.NotForMoney)))
		}
	}
}

func listed(maps []Map) string {
	var names []string
	for _, m := range maps {
		names = append(names, m.Name)
	}
	return quotedList(names)
}

// quotedList lists names, the first dozen of them.
func quotedList(names []string) string {
	const most = 12
	out := make([]string, 0, len(names))
	for i, n := range names {
		if i == most {
			out = append(out, fmt.Sprintf("and %d more", len(names)-most))
			break
		}
		out = append(out, fmt.Sprintf("%q", n))
	}
	return strings.Join(out, ", ")
}

// Words says in one line whether outputs may be passed on, and on what terms.
func (t Together) Words() string {
	var terms []string
	if t.Credit {
		terms = append(terms, "credit")
	}
	if t.SayModified {
		terms = append(terms, "a word that the maps were changed")
	}
	if len(t.ShareAlike) > 0 {
		terms = append(terms, "the licence "+strings.Join(t.ShareAlike, " and "))
	}
	if len(t.NotForMoney) > 0 {
		terms = append(terms, "no trade")
	}
	on := ""
	if len(terms) > 0 {
		on = " with " + strings.Join(terms, ", ")
	}
	switch t.MayBeShared {
	case mayNo:
		return "As the plan states it, outputs may not be passed on: " + quotedList(t.Not) + verb(t.Not, " forbids it", " forbid it") + "."
	case mayNotKnown:
		return "Whether outputs may be passed on is not known: the plan states no known licence for " + quotedList(t.NotStated) + "."
	}
	return "As the plan states it, outputs may be passed on" + on + "."
}

func verb(names []string, one, many string) string {
	if len(names) == 1 {
		return one
	}
	return many
}
