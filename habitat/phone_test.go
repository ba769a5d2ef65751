package habitat

import (
	"bytes"
	"context"
	"encoding/xml"
	"fmt"
	"slices"
	"strings"
	"testing"

	"likelyground/habitat/hotspot"
	"likelyground/habitat/plan"
	"likelyground/raster"
	"likelyground/raster/crs"
	"likelyground/raster/patch"
)

// comb is an outline with many teeth: 4 corners a tooth, each as deep as it is
// wide, so that little of it can be simplified.
func comb(col, row, teeth, deep int32) patch.Outline {
	var ring patch.Ring
	for i := range teeth {
		c := col + 2*deep*i
		ring = append(ring, patch.Corner{Col: c, Row: row}, patch.Corner{Col: c, Row: row + deep}, patch.Corner{Col: c + deep, Row: row + deep}, patch.Corner{Col: c + deep, Row: row})
	}
	ring = append(ring, patch.Corner{Col: col + 2*deep*teeth, Row: row}, patch.Corner{Col: col + 2*deep*teeth, Row: row - deep}, patch.Corner{Col: col, Row: row - deep})
	return patch.Outline{{Shell: ring}}
}

// many is a run that found so many areas, each with a wild outline.
func many(t *testing.T, n int) *run {
	t.Helper()
	g := &ground{Grid: raster.Grid{CRS: "EPSG:25831", X0: 400000, Y0: 6200000, DX: 10, DY: 10, Cols: 20000, Rows: 20000}, metres: 1}
	box, err := crs.UsableBox(g.CRS, 400000, 6000000, 600000, 6200000)
	if err != nil {
		t.Fatal(err)
	}
	way, err := crs.Choose(g.CRS, "OGC:CRS84", box, crs.Options{})
	if err != nil {
		t.Fatal(err)
	}
	r := &run{ctx: context.Background(), Options: Options{Threads: 2}, spots: &spots{}}
	r.desk = &desk{plan: &plan.Plan{Title: "Many", Factors: []plan.Factor{{Name: "acid soil"}}}, grid: g, toLonLat: way}
	for i := range n {
		col, row := 100+i%100*190, 100+i/100*190
		at := patch.Cell{Col: col + 1, Row: row - 1}
		r.spots.list = append(r.spots.list, Spot{Go: at, Lon: 2, Lat: 55, Hotspot: hotspot.Hotspot{
			Rank: i + 1, AreaHa: 3.2, Mean: 0.87, Max: 0.9, Point: at, Outline: comb(int32(col), int32(row), 40, 2),
			Factors: []hotspot.FactorMean{{Name: "acid soil", Mean: 0.9, Known: 1}},
		}})
	}
	return r
}

// Ten thousand areas with 163 corners each make a file that a phone can hold,
// and it says what it leaves out.
func TestPhoneOfManyAreas(t *testing.T) {
	r := many(t, 10000)
	var b bytes.Buffer
	if err := r.writeGPX(&b); err != nil {
		t.Fatal(err)
	}
	if b.Len() > 6<<20 {
		t.Errorf("%d bytes are too many for a phone", b.Len())
	}
	var got struct {
		Desc  string   `xml:"metadata>desc"`
		Names []string `xml:"wpt>name"`
		Lines []struct {
			Desc     string `xml:"desc"`
			Segments []struct {
				Points []struct{} `xml:"trkpt"`
			} `xml:"trkseg"`
		} `xml:"trk"`
	}
	if err := xml.Unmarshal(b.Bytes(), &got); err != nil {
		t.Fatal(err)
	}
	if len(got.Names) != mostWaypoints || len(got.Lines) != mostOutlines || !slices.IsSorted(got.Names) {
		t.Errorf("%d waypoints, %d outlines, sorted: %v", len(got.Names), len(got.Lines), slices.IsSorted(got.Names))
	}
	points := 0
	for _, l := range got.Lines {
		for _, s := range l.Segments {
			points += len(s.Points) - 1
		}
	}
	if points > mostLinePoints || points == 0 {
		t.Errorf("the outlines have %d points", points)
	}
	if got.Names[0] != "00001 0.87 3.2 ha" {
		t.Errorf("the first is called %q", got.Names[0])
	}
	off := r.spots.phone.Off
	if off <= 10 { // one cell does not do for so many points
		t.Errorf("off by %v m", off)
	}
	for _, want := range []string{"Only the first 1000 of 10000 areas are here.", fmt.Sprintf("Outlines, of the first 500 alone, are drawn with few points, at most %g m off.", off), "never eat a find"} {
		if !strings.Contains(got.Desc, want) {
			t.Errorf("it does not say %q:\n%s", want, got.Desc)
		}
	}
}

// A few areas keep their corners to within a cell.
func TestPhoneOfFewAreas(t *testing.T) {
	r := many(t, 3)
	var b bytes.Buffer
	if err := r.writeGPX(&b); err != nil {
		t.Fatal(err)
	}
	if got := *r.spots.phone; got != (accountPhone{3, 3, 10}) {
		t.Errorf("%+v", got)
	}
	if n := strings.Count(b.String(), "<trkpt"); n < 3*4*30 || n > 3*(4*40+3+1) { // most of the corners
		t.Errorf("%d points", n)
	}
}
