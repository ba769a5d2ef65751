package habitat

import (
	"fmt"
	stdmaps "maps"
	"slices"

	"likelyground/habitat/plan"
	"likelyground/raster/maps"
)

// findings is what was seen of a map, raster or vector.
func (s *source) findings() maps.Findings {
	switch {
	case s.told != nil:
		return *s.told
	case s.raster != nil:
		return s.raster.Judge()
	case s.polygons != nil:
		return s.polygons.Judge()
	}
	return maps.Findings{}
}

// judge holds what the maps' cells were against what the plan and the maps
// say they are. Everything wrong is told at once; what is odd but stops
// nothing comes back as warnings.
func (d *desk) judge() (warnings []string, err error) {
	f := &faults{plan: d.plan}
	for i := range d.plan.Maps {
		m := &d.plan.Maps[i]
		s := d.sources[m.Name]
		if s == nil || s.blank != "" {
			continue
		}
		warnings = append(warnings, d.judgeMap(s, s.findings(), f)...)
	}
	for _, s := range d.graph.scorers {
		d.judgeScores(s, f)
	}
	if d.graph.counts.Area == 0 {
		f.say(d.areaPos(), "the area holds no cell of the grid", "choose a larger area or a smaller cell")
	}
	d.said = append(d.said, warnings...)
	return warnings, f.err()
}

// judgeMap judges what was found in one map.
func (d *desk) judgeMap(s *source, found maps.Findings, f *faults) (warnings []string) {
	for _, p := range found.Problems {
		if s.m.Optional && found.Known == 0 && maps.Elsewhere(p) {
			warnings = append(warnings, fmt.Sprintf("the optional map %q says nothing about this area", s.m.Name))
			continue
		}
		f.at(s.m.Pos, p)
	}
	if found.Clipped > 0 {
		warnings = append(warnings, fmt.Sprintf("%d cells of the map %q lie outside its `between` and count as missing", found.Clipped, s.m.Name))
	}
	if found.Gaps > 0 {
		warnings = append(warnings, fmt.Sprintf("the map %q has gaps: %s, of the ground that the plan uses lie in none of its %d files and count as missing", s.m.Name, d.amount(found.Gaps), len(s.raster.Facts())))
	}
	if found.Hidden > 0 {
		warnings = append(warnings, fmt.Sprintf("polygons of the map %q that differ overlap on %s: the later one in the file counts", s.m.Name, d.amount(found.Hidden)))
	}
	if found.Infinite > 0 {
		warnings = append(warnings, fmt.Sprintf("%d cells of the map %q hold an infinite number and count as missing", found.Infinite, s.m.Name))
	}
	if s.classes != nil {
		d.judgeCodes(s, found, f)
	}
	return warnings
}

// judgeCodes refuses codes that a map's legend does not explain, unless
// everybody who reads the map has a score for other classes.
func (d *desk) judgeCodes(s *source, found maps.Findings, f *faults) {
	var odd []string
	cells := map[int32]int64{}
	for _, c := range found.Codes {
		cells[c.Code] += c.Cells
	}
	cells = s.classes.byPart(cells)
	for _, code := range slices.Sorted(stdmaps.Keys(cells)) {
		if !s.classes.known(code) {
			odd = append(odd, fmt.Sprintf("%s (%s)", s.classes.written(code), d.amount(cells[code])))
		}
	}
	if len(odd) == 0 || d.othersScored(s.m.Name) {
		return
	}
	fix := "add the code to the legend, say `missing:` with the code if it means no data, or give the factor `others:`"
	if s.m.Legend.Open() != nil {
		fix = "say `missing:` with the code if it means no data, give the factor `others:`, or give the map another legend: it may be another product"
	}
	f.say(s.m.Pos, fmt.Sprintf("the legend of the map %q does not explain %s", s.m.Name, listed(odd, 12)), fix)
}

// othersScored reports whether all that read a map score other classes too.
func (d *desk) othersScored(name string) bool {
	all := true
	eachFactor(d.plan.Factors, func(x *plan.Factor) {
		if x.From == name && x.Scores != nil && x.Scores.Others == nil {
			all = false
		}
	})
	for _, v := range d.plan.Derived {
		all = all && !slices.Contains(v.Reads(), name)
	}
	for _, k := range d.plan.KeepOut {
		all = all && k.Layer != name
	}
	return all
}

// amount says how much ground a number of cells is.
func (d *desk) amount(cells int64) string {
	word := "cells"
	if cells == 1 {
		word = "cell"
	}
	ha := float64(cells) * d.grid.cellHa()
	if ha >= 1000 {
		return fmt.Sprintf("%d %s, %.0f ha", cells, word, ha)
	}
	return fmt.Sprintf("%d %s, %.4g ha", cells, word, ha)
}

// judgeScores refuses classes of the area that have no score.
func (d *desk) judgeScores(s *scorer, f *faults) {
	var odd []string
	wants := s.unscored()
	for _, code := range slices.Sorted(stdmaps.Keys(wants)) {
		if s.of.known(code) {
			odd = append(odd, fmt.Sprintf("%q (%s%s)", s.of.name(code), s.of.codeWords(code), d.amount(wants[code])))
		}
	}
	if len(odd) == 0 {
		return
	}
	f.say(s.f.Scores.Pos, fmt.Sprintf("the factor %q gives no score to %s of the %s %q", s.f.Name, listed(odd, 12), s.of.what(), s.f.From),
		"give each of them a score from 0 to 1, or all others one with `others: 0`")
}

// codeWords names a code that a legend has a name for.
func (c *classes) codeWords(code int32) string {
	if c.legend == nil {
		return ""
	}
	return c.written(code) + ", "
}

// notes returns what the headers of a map's files warned of, and what was
// counted on reading a vector map.
func (s *source) notes() []string {
	var out []string
	say := func(format string, args ...any) {
		out = append(out, fmt.Sprintf("map %q: ", s.m.Name)+fmt.Sprintf(format, args...))
	}
	switch {
	case s.raster != nil:
		for _, f := range s.raster.Facts() {
			for _, n := range f.Notes {
				say("%s: %s", f.Path, n)
			}
		}
	case s.polygons != nil:
		facts := s.polygons.Facts()
		for _, n := range facts.Warnings() {
			say("%s", n)
		}
	}
	return out
}

// quickly looks at samples of the maps and returns what is wrong with them.
func (d *desk) sample() error {
	f := &faults{plan: d.plan}
	for i := range d.plan.Maps {
		m := &d.plan.Maps[i]
		s := d.sources[m.Name]
		if s != nil && s.polygons != nil && s.blank == "" {
			f.at(m.Pos, d.sampleOverlap(s))
		}
		if s == nil || s.raster == nil || s.blank != "" {
			continue
		}
		found, err := s.raster.Sample(0)
		if err != nil {
			f.at(m.Pos, err)
			continue
		}
		if found.Known == 0 {
			found.Problems = nil // a sample may miss what is known
		}
		d.judgeMap(s, found, f)
	}
	return f.err()
}

// sampleOverlap warns of polygons that lie over each other.
func (d *desk) sampleOverlap(s *source) error {
	covered, hidden, err := s.polygons.Overlap()
	if hidden > 0 {
		d.said = append(d.said, fmt.Sprintf("polygons of the map %q that differ overlap on %.2g %% of the ground that they cover, by a sample: the later one in the file counts", s.m.Name, 100*float64(hidden)/float64(covered)))
	}
	return err
}
