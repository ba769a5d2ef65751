package maps

import (
	"fmt"
	"math"
	"slices"
	"sync"

	"likelyground/raster"
)

// polygonTally gathers the counts of needed cells by code.
type polygonTally struct {
	sync.Mutex
	counts map[int32]int64
	hidden int64
}

func (t *polygonTally) merge(counts map[int32]int64, hidden int64) {
	t.Lock()
	defer t.Unlock()
	t.hidden += hidden
	if t.counts == nil {
		t.counts = map[int32]int64{}
	}
	for code, n := range counts {
		t.counts[code] += n
	}
}

// Judge returns what was found in the cells that were needed, over all
// readers closed so far. It is whole once every reader is closed, and does
// not depend on how the readers shared the work. A map without any known
// cell is a problem; a mask is always known.
func (p *Polygons) Judge() Findings {
	p.tally.Lock()
	defer p.tally.Unlock()
	out := Findings{Low: math.NaN(), High: math.NaN(), Notes: p.facts.Warnings(), Hidden: p.tally.hidden}
	for code, n := range p.tally.counts {
		if code == raster.MissingCode {
			out.Missing = n
			continue
		}
		out.Known += n
		out.Codes = append(out.Codes, CodeCount{code, n})
	}
	slices.SortFunc(out.Codes, func(a, b CodeCount) int { return int(a.Code) - int(b.Code) })
	if p.numbers != nil {
		p.judgeNumbers(&out)
	}
	if out.Known == 0 && out.Missing > 0 && len(out.Problems) == 0 {
		out.Problems = append(out.Problems, p.nothingKnown())
	}
	return out
}

func (p *Polygons) nothingKnown() *Problem {
	return &Problem{Map: p.spec.Name, File: p.spec.File, Elsewhere: true, What: "its polygons cover none of the area with a known class",
		Fix: "use a map that knows this area, or another field:; optional: true goes on without it"}
}

// count adds the needed cells to the counts, run by run of equal codes.
func count(counts map[int32]int64, codes []int32, need []bool) {
	var few [256]int64 // of the codes below: most maps have no others
	for i := 0; i < len(codes); {
		code, from := codes[i], i
		i += raster.Run(codes[i:])
		switch n := needed(need, from, i); {
		case code >= 0 && int(code) < len(few):
			few[code] += n
		case n > 0:
			counts[code] += n
		}
	}
	for code, n := range few {
		if n > 0 {
			counts[int32(code)] += n
		}
	}
}

// Warnings are the notes of the layer's header and what was counted of it
// that may be other than meant.
func (f *PolygonFacts) Warnings() []string {
	out := slices.Clone(f.Notes)
	for _, c := range []struct {
		n    int
		what string
	}{
		{f.Repaired, "invalid geometries repaired, filled even-odd"},
		{f.Unchecked, "geometries of too many overlapping lines to be checked, filled even-odd"},
		{f.NullGeometry, "features without geometry left out"},
		{f.NotPolygons - f.Points - f.Lines, "features that are no polygons left out"},
		{f.Points, "features of points left out: `radius:` would give them ground"},
		{f.Lines, "features of lines left out: `width:` would give them ground"},
		{f.Unclassed, "polygons without a class: missing there"},
		{f.HalfUnknown, "polygons of which less than half is known by its parts: missing there"},
		{f.OddShares, "polygons whose shares are negative or come to more than the whole: missing there"},
		{f.NoShares, "polygons with more than one part that has no share: those parts count as unknown"},
		{f.Recoded, "texts not in UTF-8, read as Windows-1252"},
	} {
		if c.n > 0 {
			out = append(out, fmt.Sprintf("%s: %d %s", f.Path, c.n, c.what))
		}
	}
	return out
}
