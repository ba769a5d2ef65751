package plan

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"likelyground/habitat/legends"
)

// pathShape is the path of a file, relative to the plan.
func pathShape() shape[string] {
	s := textShape("a file")
	read := func(r *reader, n *node) (string, bool) {
		text, ok := s.read(r, n)
		if ok && elsewhere.MatchString(text) {
			r.wrong(n.pos, quote(n.shown())+" is no path of a file", "name a file on this computer, relative to the plan")
			return "", false
		}
		return text, ok
	}
	limited := schema{"not": schema{"pattern": elsewhereForm}}
	for k, v := range s.schema {
		limited[k] = v
	}
	return shape[string]{read, limited}
}

// addressForm is an address on the network, without a login.
const addressForm = `^[Hh][Tt][Tt][Pp][Ss]?://[^\s/?#@\p{Cc}]+([/?][^\s#\p{Cc}]*)?$`

var address = regexp.MustCompile(addressForm)

// mapPathShape is the path of a map: a file, or an address on the network.
func mapPathShape() shape[string] {
	file, text := pathShape(), textShape("an address")
	read := func(r *reader, n *node) (string, bool) {
		if n.kind == scalarNode && address.MatchString(n.text) {
			return text.read(r, n)
		}
		return file.read(r, n)
	}
	named := schema{"pattern": addressForm}
	for k, v := range text.schema {
		if k != "pattern" {
			named[k] = v
		}
	}
	return shape[string]{read, anyOf(file.schema, named)}
}

// elsewhereForm is what is no path: addresses, and the ways by which a map
// library reaches archives, memory and the net.
const elsewhereForm = `^(/vsi|[A-Za-z][A-Za-z0-9+.-]+://)`

var elsewhere = regexp.MustCompile(elsewhereForm)

func filesShape() shape[[]Path] {
	one := asIs(placed(mapPathShape()), func(p put[string]) Path {
		return Path{Text: p.value, Glob: strings.ContainsAny(p.value, "*?[") && !address.MatchString(p.value), Pos: p.at}
	})
	return oneOrMore("a list of files", one)
}

func missingShape() shape[Missing] {
	none := shape[Missing]{func(r *reader, n *node) (Missing, bool) {
		if n.kind == scalarNode && n.text == "none" {
			return Missing{None: true}, true
		}
		v, ok := r.number(n)
		return Missing{Values: []float64{v}}, ok
	}, anyOf(schema{"const": "none"}, anyNumber().schema)}
	span := rangeTable().shape()
	whole := asIs(span, func(v Range) Missing { return Missing{Ranges: []Range{v}} })
	number := asIs(anyNumber(), func(v float64) Missing { return Missing{Values: []float64{v}} })
	pairs := asIs(pairShape("a range"), func(v Range) Missing { return Missing{Ranges: []Range{v}} })
	items := listShape("missing", byKind("a missing value", &number, &pairs, &whole), 1, 0)
	list := asIs(items, func(all []Missing) (out Missing) {
		for _, m := range all {
			out.Values, out.Ranges = append(out.Values, m.Values...), append(out.Ranges, m.Ranges...)
		}
		return out
	})
	return byKind("missing", &none, &list, &whole)
}

func rangeTable() object[Range] {
	return object[Range]{
		what: "a range", fresh: func() Range { return Range{} },
		keys: []key[Range]{
			needed("from: -9999", entry("from", "The lowest number of the range.", anyNumber(), func(g *Range, v put[float64]) { g.Low, g.Pos = v.value, v.key })),
			needed("to: -1000", entry("to", "The highest number of the range.", anyNumber(), func(g *Range, v put[float64]) { g.High = v.value })),
		},
		finish: func(r *reader, g *Range, found given) {
			if len(found) == 2 && g.Low > g.High {
				r.wrong(g.Pos, "the range ends below its beginning", "swap from and to")
			}
		},
	}
}

// pairShape is a range written as [low, high].
func pairShape(what string) shape[Range] {
	list := listShape(what, anyNumber(), 2, 2)
	read := func(r *reader, n *node) (Range, bool) {
		v, ok := list.read(r, n)
		if !ok {
			return Range{}, false
		}
		if v[0] > v[1] {
			r.wrong(n.pos, what+" ends below its beginning", fmt.Sprintf("did you mean [%s, %s]?", trimmed(v[1]), trimmed(v[0])))
			return Range{}, false
		}
		return Range{Low: v[0], High: v[1], Pos: n.pos}, true
	}
	return shape[Range]{read, list.schema}
}

func absentShape() shape[*Absent] {
	read := func(r *reader, n *node) (*Absent, bool) {
		if n.isNumber() {
			v, ok := r.number(n)
			return &Absent{Number: v, Pos: n.pos}, ok
		}
		c, ok := classShape("a value").read(r, n)
		return &Absent{Class: &c, IsClass: true, Pos: n.pos}, ok
	}
	return shape[*Absent]{read, anyOf(anyNumber().schema, textShape("a value").schema)}
}

func mapShape() shape[Map] {
	return object[Map]{
		what: "a map", fresh: func() Map { return Map{} },
		keys: slices.Concat(mapSourceKeys(), partKeys(), featureKeys(), mapMeaningKeys()),
		rules: []rule{
			{kind: clashes, keys: []string{"band"}, with: []string{"field", "parts", "layer"}, why: "a band is of a raster, a field of a vector file", fix: "keep the one that the file has"},
			{kind: clashes, keys: []string{"parts"}, with: []string{"field"}, why: "parts name all the fields that hold classes", fix: "keep parts for polygons of several classes, field for polygons of one"},
			{kind: clashes, keys: []string{"parts"}, with: []string{"scale", "offset", "between", "unit", "surface"}, why: "parts are of classes, which are not measured", fix: "keep one of them"},
			{kind: goesWith, keys: []string{"shares in"}, with: []string{"parts"}, why: "it speaks of the shares of parts", fix: "take it out, or name the parts"},
			{kind: clashes, keys: []string{"index"}, with: []string{"field", "parts"}, why: "an index names the tiles of a raster, a field holds the values of polygons", fix: "keep the one that the file has"},
			{kind: goesWith, keys: []string{"layer"}, with: []string{"field", "parts", "index"}, why: "a vector layer gives its values by a field", fix: "add field: with the name of the column"},
			{kind: goesWith, keys: []string{"where", "radius", "width"}, with: []string{"field", "parts"}, why: "a vector layer gives its values by a field", fix: "add field: with the name of the column"},
			{kind: clashes, keys: []string{"scale", "offset", "between", "unit", "surface"}, with: []string{"legend"}, why: "a legend says that the numbers are codes of classes, which are not measured", fix: "keep the legend for classes, or take it out for amounts"},
			{kind: clashes, keys: []string{"match"}, with: []string{"scale", "offset", "between", "unit"}, why: "it compares class names, and measured values have none", fix: "take it out"},
		},
		finish: finishMap,
	}.shape()
}

func mapSourceKeys() []key[Map] {
	return []key[Map]{
		needed("file: soil.tif", entry("file", "The file, or the way to it in an archive, such as maps.zip/soil.tif, or an http or https address; a pattern such as tiles/*.tif or a list makes one map of many files, the first on top.", filesShape(), func(m *Map, v put[[]Path]) { m.Files = v.value })),
		entry("layer", "The layer of a vector file.", textShape("a layer"), func(m *Map, v put[string]) { m.Layer, m.LayerAt = v.value, v.at }),
		entry("field", "The field of a vector file that holds the values: class names, codes or numbers; of a list, the first that is filled.", oneOrMore("a list of fields", textShape("a field")), func(m *Map, v put[[]string]) {
			m.Field, m.Else, m.FieldAt = v.value[0], v.value[1:], v.at
		}),
		entry("band", "The band of a raster, from 1; needed where it has many.", integerShape(1, 65535), func(m *Map, v put[int]) { m.Band, m.BandAt = v.value, v.at }),
		entry("index", "The field of a vector file, such as location, whose features are footprints of tiles: it holds their paths, seen from that file's folder. The tiles make one map, the first feature's on top.", textShape("a field"), func(m *Map, v put[string]) { m.Index, m.IndexAt = v.value, v.at }),
		entry("crs", "The coordinate reference system, in place of what the file says.", textShape("a crs"), func(m *Map, v put[string]) { m.CRS, m.CRSPos = v.value, v.at }),
		entry("accept ballpark", "Go on where only a transformation without datum shift is at hand, which may be off by 100 m or more.", truthShape(), func(m *Map, v put[bool]) { m.AcceptBallpark = v.value }),
		entry("optional", "Go on where the map does not touch the ground or knows none of it.", truthShape(), func(m *Map, v put[bool]) { m.Optional = v.value }),
		entry("year", "The year that the map shows.", integerShape(1000, 9999), func(m *Map, v put[int]) { m.Year = v.value }),
		entry("credit", "Whom to name.", textShape("a credit"), func(m *Map, v put[string]) { m.Credit = v.value }),
		entry("licence", "The licence, such as CC-BY-4.0, by any usual name, or unknown.", textShape("a licence"), func(m *Map, v put[string]) { m.Licence = v.value }),
		entry("share", "Whether what is made from the map may be passed on: yes, no, or modified, where it is said that the map was changed. Goes before the licence.", wordShape("share", "yes", "no", "modified"), func(m *Map, v put[string]) { m.Share = v.value }),
	}
}

func mapMeaningKeys() []key[Map] {
	return []key[Map]{
		entry("unit", "The unit of the values after scale and offset: m, ft, pH, percent, mm, degrees, or any other text.", textShape("a unit"), func(m *Map, v put[string]) { m.Unit = knownUnit(v.value) }),
		entry("scale", "The file's numbers times scale, plus offset, give the values. Replaces what the file says.", nonZero(), func(m *Map, v put[float64]) { m.Scale = &v.value }),
		entry("offset", "See scale.", anyNumber(), func(m *Map, v put[float64]) { m.Offset = &v.value }),
		entry("surface", "The heights are those of a surface model, which shows tree tops and roofs: slopes worked out from it are warned of. no says that it is none, whatever its name.", truthShape(), func(m *Map, v put[bool]) { m.Surface = &v.value }),
		entry("missing", "Numbers of the file that stand for no knowledge: one, a list, ranges {from: …, to: …}; none insists that all are values.", missingShape(), func(m *Map, v put[Missing]) { m.Missing = v.value; m.Missing.Pos = v.at }),
		entry("between", "[lowest, highest] value that can be true; others are counted and missing.", pairShape("between"), func(m *Map, v put[Range]) { m.Between = &v.value }),
		entry("legend", "Names of the classes: a CSV file with the header code,name (and group, or group 1, group 2, … for what is wider), {1: broadleaf, 2: conifer}, or one that the program has, {built in: worldcover}.", legendShape(), func(m *Map, v put[*LegendUse]) { m.Legend = v.value }),
		entry("match", matchWords+" Holds for all that read the map and say nothing else.", matchShape(), func(m *Map, v put[Match]) { m.Match = v.value }),
		entry("classes", "The numbers are codes of classes. A legend says so by itself.", truthShape(), func(m *Map, v put[bool]) { m.Classes = v.value }),
		entry("where absent", "The value, or the class, of ground that no file, or no polygon, of the map covers.", absentShape(), func(m *Map, v put[*Absent]) { m.WhereAbsent = v.value }),
	}
}

// nonZero is a number other than 0.
func nonZero() shape[float64] {
	s := anyNumber()
	read := func(r *reader, n *node) (float64, bool) {
		v, ok := s.read(r, n)
		if ok && v == 0 {
			r.wrong(n.pos, "a scale of 0 would make all values one", "write the scale that the map's maker names")
			return 0, false
		}
		return v, ok
	}
	return shape[float64]{read, schema{"type": "number", "not": schema{"const": 0}}}
}

// knownUnit returns the constant of a unit that the program knows.
func knownUnit(text string) string {
	switch strings.ToLower(text) {
	case "m", "metre", "metres", "meter", "meters":
		return UnitMetres
	case "ft", "foot", "feet":
		return UnitFeet
	case "ph":
		return UnitPH
	case "%", "percent":
		return UnitPercent
	case "mm", "millimetres", "millimeters":
		return UnitMillimetres
	case "°", "deg", "degree", "degrees":
		return UnitDegrees
	}
	return text
}

// finishMap holds the keys together whose values contradict each other.
func finishMap(r *reader, m *Map, found given) {
	at, said := found["classes"]
	if said && m.Classes {
		for _, k := range found.of([]string{"scale", "offset", "between", "unit", "surface"}) {
			r.wrong(found[k], quote(k)+" and `classes: yes` do not go together: classes are not measured", "keep one of them")
		}
	}
	if _, legend := found["legend"]; said && !m.Classes && legend {
		r.wrong(at, "`classes: no` and a legend do not go together: a legend names classes", "keep one of them")
	}
	finishLegend(r, m)
	finishParts(r, m)
	m.bring(found)
	amounts := m.Legend.Open() != nil && m.Legend.Open().Kind == legends.Amounts
	if amounts && said && m.Classes {
		r.wrong(at, fmt.Sprintf("`classes: yes` and the legend %s do not go together: its map has measured values", quote(m.Legend.BuiltIn)), "keep one of them")
	}
	if said && !m.Classes && len(m.Parts) > 0 {
		r.wrong(at, "`classes: no` and parts do not go together: parts are of classes", "keep one of them")
	}
	m.Classes = m.Classes || m.Legend != nil && !amounts || len(m.Parts) > 0
	m.saidAmounts = said && !m.Classes || amounts
	if m.Between != nil && m.Between.Low == m.Between.High {
		r.wrong(m.Between.Pos, "between allows a single value", "write [lowest, highest]")
	}
}

// verbWords are the words for each verb, in the order of the schema.
var verbWords = []struct {
	verb  Verb
	about string
}{
	{Slope, "Steepness after Horn (1981) of a map of heights, in degrees."},
	{Northness, "How much the ground faces north, from -1 (south) to 1, of a map of heights."},
	{Eastness, "How much the ground faces east, from -1 (west) to 1, of a map of heights."},
	{Elevation, "Height in metres, of a map of heights."},
	{Share, "Share of the cells within a radius that are of some classes, 0 to 1."},
	{Distance, "Distance in metres to the nearest cell of some classes."},
	{EdgeDistance, "Distance in metres to the edge of some classes: to the nearest cell of other classes from a cell of them, to the nearest cell of them from any other. A hole in the map makes no edge."},
	{Mean, "Mean of the cells within a radius."},
	{Lasting, "Ground that every one of several dated maps shows as some classes, such as old woodland: the classes, with the maps under on, or {MAP: classes, …} where the maps name them in other ways. A layer of the classes lasting and other, and a share of 1 or 0 as it stands."},
	{FirstOf, "The value or class of the first of several layers that knows the place, such as superficial deposits, else bedrock: a list of layers. Classes go by their names."},
	{Aspect, "The way the ground falls most steeply, in degrees clockwise from the grid's north (0 north, 90 east), of a map of heights; missing on level ground."},
	{ProfileCurvature, "Curvature down the slope, in 1/m, of a map of heights: a true one after Minár, Evans & Jenčo (2020), by the quadric of Evans (1972) through 3 × 3 cells. Above 0 on brows, below 0 at the foot of slopes, 1 / r on a ball of radius r; missing on level ground that is no plane."},
	{TangentialCurvature, "Curvature across the slope, in 1/m, as profile curvature: above 0 on spurs, below 0 in gullies."},
	{ContourCurvature, "Curvature of the contour line, in 1/m, as profile curvature: above 0 on spurs, below 0 in gullies; it grows without end where the ground levels out, and is missing on level ground."},
	{RelativePosition, "How many metres the cell lies above the mean of the other cells within a radius, of a map of heights: below 0 in valleys, above 0 on ridges."},
	{Ruggedness, "How unlike in height, in metres, the cell is to its eight neighbours, of a map of heights; after says in which way."},
	{HeatLoad, "Sunshine and warmth that a slope gets in a year after McCune & Keon (2002), about 0 to 1.26, of a map of heights; aspect from true north, latitude of each cell. Missing beyond 60 degrees north and south of the equator."},
	{Radiation, "Direct sunshine of a day on the sloping ground outside the air, in MJ/m² (FAO-56 equation 21, Allen et al. 1998, integrated over the sun's way), of a map of heights. Other hills throw no shadow."},
	{Filled, "Height in metres at which water stands in the hollows of a map of heights, and of the ground elsewhere. Water gets out at the rim of what is read and beside holes in the map."},
	{HollowDepth, "How deep, in metres, water could stand in a hollow; 0 outside hollows."},
	{HollowArea, "Area in hectares of the hollow that the ground lies in; 0 outside hollows."},
	{Gathered, "Ground in hectares that drains through the cell, the cell included."},
	{Wetness, "Wetness index ln(a / tan b) after Beven & Kirkby (1979): a is the gathered area for each metre of contour, b the slope of the ground as it is, tan b at least 0.001."},
	{ChannelDistance, "Way in metres that the water of the ground goes until it comes to a channel; missing where it leaves what is read before."},
	{ChannelHeight, "Height in metres above the place where the water of the ground comes to a channel, hollows filled."},
}

func derivedShape() shape[Derived] {
	var keys []key[Derived]
	var verbs []string
	for _, w := range verbWords {
		verbs = append(verbs, string(w.verb))
		if w.verb == FirstOf {
			keys = append(keys, entry(string(w.verb), w.about, firstShape(), func(d *Derived, v put[[]put[string]]) {
				d.Verb, d.FromPos = FirstOf, v.key
				for _, l := range v.value {
					d.First, d.firstPos = append(d.First, l.value), append(d.firstPos, l.at)
				}
			}))
			continue
		}
		if w.verb == Lasting {
			keys = append(keys, entry(string(w.verb), w.about, lastingShape(), func(d *Derived, v put[[]Witness]) { d.Verb, d.On, d.FromPos = Lasting, v.value, v.key }))
			continue
		}
		keys = append(keys, entry(string(w.verb), w.about+" Names the layer it is made from.", textShape("a layer's name"), func(d *Derived, v put[string]) {
			d.Verb, d.From, d.FromPos = w.verb, v.value, v.at
		}))
	}
	keys = append(keys, terrainKeys()...)
	keys = append(keys,
		entry("of", "Of share, distance and edge distance: the classes, by name, or by code where the map has no legend.", classesShape(), func(d *Derived, v put[[]Class]) { d.Of = v.value }),
		entry("match", "Of share, distance and edge distance: "+matchWords, matchShape(), func(d *Derived, v put[Match]) { d.Match = v.value }),
		entry("within", "Of share, mean and relative position: the radius, such as 250 m.", measureShape(lengths), func(d *Derived, v put[float64]) { d.Within = v.value }),
		entry("up to", "Of distance and edge distance: ground further off counts as this far, such as 500 m.", measureShape(lengths), func(d *Derived, v put[float64]) { d.UpTo = v.value }),
		entry("on", "Of lasting: the maps, each with its year.", listShape("on", placed(textShape("a map's name")), 2, 0), func(d *Derived, v put[[]put[string]]) { d.onPos = v.value }),
		entry("side", "Of edge distance: from which side it is measured, inside, outside or both, the default; on the other side it is 0.", wordShape("a side", BothSides, Inside, Outside), func(d *Derived, v put[Side]) {
			if v.value != BothSides { // what goes without saying is not kept
				d.Side = v.value
			}
		}),
		entry("margin", "Of the layers of water: how far beyond the ground they read on, 2 km where it is not said. Water that comes from farther is not known of.", measureShape(lengths), func(d *Derived, v put[float64]) { d.Margin = v.value }),
		entry("drains", "Of the layers of water: classes of a map that keep the water that reaches them, such as lakes and sinkholes. Ground around them drains there instead of filling up.", drainsShape(), func(d *Derived, v put[Drains]) { d.Drains = &v.value }),
		entry("flow", "Of gathered, wetness and the channel layers: many ways (the default), to all lower neighbours after Freeman (1991), or one way, to the steepest.", wordShape("a flow", ManyWays, OneWay), func(d *Derived, v put[Flow]) {
			if v.value != ManyWays { // what goes without saying is not kept
				d.Flow = v.value
			}
		}),
		entry("channel from", "Of the channel layers: how much ground must drain through a cell that counts as a channel, such as 5 ha.", measureShape(areas), func(d *Derived, v put[float64]) { d.Channel = v.value }),
		entry("in", "Of slope: degrees (the default) or percent.", wordShape("the unit of a slope", "degrees", "percent"), func(d *Derived, v put[string]) { d.Percent = v.value == "percent" }),
	)
	only := func(key, why string, verbs ...string) rule {
		return rule{kind: goesWith, keys: []string{key}, with: verbs, why: why, fix: "take it out"}
	}
	return object[Derived]{
		what: "a derived layer", fresh: func() Derived { return Derived{} }, keys: keys,
		rules: []rule{
			{kind: exactlyOne, keys: verbs, fix: "say what to work out from which layer, such as {slope: ground}"},
			only("of", "only these speak of classes", "share", "distance", "edge distance"),
			{kind: goesWith, keys: []string{"match"}, with: []string{"of"}, why: "it says how those classes are found", fix: "take it out"},
			only("within", "only these have a radius", "share", "mean", "relative position"),
			only("up to", "only these have a farthest end", "distance", "edge distance"),
			only("side", "only an edge has two sides", "edge distance"),
			only("on", "only this has several maps", "lasting"),
			only("in", "only this has two units", "slope"),
			only("after", "only this is known after two authors", "ruggedness"),
			only("day", "only this is of one day", "radiation"),
			only("equation", "only this has several equations", "heat load"),
			only("warmest", "only this turns the sun's way", "heat load"),
			only("margin", "only these follow water", waterWords()...),
			only("drains", "only these follow water", waterWords()...),
			only("flow", "only these gather water", "gathered", "wetness", "channel distance", "channel height"),
			only("channel from", "only these know channels", "channel distance", "channel height"),
			{kind: goesWith, keys: []string{"channel distance", "channel height"}, with: []string{"channel from"}, why: "it must say what a channel is", fix: "add channel from: 5 ha"},
			{kind: goesWith, keys: []string{"share", "distance", "edge distance"}, with: []string{"of"}, why: "it must say of which classes", fix: "add of: with class names"},
			{kind: goesWith, keys: []string{"share", "mean", "relative position"}, with: []string{"within"}, why: "it needs its radius", fix: "add within: 250 m"},
			{kind: goesWith, keys: []string{"ruggedness"}, with: []string{"after"}, why: "it must say whose is meant", fix: "add after: Riley 1999, or after: Wilson 2007"},
			{kind: goesWith, keys: []string{"radiation"}, with: []string{"day"}, why: "it must say of which day of the year", fix: "add day: 172 for 21 June"},
		},
		finish: finishLasting,
	}.shape()
}

func keepOutShape() shape[KeepOut] {
	return object[KeepOut]{
		what: "an entry of keep out", fresh: func() KeepOut { return KeepOut{} },
		keys: []key[KeepOut]{
			needed("map: cover", entry("map", "A map or a derived layer.", textShape("a layer's name"), func(k *KeepOut, v put[string]) { k.Layer, k.Pos = v.value, v.at })),
			entry("of", "Keep out these classes.", classesShape(), func(k *KeepOut, v put[[]Class]) { k.Of = v.value }),
			entry("match", matchWords, matchShape(), func(k *KeepOut, v put[Match]) { k.Match = v.value }),
			entry("above", "Keep out ground above this, such as 35 deg.", limitShape(), func(k *KeepOut, v put[limit]) { k.above = &v.value }),
			entry("below", "Keep out ground below this, such as 100 m.", limitShape(), func(k *KeepOut, v put[limit]) { k.below = &v.value }),
		},
		rules: []rule{
			{kind: exactlyOne, keys: []string{"of", "above", "below"}, fix: "give classes by of, or one limit by above or below; two limits make two entries"},
			{kind: goesWith, keys: []string{"match"}, with: []string{"of"}, why: "it says how those classes are found", fix: "take it out"},
		},
	}.shape()
}

// limit is a threshold as written; its unit is judged once the layer is known.
type limit struct {
	n *node
}

// limitShape is a bare number or a number with a unit, whichever its layer
// needs.
func limitShape() shape[limit] {
	read := func(r *reader, n *node) (limit, bool) {
		if n.kind != scalarNode || measureForm.FindString(n.text) == "" || n.quoted && n.isQuotedNumber() {
			r.noNumber(n)
			return limit{}, false
		}
		return limit{n}, true
	}
	return shape[limit]{read, anyOf(anyNumber().schema, schema{"type": "string", "pattern": `^` + numberText + `\s*[^\s0-9].*$`})}
}

func (n *node) isQuotedNumber() bool { return n.quoted && numberForm.MatchString(n.text) }
