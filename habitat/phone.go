package habitat

import (
	"fmt"
	"io"
	"math"
	"strings"

	"likelyground/raster/crs"
	"likelyground/raster/patch"
	"likelyground/raster/pipe"
	"likelyground/vector/gpx"
)

// What a phone or handheld is asked to carry at the most: beyond some thousand
// places and some ten thousand points of lines such devices become slow or
// leave out what comes last (common experience, no source).
const (
	mostWaypoints  = 1000
	mostOutlines   = 500
	mostLinePoints = 60000 // of all outlines together
	mostOfOutline  = 500   // of one of them
	phoneFine      = 5.0   // metres that a phone does not know its place by
	phoneEdge      = 5000  // metres that an edge may be long without points between
)

// accountPhone tells how the copy for a phone differs from the exact areas.
type accountPhone struct {
	Waypoints int     `json:"waypoints"`
	Outlines  int     `json:"outlines"`
	Off       float64 `json:"outlines_off_by_at_most_m"`
}

// writeGPX writes the ranked areas for a phone: a waypoint where to go
// first in each, and outlines as closed tracks, drawn with fewer points.
func (r *run) writeGPX(w io.Writer) error {
	d, list := r.desk, r.spots.list
	points := list[:min(len(list), mostWaypoints)]
	outlined := points[:min(len(points), mostOutlines)]
	f := gpx.File{Creator: "likelyground", Name: d.plan.Title, Waypoints: make([]gpx.Waypoint, len(points)), Tracks: make([]gpx.Track, len(outlined))}
	if f.Name == "" {
		f.Name = d.plan.Subject
	}
	off := make([]float64, len(outlined))
	err := pipe.Each(r.ctx, len(points), r.Threads, func(i int) error {
		t, err := d.toLonLat.Open()
		if err != nil {
			return err
		}
		defer t.Close()
		f.Waypoints[i] = d.waypoint(&list[i], r.spots)
		if i < len(outlined) {
			f.Tracks[i], off[i] = d.track(&list[i], len(list), mostLinePoints/len(outlined), t)
		}
		return nil
	})
	if err != nil {
		return err
	}
	r.spots.phone = &accountPhone{Waypoints: len(points), Outlines: len(outlined)}
	for _, o := range off {
		r.spots.phone.Off = max(r.spots.phone.Off, rounded(o, 1))
	}
	f.Desc = d.phoneWords(r.spots)
	return gpx.Write(w, f)
}

// phoneWords say what the file holds, what it leaves out, and the cautions.
func (d *desk) phoneWords(s *spots) string {
	lines := []string{s.answer()}
	n := len(s.list)
	if s.phone.Waypoints < n {
		lines = append(lines, fmt.Sprintf("Only the first %d of %d areas are here.", s.phone.Waypoints, n))
	}
	if s.phone.Outlines > 0 {
		which := "Outlines"
		if s.phone.Outlines < n {
			which = fmt.Sprintf("Outlines, of the first %d alone,", s.phone.Outlines)
		}
		lines = append(lines, fmt.Sprintf("%s are drawn with few points, at most %g m off.", which, s.phone.Off))
	}
	lines = append(lines, Cautions...)
	for _, c := range d.credits() {
		lines = append(lines, "Map "+c)
	}
	return strings.Join(lines, "\n")
}

// rankWords writes a rank so that names sort by it.
func rankWords(rank, of int) string {
	return fmt.Sprintf("%0*d", max(2, len(fmt.Sprint(of))), rank)
}

// phoneName names an area in few letters: rank, mean score, size.
func phoneName(h *Spot, of int) string {
	return fmt.Sprintf("%s %.2f %s", rankWords(h.Rank, of), h.Mean, areaWords(h.AreaHa))
}

// start here, then these.
func (s *spots) kind(h *Spot) string {
	if h.Rank <= s.begin() {
		return "start here"
	}
	return "then these"
}

// waypoint is the place to go to first in an area.
func (d *desk) waypoint(h *Spot, s *spots) gpx.Waypoint {
	p := d.placeOf(h)
	lines := []string{
		fmt.Sprintf("Area %d of %d: %s, mean score %.2f, highest %.2f.", h.Rank, len(s.list), areaWords(h.AreaHa), h.Mean, h.Max),
		h.goWords() + h.Why,
		factorWords(h),
	}
	return gpx.Waypoint{Point: gpx.Point{Lon: p.lon, Lat: p.lat}, Name: phoneName(h, len(s.list)), Type: s.kind(h), Desc: strings.Join(append(lines, Cautions...), "\n")}
}

// factorWords tell the means of an area's factors.
func factorWords(h *Spot) string {
	var parts []string
	for _, f := range h.Factors {
		switch {
		case math.IsNaN(f.Mean):
			parts = append(parts, f.Name+" not known")
		case f.Known < 1:
			parts = append(parts, fmt.Sprintf("%s %.2f (not known on %.0f %%)", f.Name, f.Mean, math.Ceil((1-f.Known)*100)))
		default:
			parts = append(parts, fmt.Sprintf("%s %.2f", f.Name, f.Mean))
		}
	}
	return strings.Join(parts, "; ") + "."
}

// track is an area's outline with few points, and how far off it is.
func (d *desk) track(h *Spot, of, share int, t *crs.Transformer) (gpx.Track, float64) {
	rings := outlineRings(h.Outline)
	flat := make([]gpx.Ring, len(rings))
	for i, ring := range rings {
		for _, c := range ring {
			flat[i] = append(flat[i], [2]float64{float64(c.Col) * d.grid.DXm(), -float64(c.Row) * d.grid.DYm()})
		}
	}
	tolerance := max(d.grid.DXm(), d.grid.DYm(), phoneFine)
	s := gpx.Simplify(flat, tolerance, min(mostOfOutline, share))
	out := gpx.Track{Name: phoneName(h, of), Type: "outline", Desc: fmt.Sprintf("Outline of area %d, at most %g m off.", h.Rank, rounded(s.Off, 1))}
	for i, kept := range s.Kept {
		if len(kept) == 0 {
			continue
		}
		ring := make(patch.Ring, len(kept))
		for k, at := range kept {
			ring[k] = rings[i][at]
		}
		var line []gpx.Point
		for _, p := range d.ringLonLat(ring, phoneEdge, t) {
			line = append(line, gpx.Point{Lon: p[0], Lat: p[1]})
		}
		out.Segments = append(out.Segments, line)
	}
	return out, s.Off
}

// outlineRings returns the rings of an outline, the longest shell first.
func outlineRings(o patch.Outline) []patch.Ring {
	var out []patch.Ring
	for _, p := range o {
		out = append(append(out, p.Shell), p.Holes...)
		at := len(out) - 1 - len(p.Holes)
		if len(out[at]) > len(out[0]) {
			out[0], out[at] = out[at], out[0]
		}
	}
	return out
}
