package habitat

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"likelyground/habitat/hotspot"
	"likelyground/habitat/plan"
)

// whyWords says in one line why an area scores as it does: what the layers
// hold, of the heaviest factor first; then what limits the score, and last
// what is not known.
func (e *spotting) whyWords(s *Spot, g *hotspot.Ground) string {
	var values []string
	for _, i := range e.byWeight() {
		for _, text := range e.factorWords(&e.plan.Factors[i], g) {
			if !slices.Contains(values, text) {
				values = append(values, text)
			}
		}
	}
	var parts []string
	if len(values) > 0 {
		parts = append(parts, upperFirst(strings.Join(values, "; ")))
	}
	if len(s.LimitedBy) > 0 {
		parts = append(parts, "Limited by "+e.limitWords(s))
	}
	if text := s.notKnownWords(); text != "" {
		parts = append(parts, "Not known: "+text+" of it")
	}
	return strings.Join(parts, ". ") + "."
}

// byWeight lists the factors with weight, the heaviest first, equal ones in
// the plan's order.
func (e *spotting) byWeight() []int {
	out := e.counted()
	slices.SortStableFunc(out, func(a, b int) int { return cmp.Compare(e.weights[b], e.weights[a]) })
	return out
}

// factorWords says what the layers of a factor hold; of a group what the first
// of its layers does, or, of a mean, the first two.
func (e *spotting) factorWords(f *plan.Factor, g *hotspot.Ground) (out []string) {
	read, most := map[string]bool{}, 1
	addLayers(f, read)
	if f.Group == plan.MeanOf {
		most = 2
	}
	for _, name := range e.shown {
		if read[name] && len(out) < most {
			if text := e.layerWords(name, g); text != "" {
				out = append(out, text)
			}
		}
	}
	return out
}

// layerWords says what a layer holds; "" where nothing of it is known.
func (e *spotting) layerWords(name string, g *hotspot.Ground) string {
	l, h := e.layerOf(name, g)
	if h.Known == 0 {
		return ""
	}
	if c := e.graph.classes[name]; c != nil {
		return name + ": " + classShares(c, h)
	}
	d, derived := e.plan.DerivedLayer(name)
	mean := h.Mean()
	switch {
	case derived && d.Verb == plan.Slope && d.Percent:
		return fmt.Sprintf("%.0f\u00a0%% slope", mean)
	case derived && d.Verb == plan.Slope:
		return fmt.Sprintf("%.0f° slope", mean)
	case l.Unit == plan.UnitPH:
		return fmt.Sprintf("%s soil, pH\u00a0%.1f", soilWord(mean), mean)
	case l.Unit == "share":
		return fmt.Sprintf("%s %.0f\u00a0%%", name, 100*mean)
	case derived && d.UpTo > 0 && float64(h.Low) >= d.UpTo:
		return fmt.Sprintf("%s %s\u00a0m or more", name, metresWords(d.UpTo))
	case l.Unit == plan.UnitMetres:
		return fmt.Sprintf("%s %s\u00a0m", name, metresWords(mean))
	}
	return strings.TrimSpace(fmt.Sprintf("%s %.3g %s", name, mean, l.Unit))
}

// metresWords writes a length for people: to the decimetre below 10 m, to 10 m
// from 100 m on.
func metresWords(m float64) string {
	switch {
	case m == 0:
		return "0"
	case math.Abs(m) < 10:
		return fmt.Sprintf("%.1f", m)
	case math.Abs(m) < 100:
		return fmt.Sprintf("%.0f", m)
	}
	return fmt.Sprintf("%.0f", math.Round(m/10)*10)
}

// soilWord names a soil by its pH, of the value as it is written.
func soilWord(ph float64) string {
	ph = math.Round(ph*10) / 10
	switch {
	case ph < 4.5:
		return "very acid"
	case ph < 5.5:
		return "acid"
	case ph < 6.5:
		return "slightly acid"
	case ph < 7.5:
		return "neutral"
	}
	return "limy"
}

// classShares names the classes that an area holds: the most frequent one,
// and two more where they hold a tenth or more of the ground that is known.
func classShares(c *classes, h *hotspot.Held) string {
	var out []string
	for i, n := range h.Codes() {
		share := float64(n.Cells) / float64(h.Known)
		if i > 2 || i > 0 && share < 0.1 {
			break
		}
		text := c.cellName(n.Code)
		if n.Cells < h.Known {
			text += " on " + partOf(share)
		}
		out = append(out, text)
	}
	return strings.Join(out, ", ")
}

// partOf writes a share in whole percent, but never 0 or 100 for what is more
// than nothing or less than all.
func partOf(share float64) string {
	switch {
	case share == 1:
		return "all"
	case share > 0 && share < 0.005:
		return "under 1\u00a0%"
	case share < 1 && share >= 0.995:
		return "over 99\u00a0%"
	}
	return fmt.Sprintf("%.0f\u00a0%%", 100*share)
}

// limitWords names what limits an area, with the mean score there.
func (e *spotting) limitWords(s *Spot) string {
	var out []string
	for _, name := range s.LimitedBy {
		i := slices.IndexFunc(s.Factors, func(f hotspot.FactorMean) bool { return f.Name == name })
		if mean := s.Factors[i].Mean; mean == mean {
			name += fmt.Sprintf(" (%.2f)", mean)
		}
		out = append(out, name)
	}
	return andList(out)
}

func (c Coarse) words() string {
	return fmt.Sprintf("the cells of %s are %s\u00a0m wide (%s) and decide more than this area", c.Map, metresWords(c.SideM), areaWords(c.CellHa))
}

// upperFirst begins a sentence; pH keeps its small letter.
func upperFirst(text string) string {
	if strings.HasPrefix(text, "pH") || text == "" {
		return text
	}
	return strings.ToUpper(text[:1]) + text[1:]
}
