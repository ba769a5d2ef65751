package habitat

import (
	"fmt"
	"strings"

	"likelyground/habitat/plan"
	"likelyground/raster/maps"
)

// tell says what a cell's code is, in the words of its classes.
func (c *classes) tell(l *WhyLayer, code int32) {
	l.Class = c.cellName(code)
	if !c.mixed() {
		l.Code = &code
		l.Groups = c.groupNames(code)
		return
	}
	for _, p := range c.parts(code) {
		l.Parts = append(l.Parts, WhyPart{Name: c.name(p.Code), Share: shareOf(p.Share), Groups: c.groupNames(p.Code)})
	}
	if left := unknownPart(c.parts(code)); left > 0 {
		l.Parts = append(l.Parts, WhyPart{Share: shareOf(left)})
	}
}

func (c *classes) groupNames(code int32) (out []string) {
	for _, g := range c.groupsOf(code) {
		out = append(out, g.Name)
	}
	return out
}

func shareOf(millionths int32) float64 { return float64(millionths) / maps.WholeShare }

// scoredBy says what of the plan scores a class; score is nil where nothing
// does.
func (s *scorer) scoredBy(class int32) (by, key string, score *float64) {
	if h, ok := s.hits[class]; ok {
		k := &s.f.Scores.Classes[h.Key]
		return string(h.As), k.Written(), &k.Score
	}
	if s.f.Scores.Others != nil {
		return "others", "", s.f.Scores.Others
	}
	return "", "", nil
}

// scoredParts says how each part of a polygon of several classes is scored.
func (s *scorer) scoredParts(code int32) *WhyClass {
	out := &WhyClass{Name: s.of.cellName(code), By: byParts}
	for _, p := range s.of.parts(code) {
		part := WhyPart{Name: s.of.name(p.Code), Share: shareOf(p.Share)}
		part.By, part.Key, part.Score = s.scoredBy(p.Code)
		out.Parts = append(out.Parts, part)
	}
	if left := unknownPart(s.of.parts(code)); left > 0 {
		out.Parts = append(out.Parts, WhyPart{Share: shareOf(left)})
	}
	return out
}

// byParts is what scores a polygon of several classes.
const byParts = "parts"

// words says what the part is, its score, and what scores it where that is not
// its own name.
func (p *WhyPart) words() string {
	text := fmt.Sprintf("%.4g %% ", 100*p.Share)
	switch {
	case p.Name == "":
		return text + "unknown"
	case p.Score == nil:
		return text + fmt.Sprintf("%q without a score", p.Name)
	}
	text += fmt.Sprintf("%q scores %.4g", p.Name, *p.Score)
	switch {
	case p.By == "others":
		return text + " by others"
	case p.By == string(plan.AsName) || p.By == string(plan.AsCode) && p.Key == p.Name:
		return text
	}
	return text + fmt.Sprintf(" by the %s %q", p.By, p.Key)
}

func partWords(parts []WhyPart) string {
	var out []string
	for i := range parts {
		out = append(out, parts[i].words())
	}
	return strings.Join(out, ", ")
}
