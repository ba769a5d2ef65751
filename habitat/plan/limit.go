package plan

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// keepOut checks its entries and brings their limits to the layers' units.
func (c *checker) keepOut() {
	for i := range c.p.KeepOut {
		k := &c.p.KeepOut[i]
		l := c.find(k.Layer, k.Pos)
		switch {
		case l == nil || l.d != nil && l.from == nil:
		case len(k.Of) > 0:
			if c.classes(l, k.Pos, "of") {
				c.known(l, k.Of, false)
			}
		case k.above != nil:
			k.Above = c.limit(k.above.n, l, k.Pos, "above")
		case k.below != nil:
			k.Below = c.limit(k.below.n, l, k.Pos, "below")
		}
	}
}

func (c *checker) limit(n *node, l *layer, at Pos, key string) *float64 {
	if !c.amounts(l, at, quote(key)) {
		return nil
	}
	var v float64
	var ok bool
	switch unit := l.unit(); {
	case l.slope() || unit == UnitDegrees:
		v, ok = c.steepness(n, l, unit)
	case unit == UnitMetres || unit == UnitFeet:
		v, ok = c.measured(n, lengths, unit)
	case unit == UnitHectares && l.d != nil:
		v, ok = c.measured(n, areas, unit)
	case unit == UnitMillimetres:
		v, ok = c.measured(n, depths, unit)
	default:
		v, ok = c.plainLimit(n, l, unit)
	}
	if !ok {
		return nil
	}
	return &v
}

// unit returns the unit of a layer's values, "" where it has none.
func (l *layer) unit() string {
	switch {
	case l == nil:
		return ""
	case l.m != nil:
		return l.m.Unit
	}
	switch l.d.Verb {
	case Slope:
		if l.d.Percent {
			return UnitPercent
		}
		return UnitDegrees
	case Aspect:
		return UnitDegrees
	case ProfileCurvature, TangentialCurvature, ContourCurvature:
		return UnitPerMetre
	case Radiation:
		return UnitSunshine
	case Elevation, RelativePosition, Ruggedness, Distance, EdgeDistance, Filled, HollowDepth, ChannelDistance, ChannelHeight:
		return UnitMetres
	case HollowArea, Gathered:
		return UnitHectares
	case Mean:
		return l.from.unit()
	case FirstOf:
		for _, m := range l.members {
			if unit := m.unit(); unit != "" {
				return unit
			}
		}
	}
	return ""
}

// slope reports whether a layer is a slope, or a mean of slopes.
func (l *layer) slope() bool {
	return l != nil && l.d != nil && (l.d.Verb == Slope || (l.d.Verb == Mean || l.firstOf()) && l.from.slope())
}

// steepness reads an angle or a percentage into the layer's own of the two.
func (c *checker) steepness(n *node, l *layer, unit string) (float64, bool) {
	q := angles
	if !l.slope() {
		q.what, q.units = "an angle", q.units[:1] // what is in degrees need not be a slope
	}
	m, ok := q.read(c.r, n)
	if !ok {
		return 0, false
	}
	degrees := m.unit == "deg"
	if degrees && l.slope() && (m.number < 0 || m.number >= 90) {
		c.r.wrong(n.pos, n.shown()+" is no slope", "write one from 0 to below 90 deg")
		return 0, false
	}
	switch {
	case degrees && unit == UnitPercent:
		return 100 * math.Tan(m.number*math.Pi/180), true
	case !degrees && unit == UnitDegrees:
		return math.Atan(m.number/100) * 180 / math.Pi, true
	}
	return m.number, true
}

// measured reads a measure into one of its units.
func (c *checker) measured(n *node, q quantity, unit string) (float64, bool) {
	m, ok := q.read(c.r, n)
	if !ok {
		return 0, false
	}
	if m.unit == unit {
		return m.number, true
	}
	from, _ := q.find(m.unit)
	to, _ := q.find(unit)
	return m.number * from.size / to.size, true
}

// plainLimit reads a number without unit, or with the very unit that the map
// states.
func (c *checker) plainLimit(n *node, l *layer, unit string) (float64, bool) {
	if n.isNumber() {
		return c.r.number(n)
	}
	m := measureForm.FindStringSubmatch(n.text)
	v, err := strconv.ParseFloat(m[1], 64)
	given := m[len(m)-1]
	switch {
	case err == nil && unit != "" && strings.EqualFold(knownUnit(given), unit):
		return v, true
	case err == nil && knownUnit(given) == UnitPercent && l.share():
		c.r.better(n.pos, "shares go from 0 to 1", "did you mean "+trimmed(v/100)+"?", trimmed(v/100))
	case unit == "":
		c.r.better(n.pos, fmt.Sprintf("the values of %s have no unit", quote(l.name)), "write the bare number, or give the map its unit", m[1])
	default:
		c.r.better(n.pos, fmt.Sprintf("the values of %s are in %s, not %s", quote(l.name), unit, given), "write the limit in "+unit, m[1])
	}
	return 0, false
}
