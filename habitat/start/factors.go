package start

import (
	"fmt"
	"os"
	"slices"
	"strings"

	"likelyground/habitat"
	"likelyground/habitat/look"
	"likelyground/habitat/plan"
)

// factorsText writes a factor for every map and derived layer.
func (s *starting) factorsText(w *writer) {
	w.line("")
	w.say(0, "What your organism wants. Weights say how much a factor counts beside the others: all alike (1) to begin with; 2 counts twice, 0 is shown and counts nothing.")
	w.line("factors:")
	taken := map[string]bool{}
	first := true
	next := func(name string) string {
		if !first {
			w.line("")
		}
		first = false
		if reserved(name) {
			name = "good " + name
		}
		return unique(name, taken)
	}
	for _, p := range s.maps {
		name := next(p.factorName())
		if p.holds == look.Classes {
			s.scoredText(w, name, p)
		} else {
			s.curvedText(w, name, p.name, s.unitOf(p.name), spreadOf.usual, 1)
		}
	}
	for _, d := range s.derived() {
		if d.verb == "slope" {
			s.curvedText(w, next(d.name), d.name, d.unit, func(o spreadOf, _ string) (string, string) { return o.gentle() }, 1)
		} else {
			s.northText(w, next(d.name), d)
		}
	}
}

func (p *part) factorName() string {
	switch p.holds {
	case look.Heights:
		return "height"
	case look.Acidity:
		return "acidity"
	}
	return p.name
}

// curvedText writes a factor with a curve.
func (s *starting) curvedText(w *writer, name, layer, unit string, draw func(spreadOf, string) (string, string), weight int) {
	h := s.holding(layer)
	text, words := "{0: 1}", "No value is known on this ground: 1 everywhere."
	if h != nil && len(h.Values) > 0 {
		text, words = draw(newSpread(h.Values), unit)
	}
	w.say(2, "%s", words+missingWords(h))
	w.line("  %s:", look.Scalar(name))
	w.line("    from: %s", look.Scalar(layer))
	w.line("    curve: %s", text)
	s.placesCurve(w, layer)
	w.line("    weight: %d", weight)
}

// missingWords tells how much of the ground a layer does not know.
func missingWords(h *habitat.LayerHolding) string {
	if h == nil || h.Missing < 0.005 {
		return ""
	}
	return fmt.Sprintf(" It is not known on %s of the ground.", percentWords(h.Missing))
}

// northText writes a factor that counts nothing until somebody wants it.
func (s *starting) northText(w *writer, name string, d layer) {
	w.say(2, "Which way a slope faces. Ground that faces south gets the most sun and scores 0.4 here, ground that faces north 1; turn the two for a lover of warmth. Weight 0: it counts nothing until you say so.")
	w.line("  %s:", look.Scalar(name))
	w.line("    from: %s", look.Scalar(d.name))
	w.line("    curve: {-1: 0.4, 1: 1}")
	s.placesCurve(w, d.name)
	w.line("    weight: 0")
}

// placesCurve tells, rounded, what the places say of a quantity.
func (s *starting) placesCurve(w *writer, layer string) {
	l, h := s.compared(layer), s.holding(layer)
	if l == nil || h == nil || l.Known < leastPlaces || len(h.Values) == 0 {
		return
	}
	o := newSpread(h.Values)
	lead := "    # places:"
	w.sayAfter(lead, "%d of yours lie from %s to %s, which %s of the ground do too; as many picked blindly would span about %s.", l.Known, number(o.down(l.low)), number(o.up(l.high)), percentWords(roundShare(*l.Span)), percentWords(*l.Blind))
	if l.Curve == "" {
		return
	}
	w.sayAfter(lead, "to favour ground like theirs, put this in the place of the curve%s:", fewWords(l.Known))
	w.line("%s curve: %s", lead, l.Curve)
}

// roundShare rounds to twentieths, but for what is less than one.
func roundShare(x float64) float64 {
	if x < 0.05 {
		return 0.05
	}
	return float64(int(x*20+0.5)) / 20
}

func fewWords(n int) string {
	if n < fewPlaces {
		return fmt.Sprintf(" (%d places prove little)", n)
	}
	return ""
}

// compared is the comparison of a layer; nil where the plan says nothing of
// places.
func (s *starting) compared(name string) *LayerCompare {
	if !s.told() {
		return nil
	}
	for i := range s.result.Places.Layers {
		if s.result.Places.Layers[i].Name == name {
			return &s.result.Places.Layers[i]
		}
	}
	return nil
}

// mostScored is how many classes of a map get a line of their own.
const mostScored = 200

// mostName is how many characters a class in a plan may have; longer ones fall
// under others.
const mostName = 500

// neutral is the score of every class to begin with.
const neutral = "0.5"

// scoredText writes a factor with scores.
func (s *starting) scoredText(w *writer, name string, p *part) {
	h := s.holding(p.name)
	l := s.compared(p.name)
	words := "Every class of this ground, the largest first, with its share. 0.5 says nothing for or against: write 1 where your organism thrives, 0 where it never grows."
	if l != nil && l.Known >= leastPlaces {
		words += fmt.Sprintf(" Behind `places:` stands how many of your %d places have the class, and a score that follows from that%s.", l.Known, fewWords(l.Known))
	}
	w.say(2, "%s", words+missingWords(h))
	w.line("  %s:", look.Scalar(name))
	w.line("    from: %s", look.Scalar(p.name))
	classes := scorable(h)
	if len(classes) == 0 {
		w.line("    scores: {%s: %s}", s.anyClass(p), neutral)
	} else {
		w.line("    scores:")
	}
	for _, c := range classes {
		w.beside(fmt.Sprintf("      %s: %s", classKey(c), neutral), percentWords(c.Share)+" of the ground"+classPlaces(l, c.Code))
	}
	w.beside("    others: "+neutral, "classes without a line here")
	w.line("    weight: 1")
}

// anyClass is a class that a map's legend has, for where none is known of the
// ground; a code where there are no names.
func (s *starting) anyClass(p *part) string {
	if p.legend != "" {
		if data, err := os.ReadFile(p.legend); err == nil {
			if legend, err := plan.ReadLegend(p.legend, data); err == nil && len(legend) > 0 {
				return look.Scalar(legend[0].Name)
			}
		}
	}
	if b := (&plan.LegendUse{BuiltIn: p.builtIn()}).Vocabulary(); len(b.Classes) > 0 {
		return look.Scalar(b.Classes[0].Name)
	}
	for _, c := range p.codes() {
		if c.Name != "" {
			return look.Scalar(c.Name)
		}
	}
	return "1"
}

// builtIn is the legend that the look proposes; "" for none.
func (p *part) builtIn() string {
	for _, b := range p.Bands {
		if b.BuiltIn != "" {
			return b.BuiltIn
		}
	}
	for _, l := range p.Layers {
		for _, f := range l.Fields {
			if f.BuiltIn != "" {
				return f.BuiltIn
			}
		}
	}
	return ""
}

// scorable are the classes whose names a plan can hold.
func scorable(h *habitat.LayerHolding) []habitat.ClassHolding {
	if h == nil {
		return nil
	}
	out := slices.DeleteFunc(slices.Clone(h.Classes), func(c habitat.ClassHolding) bool {
		return c.Named && (len([]rune(c.Name)) > mostName || clean(c.Name) != c.Name || strings.TrimSpace(c.Name) != c.Name || c.Name == "")
	})
	seen := map[string]bool{}
	out = slices.DeleteFunc(out, func(c habitat.ClassHolding) bool { // several codes may share a name
		twice := seen[classKey(c)]
		seen[classKey(c)] = true
		return twice
	})
	return out[:min(len(out), mostScored)]
}

// classPlaces tells how many places have a class.
func classPlaces(l *LayerCompare, code int32) string {
	if l == nil || l.Known < leastPlaces {
		return ""
	}
	for _, c := range l.Classes {
		if c.code == code && c.Score != nil {
			return fmt.Sprintf("  # places: %d of %d: try %s", c.Here, l.Known, number(*c.Score))
		}
	}
	return ""
}
