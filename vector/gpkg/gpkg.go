// Package gpkg writes features as a GeoPackage 1.3 (OGC 12-128r17).
//
// It leaves to its callers what the features are and in which coordinate
// reference system they lie: coordinates are written as they come, x (east or
// longitude) first. A missing attribute, nil, is written as NULL.
//
// The same layers give the same bytes: the date of change that the format
// wants is a fixed one, and features keep their order.
package gpkg

import (
	"fmt"
	"math"
	"strings"

	"likelyground/vector"
)

// Ring is a closed line; a last point that repeats the first is added where
// it lacks.
type Ring = vector.Ring

// Point is a place, x first.
type Point = vector.Point

// Kind is the type of an attribute.
type Kind int

// The types of attribute: text (string), whole number (int, int32, int64),
// number (float64, float32), day (time.Time).
const (
	Text Kind = iota
	Integer
	Real
	Date
)

// Shape is the type of geometry of a layer.
type Shape int

// The shapes. AsFound goes by the features: points, polygons or, where one of
// them has several, multipolygons; any geometry where there is no feature.
const (
	AsFound Shape = iota
	Points
	MultiPolygons
)

// Field is one attribute of a layer.
type Field struct {
	Name string
	Kind Kind
}

// Feature is one thing on the map: polygons, each an outer ring and its
// holes, or else a point. Values stand in the order of the layer's fields;
// nil is NULL.
type Feature struct {
	Polygons [][]Ring
	Point    *Point
	Values   []any
}

// Layer is a table of features of one kind, polygons or points, in one
// coordinate reference system, named by any text PROJ understands.
type Layer struct {
	Name, CRS string
	About     string // what it holds, in words; kept in gpkg_contents
	Shape     Shape
	Fields    []Field
	Features  []Feature
}

// check finds what could not be written, before a file is begun.
func (l Layer) check() error {
	if l.Name == "" {
		return fmt.Errorf("a layer has no name: give it one")
	}
	if l.CRS == "" {
		return fmt.Errorf("layer %q has no coordinate reference system: name one, for instance EPSG:25831", l.Name)
	}
	if err := l.checkFields(); err != nil {
		return err
	}
	for i, f := range l.Features {
		if err := l.checkFeature(f); err != nil {
			return fmt.Errorf("layer %q, feature %d: %w", l.Name, i+1, err)
		}
	}
	return nil
}

func (l Layer) checkFields() error {
	seen := map[string]bool{"fid": true, "geom": true}
	for _, f := range l.Fields {
		low := strings.ToLower(f.Name)
		if low == "" || seen[low] {
			return fmt.Errorf("layer %q: field name %q is empty, taken or reserved (fid, geom): choose another", l.Name, f.Name)
		}
		seen[low] = true
	}
	return nil
}

func (l Layer) checkFeature(f Feature) error {
	if len(f.Values) != len(l.Fields) {
		return fmt.Errorf("%d values for %d fields", len(f.Values), len(l.Fields))
	}
	if (f.Point != nil) != l.points() {
		return fmt.Errorf("points and polygons in one layer: make two layers")
	}
	if f.Point != nil {
		return finite(*f.Point)
	}
	if len(f.Polygons) == 0 {
		return fmt.Errorf("it has neither polygons nor a point")
	}
	for _, rings := range f.Polygons {
		if len(rings) == 0 {
			return fmt.Errorf("a polygon has no ring")
		}
		for _, r := range rings {
			if err := checkRing(r); err != nil {
				return err
			}
		}
	}
	return nil
}

func checkRing(r Ring) error {
	if len(r) < 3 {
		return fmt.Errorf("a ring has %d points, fewer than 3", len(r))
	}
	for _, p := range r {
		if err := finite(p); err != nil {
			return err
		}
	}
	return nil
}

func finite(p Point) error {
	for _, v := range p {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return fmt.Errorf("a coordinate is %v, no number to write", v)
		}
	}
	return nil
}

// points tells whether the layer is of points: by its shape, or its first
// feature.
func (l Layer) points() bool {
	return l.Shape == Points || l.Shape == AsFound && len(l.Features) > 0 && l.Features[0].Point != nil
}

// many tells whether the features are multipolygons: by the layer's shape, or
// since some feature has several, as a layer has one type.
func (l Layer) many() bool {
	if l.Shape == MultiPolygons {
		return true
	}
	for _, f := range l.Features {
		if len(f.Polygons) > 1 {
			return true
		}
	}
	return false
}
