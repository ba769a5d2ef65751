package plan

import (
	"slices"
	"sync"
)

// The tables of this file and the next are the plan file: each key once, with
// its words for the JSON Schema, its form and its place in the Plan.

// top is the plan as a whole, made once.
var top = sync.OnceValue(func() shape[Plan] { return topTable().shape() })

func topTable() object[Plan] {
	return object[Plan]{
		what:  "a plan",
		about: "What ground to rate, from which maps, by which factors, joined how. Paths are relative to the plan; the order of keys never matters.",
		fresh: freshPlan,
		keys: []key[Plan]{
			needed("format: 1", entry("format", "The version of the plan format: 1.", formatShape(), func(*Plan, put[int]) {})),
			entry("title", "A title for people, printed on results.", textShape("a title"), func(p *Plan, v put[string]) { p.Title = v.value }),
			entry("subject", "The organism, by its scientific name.", textShape("a subject"), func(p *Plan, v put[string]) { p.Subject = v.value }),
			entry("area", "The ground to rate: a file of polygons, or a box. Without it, the extent of the grid's map.", areaShape(), func(p *Plan, v put[Area]) { p.Area = &v.value }),
			needed("grid: {like: MAP}", entry("grid", "The cells: like one of the maps, or a CRS and a cell.", loose(gridShape()), func(p *Plan, v put[Grid]) { p.Grid = v.value })),
			needed("maps: {ground: {file: dem.tif}}", entry("maps", "The maps by names of your choice.", namedShape("maps", mapShape(), 1), keepMaps)),
			entry("derived", "Layers worked out from maps, by names of your choice.", namedShape("derived", derivedShape(), 1), keepDerived),
			needed("factors: {low ground: {from: ground, curve: {100: 1, 300: 0}}}", entry("factors", "What makes ground good, by names of your choice. Bands of factors.tif follow this order.", namedShape("factors", factorShape(), 1), keepFactors)),
			entry("compare", "Weights by comparing factors in pairs (Saaty 1980): {acid soil: {hosts: 1/2}} says acid soil counts half as much as hosts. Each pair once.", compareShape(), func(p *Plan, v put[[]pair]) { p.Compare = &Comparison{Pos: v.key, pairs: v.value} }),
			entry("accept inconsistency", "Go on although the pairwise table contradicts itself (consistency ratio above 0.1).", truthShape(), func(p *Plan, v put[bool]) { p.acceptInconsistency = v.value }),
			entry("rule", "How the factors are joined. Default: geometric mean.", ruleShape(), func(p *Plan, v put[Rule]) { p.Rule = v.value; p.Rule.Pos = v.at }),
			entry("floor", "Smallest factor score that enters a geometric or harmonic mean. Default 0: a zero vetoes.", numberShape(0, 1), func(p *Plan, v put[float64]) { p.Floor = v.value }),
			entry("unknown", "What a missing factor does. Default: share out, its weight goes to the known factors.", unknownShape(), func(p *Plan, v put[Unknown]) { p.Unknown = v.value; p.Unknown.Pos = v.at }),
			entry("keep out", "Ground that gets no score.", listShape("keep out", loose(keepOutShape()), 1, 0), func(p *Plan, v put[[]KeepOut]) { p.KeepOut = v.value }),
			entry("hotspots", "Which patches of good ground are listed.", hotspotsShape(), func(p *Plan, v put[Hotspots]) { p.Hotspots = v.value }),
			entry("outputs", "What a run writes beside its account: score (score.tif), factors (factors.tif), hotspots (hotspots.geojson), gpx (hotspots.gpx, for a phone), csv (hotspots.csv and its description), geopackage (hotspots.gpkg, with a layer to fill in), picture (picture.tif, the score in colours). Default: score, factors, hotspots.", outputsShape(), func(p *Plan, v put[Outputs]) { p.Outputs = v.value }),
			entry("compression", "How rasters are compressed: deflate, the default, which every viewer reads, or zstd; {deflate: 9} and {zstd: 12} name the effort too.", compressionShape(), func(p *Plan, v put[Compression]) { p.Packing = v.value }),
		},
		rules: []rule{
			{kind: goesWith, keys: []string{"accept inconsistency"}, with: []string{"compare"}, why: "it speaks of the pairwise table", fix: "take it out, or add the table"},
		},
		finish: func(_ *reader, p *Plan, g given) { p.given = g },
	}
}

func freshPlan() Plan {
	return Plan{
		Rule:     Rule{Kind: GeometricMean},
		Unknown:  Unknown{Kind: ShareOut},
		Hotspots: freshHotspots(),
		Outputs:  Outputs{Score: true, Factors: true, Hotspots: true},
		Packing:  Compression{Packer: Deflate},
	}
}

func formatShape() shape[int] {
	read := func(r *reader, n *node) (int, bool) {
		if n.isNumber() && n.text == "1" {
			return 1, true
		}
		r.better(n.pos, "the plan is of another format than 1", "this program reads format 1", "1")
		return 0, false
	}
	return shape[int]{read, schema{"const": 1}}
}

func areaShape() shape[Area] {
	file := asIs(placed(mapPathShape()), func(p put[string]) Area { return Area{File: p.value, Pos: p.at} })
	table := object[Area]{
		what: "an area", fresh: func() Area { return Area{} },
		keys: []key[Area]{
			entry("file", "A file of polygons.", mapPathShape(), func(a *Area, v put[string]) { a.File, a.Pos = v.value, v.at }),
			entry("layer", "The layer of that file; not needed where it has one.", textShape("a layer"), func(a *Area, v put[string]) { a.Layer = v.value }),
			entry("box", "[west, south, east, north] in the units of crs; degrees of longitude and latitude for EPSG:4326.", listShape("a box", anyNumber(), 4, 4), func(a *Area, v put[[]float64]) {
				a.IsBox, a.Pos, a.Corners = true, v.at, Corners{v.value[0], v.value[1], v.value[2], v.value[3]}
			}),
			entry("crs", "The coordinate reference system of the box, or in place of what the file says.", textShape("a crs"), func(a *Area, v put[string]) { a.CRS, a.CRSPos = v.value, v.at }),
		},
		rules: []rule{
			{kind: exactlyOne, keys: []string{"file", "box"}, fix: "give either a file or a box"},
			{kind: goesWith, keys: []string{"layer"}, with: []string{"file"}, why: "a box has no layers", fix: "take it out"},
			{kind: goesWith, keys: []string{"box"}, with: []string{"crs"}, why: "bare numbers could lie anywhere", fix: "add crs: EPSG:4326 for degrees of longitude and latitude"},
		},
		finish: func(r *reader, a *Area, _ given) { r.corners(*a) },
	}.shape()
	return byKind("an area", &file, nil, &table)
}

// corners refuses boxes that are none.
func (r *reader) corners(a Area) {
	c := a.Corners
	degrees := a.CRS == "EPSG:4326" || a.CRS == "OGC:CRS84"
	switch {
	case !a.IsBox:
	case degrees && (c.West < -180 || c.East > 180 || c.South < -90 || c.North > 90):
		r.wrong(a.Pos, "this box reaches beyond the globe: longitudes go from -180 to 180, latitudes from -90 to 90", "write [west, south, east, north] in degrees")
	case c.West >= c.East:
		r.wrong(a.Pos, "the box ends in the east no further than it begins in the west", "write [west, south, east, north]")
	case c.South >= c.North:
		r.wrong(a.Pos, "the box ends in the north no further than it begins in the south", "write [west, south, east, north]")
	}
}

func gridShape() shape[Grid] {
	cell := measureShape(lengths)
	square := asIs(cell, func(v float64) [2]float64 { return [2]float64{v, v} })
	oblong := asIs(listShape("a cell", cell, 2, 2), func(v []float64) (out [2]float64) {
		copy(out[:], v)
		return out
	})
	return object[Grid]{
		what: "a grid", fresh: func() Grid { return Grid{} },
		keys: []key[Grid]{
			entry("like", "The map whose CRS and cells the grid takes.", textShape("a map's name"), func(g *Grid, v put[string]) { g.Like, g.Pos = v.value, v.at }),
			entry("crs", "The coordinate reference system, such as EPSG:25831.", textShape("a crs"), func(g *Grid, v put[string]) { g.CRS, g.CRSPos, g.Pos = v.value, v.at, v.key }),
			entry("cell", "Side of a cell, such as 10 m, or [width, height].", byKind("a cell", &square, &oblong, nil), func(g *Grid, v put[[2]float64]) { g.DX, g.DY, g.CellPos = v.value[0], v.value[1], v.at }),
			entry("accept scale error", "Go on although lengths of the CRS are more than 2 % off the ground's, as in web maps.", truthShape(), func(g *Grid, v put[bool]) { g.AcceptScaleError = v.value }),
		},
		rules: []rule{
			{kind: exactlyOne, keys: []string{"like", "crs"}, fix: "write either {like: MAP} or {crs: EPSG:…, cell: 10 m}"},
			{kind: goesWith, keys: []string{"crs"}, with: []string{"cell"}, why: "a grid of its own needs its size of cell", fix: "add cell: 10 m"},
			{kind: goesWith, keys: []string{"cell"}, with: []string{"crs"}, why: "a grid like a map has that map's cells", fix: "take it out, or give crs in place of like"},
		},
	}.shape()
}

func ruleShape() shape[Rule] {
	word := wordShape("a rule", MeanRule, GeometricMean, HarmonicMean, Product, LeastFactor, OrderedWeightsRule)
	plain := shape[Rule]{func(r *reader, n *node) (Rule, bool) {
		k, ok := word.read(r, n)
		if ok && k == OrderedWeightsRule {
			r.wrong(n.pos, "ordered weights need their weights", "write {ordered weights: [0.5, 0.3, 0.2]}, for the best score first")
			return Rule{}, false
		}
		return Rule{Kind: k}, ok
	}, wordShape("a rule", MeanRule, GeometricMean, HarmonicMean, Product, LeastFactor).schema}
	ordered := object[Rule]{
		what: "a rule", fresh: func() Rule { return Rule{} },
		keys: []key[Rule]{
			needed("ordered weights: [0.6, 0.4]", entry("ordered weights", "Weights by rank (Yager 1988): the first for the best score, the last for the worst. As many as factors with weight; they sum to 1.", listShape("ordered weights", numberShape(0, 1), 1, 0), func(u *Rule, v put[[]float64]) {
				u.Kind, u.Order = OrderedWeightsRule, v.value
			})),
		},
	}.shape()
	return byKind("a rule", &plain, nil, &ordered)
}

func unknownShape() shape[Unknown] {
	word := asIs(wordShape("unknown", ShareOut, LeaveBlank), func(k UnknownKind) Unknown { return Unknown{Kind: k} })
	assume := object[Unknown]{
		what: "unknown", fresh: func() Unknown { return Unknown{Kind: Assume} },
		keys: []key[Unknown]{
			needed("assume: 0.4", entry("assume", "The score of a missing factor.", numberShape(0, 1), func(u *Unknown, v put[float64]) { u.Score = v.value })),
		},
	}.shape()
	return byKind("unknown", &word, nil, &assume)
}

func freshHotspots() Hotspots { return Hotspots{From: 0.7, Least: 5000, Most: 40} }

func hotspotsShape() shape[Hotspots] {
	return object[Hotspots]{
		what: "hotspots", fresh: freshHotspots,
		keys: []key[Hotspots]{
			entry("from", "Cells of at least this score make up patches. Default 0.7.", numberShape(0, 1), func(h *Hotspots, v put[float64]) { h.From = v.value }),
			entry("least", "Smallest area of a patch, such as 0.5 ha, the default.", measureShape(areas), func(h *Hotspots, v put[float64]) { h.Least = v.value }),
			entry("or length", "Smaller patches stay where they are at least so long, such as 150 m, so that rows and rides are not lost: the greatest distance between two points of a patch.", measureShape(lengths), func(h *Hotspots, v put[float64]) { h.OrLength = v.value }),
			entry("most", "How many patches are listed, best first. Default 40.", integerShape(1, 1_000_000), func(h *Hotspots, v put[int]) { h.Most = v.value }),
		},
	}.shape()
}

// output is a word of the list of outputs.
type output string

// outputWords are the outputs in the order of the plan's words.
var outputWords = []struct {
	word  output
	place func(*Outputs) *bool
}{
	{"score", func(o *Outputs) *bool { return &o.Score }},
	{"factors", func(o *Outputs) *bool { return &o.Factors }},
	{"hotspots", func(o *Outputs) *bool { return &o.Hotspots }},
	{"gpx", func(o *Outputs) *bool { return &o.GPX }},
	{"csv", func(o *Outputs) *bool { return &o.CSV }},
	{"picture", func(o *Outputs) *bool { return &o.Picture }},
	{"geopackage", func(o *Outputs) *bool { return &o.GeoPackage }},
}

func outputsShape() shape[Outputs] {
	var words []output
	for _, w := range outputWords {
		words = append(words, w.word)
	}
	list := listShape("outputs", placed(wordShape("an output", words...)), 1, len(words))
	list.schema["uniqueItems"] = true
	read := func(r *reader, n *node) (Outputs, bool) {
		given, ok := list.read(r, n)
		var out Outputs
		for _, w := range given {
			place := outputWords[slices.Index(words, w.value)].place(&out)
			if *place {
				r.wrong(w.at, quote(string(w.value))+" stands twice", "keep one of them")
				ok = false
			}
			*place = true
		}
		return out, ok
	}
	return shape[Outputs]{read, list.schema}
}

func compressionShape() shape[Compression] {
	word := asIs(wordShape("compression", Deflate, Zstd), func(p Packer) Compression { return Compression{Packer: p} })
	level := func(p Packer, most int) key[Compression] {
		return entry(string(p), "The effort, from 1 (fast) up.", integerShape(1, most), func(c *Compression, v put[int]) { c.Packer, c.Level = p, v.value })
	}
	table := object[Compression]{
		what: "compression", fresh: func() Compression { return Compression{} },
		keys:  []key[Compression]{level(Deflate, 9), level(Zstd, 22)},
		rules: []rule{{kind: exactlyOne, keys: []string{string(Deflate), string(Zstd)}, fix: "write deflate, zstd, or one of them with its effort, such as {deflate: 9}"}},
	}.shape()
	return byKind("compression", &word, nil, &table)
}
