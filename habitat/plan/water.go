package plan

import "slices"

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
