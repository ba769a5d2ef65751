package plan

import (
	"fmt"
	"slices"
	"strings"
)

// WaterVerbs are the verbs that follow water over the ground.
var WaterVerbs = []Verb{Filled, HollowDepth, HollowArea, Gathered, Wetness, ChannelDistance, ChannelHeight}

// Water reports whether the verb follows water over the ground.
func (v Verb) Water() bool { return slices.Contains(WaterVerbs, v) }

// Flow says which way water takes.
type Flow string

// The ways, as the plan writes them.
const (
	ManyWays Flow = "many ways" // to all lower neighbours, shared out by their gradient
	OneWay   Flow = "one way"   // to the steepest neighbour
)

// defaultMargin is how far, in metres, water reads on beyond the area.
const defaultMargin = 2000

// WaterMargin is how far, in metres, a layer that follows water reads on
// beyond the ground where it is used.
func (d *Derived) WaterMargin() float64 {
	if d.Margin > 0 {
		return d.Margin
	}
	return defaultMargin
}

// waterWords are the words of the verbs that follow water.
func waterWords() []string {
	var out []string
	for _, v := range WaterVerbs {
		out = append(out, string(v))
	}
	return out
}

// Drains are classes of a map that keep the water that reaches them, such as
// lakes and sinkholes.
type Drains struct {
	Map   string  `json:"map"`
	Pos   Pos     `json:"-"`
	Of    []Class `json:"of"`
	Match Match   `json:"-"` // as the plan writes it; each class has what counts
}

// String tells drains of a map apart from others.
func (d *Drains) String() string {
	if d == nil {
		return ""
	}
	var of []string
	for _, c := range d.Of {
		of = append(of, strings.TrimSpace(fmt.Sprintf("%s %s", c, c.Match)))
	}
	slices.Sort(of)
	return d.Map + ": " + strings.Join(of, ", ")
}

func drainsShape() shape[Drains] {
	return object[Drains]{
		what: "drains", fresh: func() Drains { return Drains{} },
		keys: []key[Drains]{
			needed("map: cover", entry("map", "A map of classes.", textShape("a map's name"), func(d *Drains, v put[string]) { d.Map, d.Pos = v.value, v.at })),
			needed("of: [water]", entry("of", "The classes that water goes no further from.", classesShape(), func(d *Drains, v put[[]Class]) { d.Of = v.value })),
			entry("match", matchWords, matchShape(), func(d *Drains, v put[Match]) { d.Match = v.value }),
		},
	}.shape()
}

// drained checks the map of a layer's drains.
func (c *checker) drained(d *Derived) {
	if d.Drains == nil {
		return
	}
	l := c.layers[d.Drains.Map]
	switch {
	case l == nil || l.unsound:
	case l.m == nil:
		c.r.wrong(d.Drains.Pos, fmt.Sprintf("drains are classes of a map, and %s is a derived layer", quote(l.name)), "name the map that it is made from")
	case c.classes(l, d.Drains.Pos, "the key drains"):
		c.known(l, d.Drains.Of, false)
	}
}
