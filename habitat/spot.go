package habitat

import (
	"fmt"
	"math"
	"strings"

	"likelyground/habitat/hotspot"
	"likelyground/raster/patch"
)

// Spot is a ranked area with all that the outputs say of it. Every file takes
// its numbers from here, or, rounded and named, from Properties.
type Spot struct {
	hotspot.Hotspot

	// Go is the cell to go to first: in the best known hectare where there is
	// one, else the inner point; GoKnown tells which. Lon, Lat and Reference
	// are of its centre; Reference is "" where no grid of letters reaches.
	Go        patch.Cell
	GoKnown   bool
	Lon, Lat  float64
	Reference string

	Coverage  float64          // mean known share of the weight, 0..1
	MeanKnown float64          // mean score where every factor with weight is known; NaN where that is nowhere
	Hectare   *hotspot.Hectare // the best known one; nil where nothing is known throughout or the area is too large to look
	HectareHa float64          // area of the hotspot's known cells in it, in the plane of the grid

	LimitedBy []string  // the factors that keep the score lowest at the area's means
	NotKnown  []Unknown // the factors with weight that are missing on some of it, in the plan's order
	Steepest  *float64  // degrees; nil without a layer of slopes, NaN where it is missing throughout
	WetShare  *float64  // share of hollows; nil without a layer of hollow depth, NaN where it is missing throughout
	Coarse    []Coarse  // maps that decide and whose cells are larger than the area
	Why       string    // in one line
}

// Unknown is a factor that is missing on a share of an area.
type Unknown struct {
	Factor string
	Share  float64 // 0..1, above 0
}

// Coarse is a map too coarse for an area that it decides.
type Coarse struct {
	Map    string
	SideM  float64 // of its cells
	CellHa float64
}

// Property is one value that outputs give of an area: a number, a text, or
// nil where it is not known.
type Property struct {
	Name  string
	Value any
}

// Properties are what every file says of an area, in this order, rounded as
// all files show them.
func (s *Spot) Properties() []Property {
	list := []Property{
		{"rank", s.Rank},
		{"area_ha", rounded(s.AreaHa, 4)},
		{"length_m", rounded(s.Length, 1)},
		{"mean", rounded(s.Mean, 4)},
		{"max", rounded(s.Max, 4)},
		{"mean_known", orNil(s.MeanKnown, 4)},
		{"coverage", rounded(s.Coverage, 4)},
		{"point", []float64{rounded(s.Lon, 7), rounded(s.Lat, 7)}},
		{"grid_reference", textOrNil(s.Reference)},
		{"best_hectare_mean", nil},
		{"best_hectare_ha", nil},
		{"why", s.Why},
		{"limited_by", textOrNil(andList(s.LimitedBy))},
		{"not_known", textOrNil(s.notKnownWords())},
		{"coarse_maps", textOrNil(s.coarseWords())},
	}
	if s.Hectare != nil {
		list[9].Value, list[10].Value = rounded(s.Hectare.Mean, 4), rounded(s.HectareHa, 4)
	}
	if s.Steepest != nil {
		list = append(list, Property{"steepest_deg", orNil(*s.Steepest, 1)})
	}
	if s.WetShare != nil {
		list = append(list, Property{"wet_share", orNil(*s.WetShare, 4)})
	}
	for _, m := range s.Factors {
		list = append(list, Property{m.Name, orNil(m.Mean, 4)})
	}
	return list
}

// told returns a property by its name, nil where it is not known or not given.
func (s *Spot) told(name string) any {
	for _, p := range s.Properties() {
		if p.Name == name {
			return p.Value
		}
	}
	return nil
}

// goWords say where to go first, and how steep it gets on the way.
func (s *Spot) goWords() string {
	text := ""
	if s.Reference != "" && s.GoKnown {
		text = fmt.Sprintf("Go first to %s (mean there %.2f). ", s.Reference, s.Hectare.Mean)
	}
	if s.Steepest != nil && *s.Steepest == *s.Steepest {
		text += fmt.Sprintf("Slopes up to %.0f°. ", *s.Steepest)
	}
	return text
}

// orNil rounds a number, or returns nil for one that is missing.
func orNil(v float64, digits int) any {
	if math.IsNaN(v) {
		return nil
	}
	return rounded(v, digits)
}

func textOrNil(text string) any {
	if text == "" {
		return nil
	}
	return text
}

// notKnownWords lists what is missing and on how much of the area.
func (s *Spot) notKnownWords() string {
	var parts []string
	for _, u := range s.NotKnown {
		parts = append(parts, u.Factor+" on "+partOf(u.Share))
	}
	return strings.Join(parts, ", ")
}

func (s *Spot) coarseWords() string {
	var parts []string
	for _, c := range s.Coarse {
		parts = append(parts, c.words())
	}
	return strings.Join(parts, "; ")
}
