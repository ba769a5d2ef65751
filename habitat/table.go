package habitat

import (
	"fmt"
	"io"
	"math"
	"strings"

	"likelyground/vector/csvw"
)

// ownColumns are the columns of the table of ranked areas before those of the
// factors. Their names must stand among plan.Reserved.
var ownColumns = []csvw.Column{
	{Name: "rank", Kind: csvw.Integer, About: "The order of areas: by area × mean, 1 is the best."},
	{Name: "begin", Kind: csvw.Text, About: "\"start here\" for the fewest areas, at most three, that hold half of all area × mean; else \"then these\"."},
	{Name: "area_ha", Kind: csvw.Number, About: "Area on the ellipsoid, in hectares."},
	{Name: "length_m", Kind: csvw.Number, About: "Greatest distance between two points of the area, in metres on the grid."},
	{Name: "mean", Kind: csvw.Number, About: "Plain mean of the cells' scores, 0 to 1."},
	{Name: "max", Kind: csvw.Number, About: "Highest score of a cell, 0 to 1."},
	{Name: "longitude", Kind: csvw.Number, About: "Of the point to go to first: on known ground in the best known hectare, in degrees east on WGS 84."},
	{Name: "latitude", Kind: csvw.Number, About: "Of the same point, in degrees north on WGS 84."},
	{Name: "easting", Kind: csvw.Number, About: "Of the same point, in the grid's own coordinate reference system."},
	{Name: "northing", Kind: csvw.Number, About: "Of the same point, in the grid's own coordinate reference system."},
}

// toldColumns are those of what is told of an area beyond its numbers, of the
// names of Spot.Properties.
var toldColumns = []csvw.Column{
	{Name: "grid_reference", Kind: csvw.Text, About: "Of the same point; never finer than a cell."},
	{Name: "mean_known", Kind: csvw.Number, About: "Mean score where every factor with weight is known, 0 to 1."},
	{Name: "coverage", Kind: csvw.Number, About: "Mean known share of the weight, 0 to 1."},
	{Name: "best_hectare_mean", Kind: csvw.Number, About: "Mean score over the known ground of the best known hectare, 0 to 1."},
	{Name: "best_hectare_ha", Kind: csvw.Number, About: "Known ground of the area in the best known hectare."},
	{Name: "steepest_deg", Kind: csvw.Number, About: "Steepest slope of a cell, in degrees; empty where the plan has no layer of slopes."},
	{Name: "wet_share", Kind: csvw.Number, About: "Share of the area in hollows, 0 to 1; empty where the plan has no layer of hollow depth."},
	{Name: "limited_by", Kind: csvw.Text, About: "The factor that keeps the score lowest."},
	{Name: "not_known", Kind: csvw.Text, About: "Factors with weight that are missing, and on how much of the area."},
	{Name: "coarse_maps", Kind: csvw.Text, About: "Maps that decide although one of their cells is larger than the area."},
	{Name: "why", Kind: csvw.Text, About: "Why the area scores as it does, in one line."},
}

// table is the ranked areas, a row each.
func (r *run) table() (csvw.Table, error) {
	d := r.desk
	t := csvw.Table{File: csvFile, Title: d.plan.Title, Key: "rank", Columns: append([]csvw.Column(nil), ownColumns...), About: d.tableWords(r.spots)}
	t.Columns = append(t.Columns, toldColumns...)
	for i, f := range d.plan.Factors {
		t.Columns = append(t.Columns, csvw.Column{Name: fmt.Sprintf("factor_%d", i+1), Title: f.Name, Kind: csvw.Number, About: "Mean score of the factor over the area's cells where it is known, 0 to 1; empty where it is known nowhere."})
	}
	for i, f := range d.plan.Factors {
		t.Columns = append(t.Columns, csvw.Column{Name: fmt.Sprintf("known_%d", i+1), Title: f.Name + " known", Kind: csvw.Number, About: "Share of the area's cells where the factor is known, 0 to 1."})
	}
	for i := range r.spots.list {
		t.Rows = append(t.Rows, d.tableRow(&r.spots.list[i], r.spots))
	}
	return t, nil
}

func (d *desk) tableRow(h *Spot, s *spots) []any {
	p := d.placeOf(h)
	row := []any{h.Rank, s.kind(h), rounded(h.AreaHa, 4), rounded(h.Length, 1), rounded(h.Mean, 4), rounded(h.Max, 4),
		rounded(p.lon, 7), rounded(p.lat, 7), rounded(p.x, d.coordinateDigits()), rounded(p.y, d.coordinateDigits())}
	for _, c := range toldColumns {
		row = append(row, h.told(c.Name))
	}
	for _, f := range h.Factors {
		row = append(row, rounded(f.Mean, 4))
	}
	for _, f := range h.Factors {
		row = append(row, rounded(f.Known, 4))
	}
	return row
}

// place is a point in the grid's coordinates and on the earth.
type place struct{ x, y, lon, lat float64 }

// placeOf returns the point to go to first in an area.
func (d *desk) placeOf(h *Spot) place {
	x, y := d.grid.Position(float64(h.Go.Col)+0.5, float64(h.Go.Row)+0.5)
	return place{x, y, h.Lon, h.Lat}
}

// coordinateDigits is how many decimals a coordinate of the grid needs for a
// centimetre.
func (d *desk) coordinateDigits() int {
	return max(0, int(math.Ceil(2+math.Log10(d.grid.metres))))
}

func (d *desk) tableWords(s *spots) string {
	lines := []string{s.answer(), "The grid's coordinate reference system: " + d.grid.info.Name + "."}
	if d.grid.info.ID != "" {
		lines[1] = "The grid's coordinate reference system: " + d.grid.info.ID + " (" + d.grid.info.Name + ")."
	}
	lines = append(lines, Cautions...)
	for _, c := range d.credits() {
		lines = append(lines, "Map "+c)
	}
	return strings.Join(lines, "\n")
}

// writeTable writes the ranked areas as CSV.
func (r *run) writeTable(w io.Writer) error {
	t, err := r.table()
	if err != nil {
		return err
	}
	return csvw.Write(w, t)
}

// writeTableWords writes what the columns of the table hold.
func (r *run) writeTableWords(w io.Writer) error {
	t, err := r.table()
	if err != nil {
		return err
	}
	return csvw.Describe(w, t)
}
