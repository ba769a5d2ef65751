package habitat

import (
	"fmt"
	"io"
	"math"
	"strings"

	"likelyground/habitat/hotspot"
	"likelyground/raster/crs"
	"likelyground/raster/patch"
	"likelyground/raster/pipe"
	"likelyground/vector/geojson"
)

// spots are the ranked areas of a run.
type spots struct {
	list   []Spot
	search hotspot.Account
	phone  *accountPhone // what the copy for a phone leaves out; nil without one
}

func (s *spots) areaHa() float64 {
	var sum float64
	for _, h := range s.list {
		sum += h.AreaHa
	}
	return sum
}

// begin returns how many of the first areas together hold half of all ha ×
// score, at most three: where to start.
func (s *spots) begin() int {
	var all, sum float64
	for _, h := range s.list {
		all += float64(h.AreaHa * h.Mean)
	}
	for i, h := range s.list {
		sum += float64(h.AreaHa * h.Mean)
		if sum >= all/2 || i == 2 {
			return i + 1
		}
	}
	return 0
}

// answer says in one line what the run found.
func (s *spots) answer() string {
	if len(s.list) == 0 {
		return "Nothing to walk yet: " + s.search.Advice() + "."
	}
	if len(s.list) == 1 {
		return fmt.Sprintf("1 area, %s.", areaWords(s.areaHa()))
	}
	first := []string{"1", "1 and 2", "1, 2 and 3"}[s.begin()-1]
	return fmt.Sprintf("%d areas, %s together. Start with %s.", len(s.list), areaWords(s.areaHa()), first)
}

// areaWords writes an area for people, small ones with their decimals.
func areaWords(ha float64) string {
	if ha < 10 {
		return fmt.Sprintf("%.2g ha", ha)
	}
	return fmt.Sprintf("%.0f ha", ha)
}

// hotspotRule is the plan's rule in the words of package hotspot.
func (d *desk) hotspotRule() hotspot.Rule {
	h := d.plan.Hotspots
	return hotspot.Rule{From: h.From, LeastHa: h.Least / 1e4, OrLength: h.OrLength, Most: h.Most, CellX: d.grid.DXm(), CellY: d.grid.DYm()}
}

// rank joins the patches of all tiles and ranks them.
func (r *run) rank() error {
	if r.results.patches == nil {
		return nil
	}
	solved, err := r.results.patches.Solve()
	if err != nil {
		return err
	}
	names := make([]string, len(r.desk.plan.Factors))
	for i, f := range r.desk.plan.Factors {
		names[i] = f.Name
	}
	found, err := hotspot.Rank(solved, names, r.desk.hotspotRule())
	if err != nil {
		return err
	}
	r.spots = &spots{search: found.Account}
	r.spots.list, err = r.explainSpots(solved, found.Hotspots)
	return err
}

// longest is how long, in metres, an edge may be that is drawn as one
// straight line of longitude and latitude.
const longest = 500

// writeHotspots writes the ranked areas as GeoJSON.
func (r *run) writeHotspots(w io.Writer) error {
	list := r.spots.list
	features := make([]geojson.Feature, len(list))
	err := pipe.Each(r.ctx, len(list), r.Threads, func(i int) error {
		t, err := r.desk.toLonLat.Open()
		if err != nil {
			return err
		}
		defer t.Close()
		features[i] = r.desk.feature(&list[i], t)
		return nil
	})
	if err != nil {
		return err
	}
	return geojson.Write(w, geojson.Collection{Features: geojson.Features(features...)})
}

// findLonLat finds the way from the grid to longitude and latitude, which
// ranked areas are written in.
func (d *desk) findLonLat() error {
	if !d.plan.Outputs.Areas() {
		return nil
	}
	w, s, e, n := d.grid.Bounds()
	box, err := crs.UsableBox(d.grid.CRS, w, s, e, n)
	if err != nil {
		return err
	}
	d.toLonLat, err = crs.Choose(d.grid.CRS, "OGC:CRS84", box, crs.Options{})
	if err == nil {
		return nil
	}
	return d.plan.PointAt(d.plan.Grid.Pos, fmt.Sprintf("hotspots are written in longitude and latitude, which cannot be found from the grid's CRS (%s): %v", d.grid.info.Name, err),
		"choose a CRS with a known datum for the grid, or say outputs: [score, factors]")
}

// feature is one ranked area for GeoJSON.
func (d *desk) feature(s *Spot, t *crs.Transformer) geojson.Feature {
	f := geojson.Feature{Geometry: d.lonLat(s.Outline, t)}
	for _, p := range s.Properties() {
		f.Properties = append(f.Properties, geojson.Property(p))
	}
	return f
}

func rounded(v float64, digits int) float64 {
	p := math.Pow10(digits)
	return math.Round(v*p) / p
}

// lonLat turns an outline along cell edges into longitude and latitude.
func (d *desk) lonLat(o patch.Outline, t *crs.Transformer) geojson.MultiPolygon {
	var out geojson.MultiPolygon
	for _, p := range o {
		polygon := geojson.Polygon{d.ringLonLat(p.Shell, longest, t)}
		for _, hole := range p.Holes {
			polygon = append(polygon, d.ringLonLat(hole, longest, t))
		}
		out = append(out, polygon)
	}
	return out
}

// ringLonLat transforms a closed ring, with long edges cut into pieces that
// are straight enough in longitude and latitude.
func (d *desk) ringLonLat(ring patch.Ring, longest float64, t *crs.Transformer) geojson.Ring {
	var x, y []float64
	for i, c := range ring {
		next := ring[(i+1)%len(ring)]
		dc, dr := float64(next.Col-c.Col), float64(next.Row-c.Row)
		pieces := max(1, int(math.Ceil(math.Hypot(dc*d.grid.DXm(), dr*d.grid.DYm())/longest)))
		for k := range pieces {
			at := float64(k) / float64(pieces)
			px, py := d.grid.Position(float64(c.Col)+at*dc, float64(c.Row)+at*dr)
			x, y = append(x, px), append(y, py)
		}
	}
	t.Forward(x, y)
	out := make(geojson.Ring, 0, len(x)+1)
	for i := range x {
		out = append(out, geojson.Position{x[i], y[i]})
	}
	return append(out, out[0])
}

// words for a list in a sentence.
func andList(names []string) string {
	if len(names) < 2 {
		return strings.Join(names, "")
	}
	return strings.Join(names[:len(names)-1], ", ") + " and " + names[len(names)-1]
}
