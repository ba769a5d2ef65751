package habitat

import (
	"errors"
	"io"
	"os"
	"path/filepath"

	"likelyground/raster/patch"
	"likelyground/vector/csvw"
	"likelyground/vector/gpkg"
)

// surveyFields are what a walker fills in, a row a visit.
var surveyFields = []gpkg.Field{
	{Name: "rank", Kind: gpkg.Integer}, {Name: "found", Kind: gpkg.Text}, {Name: "count", Kind: gpkg.Integer},
	{Name: "date", Kind: gpkg.Date}, {Name: "minutes", Kind: gpkg.Integer}, {Name: "note", Kind: gpkg.Text},
}

const surveyWords = "To fill in, a row a visit: found (find or blank), count, date, minutes spent looking, note. A blank with its minutes is worth as much as a find. Add rows for further visits."

// writeGeoPackage writes the ranked areas with their exact outlines in the
// grid's own coordinates, the points to go to, and a layer to fill in.
func (r *run) writeGeoPackage(w io.Writer) error {
	file := filepath.Join(r.folder.Scratch(), geopackageFile+".part")
	defer os.Remove(file)
	if err := gpkg.Write(file, r.desk.layers(r.spots)); err != nil {
		return err
	}
	f, err := os.Open(file)
	if err != nil {
		return err
	}
	_, err = io.Copy(w, f)
	return errors.Join(err, f.Close())
}

// layers are the layers of the GeoPackage.
func (d *desk) layers(s *spots) []gpkg.Layer {
	fields := []gpkg.Field{
		{Name: "rank", Kind: gpkg.Integer}, {Name: "begin", Kind: gpkg.Text}, {Name: "area_ha", Kind: gpkg.Real},
		{Name: "length_m", Kind: gpkg.Real}, {Name: "mean", Kind: gpkg.Real}, {Name: "max", Kind: gpkg.Real},
	}
	for _, c := range toldColumns {
		kind := gpkg.Real
		if c.Kind == csvw.Text {
			kind = gpkg.Text
		}
		fields = append(fields, gpkg.Field{Name: c.Name, Kind: kind})
	}
	own := len(fields)
	for _, f := range d.plan.Factors {
		fields = append(fields, gpkg.Field{Name: f.Name, Kind: gpkg.Real})
	}
	about := d.tableWords(s)
	areas := gpkg.Layer{Name: "hotspots", CRS: d.grid.CRS, About: "The ranked areas, their exact outlines along cells.\n" + about, Shape: gpkg.MultiPolygons, Fields: fields}
	points := gpkg.Layer{Name: "points", CRS: d.grid.CRS, About: "Where to go first in each area.\n" + about, Shape: gpkg.Points, Fields: fields[:own]}
	survey := gpkg.Layer{Name: "survey", CRS: d.grid.CRS, About: surveyWords, Shape: gpkg.Points, Fields: surveyFields}
	for i := range s.list {
		h := &s.list[i]
		values := d.ownValues(h, s)
		x, y := d.grid.Position(float64(h.Go.Col)+0.5, float64(h.Go.Row)+0.5)
		at := gpkg.Point{x, y}
		points.Features = append(points.Features, gpkg.Feature{Point: &at, Values: values})
		survey.Features = append(survey.Features, gpkg.Feature{Point: &at, Values: append([]any{h.Rank}, make([]any, len(surveyFields)-1)...)})
		areas.Features = append(areas.Features, gpkg.Feature{Polygons: d.polygons(h.Outline), Values: append(values[:len(values):len(values)], factorValues(h)...)})
	}
	return []gpkg.Layer{areas, points, survey}
}

// ownValues are an area's attributes before its factors.
func (d *desk) ownValues(h *Spot, s *spots) []any {
	out := []any{h.Rank, s.kind(h), rounded(h.AreaHa, 4), rounded(h.Length, 1), rounded(h.Mean, 4), rounded(h.Max, 4)}
	for _, c := range toldColumns {
		out = append(out, h.told(c.Name))
	}
	return out
}

// factorValues are the means of an area's factors, nil where none is known.
func factorValues(h *Spot) []any {
	out := make([]any, len(h.Factors))
	for i, f := range h.Factors {
		if f.Known > 0 {
			out[i] = rounded(f.Mean, 4)
		}
	}
	return out
}

// polygons are an outline in the grid's coordinates.
func (d *desk) polygons(o patch.Outline) [][]gpkg.Ring {
	out := make([][]gpkg.Ring, len(o))
	for i, p := range o {
		for _, ring := range append([]patch.Ring{p.Shell}, p.Holes...) {
			line := make(gpkg.Ring, len(ring))
			for k, c := range ring {
				x, y := d.grid.Position(float64(c.Col), float64(c.Row))
				line[k] = gpkg.Point{x, y}
			}
			out[i] = append(out[i], line)
		}
	}
	return out
}
