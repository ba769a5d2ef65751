package plan

import (
	"fmt"
	"slices"
)

// shapeVerbs are the verbs whose values hang on the eight neighbours of a
// cell.
var shapeVerbs = []Verb{Slope, Northness, Eastness, Aspect, ProfileCurvature, TangentialCurvature, ContourCurvature, Ruggedness, HeatLoad, Radiation}

// Neighbours reports whether a value of the verb hangs on the heights of the
// cell and its eight neighbours alone.
func (v Verb) Neighbours() bool { return slices.Contains(shapeVerbs, v) }

// Author says whose ruggedness is meant.
type Author string

// The authors, as the plan writes them.
const (
	Riley  Author = "Riley 1999"  // root of the sum of the eight squared differences
	Wilson Author = "Wilson 2007" // mean of the eight differences
)

// Facing is the way that the warmest slopes face.
type Facing string

// The ways, as the plan writes them.
const (
	Southwest Facing = "southwest"
	South     Facing = "south"
)

// HeatEquation is the number, 1 to 3, of the equation of heat load.
func (d *Derived) HeatEquation() int {
	if d.Equation == 0 {
		return 1
	}
	return d.Equation
}

func terrainKeys() []key[Derived] {
	return []key[Derived]{
		entry("after", "Of ruggedness: Riley 1999, the root of the sum of the squared differences to the eight neighbours, or Wilson 2007, the mean of those differences.", wordShape("the author", Riley, Wilson), func(d *Derived, v put[Author]) { d.After = v.value }),
		entry("day", "Of radiation: the day of the year, 1 to 366; 172 is 21 June.", integerShape(1, 366), func(d *Derived, v put[int]) { d.Day = v.value }),
		entry("equation", "Of heat load: which of the three of McCune & Keon (2002), 1 to 3. The first, the default, holds on any slope from the equator to 60 degrees north, the others on slopes to 60 degrees, the third from 30 degrees north on.", integerShape(1, 3), func(d *Derived, v put[int]) {
			if v.value != 1 { // what goes without saying is not kept
				d.Equation = v.value
			}
		}),
		entry("warmest", "Of heat load: which way the warmest slopes face, southwest, the default, where afternoons warm more than mornings, or south, which leaves the radiation as it falls.", wordShape("the way that slopes face", Southwest, South), func(d *Derived, v put[Facing]) {
			if v.value != Southwest {
				d.Warmest = v.value
			}
		}),
	}
}

// direction reports whether a layer's values are directions, which go round:
// 0 and 360 are one.
func (l *layer) direction() bool {
	return l != nil && l.d != nil && (l.d.Verb == Aspect || l.firstOf() && slices.ContainsFunc(l.members, (*layer).direction))
}

// round warns where the curve of a direction breaks off at north.
func (c *checker) round(f *Factor, l *layer) {
	if !l.direction() {
		return
	}
	at := func(x float64) float64 { return scoreAt(f.Curve, x) }
	if a, b := at(0), at(360); a != b {
		c.warn(f.CurvePos, fmt.Sprintf("the curve of %s gives north two scores, %s at 0 and %s at 360: directions go round", quote(f.Name), trimmed(a), trimmed(b)), "let both ends have one score, or rate northness or eastness, which have no break")
	}
}

// scoreAt is the score of a curve at a value.
func scoreAt(curve []Point, x float64) float64 {
	i := slices.IndexFunc(curve, func(p Point) bool { return p.X >= x })
	switch {
	case i < 0:
		return curve[len(curve)-1].Y
	case i == 0 || curve[i].X == x:
		return curve[i].Y
	}
	a, b := curve[i-1], curve[i]
	return a.Y + (b.Y-a.Y)*(x-a.X)/(b.X-a.X)
}
