// Package gpx writes places and outlines as GPX 1.1
// (http://www.topografix.com/GPX/1/1), which phones and handhelds read.
//
// The caller gives longitude and latitude on WGS 84 in degrees, chooses what
// is written and how finely outlines are drawn; [Simplify] draws them with
// fewer points. The writer looks after the schema's rules: elements in its
// order, bounds, longitudes below 180, and text without characters that XML
// or a small screen cannot bear (package legible). GPX knows no areas: an
// outline is a track whose segments are closed.
//
// Numbers have six decimals, about 0.1 m. No time is written, so the same
// places give the same bytes. A line that crosses the antimeridian is cut
// there into two segments; bounds then go all round the earth.
//
// Missing values: empty texts are left out; a coordinate that is no number or
// beyond a pole is an error.
package gpx

import (
	"bufio"
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"strconv"

	"likelyground/vector/legible"
)

// Point is a longitude and a latitude in degrees, WGS 84.
type Point struct{ Lon, Lat float64 }

// Waypoint is a place with a name.
type Waypoint struct {
	Point
	Name string // one line, which devices sort by
	Desc string // may have several lines
	Type string
}

// Track is a name and lines; those that are outlines end where they begin.
type Track struct {
	Name     string
	Desc     string
	Type     string
	Segments [][]Point
}

// File is what [Write] writes.
type File struct {
	Creator   string // the program; needed
	Name      string
	Desc      string
	Waypoints []Waypoint
	Tracks    []Track
}

// Write writes a file. It returns an error for a coordinate that cannot be
// written and whatever w returns.
func Write(w io.Writer, f File) error {
	box, err := f.bounds()
	if err != nil {
		return fmt.Errorf("gpx: %w", err)
	}
	e := &encoder{w: bufio.NewWriter(w)}
	e.file(f, box)
	if e.err == nil {
		e.err = e.w.Flush()
	}
	if e.err != nil {
		return fmt.Errorf("gpx: %w", e.err)
	}
	return nil
}

// bounds is the smallest box of all points, in 1e-6 degrees.
type bounds struct {
	west, south, east, north int64
	any                      bool
}

func (b *bounds) add(p Point) {
	lon, lat := place(p)
	if !b.any {
		*b = bounds{lon, lat, lon, lat, true}
	}
	b.west, b.east = min(b.west, lon), max(b.east, lon)
	b.south, b.north = min(b.south, lat), max(b.north, lat)
}

func (f File) bounds() (b bounds, err error) {
	for i, p := range f.Waypoints {
		if err := p.check(); err != nil {
			return b, fmt.Errorf("waypoint %d: %w", i+1, err)
		}
		b.add(p.Point)
	}
	for i, t := range f.Tracks {
		for _, s := range t.Segments {
			for _, p := range s {
				if err := p.check(); err != nil {
					return b, fmt.Errorf("track %d: %w", i+1, err)
				}
				b.add(p)
			}
		}
	}
	return b, nil
}

func (p Point) check() error {
	if !(math.Abs(p.Lon) <= 360) || !(math.Abs(p.Lat) <= 90) {
		return fmt.Errorf("longitude %v, latitude %v is no place on earth", p.Lon, p.Lat)
	}
	return nil
}

// round is the earth in 1e-6 degrees.
const round = 360_000_000

// place returns a point in 1e-6 degrees, the longitude from -180 to below 180
// as the schema has it.
func place(p Point) (lon, lat int64) {
	lon = int64(math.Round(p.Lon * 1e6))
	lon = ((lon+round/2)%round+round)%round - round/2
	return lon, int64(math.Round(p.Lat * 1e6))
}

// encoder writes XML, one element a line, and keeps the first error.
type encoder struct {
	w   *bufio.Writer
	err error
}

func (e *encoder) file(f File, box bounds) {
	e.raw(xml.Header)
	e.raw(`<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="`)
	e.escaped(legible.Line(f.Creator))
	e.raw("\">\n<metadata>\n")
	e.text("name", legible.Line(f.Name))
	e.text("desc", legible.Text(f.Desc))
	if box.any {
		e.raw(`<bounds minlat="` + degrees(box.south) + `" minlon="` + degrees(box.west) +
			`" maxlat="` + degrees(box.north) + `" maxlon="` + degrees(box.east) + "\"/>\n")
	}
	e.raw("</metadata>\n")
	for _, p := range f.Waypoints {
		e.point("wpt", p.Point)
		e.raw("\n")
		e.text("name", legible.Line(p.Name))
		e.text("desc", legible.Text(p.Desc))
		e.text("type", legible.Line(p.Type))
		e.raw("</wpt>\n")
	}
	for _, t := range f.Tracks {
		e.track(t)
	}
	e.raw("</gpx>\n")
}

func (e *encoder) track(t Track) {
	e.raw("<trk>\n")
	e.text("name", legible.Line(t.Name))
	e.text("desc", legible.Text(t.Desc))
	e.text("type", legible.Line(t.Type))
	for _, s := range t.Segments {
		for _, part := range cut(s) {
			e.raw("<trkseg>\n")
			for _, p := range part {
				e.point("trkpt", p)
				e.raw("</trkpt>\n")
			}
			e.raw("</trkseg>\n")
		}
	}
	e.raw("</trk>\n")
}

// point opens an element that stands at a place.
func (e *encoder) point(name string, p Point) {
	lon, lat := place(p)
	e.raw("<" + name + ` lat="` + degrees(lat) + `" lon="` + degrees(lon) + `">`)
}

func (e *encoder) text(name, s string) {
	if s == "" {
		return
	}
	e.raw("<" + name + ">")
	e.escaped(s)
	e.raw("</" + name + ">\n")
}

func (e *encoder) escaped(s string) {
	if e.err == nil {
		e.err = xml.EscapeText(e.w, []byte(s))
	}
}

func (e *encoder) raw(s string) {
	if e.err == nil {
		_, e.err = e.w.WriteString(s)
	}
}

// degrees writes a number of 1e-6 degrees.
func degrees(v int64) string { return strconv.FormatFloat(float64(v)/1e6, 'f', -1, 64) }

// last is the easternmost longitude that can be written.
const last = 180 - 1e-6

// cut cuts a line where it crosses the antimeridian.
func cut(line []Point) [][]Point {
	var out [][]Point
	var part []Point
	for i, p := range line {
		if i > 0 && math.Abs(p.Lon-line[i-1].Lon) > 180 {
			a := line[i-1]
			turn := math.Copysign(360, a.Lon) // p seen from a's side
			at := (math.Copysign(180, a.Lon) - a.Lon) / (p.Lon + turn - a.Lon)
			lat := a.Lat + float64(at*(p.Lat-a.Lat))
			out = append(out, append(part, Point{side(a.Lon), lat}))
			part = []Point{{side(p.Lon), lat}}
		}
		part = append(part, p)
	}
	return append(out, part)
}

// side returns the end of the map on the side of a longitude.
func side(lon float64) float64 {
	if lon > 0 {
		return last
	}
	return -180
}
