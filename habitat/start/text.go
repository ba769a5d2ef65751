package start

import (
	"fmt"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"likelyground/habitat"
	"likelyground/habitat/look"
	"likelyground/habitat/plan"
)

// writer writes a plan with its comments.
type writer struct{ strings.Builder }

// line writes a line as it stands.
func (w *writer) line(format string, args ...any) {
	fmt.Fprintf(w, format, args...)
	w.WriteByte('\n')
}

// wide is how many characters a comment's line may have.
const wide = 88

// say writes a comment, indented, in lines of a readable width.
func (w *writer) say(indent int, format string, args ...any) {
	w.sayAfter(strings.Repeat(" ", indent)+"#", format, args...)
}

// sayAfter writes a comment whose every line begins in the same way.
func (w *writer) sayAfter(lead, format string, args ...any) {
	line := lead
	first := true
	if strings.HasPrefix(format, "- ") {
		lead += "  " // a list: further lines hang
	}
	for _, word := range strings.Fields(clean(fmt.Sprintf(format, args...))) {
		if !first && len([]rune(line))+1+len([]rune(word)) > wide {
			w.line("%s", line)
			line = lead
		}
		line += " " + word
		first = false
	}
	w.line("%s", line)
}

// clean takes what cannot be shown out of what a file carries.
func clean(text string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsPrint(r) {
			return r
		}
		return '\uFFFD'
	}, text)
}

// beside writes a line with a remark after it.
func (w *writer) beside(line, remark string) {
	w.line("%s%s# %s", line, strings.Repeat(" ", max(2, 40-len([]rune(line)))), clean(remark))
}

// text is the plan as far as is known: before the first survey its curves and
// scores mean nothing.
func (s *starting) text() []byte {
	w := &writer{}
	s.head(w)
	s.groundText(w)
	w.line("\nmaps:")
	for i, p := range s.maps {
		if i > 0 {
			w.line("")
		}
		s.mapText(w, p)
	}
	s.derivedText(w)
	s.factorsText(w)
	s.tail(w)
	return []byte(w.String())
}

func (s *starting) head(w *writer) {
	name := filepath.Base(s.Out)
	stem := strings.TrimSuffix(name, filepath.Ext(name))
	w.say(0, "A plan to start from. It runs as it stands, but it knows nothing yet of what you are looking for: the numbers below `factors:` are neutral beginnings, drawn from your maps. Put your own in their place, one at a time, run again and look at what moves.")
	w.line("#")
	w.line("#     likelyground check %s", clean(name))
	w.line("#     likelyground run %s        # writes the map into the folder %s.out", clean(name), clean(stem))
	w.line("#")
	w.say(0, "What is before the colon is yours to name, except the words that are explained here. A score goes from 0 (never) to 1 (as good as it gets).")
	w.line("#")
	w.say(0, "Before you go:")
	for _, c := range habitat.Cautions {
		w.say(0, "- %s", c)
	}
	if s.where.like != nil && s.where.like.Surface || s.heights() != nil && s.heights().Surface {
		w.say(0, "- The heights show tree tops and roofs, so slopes in and beside woods are not those of the ground.")
	}
	if s.told() {
		w.line("#")
		w.say(0, "What stands behind `# places:` tells, rounded, what the maps say at places you know. Where those are is not in this file; take it out all the same before you pass the plan on.")
	}
	w.line("\nformat: 1")
	w.beside("title: A first look", "what you are searching, in your own words")
	w.beside("# subject: Hydnum repandum", "the organism; take the first # away")
}

// told tells whether the plan says anything of places.
func (s *starting) told() bool {
	return s.result.Places != nil && s.result.Places.Cells >= leastPlaces
}

// groundText writes area and grid.
func (s *starting) groundText(w *writer) {
	g := s.where
	b := g.box
	size := fmt.Sprintf("%s from west to east, %s from south to north", metresWords((b.East-b.West)*g.metres), metresWords((b.North-b.South)*g.metres))
	w.line("")
	switch {
	case g.outline:
		w.say(0, "The ground to rate: inside the outline in this file.")
		w.line("area: %s", s.areaFile())
	case g.cut:
		w.say(0, "The ground to rate: a part, %s, of what all maps cover (%s by %s), so that a run takes minutes. Move it or widen it: west, south, east, north%s.",
			size, metresWords((g.all.East-g.all.West)*g.metres), metresWords((g.all.North-g.all.South)*g.metres), unitWords(g))
		w.line("area: %s", boxText(b, g.crs))
	default:
		w.say(0, "The ground to rate: what all maps cover, %s. The numbers are its edges: west, south, east, north%s. A file of polygons does too: area: wood.gpkg.", size, unitWords(g))
		w.line("area: %s", boxText(b, g.crs))
	}
	w.line("")
	w.say(0, "The cells that are scored. %s", g.why)
	if g.like != nil {
		w.line("grid: {like: %s}", look.Scalar(g.like.name))
		return
	}
	w.line("grid: {crs: %s, cell: %s m}", look.Scalar(g.crs), number(g.cell))
}

func unitWords(g ground) string {
	if g.metres == 1 {
		return ", in metres"
	}
	return ""
}

func boxText(b look.Box, crs string) string {
	return fmt.Sprintf("{box: [%s, %s, %s, %s], crs: %q}", number(tidy12(b.West)), number(tidy12(b.South)), number(tidy12(b.East)), number(tidy12(b.North)), crs)
}

// tidy12 rounds to millimetres.
func tidy12(x float64) float64 {
	out, err := strconv.ParseFloat(strconv.FormatFloat(x, 'f', 3, 64), 64)
	if err != nil {
		return x
	}
	return out
}

func (s *starting) areaFile() string {
	path := look.Scalar(s.seen(s.area.File))
	if len(s.area.Layers) > 1 {
		return fmt.Sprintf("{file: %s, layer: %s}", path, look.Scalar(s.area.Layers[s.area.Layer].Name))
	}
	return path
}

// seen is a path as seen from the plan.
func (s *starting) seen(path string) string {
	dir, err := filepath.Abs(filepath.Dir(s.Out))
	if err != nil {
		return path
	}
	abs, err := filepath.Abs(path)
	if err != nil {
		return path
	}
	rel, err := filepath.Rel(dir, abs)
	if err != nil {
		return abs
	}
	return filepath.ToSlash(rel)
}

// mapText writes the entry of a map.
func (s *starting) mapText(w *writer, p *part) {
	w.say(2, "%s", s.mapWords(p))
	for _, x := range p.Suspicions {
		if worthTelling(x) {
			w.say(2, "Look out: %s.", strings.TrimRight(x.What, "."))
		}
	}
	w.line("  %s:", look.Scalar(p.name))
	s.fileText(w, p)
	for _, l := range p.entryLines() {
		if l.Path != "" {
			l.Value = look.Scalar(s.seen(l.Path))
		}
		w.WriteString(l.String())
	}
	if p.legend != "" {
		w.beside("    legend: "+look.Scalar(s.seen(p.legend)), "names the codes")
	}
	if p.between != "" {
		w.beside("    between: "+p.between, "values outside cannot be right and count as missing")
	}
	if p.optional {
		w.beside("    optional: yes", "it knows nothing of this ground")
	}
	if p.ballpark(s.where.crs) {
		w.beside("    accept ballpark: yes", "may lie some hundred metres off: no exact way to the grid is known here")
	}
	if year := p.year(); year != 0 && !hasKey(p.Lines, "year") {
		w.beside(fmt.Sprintf("    year: %d", year), "by the file's name: correct it")
	} else if year == 0 {
		w.beside("    # year: 2020", "the year that it shows")
	}
	w.beside("    # credit: …", "whose map it is, as they ask to be named")
	w.beside("    # licence: CC-BY-4.0", "what they let you do with it")
}

// mapWords says what a map is.
func (s *starting) mapWords(p *part) string {
	what := map[string]string{look.Heights: "Heights of the ground", look.Acidity: "Acidity of the soil", look.Percent: "A share in percent", look.Amounts: "Amounts", look.Classes: "Classes"}[p.holds]
	if p.Kind == "features" {
		return fmt.Sprintf("%s from polygons, by the field %s.", what, valueOf(p.Lines, "field"))
	}
	out := what
	if p.Cell.WidthMetres > 0 {
		out += fmt.Sprintf(", in cells of about %s", metresWords(roundTo(p.side(), 2)))
	}
	if n := len(p.files); n > 1 {
		out += fmt.Sprintf(", in %d tiles; the first lies on top", n)
	}
	if p.Guess && p.holds == look.Classes && p.legend == "" {
		out += ". Its numbers are few and whole, so they are taken for codes of classes"
	}
	return out + "."
}

// worthTelling tells suspicions that the plan does not answer by itself.
func worthTelling(x look.Suspicion) bool {
	for _, word := range []string{"surface model", "cannot be", "are none", "lies outside", "ballpark", "looks like a sign", "layers", "bands", "leave out", "not in UTF-8", "is empty in", "heights of", "on opening"} {
		if strings.Contains(x.What, word) {
			return true
		}
	}
	return false
}

func roundTo(x float64, figures int) float64 {
	out, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', figures, 64), 64)
	if err != nil {
		return x
	}
	return out
}

func (s *starting) fileText(w *writer, p *part) {
	if len(p.files) == 1 {
		w.line("    file: %s", look.Scalar(s.seen(p.files[0])))
		return
	}
	w.line("    file:")
	for _, f := range p.files {
		w.line("      - %s", look.Scalar(s.seen(f)))
	}
}

// entryLines are the lines of look that are kept: without names of classes
// that look made up, and without what was mended since.
func (p *part) entryLines() []look.Line {
	made := hasKey(p.Lines, "legend") && valueOf(p.Lines, "legend") == ""
	var out []look.Line
	for _, l := range p.Lines {
		switch {
		case l.Key == "file", made && strings.HasPrefix(l.Key, " "), l.Key == "between" && p.between != "", l.Key == "missing" && len(p.standIns) > 0:
		case l.Key == "crs" && strings.Contains(l.Value, "…"):
		case made && l.Key == "legend":
			if p.legend == "" {
				out = append(out, look.Line{Key: "classes", Value: "yes", Remark: "codes without names; a table code,name as legend: names them"})
			}
		default:
			out = append(out, l)
		}
	}
	if len(p.standIns) > 0 {
		out = append(out, look.Line{Key: "missing", Value: p.missing(), Remark: "looks like no data"})
	}
	return out
}

// missing lists all numbers that look like no data.
func (p *part) missing() string {
	var all []string
	if v := valueOf(p.Lines, "missing"); v != "" {
		all = append(all, strings.Trim(v, "[]"))
	}
	for _, x := range p.standIns {
		all = append(all, strconv.FormatFloat(x, 'g', -1, 64))
	}
	return "[" + strings.Join(all, ", ") + "]"
}

// ballpark tells whether only a ballpark transformation leads from the map to
// a grid of another system.
func (p *part) ballpark(grid string) bool {
	return p.code() != grid && slices.ContainsFunc(p.Suspicions, func(x look.Suspicion) bool { return strings.Contains(x.What, "only a ballpark") })
}

var yearForm = regexp.MustCompile(`(?:^|[^0-9])((?:19[5-9]|20[0-4])[0-9])(?:[^0-9]|$)`)

// year is the only year in the file's name; 0 where there is none.
func (p *part) year() int {
	found := yearForm.FindAllStringSubmatch(filepath.Base(p.File), 2)
	if len(found) != 1 {
		return 0
	}
	year, _ := strconv.Atoi(found[0][1])
	return year
}

// layer is a derived layer that the plan works out.
type layer struct {
	name, verb, unit, why string
	can                   [2]float64 // what its values can be
}

// heights is the map that terrain is made of; nil without one.
func (s *starting) heights() *part {
	for _, p := range s.maps {
		if p.holds == look.Heights && !p.optional {
			return p
		}
	}
	return nil
}

// derived lists what is worked out from heights.
func (s *starting) derived() []layer {
	if s.heights() == nil {
		return nil
	}
	taken := map[string]bool{}
	for _, p := range s.maps {
		taken[strings.ToLower(p.name)] = true
	}
	return []layer{
		{unique("slope", taken), "slope", "degrees", "how steep the ground is, in degrees", [2]float64{0, 90}},
		{unique("north side", taken), "northness", "", "from 1 (faces north) to -1 (faces south)", [2]float64{-1, 1}},
	}
}

func (s *starting) derivedText(w *writer) {
	base := s.heights()
	example := s.exampleClass()
	if base == nil && example == "" {
		return
	}
	w.line("")
	w.say(0, "Layers worked out from maps.")
	if base == nil {
		w.line("# derived:")
	} else {
		w.line("derived:")
	}
	for _, d := range s.derived() {
		w.beside(fmt.Sprintf("  %s: {%s: %s}", look.Scalar(d.name), d.verb, look.Scalar(base.name)), d.why)
	}
	if example != "" {
		w.beside("  # "+example, "metres to such ground; give it a factor with a curve")
	}
}

// exampleClass is a distance that could be worked out: to the largest class
// of the first map of classes with names.
func (s *starting) exampleClass() string {
	for _, p := range s.maps {
		if c := scorable(s.holding(p.name)); len(c) > 1 {
			return fmt.Sprintf("way to it: {distance: %s, of: [%s], up to: 500 m}", look.Scalar(p.name), classKey(c[0]))
		}
	}
	return ""
}

// holding is what a layer holds; nil before it is known.
func (s *starting) holding(name string) *habitat.LayerHolding {
	if s.held == nil {
		return nil
	}
	for i := range s.held.Layers {
		if s.held.Layers[i].Name == name {
			return &s.held.Layers[i]
		}
	}
	return nil
}

// classKey writes a class for the plan: by name, else by code.
func classKey(c habitat.ClassHolding) string {
	if c.Named && c.Key == c.Name {
		return look.Scalar(c.Name)
	}
	return c.Key
}

// tail writes how factors are joined, and what comes out.
func (s *starting) tail(w *writer) {
	w.line("")
	w.say(0, "How the factors make one score: the geometric mean, in which one bad factor pulls the whole down; `mean` is milder, `least factor` sterner.")
	w.line("rule: geometric mean")
	w.beside("floor: 0.02", "a factor of 0 counts as this much, so that none forbids alone; `must: yes` at a factor does")
	w.beside("unknown: share out", "where a map knows nothing its weight goes to the others")
	w.line("")
	w.say(0, "Ground that never gets a score: water, houses, cliffs, ground you must not enter. Nothing is kept out until you say so, and no map of access or hazards is used.")
	w.line("# keep out: [%s]", s.keepOutExample())
	w.line("")
	w.say(0, "The areas that are listed: from a score of %s, which the best twentieth of this ground reaches with the numbers as they stand; of half a hectare or more; 40 at most.", number(s.from))
	w.line("hotspots: {from: %s, least: 0.5 ha, most: 40}", number(s.from))
	w.line("outputs: [score, factors, hotspots]")
}

func (s *starting) keepOutExample() string {
	if d := s.derived(); len(d) > 0 {
		return fmt.Sprintf("{map: %s, above: 35 deg}", look.Scalar(d[0].name))
	}
	for _, p := range s.maps {
		if c := scorable(s.holding(p.name)); len(c) > 0 {
			return fmt.Sprintf("{map: %s, of: [%s]}", look.Scalar(p.name), classKey(c[len(c)-1]))
		}
	}
	return fmt.Sprintf("{map: %s, above: 1000}", look.Scalar(s.maps[0].name))
}

// reserved tells names that no factor may have.
func reserved(name string) bool { return slices.Contains(plan.Reserved, strings.ToLower(name)) }
