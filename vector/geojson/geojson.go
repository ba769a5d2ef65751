// Package geojson writes features with areas as GeoJSON after RFC 7946
// (Butler and others 2016).
//
// The caller gives longitude and latitude on WGS 84 in degrees and keeps the
// order of features, properties and members; the writer looks after the
// standard's rules: no crs member, shells counter-clockwise and holes
// clockwise (3.1.6), closed rings, areas cut at the antimeridian (3.1.9), a
// bbox whose west is greater than its east where it spans the antimeridian
// (5.2), seven decimals (about 1 cm; section 11.2 speaks of six).
//
// An edge is a straight line in longitude and latitude; the caller makes long
// edges of projected areas dense. An edge of more than 180° of longitude is
// read as going the other, shorter way round. A ring round a pole is
// understood: the pole, if it lies inside, becomes part of the area.
//
// Missing values: a number that is NaN or infinite is written as null, and so
// is a geometry with no area left after rounding.
//
// Geometry is not repaired: what is valid stays valid.
package geojson

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"iter"
	"math"
	"slices"
	"strconv"
)

// Position is a longitude and a latitude in degrees, WGS 84.
type Position [2]float64

// Ring is a closed line; whether its first position is repeated at the end
// does not matter, nor which way it runs.
type Ring []Position

// Polygon is a shell and its holes.
type Polygon []Ring

// MultiPolygon is an area of any number of parts.
type MultiPolygon []Polygon

// Property is a name and its value: nil, a string, a bool, an integer, a
// float, or whatever else encoding/json writes.
type Property struct {
	Name  string
	Value any
}

// Feature is an area and what is known of it.
type Feature struct {
	Properties []Property // written in this order; names must differ
	Geometry   MultiPolygon
}

// Collection is what Write writes.
type Collection struct {
	Members  []Property // further members of the collection, such as a title
	Features iter.Seq2[Feature, error]
}

// Features gives features that are already there to a Collection.
func Features(features ...Feature) iter.Seq2[Feature, error] {
	return func(yield func(Feature, error) bool) {
		for _, f := range features {
			if !yield(f, nil) {
				return
			}
		}
	}
}

// Write writes a collection, one feature a line. Features are asked for one
// by one and not kept. It stops at the first error: one that comes with a
// feature, a coordinate that is no number or beyond a pole, a name used
// twice, or one of w's own.
func Write(w io.Writer, c Collection) error {
	e := &encoder{w: bufio.NewWriter(w)}
	if err := e.collection(c); err != nil {
		return fmt.Errorf("geojson: %w", err)
	}
	if err := e.w.Flush(); err != nil {
		return fmt.Errorf("geojson: %w", err)
	}
	return nil
}

// encoder writes; b is the line that is being put together.
type encoder struct {
	w   *bufio.Writer
	b   []byte
	all bounds
}

func (e *encoder) collection(c Collection) error {
	e.b = append(e.b, `{"type":"FeatureCollection"`...)
	if err := e.members(c.Members); err != nil {
		return err
	}
	e.b = append(e.b, ",\n\"features\":["...)
	n := 0
	for f, err := range c.Features {
		n++
		if err == nil {
			err = e.feature(f, n == 1)
		}
		if err != nil {
			return fmt.Errorf("feature %d: %w", n, err)
		}
	}
	e.b = append(e.b, "\n]"...)
	if box, ok := e.all.box(); ok {
		e.b = append(e.b, ",\n"...)
		e.bbox(box)
	}
	e.b = append(e.b, "}\n"...)
	return e.send()
}

// send hands the bytes so far to the writer.
func (e *encoder) send() error {
	_, err := e.w.Write(e.b)
	e.b = e.b[:0]
	return err
}

// reserved are the names that RFC 7946 gives a meaning, or takes one from.
var reserved = []string{"type", "features", "bbox", "crs", "coordinates", "geometries", "geometry", "properties"}

func (e *encoder) members(members []Property) error {
	for i, m := range members {
		if slices.Contains(reserved, m.Name) {
			return fmt.Errorf("a member cannot be called %q", m.Name)
		}
		if named(members[:i], m.Name) {
			return fmt.Errorf("two members are called %q", m.Name)
		}
		e.b = append(e.b, ",\n"...)
		if err := e.property(m); err != nil {
			return err
		}
	}
	return nil
}

func named(before []Property, name string) bool {
	return slices.ContainsFunc(before, func(p Property) bool { return p.Name == name })
}

func (e *encoder) feature(f Feature, first bool) error {
	if !first {
		e.b = append(e.b, ',')
	}
	e.b = append(e.b, "\n{\"type\":\"Feature\","...)
	area, err := flatten(f.Geometry)
	if err != nil {
		return err
	}
	var b bounds
	for _, p := range area {
		b.add(p[0])
		e.all.add(p[0])
	}
	if box, ok := b.box(); ok {
		e.bbox(box)
		e.b = append(e.b, ',')
	}
	e.b = append(e.b, `"properties":{`...)
	for i, p := range f.Properties {
		if named(f.Properties[:i], p.Name) {
			return fmt.Errorf("two properties are called %q", p.Name)
		}
		if i > 0 {
			e.b = append(e.b, ',')
		}
		if err := e.property(p); err != nil {
			return err
		}
	}
	e.b = append(e.b, `},"geometry":`...)
	e.geometry(area)
	e.b = append(e.b, '}')
	return e.send()
}

// property appends a name and its value.
func (e *encoder) property(p Property) error {
	if err := e.json(p.Name); err != nil {
		return err
	}
	e.b = append(e.b, ':')
	switch v := p.Value.(type) {
	case float64:
		e.float(v, 64)
	case float32:
		e.float(float64(v), 32)
	default:
		if err := e.json(p.Value); err != nil {
			return fmt.Errorf("property %q: %w", p.Name, err)
		}
	}
	return nil
}

// json appends a value as encoding/json writes it, without escapes for HTML.
func (e *encoder) json(v any) error {
	var buf bytes.Buffer
	enc := json.NewEncoder(&buf)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(v); err != nil {
		return err
	}
	e.b = append(e.b, bytes.TrimRight(buf.Bytes(), "\n")...)
	return nil
}

// float appends the shortest number that reads back as v, null where v is
// none.
func (e *encoder) float(v float64, bits int) {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		e.b = append(e.b, "null"...)
		return
	}
	format := byte('f')
	if size := math.Abs(v); size != 0 && (size < 1e-6 || size >= 1e21) {
		format = 'e'
	}
	e.b = strconv.AppendFloat(e.b, v+0, format, -1, bits) // +0: no minus before zero
}

func (e *encoder) bbox(box [4]int64) {
	e.b = append(e.b, `"bbox":[`...)
	for i, v := range box {
		if i > 0 {
			e.b = append(e.b, ',')
		}
		e.b = appendDegrees(e.b, v)
	}
	e.b = append(e.b, ']')
}

func (e *encoder) geometry(area []polygon) {
	switch len(area) {
	case 0:
		e.b = append(e.b, "null"...)
		return
	case 1:
		e.b = append(e.b, `{"type":"Polygon","coordinates":`...)
		e.polygon(area[0])
	default:
		e.b = append(e.b, `{"type":"MultiPolygon","coordinates":`...)
		for i, p := range area {
			e.b = append(e.b, "[,"[min(i, 1)])
			e.polygon(p)
		}
		e.b = append(e.b, ']')
	}
	e.b = append(e.b, '}')
}

func (e *encoder) polygon(p polygon) {
	for i, r := range p {
		e.b = append(e.b, "[,"[min(i, 1)], '[')
		for k := range len(r) + 1 {
			if k > 0 {
				e.b = append(e.b, ',')
			}
			at := r[k%len(r)]
			e.b = appendDegrees(append(e.b, '['), at.lon)
			e.b = appendDegrees(append(e.b, ','), at.lat)
			e.b = append(e.b, ']')
		}
		e.b = append(e.b, ']')
	}
	e.b = append(e.b, ']')
}

// appendDegrees writes a number of 1e-7 degrees.
func appendDegrees(b []byte, v int64) []byte {
	if v < 0 {
		b = append(b, '-')
		v = -v
	}
	b = strconv.AppendInt(b, v/perDegree, 10)
	v %= perDegree
	if v == 0 {
		return b
	}
	b = append(b, '.')
	for unit := int64(perDegree / 10); v > 0; unit /= 10 {
		b = append(b, byte('0'+v/unit))
		v %= unit
	}
	return b
}
