package start

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"likelyground/habitat"
	"likelyground/habitat/look"
	"likelyground/habitat/plan"
	"likelyground/raster/crs"
)

// ground is a grid and the box of ground to rate.
type ground struct {
	like   *part   // nil for a grid of its own
	crs    string  // a code
	cell   float64 // of an explicit grid, metres; of like, about the same
	metres float64 // in a unit of crs
	why    string

	all     look.Box // where all maps lie, in crs
	box     look.Box // what of it is rated
	cut     bool     // box is smaller than all
	outline bool     // the area is that of a file
}

const (
	// mostCells bounds the first area: it is read within a minute or two.
	mostCells = 16e6
	// leastCell is the smallest cell proposed, in metres: ground is not
	// scored better by finer ones, and the area shrinks with them.
	leastCell = 5.0
)

// settle chooses grid and area, works the plan out with curves that mean
// nothing, and mends what a run would refuse.
func (s *starting) settle() error {
	lonLat, err := s.common()
	if err != nil {
		return err
	}
	if err := s.tooWide(lonLat); err != nil {
		return err
	}
	var first error
	for _, g := range s.grounds(lonLat) {
		for _, at := range spots {
			s.where = g
			err := s.layOut(lonLat, at)
			if err == nil {
				err = s.mend()
			}
			var change interface{ MustChange() bool }
			switch {
			case err == nil && len(s.held.Scores) > 0:
				return nil
			case err == nil:
				err = &Fault{What: fmt.Sprintf("where all maps lie, no ground is known to the map %q", g.likeName()), Fix: "give a map that knows this ground, or leave out a map that covers other ground"}
			case !errors.As(err, &change) || !change.MustChange():
				return err
			}
			if first == nil {
				first = err
			}
			if !s.where.cut {
				break
			}
		}
	}
	return noPlan(first)
}

// mostDegrees is how much ground features alone may cover, in degrees either
// way: the system proposed for it is true to scale over a few.
const mostDegrees = 20

// tooWide refuses maps of features alone, none in a system of metres, that
// cover a continent: neither a grid nor the part that is meant can be told.
func (s *starting) tooWide(b look.Box) error {
	if b.East-b.West <= mostDegrees && b.North-b.South <= mostDegrees || s.area != nil {
		return nil
	}
	if slices.ContainsFunc(s.maps, func(p *part) bool { return p.Kind == "raster" || p.plane() }) {
		return nil
	}
	return &Fault{
		What: fmt.Sprintf("the ground that all maps cover goes from longitude %.0f to %.0f and latitude %.0f to %.0f, and no map tells which part of it is meant, or how fine", b.West, b.East, b.South, b.North),
		Fix:  "give a map of your region beside it, of heights or land cover, or a file with one polygon around the ground",
	}
}

func (g ground) likeName() string {
	if g.like == nil {
		return ""
	}
	return g.like.name
}

// noPlan words an error without lines of a plan that nobody has.
func noPlan(err error) error {
	var list plan.Problems
	if !errors.As(err, &list) {
		var one plan.Problem
		if !errors.As(err, &one) {
			return err
		}
		list = plan.Problems{one}
	}
	var what []string
	for _, p := range list {
		what = append(what, p.Message)
	}
	return &Fault{What: "no plan can be made of these files: " + strings.Join(what, "; "), Fix: list[0].Fix, Err: err}
}

// common returns the ground that all maps cover, in degrees; longitudes may
// run beyond 180.
func (s *starting) common() (look.Box, error) {
	var out look.Box
	middle := math.NaN()
	for i, p := range s.parts() {
		b := p.lonLat(middle)
		if i == 0 {
			out, middle = b, (b.West+b.East)/2
			continue
		}
		next := meet(out, b)
		if next.empty() {
			return out, s.apart(p, b)
		}
		out = next.Box
	}
	return out, nil
}

// parts are the maps, and the outline where there is one.
func (s *starting) parts() []*part {
	if s.area != nil {
		return append(slices.Clone(s.maps), s.area)
	}
	return s.maps
}

// lonLat is the box around the files of a map, its longitudes next to a
// middle.
func (p *part) lonLat(middle float64) look.Box {
	var out look.Box
	for i, place := range p.boxes {
		b := look.Box{}
		if place.LonLat != nil {
			b = *place.LonLat
		} else {
			b = *place.Extent // taken for degrees
		}
		if b.East < b.West {
			b.East += 360
		}
		if middle != middle {
			middle = (b.West + b.East) / 2
		}
		turn := 360 * math.Round((middle-(b.West+b.East)/2)/360)
		b.West, b.East = b.West+turn, b.East+turn
		if i == 0 {
			out = b
		}
		out = look.Box{West: min(out.West, b.West), South: min(out.South, b.South), East: max(out.East, b.East), North: max(out.North, b.North)}
	}
	return out
}

// apart says which map shares no ground with the others.
func (s *starting) apart(p *part, b look.Box) error {
	odd, fewest := p, len(s.parts())
	for _, q := range s.parts() { // the one that meets the fewest others
		n := 0
		for _, other := range s.parts() {
			if !meet(q.lonLat(0), other.lonLat(0)).empty() {
				n++
			}
		}
		if n < fewest {
			odd, fewest = q, n
		}
	}
	others := "the others"
	if len(s.parts()) == 2 {
		others = s.parts()[0].File
		if odd == s.parts()[0] {
			others = s.parts()[1].File
		}
	}
	at := odd.lonLat(0)
	return &Fault{
		What: fmt.Sprintf("%s shares no ground with %s: it lies at longitude %.2f to %.2f, latitude %.2f to %.2f", odd.File, others, at.West, at.East, at.South, at.North),
		Fix:  "leave it out, or fetch the part of it that covers the same region; likelyground look FILE… says where each map lies",
	}
}

// meeting is what two boxes share.
type meeting struct{ look.Box }

func meet(a, b look.Box) meeting {
	return meeting{look.Box{West: max(a.West, b.West), South: max(a.South, b.South), East: min(a.East, b.East), North: min(a.North, b.North)}}
}

func (m meeting) empty() bool { return m.West >= m.East || m.South >= m.North }

// grounds lists the grids that may do, the best first: the cells of the
// heights, those of another map, a map's own system, a zone of UTM.
func (s *starting) grounds(lonLat look.Box) []ground {
	var out []ground
	finest := math.Inf(1)
	for _, p := range s.maps {
		if p.Kind == "raster" {
			finest = min(finest, p.side())
		}
	}
	rasters := slices.DeleteFunc(slices.Clone(s.maps), func(p *part) bool { return p.Kind != "raster" })
	slices.SortStableFunc(rasters, func(a, b *part) int { return cmp.Or(heightsFirst(a)-heightsFirst(b), cmp.Compare(a.side(), b.side())) })
	for _, p := range rasters {
		fine := p.side() <= 1.5*finest || p.holds == look.Heights && p.side() <= 3*finest
		if fine && p.side() >= leastCell*0.999 && p.plane() {
			out = append(out, ground{like: p, crs: p.code(), cell: p.side(), why: likeWords(p)})
		}
	}
	cell := s.cell(rasters, finest)
	for _, p := range append(rasters, s.maps...) {
		if code := p.code(); p.plane() && !slices.ContainsFunc(out, func(g ground) bool { return g.like == nil && g.crs == code }) {
			out = append(out, ground{crs: code, cell: cell, why: fmt.Sprintf("Cells of %s in %s, the system of %q.", metresWords(cell), p.boxes[0].CRS.Name, p.name)})
		}
	}
	code := crs.SuggestProjected(crs.Box{West: lonLat.West, South: lonLat.South, East: lonLat.East, North: lonLat.North})
	name := code
	if info, err := crs.Describe(code); err == nil {
		name = info.Name
	}
	return append(out, ground{crs: code, cell: cell, why: fmt.Sprintf("Cells of %s in %s: no map lies in metres, which slopes and distances need.", metresWords(cell), name)})
}

func heightsFirst(p *part) int {
	if p.holds == look.Heights {
		return rank(p)
	}
	return 2
}

func likeWords(p *part) string {
	if p.holds == look.Heights {
		return fmt.Sprintf("The cells of %q, the map of heights: slopes come out best on them.", p.name)
	}
	return fmt.Sprintf("The cells of %q, the finest map in metres.", p.name)
}

// side is the side of a raster's cell in metres.
func (p *part) side() float64 { return math.Sqrt(p.Cell.WidthMetres * p.Cell.HeightMetres) }

// code is the map's system, "" where it has no code.
func (p *part) code() string {
	if c := p.boxes[0].CRS; c != nil {
		return c.Code
	}
	return ""
}

// plane tells whether the map lies in a system of metres that has a code and
// that is true to scale here, its cells upright.
func (p *part) plane() bool {
	c := p.boxes[0].CRS
	if c == nil || c.Code == "" || c.Geographic {
		return false
	}
	for _, b := range p.boxes {
		if b.CRS == nil || b.CRS.Code != c.Code {
			return false
		}
	}
	for _, x := range p.Suspicions {
		if strings.Contains(x.What, "lie aslant") || strings.Contains(x.What, "on the ground here") || strings.Contains(x.What, "outside the ground that") {
			return false
		}
	}
	return true
}

// cell proposes the cell of a grid of its own: that of the heights, else the
// finest, in round metres; without rasters a thousand cells across.
func (s *starting) cell(rasters []*part, finest float64) float64 {
	side := finest
	if len(rasters) > 0 && rasters[0].holds == look.Heights {
		side = min(rasters[0].side(), 3*finest)
	}
	if math.IsInf(side, 1) {
		b, _ := s.common()
		side = max(10, roundStep(math.Sqrt(area(b, degreeMetres(b)))/1000))
	}
	power := math.Pow(10, math.Floor(math.Log10(side)))
	return max(leastCell, math.Max(math.Round(side/power), 1)*power)
}

// degreeMetres is the size of a degree at the middle of a box.
func degreeMetres(b look.Box) [2]float64 {
	const degree = 111_195.0 // of a sphere of 6371 km
	return [2]float64{degree * math.Cos((b.South+b.North)/2*math.Pi/180), degree}
}

func area(b look.Box, metres [2]float64) float64 {
	return (b.East - b.West) * metres[0] * (b.North - b.South) * metres[1]
}

// spots are the places of an area that is cut, in quarters of what is left,
// the middle first.
var spots = [][2]float64{{0.5, 0.5}, {0.25, 0.5}, {0.75, 0.5}, {0.5, 0.25}, {0.5, 0.75}, {0.25, 0.25}, {0.75, 0.75}, {0.25, 0.75}, {0.75, 0.25}}

// layOut brings the common ground to the grid's system and cuts it to what is
// computed within minutes.
func (s *starting) layOut(lonLat look.Box, at [2]float64) error {
	g := &s.where
	info, err := crs.Describe(g.crs)
	if err != nil {
		return err
	}
	g.metres = info.MetresPerUnit
	if g.all, err = boxIn(lonLat, "OGC:CRS84", g.crs); err != nil {
		return err
	}
	for _, p := range s.parts() {
		if b, ok := p.boxOn(g.crs); ok {
			next := meet(g.all, b)
			if next.empty() {
				return s.apart(p, lonLat)
			}
			g.all = next.Box
		}
	}
	step := g.cell / g.metres
	if g.like != nil {
		step = g.like.Cell.Width
	}
	g.box = cutBox(g.all, step, at)
	g.cut = g.box != g.all
	g.outline = s.area != nil && !g.cut
	if g.cut || g.like == nil && !g.outline {
		g.box = inward(g.box, step)
	}
	return nil
}

func boxIn(b look.Box, from, to string) (look.Box, error) {
	w, s, e, n, err := habitat.BoxIn(b.West, b.South, b.East, b.North, from, to)
	return look.Box{West: w, South: s, East: e, North: n}, err
}

// boxOn is the box around a map in a system; false where the map is too wide
// to be brought there.
func (p *part) boxOn(code string) (look.Box, bool) {
	var out look.Box
	for i, place := range p.boxes {
		if place.CRS == nil || place.CRS.Code == "" || place.LonLat.East-place.LonLat.West > 20 || place.LonLat.East < place.LonLat.West {
			return out, false
		}
		b := *place.Extent
		if place.CRS.Code != code {
			var err error
			if b, err = boxIn(b, place.CRS.Code, code); err != nil {
				return out, false
			}
		}
		if i == 0 {
			out = b
		}
		out = look.Box{West: min(out.West, b.West), South: min(out.South, b.South), East: max(out.East, b.East), North: max(out.North, b.North)}
	}
	return out, true
}

// cutBox cuts a box to mostCells cells of its own shape.
func cutBox(b look.Box, step float64, at [2]float64) look.Box {
	w, h := b.East-b.West, b.North-b.South
	cells := w / step * h / step
	if cells <= mostCells {
		return b
	}
	// Long strips become squarer, so that their cut is of use.
	side := math.Sqrt(mostCells) * step
	cw, ch := min(w, side), min(h, side)
	cw, ch = min(w, side*side/ch), min(h, side*side/cw)
	b.West += (w - cw) * at[0]
	b.South += (h - ch) * at[1]
	b.East, b.North = b.West+cw, b.South+ch
	return b
}

// inward rounds a box inward to whole cells, where it has some.
func inward(b look.Box, step float64) look.Box {
	out := look.Box{West: math.Ceil(b.West/step-1e-6) * step, South: math.Ceil(b.South/step-1e-6) * step, East: math.Floor(b.East/step+1e-6) * step, North: math.Floor(b.North/step+1e-6) * step}
	if out.East-out.West < 2*step || out.North-out.South < 2*step {
		return b
	}
	return out
}

// mend works the plan out and puts right what a run would refuse, until
// nothing is left.
func (s *starting) mend() error {
	var places []habitat.Place
	if s.places != nil {
		places = s.places.on(s)
	}
	for range 2 + 2*len(s.maps) {
		s.held = nil
		text := s.text()
		held, err := s.survey(text, places)
		if err != nil && s.blame(err, text) {
			continue
		}
		if err != nil {
			return err
		}
		s.held = held
		if len(held.Wrong) == 0 {
			return nil
		}
		if err := s.mendMaps(held.Wrong); err != nil {
			return err
		}
	}
	return s.unmended(s.held.Wrong[0])
}

// blame does without a map that does not open on this ground; false where the
// error is not a map's, or no map would be left.
func (s *starting) blame(err error, text []byte) bool {
	var list plan.Problems
	if !errors.As(err, &list) {
		return false
	}
	for _, problem := range list {
		at := slices.IndexFunc(s.maps, func(p *part) bool { return p.name == mapAt(text, problem.Line) })
		switch {
		case at < 0 || s.maps[at] == s.where.like || len(s.maps) == 1:
			return false
		case !s.maps[at].optional:
			s.maps[at].optional = true
		default:
			s.leaveOut(s.maps[at].File, problem.Message)
			s.maps = slices.Delete(s.maps, at, at+1)
		}
	}
	return len(list) > 0
}

// mapAt returns the name of the map whose entry a line of a plan belongs to;
// "" where it is none's.
func mapAt(text []byte, line int) string {
	name, inside := "", false
	for i, l := range strings.Split(string(text), "\n") {
		switch {
		case l != "" && l[0] != ' ' && l[0] != '#':
			name, inside = "", l == "maps:"
		case inside && len(l) > 2 && l[:2] == "  " && l[2] != ' ' && l[2] != '#':
			name = unquote(strings.TrimSuffix(strings.TrimSpace(l), ":"))
		}
		if i+1 == line {
			return name
		}
	}
	return ""
}

func unquote(text string) string {
	if out, err := strconv.Unquote(text); err == nil {
		return out
	}
	return text
}

func (s *starting) unmended(w habitat.MapWrong) error {
	return &Fault{What: fmt.Sprintf("the map %q cannot be used as it is: %s", w.Map, w.What), Fix: "leave it out, or write its lines by hand: likelyground look FILE tells them"}
}

func (s *starting) mendMaps(wrong []habitat.MapWrong) error {
	for _, w := range wrong {
		p := s.maps[slices.IndexFunc(s.maps, func(p *part) bool { return p.name == w.Map })]
		switch {
		case w.Nothing && p == s.where.like:
			return s.unmended(w)
		case w.Nothing:
			p.optional = true
			s.warn("the map %q knows nothing of the ground that is rated: it counts for nothing there", p.name)
		case w.NotCodes:
			p.holds = look.Amounts
			p.Lines = slices.DeleteFunc(slices.Clone(p.Lines), func(l look.Line) bool {
				return strings.TrimSpace(l.Key) == "legend" || l.Key == "classes" || strings.HasPrefix(l.Key, " ")
			})
		case w.Beyond && p.between == "":
			p.between = map[string]string{look.Acidity: "[2, 11]", look.Heights: "[-500, 9000]"}[p.holds]
			if valueOf(p.Lines, "unit") == "ft" {
				p.between = "[-1640, 29527]"
			}
		case len(w.StandIns) > 0:
			p.standIns = append(p.standIns, w.StandIns...)
		default:
			return s.unmended(w)
		}
	}
	return nil
}

func (s *starting) warn(format string, args ...any) {
	s.result.Warnings = append(s.result.Warnings, fmt.Sprintf(format, args...))
}

func (s *starting) progress(stage string, done, total int64) {
	s.Engine.Events(habitat.Event{Stage: stage, Done: done, Total: total})
}
