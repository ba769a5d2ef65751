package start

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"likelyground/habitat"
)

// Comparison sets what the maps say at places beside what they say of the
// whole ground. It holds no place.
type Comparison struct {
	Places  int            `json:"places"`
	Outside int            `json:"outside"` // of the ground that the plan rates
	Cells   int            `json:"cells"`   // of the grid that hold the others
	ReadAs  string         `json:"read_as"`
	Layers  []LayerCompare `json:"layers"`

	outsideLines []int
}

// LayerCompare is one layer at the places and on the ground. Of a quantity
// Here and Ground are given, of classes Classes.
type LayerCompare struct {
	Name    string         `json:"name"`
	Unit    string         `json:"unit,omitempty"`
	Known   int            `json:"known"` // cells of places where the layer is known
	Here    *five          `json:"places,omitempty"`
	Ground  *five          `json:"ground,omitempty"`
	Span    *float64       `json:"ground_within_span,omitempty"` // share of the ground between the lowest and the highest place
	Blind   *float64       `json:"expected_blindly,omitempty"`   // the same, to be expected of as many places picked blindly
	Curve   string         `json:"curve,omitempty"`              // suggested
	Classes []ClassCompare `json:"classes,omitempty"`

	low, high float64 // of the places, for a suggestion
}

// ClassCompare is one class.
type ClassCompare struct {
	Name   string   `json:"name"`
	Here   int      `json:"places"` // cells of places
	Share  float64  `json:"places_share"`
	Ground float64  `json:"ground_share"`
	Score  *float64 `json:"score,omitempty"` // suggested

	code int32
}

// leastPlaces is of how many cells the plan says anything, so that nothing in
// it describes one place; fewPlaces is up to how many little is proved.
const (
	leastPlaces = 3
	fewPlaces   = 10
)

// compare sets the places beside the ground. Places that share a cell count
// once.
func (s *starting) compare() *Comparison {
	t, h := s.places, s.held
	c := &Comparison{Places: len(t.rows), ReadAs: t.readAs(), Layers: []LayerCompare{}}
	var first []int // of each cell, one of its places
	seen := map[int64]bool{}
	for i, cell := range h.Cell {
		switch {
		case cell < 0:
			c.Outside++
			c.outsideLines = append(c.outsideLines, t.rows[i].line)
		case !seen[cell]:
			seen[cell] = true
			first = append(first, i)
		}
	}
	c.Cells = len(first)
	for _, name := range s.layerNames() {
		if l := s.holding(name); l != nil && l.Known {
			c.Layers = append(c.Layers, s.compareLayer(*l, first))
		}
	}
	s.tellPlaces(c)
	return c
}

func (t *placeTable) readAs() string {
	switch {
	case t.metres:
		return "easting and northing in " + t.system
	case t.rows[0].place.CRS != "":
		return "grid references"
	}
	return "longitude and latitude"
}

// tellPlaces warns of what the table alone does not show.
func (s *starting) tellPlaces(c *Comparison) {
	t := s.places
	switch {
	case c.Outside == c.Places:
		s.warn("none of the %d places lies on the ground that the plan rates, so nothing can be compared: they were read as %s; see that longitude or easting stands in its own column, and that the maps cover your places", c.Places, c.ReadAs)
	case c.Outside > 0:
		why := ""
		if s.where.cut {
			why = "; the area was cut to what is computed in minutes, so widen it in the plan if they matter"
		}
		s.warn("%s outside the ground that the plan rates, and %s left out (line %s of the table)%s", plural(c.Outside, "place lies", "places lie"), isAre(c.Outside), lineList(c.outsideLines), why)
	}
	if t.empty > 0 {
		s.warn("%s of the table without coordinates", plural(t.empty, "line", "lines"))
	}
	if cell := s.held.CellX; t.side > 5*cell {
		s.warn("some places are squares of %s, far larger than a cell of the grid: their middle was taken, which may be other ground", metresWords(t.side))
	}
	if n := c.Places - c.Outside - c.Cells; n > 0 {
		s.warn("%s a cell with another one, and counted once with it", plural(n, "place shares", "places share"))
	}
}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

func isAre(n int) string {
	if n == 1 {
		return "is"
	}
	return "are"
}

func lineList(lines []int) string {
	const most = 8
	var out []string
	for _, l := range lines[:min(len(lines), most)] {
		out = append(out, fmt.Sprint(l))
	}
	text := strings.Join(out, ", ")
	if more := len(lines) - most; more > 0 {
		text += fmt.Sprintf(" and %d more", more)
	}
	return text
}

// unitOf is the unit of a layer's values.
func (s *starting) unitOf(layer string) string {
	for _, p := range s.maps {
		if p.name == layer {
			return unquote(valueOf(p.Lines, "unit"))
		}
	}
	for _, d := range s.derived() {
		if d.name == layer {
			return d.unit
		}
	}
	return ""
}

// layerNames are the layers in the order of the plan.
func (s *starting) layerNames() []string {
	var out []string
	for _, p := range s.maps {
		out = append(out, p.name)
	}
	for _, d := range s.derived() {
		out = append(out, d.name)
	}
	return out
}

// canBe is what the values of a layer can be.
func (s *starting) canBe(name string) [2]float64 {
	for _, d := range s.derived() {
		if d.name == name {
			return d.can
		}
	}
	switch s.unitOf(name) {
	case "pH":
		return [2]float64{0, 14}
	case "percent":
		return [2]float64{0, 100}
	}
	return [2]float64{math.Inf(-1), math.Inf(1)}
}

func (s *starting) compareLayer(l habitat.LayerHolding, places []int) LayerCompare {
	out := LayerCompare{Name: l.Name, Unit: s.unitOf(l.Name)}
	if l.Classes != nil {
		out.compareClasses(l, places)
		return out
	}
	var here []float32
	for _, i := range places {
		if l.At[i].Known {
			here = append(here, l.At[i].Value)
		}
	}
	slices.Sort(here)
	out.Known, out.Here, out.Ground = len(here), fiveOf(here), fiveOf(l.Values)
	if n := len(here); n >= leastPlaces && out.Ground != nil {
		out.low, out.high = float64(here[0]), float64(here[n-1])
		span := within(l.Values, here[0], here[n-1])
		blind := float64(n-1) / float64(n+1) // mean cover of a span of order statistics; see doc of suggest
		out.Span, out.Blind = &span, &blind
		out.suggest(here, newSpread(l.Values), s.canBe(l.Name))
	}
	return out
}

// suggest draws a curve that favours ground like that of the places: of ten
// places or more the tenth at either end is left out. n places picked blindly
// span on average (n-1)/(n+1) of the ground (the mean range of n uniform order
// statistics; from memory), so a span of about that share says nothing.
func (l *LayerCompare) suggest(here []float32, ground spreadOf, can [2]float64) {
	low, high := here[0], here[len(here)-1]
	if len(here) >= fewPlaces {
		low, high = quantile(here, 0.1), quantile(here, 0.9)
	}
	if !ground.flat() {
		l.Curve = ground.like(float64(low), float64(high), can)
	}
}

// within is the share of values from low to high.
func within(values []float32, low, high float32) float64 {
	n := 0
	for _, v := range values {
		if v >= low && v <= high {
			n++
		}
	}
	return float64(n) / float64(len(values))
}

func (l *LayerCompare) compareClasses(h habitat.LayerHolding, places []int) {
	count := map[int32]int{}
	for _, i := range places {
		if h.At[i].Known {
			count[h.At[i].Code]++
			l.Known++
		}
	}
	for _, c := range h.Classes {
		n := count[c.Code]
		out := ClassCompare{Name: c.Name, Here: n, Ground: c.Share, code: c.Code}
		if l.Known > 0 {
			out.Share = float64(n) / float64(l.Known)
		}
		if n > 0 && l.Known >= leastPlaces {
			out.Score = scoreOf(out.Share, c.Share)
		}
		l.Classes = append(l.Classes, out)
	}
	slices.SortStableFunc(l.Classes, func(a, b ClassCompare) int { return b.Here - a.Here })
}

// scoreOf suggests a score for a class that places have: 1 where they have it
// at least as often as the ground, less where they have it more rarely.
func scoreOf(here, ground float64) *float64 {
	score := 1.0
	switch {
	case here < ground/2:
		score = 0.6
	case here < ground:
		score = 0.8
	}
	return &score
}
