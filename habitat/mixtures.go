package habitat

import (
	"fmt"
	stdmaps "maps"
	"math"
	"slices"
	"strings"

	"likelyground/habitat/plan"
	"likelyground/raster"
	"likelyground/raster/maps"
	"likelyground/raster/nearby"
)

// Where polygons are of several classes each, the code of a cell is the number
// of a mixture, and the classes, their names and their groups are of the codes
// of its parts.

// mixed reports whether the code of a cell is the number of a mixture.
func (c *classes) mixed() bool { return c.mix != nil }

// parts returns what the code of a cell is made of.
func (c *classes) parts(code int32) []maps.Part {
	if !c.mixed() {
		return []maps.Part{{Code: code, Share: maps.WholeShare}}
	}
	return c.mix[code].Parts
}

// cellName returns what the code of a cell is called: its class, or its parts
// with their shares.
func (c *classes) cellName(code int32) string {
	parts := c.parts(code)
	if len(parts) == 1 && parts[0].Share >= maps.WholeShare {
		return c.name(parts[0].Code)
	}
	var out []string
	for _, p := range parts {
		out = append(out, fmt.Sprintf("%s %% %s", percents(p.Share), c.name(p.Code)))
	}
	if left := unknownPart(parts); left > 0 {
		out = append(out, percents(left)+" % unknown")
	}
	return strings.Join(out, ", ")
}

// percents writes a share of millionths in percent.
func percents(share int32) string { return fmt.Sprintf("%.4g", float64(share)/(maps.WholeShare/100)) }

// unknownPart is the share of a polygon whose class is not known, in
// millionths.
func unknownPart(parts []maps.Part) int32 {
	left := int64(maps.WholeShare) - maps.Mixture{Parts: parts}.Known()
	return int32(max(left, 0))
}

// byPart turns cells by their codes into cells in which each class has a part.
func (c *classes) byPart(cells map[int32]int64) map[int32]int64 {
	if !c.mixed() {
		return cells
	}
	out := map[int32]int64{}
	for code, n := range cells {
		for _, p := range c.mix[code].Parts {
			out[p.Code] += n
		}
	}
	return out
}

// wholeCells is how many cells a class would fill, of cells by their codes, if
// its parts were put together: in millionths of a cell, parts of what is known.
func (c *classes) wholeCells(cells map[int32]int64, class int32) float64 {
	sum := 0.0
	for _, code := range slices.Sorted(stdmaps.Keys(cells)) {
		sum += float64(float64(cells[code]) * c.mix[code].Share(func(code int32) bool { return code == class }))
	}
	return sum
}

// memberOfParts is member where polygons are of several classes: a cell is of
// the classes where they make up at least half of what is known.
func (c *classes) memberOfParts(in map[int32]uint8) *raster.CodeTable[uint8] {
	out := map[int32]uint8{}
	for code, x := range c.mix {
		of := int64(0)
		for _, p := range x.Parts {
			if in[p.Code] == nearby.Yes {
				of += int64(p.Share)
			}
		}
		if 2*of >= x.Known() && of > 0 {
			out[int32(code)] = nearby.Yes
		}
	}
	return raster.NewCodeTable(out, nearby.Missing, nearby.No)
}

// fraction returns how much of each mixture is of the given classes.
func (c *classes) fraction(of []plan.Class, f *faults) *raster.CodeTable[float32] {
	hits, odd := c.assign(of, false)
	f.unknownClasses(odd)
	out := map[int32]float32{}
	for code, x := range c.mix {
		out[int32(code)] = float32(x.Share(func(code int32) bool { _, in := hits[code]; return in }))
	}
	return raster.NewCodeTable(out, raster.Missing, raster.Missing)
}

// scoreOfParts turns scores of classes into those of cells: the mean of the
// known parts' scores by their shares, missing where a part has no score.
func (c *classes) scoreOfParts(of map[int32]float64, others float64) (scores map[int32]float64, rest float64) {
	if !c.mixed() {
		return of, others
	}
	scores = map[int32]float64{}
	for code, x := range c.mix {
		sum, known := 0.0, float64(x.Known())
		for _, p := range x.Parts {
			y, ok := of[p.Code]
			if !ok {
				y = others
			}
			sum += float64(float64(p.Share) * y)
		}
		if mean := sum / known; !math.IsNaN(mean) {
			scores[int32(code)] = min(mean, 1)
		}
	}
	return scores, math.NaN()
}

// asMixtures makes mixtures of several layers' classes one set, where at least
// one of the layers has mixtures. codes gives the classes of each layer their
// numbers in the whole; the tables come back for the codes of cells.
func (b *builder) asMixtures(whole *classes, names []string, codes []map[int32]int32) []*raster.CodeTable[int32] {
	all := []maps.Mixture{pureOf(unnamed)}
	of := make([]map[int32]maps.Mixture, len(names))
	for i, name := range names {
		of[i] = b.g.classes[name].translated(codes[i])
		for _, code := range slices.Sorted(stdmaps.Keys(of[i])) {
			all = append(all, of[i][code])
		}
	}
	slices.SortFunc(all, maps.Mixture.Compare)
	whole.mix = slices.CompactFunc(all, func(a, b maps.Mixture) bool { return a.Compare(b) == 0 })
	place := func(x maps.Mixture) int32 {
		at, _ := slices.BinarySearchFunc(whole.mix, x, maps.Mixture.Compare)
		return int32(at)
	}
	var tables []*raster.CodeTable[int32]
	for i := range names {
		table := map[int32]int32{}
		for code, x := range of[i] {
			table[code] = place(x)
		}
		tables = append(tables, raster.NewCodeTable(table, raster.MissingCode, place(pureOf(unnamed))))
	}
	return tables
}

func pureOf(code int32) maps.Mixture {
	return maps.NewMixture([]maps.Part{{Code: code, Share: maps.WholeShare}})
}

// translated returns, for each code of a cell, its mixture in other numbers of
// classes; a class without a number has no name.
func (c *classes) translated(codes map[int32]int32) map[int32]maps.Mixture {
	out := map[int32]maps.Mixture{}
	if !c.mixed() {
		for code, to := range codes {
			out[code] = pureOf(to)
		}
		return out
	}
	for code, x := range c.mix {
		var parts []maps.Part
		for _, p := range x.Parts {
			to, ok := codes[p.Code]
			if !ok {
				to = unnamed
			}
			parts = append(parts, maps.Part{Code: to, Share: p.Share})
		}
		out[int32(code)] = maps.NewMixture(parts)
	}
	return out
}
