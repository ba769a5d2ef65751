package vector

import "strconv"

// Point is a place: x (east or longitude), y (north or latitude), in the
// units of its coordinate reference system.
type Point = [2]float64

// Ring is a closed line; the last point repeats the first.
type Ring []Point

// Polygon is an outer ring and its holes. What it covers is decided even-odd
// over all its rings, so that neither their order nor their sense of turning
// matters and a ring that crosses itself covers what repair by linework
// leaves of it.
type Polygon []Ring

// Line is a chain of straight pieces; one point repeated is a line too.
type Line []Point

// Feature is one thing of a layer. A feature of several shapes covers all
// that any of them covers.
type Feature struct {
	Number   int // place in the layer's order, from 1
	Polygons []Polygon
	Lines    []Line  // only where they were asked for
	Points   []Point // likewise
	Values   []Value // the fields asked for, in the order asked
	Invalid  bool    // the geometry breaks the rules for simple features
}

// Kind is the type of a field.
type Kind int

// The kinds of field. Dates, times, lists and whatever else a format knows
// come as text.
const (
	Text Kind = iota
	Integer
	Real
)

// String names the kind in a message.
func (k Kind) String() string {
	return [...]string{"text", "whole numbers", "numbers"}[k]
}

// Field is one attribute of a layer.
type Field struct {
	Name string
	Kind Kind
}

// Value is an attribute of a feature. With Null set the others are zero;
// otherwise the one that belongs to Kind holds the value.
type Value struct {
	Kind   Kind
	Null   bool
	Text   string // valid UTF-8
	Whole  int64
	Number float64
}

// String returns the value as text, the empty text for NULL.
func (v Value) String() string {
	switch {
	case v.Null:
		return ""
	case v.Kind == Integer:
		return strconv.FormatInt(v.Whole, 10)
	case v.Kind == Real:
		return strconv.FormatFloat(v.Number, 'g', -1, 64)
	}
	return v.Text
}
