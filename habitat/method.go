package habitat

import (
	"fmt"
	"strings"

	"likelyground/habitat/combine"
	"likelyground/habitat/plan"
)

// methodSection is one heading of the account of the method, after ODMAP
// (Zurell and others 2020, Ecography 43:1261–1277): Overview, Data, Model,
// Assessment, Prediction.
type methodSection struct {
	Heading string        `json:"heading"`
	Items   []methodEntry `json:"items"`
}

type methodEntry struct {
	Item string `json:"item"`
	Text string `json:"text"`
}

// methodOf tells the method of a run from what the run knows of itself.
func methodOf(d *desk, a *account) []methodSection {
	return []methodSection{
		{"Overview", overviewOf(d, a)},
		{"Data", dataOf(d, a)},
		{"Model", modelOf(d, a)},
		{"Assessment", assessmentOf()},
		{"Prediction", predictionOf(d.plan, a)},
	}
}

func overviewOf(d *desk, a *account) []methodEntry {
	w, s, e, n := d.grid.Bounds()
	subject := a.Subject
	if subject == "" {
		subject = "not named in the plan"
	}
	return []methodEntry{
		{"Taxon", subject},
		{"Location", fmt.Sprintf("%s: %.0f to %.0f east, %.0f to %.0f north", d.grid.info.Name, w, e, s, n)},
		{"Scale of analysis", fmt.Sprintf("cells of %g × %g m, %d columns, %d rows", d.grid.DXm(), d.grid.DYm(), d.grid.Cols, d.grid.Rows)},
		{"Objective", "rank ground for a visit; a score rates ground and is no probability of presence"},
		{"Model type", "expert model: response curves and class scores joined by a rule; nothing is fitted to records"},
		{"Assumptions", "the maps are right at their own scale; factors act as the plan's author says; what is missing is unknown, not unsuitable"},
		{"Software", fmt.Sprintf("likelyground %s, GDAL %s, %s", a.Versions.Program, a.Versions.GDAL, a.Versions.PROJ)},
	}
}

func dataOf(d *desk, a *account) []methodEntry {
	var out []methodEntry
	for _, m := range a.Maps {
		var parts []string
		if m.LeftOut != "" {
			parts = append(parts, "left out: "+m.LeftOut)
		}
		for i, r := range m.Read {
			if i == 3 {
				parts = append(parts, fmt.Sprintf("and %d more files", len(m.Read)-3))
				break
			}
			parts = append(parts, readWords(r))
		}
		if all := m.Known + m.Missing; all > 0 {
			parts = append(parts, fmt.Sprintf("missing on %.1f %% of the area", 100*float64(m.Missing)/float64(all)))
		}
		if l := m.Legend; l != nil && l.BuiltIn != "" {
			parts = append(parts, fmt.Sprintf("legend: %s (%s), edition: %s", l.Title, l.Publisher, l.Edition))
		}
		for _, x := range []string{m.Credit, m.Licence, yearWords(m.Year)} {
			if x != "" {
				parts = append(parts, x)
			}
		}
		out = append(out, methodEntry{"Map " + m.Name, strings.Join(parts, "; ")})
	}
	for _, v := range d.plan.Derived {
		out = append(out, methodEntry{"Derived " + v.Name, derivedWords(v)})
	}
	return out
}

func readWords(r accountRead) string {
	text := r.CRS
	if r.CellMetres[0] > 0 {
		text += fmt.Sprintf(", cells of about %.0f m", r.CellMetres[0])
	}
	if r.How != "" {
		text += ", " + r.How
	}
	if r.Operation != "" {
		if strings.HasPrefix(r.Operation, "none") {
			return text + ", no transformation"
		}
		text += ", transformation: " + r.Operation
		if r.Accuracy != nil && *r.Accuracy > 0 {
			text += fmt.Sprintf(" (good to %g m)", *r.Accuracy)
		}
		if r.BetterIsOut != "" {
			text += "; a better one is not installed: " + r.BetterIsOut
		}
	}
	return text
}

// derivedWords says how a derived layer is worked out.
func derivedWords(v plan.Derived) string {
	switch v.Verb {
	case plan.Slope:
		unit := "degrees"
		if v.Percent {
			unit = "percent"
		}
		return fmt.Sprintf("slope of %s in %s (Horn 1981)", v.From, unit)
	case plan.Northness:
		return fmt.Sprintf("cosine of the aspect of %s (gradient after Horn 1981)", v.From)
	case plan.Eastness:
		return fmt.Sprintf("sine of the aspect of %s (gradient after Horn 1981)", v.From)
	case plan.Elevation:
		return fmt.Sprintf("%s in metres", v.From)
	case plan.Share:
		return fmt.Sprintf("share of %s in %s within %g m", classWords(v.Of), v.From, v.Within)
	case plan.Distance:
		text := fmt.Sprintf("exact distance to %s in %s, centre to centre", classWords(v.Of), v.From)
		if v.UpTo > 0 {
			text += fmt.Sprintf(", up to %g m", v.UpTo)
		}
		return text
	case plan.EdgeDistance:
		return edgeWords(v)
	case plan.Lasting:
		return lastingWords(v)
	case plan.FirstOf:
		return "the first that is known of " + strings.Join(v.First, ", then ")
	case plan.Mean:
		return fmt.Sprintf("mean of %s within %g m", v.From, v.Within)
	}
	if v.Verb.Water() {
		return waterWords(v)
	}
	if text := shapeWords(v); text != "" {
		return text
	}
	return string(v.Verb) + " of " + v.From
}

// shapeWords says how a layer of the shape of the ground, or of the sun on it,
// is worked out; "" for another.
func shapeWords(v plan.Derived) string {
	const curved = "curvature %s of %s in 1/m, above 0 where it bulges (Minár, Evans & Jenčo 2020; quadric after Evans 1972)"
	switch v.Verb {
	case plan.Aspect:
		return fmt.Sprintf("aspect of %s, degrees clockwise from the grid's north (gradient after Horn 1981)", v.From)
	case plan.ProfileCurvature:
		return fmt.Sprintf(curved, "down the slope", v.From)
	case plan.TangentialCurvature:
		return fmt.Sprintf(curved, "across the slope", v.From)
	case plan.ContourCurvature:
		return fmt.Sprintf(curved, "of the contour lines", v.From)
	case plan.RelativePosition:
		return fmt.Sprintf("height of %s above the mean of the other cells within %g m", v.From, v.Within)
	case plan.Ruggedness:
		if v.After == plan.Wilson {
			return fmt.Sprintf("ruggedness of %s in m, the mean difference to the eight neighbours (Wilson et al. 2007)", v.From)
		}
		return fmt.Sprintf("ruggedness of %s in m, the root of the sum of the squared differences to the eight neighbours (Riley et al. 1999)", v.From)
	case plan.HeatLoad:
		if v.Warmest == plan.South {
			return fmt.Sprintf("a year's direct radiation on %s in MJ/cm² (McCune & Keon 2002, equation %d; aspect from true north, gradient after Horn 1981)", v.From, v.HeatEquation())
		}
		return fmt.Sprintf("heat load of %s, southwest the warmest (McCune & Keon 2002, equation %d; aspect from true north, gradient after Horn 1981)", v.From, v.HeatEquation())
	case plan.Radiation:
		return fmt.Sprintf("direct radiation of day %d of the year on the slopes of %s, outside the air and without shadows of other hills, in MJ/m² (FAO-56 equation 21, Allen et al. 1998, integrated over the sun's way; aspect from true north, gradient after Horn 1981)", v.Day, v.From)
	}
	return ""
}

// waterWords says how a layer of water is worked out.
func waterWords(v plan.Derived) string {
	way := "water going to all lower neighbours by the 1.1th power of the gradient (Freeman 1991)"
	if v.Flow == plan.OneWay {
		way = "water going to the steepest neighbour (O'Callaghan & Mark 1984)"
	}
	var text string
	switch v.Verb {
	case plan.Filled:
		text = fmt.Sprintf("%s with its hollows filled to where water gets out", v.From)
	case plan.HollowDepth:
		text = fmt.Sprintf("depth of the hollows of %s below where water gets out", v.From)
	case plan.HollowArea:
		text = fmt.Sprintf("area of the hollows of %s, in ha", v.From)
	case plan.Gathered:
		text = fmt.Sprintf("ground of %s that drains through the cell, in ha, %s", v.From, way)
	case plan.Wetness:
		text = fmt.Sprintf("wetness index ln(a / tan b) of %s (Beven & Kirkby 1979), %s, slope after Horn (1981), tan b at least 0.001", v.From, way)
	case plan.ChannelDistance:
		text = fmt.Sprintf("way of the water over %s to where at least %g ha drain, %s", v.From, v.Channel/1e4, way)
	case plan.ChannelHeight:
		text = fmt.Sprintf("height of %s above where its water comes to a place that at least %g ha drain through (Rennó et al. 2008), %s", v.From, v.Channel/1e4, way)
	}
	text = fmt.Sprintf("%s; water read on for %g m, draining at the rim and beside holes", text, v.WaterMargin())
	if v.Drains != nil {
		text += fmt.Sprintf(", and kept by %s in %s", classWords(v.Drains.Of), v.Drains.Map)
	}
	return text
}

// edgeWords says from which cells to which an edge distance is measured.
func edgeWords(v plan.Derived) string {
	of := classWords(v.Of)
	text := "exact distance to the edge of " + of + " in " + v.From
	switch v.Side {
	case plan.Inside:
		text += ", from inside it (outside it is 0): to the nearest centre of other known ground"
	case plan.Outside:
		text += ", from outside it (inside it is 0): to the nearest centre of " + of
	default:
		text += ", from both sides: to the nearest centre of known ground on the other side"
	}
	if v.UpTo > 0 {
		text += fmt.Sprintf(", up to %g m", v.UpTo)
	}
	return text
}

// lastingWords names the maps with their years, and what they do not show.
func lastingWords(v plan.Derived) string {
	var seen []string
	for _, w := range v.On {
		seen = append(seen, fmt.Sprintf("%s on %s (%d)", classWords(w.Of), w.Map, w.Year))
	}
	last := v.On[len(v.On)-1].Year
	return fmt.Sprintf("ground that is %s; missing where one of the maps is, unless another shows other ground; what came and went between these years, or changed since %d, is not seen", andList(seen), last)
}

func classWords(of []plan.Class) string {
	names := make([]string, len(of))
	for i, c := range of {
		names[i] = c.Name
		if c.IsCode {
			names[i] = fmt.Sprintf("code %d", c.Code)
		}
	}
	return andList(names)
}

func modelOf(d *desk, a *account) []methodEntry {
	p := d.plan
	out := []methodEntry{{"Rule", ruleWords(p)}, {"Missing values", unknownWords("a factor", p.Unknown)}}
	if a.Pairwise != nil {
		out = append(out, methodEntry{"Weights", fmt.Sprintf("pairwise comparison (Saaty 1980), consistency ratio %.3f", a.Pairwise.Ratio)})
	}
	for i, f := range p.Factors {
		text := fmt.Sprintf("weight %.4g (%.0f %%)", a.Factors[i].Weight, 100*a.Factors[i].Share)
		if f.Must {
			text += "; where it is 0 the score is 0"
		}
		if f.Unknown != nil {
			text += "; " + unknownWords("it", *f.Unknown)
		}
		out = append(out, methodEntry{"Factor " + f.Name, d.factorWords(&f) + "; " + text})
	}
	for _, k := range p.KeepOut {
		out = append(out, methodEntry{"Kept out", d.keepOutWords(k)})
	}
	if len(p.KeepOut) == 0 {
		out = append(out, methodEntry{"Kept out", "nothing: the plan names no such ground"})
	}
	return out
}

func ruleWords(p *plan.Plan) string {
	switch p.Rule.Kind {
	case plan.GeometricMean, plan.HarmonicMean:
		if p.Floor == 0 {
			return fmt.Sprintf("weighted %s; a factor that scores 0 makes the score 0", p.Rule.Kind)
		}
		return fmt.Sprintf("weighted %s, factor scores raised to at least %g", p.Rule.Kind, p.Floor)
	case plan.MeanRule:
		return "weighted arithmetic mean"
	case plan.OrderedWeightsRule:
		return fmt.Sprintf("ordered weights %v, orness %.2f (Yager 1988)", p.Rule.Order, combine.Orness(p.Rule.Order))
	}
	return string(p.Rule.Kind)
}

func unknownWords(what string, u plan.Unknown) string {
	switch u.Kind {
	case plan.LeaveBlank:
		return "where " + what + " is missing the score is missing"
	case plan.Assume:
		return fmt.Sprintf("where %s is missing %g is assumed, and not counted as known", what, u.Score)
	}
	return "where " + what + " is missing its weight is shared out among the known factors"
}

func (d *desk) factorWords(f *plan.Factor) string {
	switch {
	case f.Group != plan.NoGroup:
		var parts []string
		for i := range f.Members {
			parts = append(parts, f.Members[i].Name+" ("+d.factorWords(&f.Members[i])+")")
		}
		return string(f.Group) + " " + andList(parts)
	case f.Scores != nil:
		var parts []string
		for _, c := range f.Scores.Classes {
			parts = append(parts, fmt.Sprintf("%s %g", classWords([]plan.Class{c.Class}), c.Score))
		}
		if f.Scores.Others != nil {
			parts = append(parts, fmt.Sprintf("others %g", *f.Scores.Others))
		}
		return fmt.Sprintf("classes of %s: %s", f.From, strings.Join(parts, ", "))
	case f.Straight:
		return fmt.Sprintf("%s as it is", f.From)
	}
	var parts []string
	for _, p := range f.Curve {
		parts = append(parts, fmt.Sprintf("%g at %g", p.Y, p.X))
	}
	return fmt.Sprintf("%s by a curve: %s", d.withUnit(f.From), strings.Join(parts, ", "))
}

// withUnit names a layer and the unit of its numbers.
func (d *desk) withUnit(layer string) string {
	if u := d.graph.layers[layer].Unit; u != "" && u != layer {
		return fmt.Sprintf("%s (%s)", layer, u)
	}
	return layer
}

func (d *desk) keepOutWords(k plan.KeepOut) string {
	switch {
	case k.Of != nil:
		return fmt.Sprintf("%s of %s", classWords(k.Of), k.Layer)
	case k.Above != nil:
		return fmt.Sprintf("%s above %g", d.withUnit(k.Layer), *k.Above)
	}
	return fmt.Sprintf("%s below %g", d.withUnit(k.Layer), *k.Below)
}

func assessmentOf() []methodEntry {
	return []methodEntry{{"Evaluation", "none in this run: no records of finds or blanks were used"}}
}

func predictionOf(p *plan.Plan, a *account) []methodEntry {
	blank := "outside the area, on ground kept out, "
	if p.Grid.Like != "" {
		blank += "where the map " + p.Grid.Like + " is missing, "
	}
	out := []methodEntry{{"Output", "scores from 0 to 1 in steps of 1/16384; missing " + blank + "and where the rule for missing values leaves none"}}
	if a.Hotspots != nil {
		long := ""
		if a.Hotspots.OrLength > 0 {
			long = fmt.Sprintf(" or %g m long (the greatest distance between two points of an area, on the grid)", a.Hotspots.OrLength)
		}
		out = append(out, methodEntry{"Areas", fmt.Sprintf("cells scoring at least %g (to the nearest step) joined over sides and corners, at least %g ha on the ellipsoid%s, ranked by area × mean score", p.Hotspots.From, a.Hotspots.LeastHa, long)})
	}
	if !p.Outputs.Factors {
		return append(out, methodEntry{"Uncertainty", "none is written: factors.tif, whose last band is coverage, was not asked for"})
	}
	return append(out, methodEntry{"Uncertainty", "coverage, the last band of factors.tif, says which share of the weight was known; accuracies of the maps are not propagated"})
}
