package plan

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"sync"
)

// role tells where in a plan a factor stands.
type role string

const (
	factorRole role = "a factor"
	bestRole   role = "a member of a best of"
	meanRole   role = "a member of a mean of"
)

// maxGroups bounds how deep groups stand inside each other.
const maxGroups = 8

func factorShape() shape[Factor] { return ruleOfFactor(factorRole) }

// ruleOfFactor returns the shape of a factor in its role. Its schema is a
// reference, as groups hold members that may be groups.
func ruleOfFactor(as role) shape[Factor] {
	read := func(r *reader, n *node) (Factor, bool) {
		r.groups++
		defer func() { r.groups-- }()
		if r.groups > maxGroups+1 {
			r.wrong(n.pos, fmt.Sprintf("more than %d groups stand inside each other", maxGroups), "build it flatter")
			return Factor{}, false
		}
		return factorTables[as]().read(r, n)
	}
	return shape[Factor]{read, schema{"$ref": "#/$defs/" + as.def()}}
}

// factorTables are the tables of the roles, each made once.
var factorTables map[role]func() object[Factor]

func init() {
	factorTables = map[role]func() object[Factor]{}
	for _, as := range []role{factorRole, bestRole, meanRole} {
		factorTables[as] = sync.OnceValue(func() object[Factor] { return factorTable(as) })
	}
}

func (as role) def() string {
	return strings.ReplaceAll(strings.TrimPrefix(string(as), "a "), " ", "-")
}

func factorTable(as role) object[Factor] {
	o := object[Factor]{
		what: string(as), fresh: func() Factor { return Factor{Weight: 1} },
		keys: []key[Factor]{
			entry("from", "The map or derived layer that is rated.", textShape("a layer's name"), func(f *Factor, v put[string]) { f.From, f.FromPos = v.value, v.at }),
			entry("curve", "Score by value: points {value: score, …} in the layer's own unit, straight between them and flat beyond.", curveShape(), func(f *Factor, v put[[]Point]) { f.Curve = v.value }),
			entry("scores", "Score by class: {sand: 1, clay: 0.1}; by code where the map has no legend.", scoresShape(), func(f *Factor, v put[[]ClassScore]) { f.Scores = &Scores{Pos: v.key, Classes: v.value} }),
			entry("others", "The score of classes that scores lacks.", numberShape(0, 1), func(f *Factor, v put[float64]) { f.others = &v.value }),
			entry("match", matchWords, matchShape(), func(f *Factor, v put[Match]) { f.match = v.value }),
			entry("best of", "A group: the best of its known members counts.", membersShape(bestRole), func(f *Factor, v put[[]named[Factor]]) { f.Group, f.Members = BestOf, members(v.value) }),
			entry("mean of", "A group: the weighted mean of its known members counts.", membersShape(meanRole), func(f *Factor, v put[[]named[Factor]]) { f.Group, f.Members = MeanOf, members(v.value) }),
		},
		rules: []rule{
			{kind: exactlyOne, keys: []string{"from", "best of", "mean of"}, fix: "a factor reads one layer, or is one group"},
			{kind: goesWith, keys: []string{"curve", "scores"}, with: []string{"from"}, why: "they rate the values of a layer", fix: "put them into the members"},
			{kind: clashes, keys: []string{"curve"}, with: []string{"scores"}, why: "a curve rates amounts, scores rate classes", fix: "keep the one that fits the map"},
			{kind: goesWith, keys: []string{"match"}, with: []string{"scores"}, why: "it says how their classes are found", fix: "take it out"},
			{kind: goesWith, keys: []string{"others"}, with: []string{"scores"}, why: "it rates the classes that scores lacks", fix: "take it out"},
		},
		hints:  map[string]string{"must": "put it at the group, or make this a factor of its own", "unknown": "put it at the group: a group is known where any member is", "weight": "the best of a group counts whole; use mean of for weights"},
		finish: finishFactor,
	}
	if as != bestRole {
		o.keys = append(o.keys, entry("weight", "How much it counts beside the others; 0 shows it only. Default 1.", numberShape(0, 1e6), func(f *Factor, v put[float64]) { f.Weight, f.WeightPos = v.value, v.at }))
	}
	if as == factorRole {
		o.keys = append(o.keys,
			entry("must", "yes: where this scores 0, the ground scores 0, whatever the rule.", truthShape(), func(f *Factor, v put[bool]) { f.Must = v.value }),
			entry("unknown", "What it does where it is missing, in place of the plan's.", unknownShape(), func(f *Factor, v put[Unknown]) { f.Unknown = &v.value; f.Unknown.Pos = v.at }))
	}
	return o
}

func finishFactor(_ *reader, f *Factor, found given) {
	if f.Scores != nil {
		f.Scores.Others, f.Scores.Match = f.others, f.match
	}
	f.CurvePos = found["curve"]
	_, scored := found["scores"]
	_, curved := found["curve"]
	f.Straight = f.From != "" && !scored && !curved
}

func membersShape(as role) shape[[]named[Factor]] {
	return namedShape("members", ruleOfFactor(as), 1)
}

// members names the factors of a group.
func members(all []named[Factor]) []Factor {
	var out []Factor
	for _, v := range all {
		f := v.value
		f.Name, f.Pos, f.unsound = v.name, v.pos, !v.sound
		out = append(out, f)
	}
	return out
}

func keepMaps(p *Plan, v put[[]named[Map]]) {
	for _, e := range v.value {
		m := e.value
		m.Name, m.Pos, m.unsound = e.name, e.pos, !e.sound
		p.Maps = append(p.Maps, m)
	}
	slices.SortStableFunc(p.Maps, func(a, b Map) int { return cmp.Compare(a.Name, b.Name) })
}

func keepDerived(p *Plan, v put[[]named[Derived]]) {
	for _, e := range v.value {
		d := e.value
		d.Name, d.Pos, d.unsound = e.name, e.pos, !e.sound
		p.Derived = append(p.Derived, d)
	}
	slices.SortStableFunc(p.Derived, func(a, b Derived) int { return cmp.Compare(a.Name, b.Name) })
}

func keepFactors(p *Plan, v put[[]named[Factor]]) { p.Factors = members(v.value) }

// curveShape is {value: score, …} or [[value, score], …].
func curveShape() shape[[]Point] {
	pair := listShape("a point", anyNumber(), 2, 2)
	score := numberShape(0, 1)
	mapping := shape[[]Point]{readCurve, schema{
		"type": "object", "additionalProperties": score.schema, "minProperties": 1,
		"propertyNames": schema{"pattern": `^` + numberText + `$`},
	}}
	read := func(r *reader, n *node) ([]Point, bool) {
		if n.kind != listNode || len(n.items) == 0 {
			r.wrong(n.pos, "the curve has no points", "write such as {4.5: 1, 6.3: 0}")
			return nil, false
		}
		var points []placedPoint
		sound := true
		for _, item := range n.items {
			v, ok := pair.read(r, item)
			if ok {
				_, ok = score.read(r, item.items[1])
				points = append(points, placedPoint{Point{v[0], v[1]}, item.pos})
			}
			sound = sound && ok
		}
		return r.curve(points, sound)
	}
	list := shape[[]Point]{read, schema{"type": "array", "minItems": 1, "items": schema{
		"type": "array", "prefixItems": []any{anyNumber().schema, score.schema}, "items": false, "minItems": 2,
	}}}
	return byKind("a curve", nil, &list, &mapping)
}

type placedPoint struct {
	Point
	pos Pos
}

func readCurve(r *reader, n *node) ([]Point, bool) {
	if len(n.keys) == 0 {
		r.wrong(n.pos, "the curve has no points", "write such as {4.5: 1, 6.3: 0}")
		return nil, false
	}
	var points []placedPoint
	score := numberShape(0, 1)
	sound := true
	for i, k := range n.keys {
		x, ok := r.number(k)
		y, scored := r.scoreOf(k, n.items[i], score)
		sound = sound && ok && scored
		if ok {
			points = append(points, placedPoint{Point{x, y}, k.pos})
		}
	}
	return r.curve(points, sound)
}

// scoreOf reads the score of a point or class.
func (r *reader) scoreOf(k, n *node, score shape[float64]) (float64, bool) {
	if n.kind == nullNode {
		r.wrong(k.pos, quote(k.shown())+" has no score", "write a number from 0 to 1 behind it, as in {4.5: 1}; decimals have a point")
		return 0, false
	}
	return score.read(r, n)
}

// curve sorts the points and refuses two of one value.
func (r *reader) curve(points []placedPoint, sound bool) ([]Point, bool) {
	slices.SortStableFunc(points, func(a, b placedPoint) int { return cmp.Compare(a.X, b.X) })
	var out []Point
	for i, p := range points {
		if i > 0 && p.X == points[i-1].X {
			r.wrong(p.pos, fmt.Sprintf("the curve has two points at %s, the other in line %d", trimmed(p.X), points[i-1].pos.Line), "keep one of them; a step is two points close together")
			sound = false
			continue
		}
		out = append(out, p.Point)
	}
	return out, sound
}

// pair is one comparison of two factors.
type pair struct {
	a, b       string
	aPos, bPos Pos
	ratio      float64
}

// compareShape is {factor: {other: how much more it counts}}.
func compareShape() shape[[]pair] {
	row := namedShape("a row of compare", ratioShape(), 1)
	rows := namedShape("compare", row, 1)
	read := func(r *reader, n *node) ([]pair, bool) {
		all, ok := rows.read(r, n)
		var out []pair
		for _, from := range all {
			for _, to := range from.value {
				out = append(out, pair{from.name, to.name, from.pos, to.pos, to.value})
				ok = ok && to.sound
			}
			ok = ok && from.sound
		}
		return out, ok
	}
	return shape[[]pair]{read, rows.schema}
}

// ratioForm is a fraction such as 1/3.
const ratioForm = `^[0-9]{1,4}\s*/\s*[0-9]{1,4}$`

// ratioShape is how much more one factor counts than another: a number above
// 0, or a fraction.
func ratioShape() shape[float64] {
	read := func(r *reader, n *node) (float64, bool) {
		v, ok := r.ratio(n)
		if ok && (v < 0.01 || v > 100) {
			r.wrong(n.pos, n.shown()+" is no ratio from 1/100 to 100", "use 1 to 9, or 1/9 to 1 for the lesser: 3 is clearly more, 9 the most")
			return 0, false
		}
		return v, ok
	}
	fraction := schema{"type": "string", "pattern": ratioForm}
	return shape[float64]{read, anyOf(schema{"type": "number", "minimum": 0.01, "maximum": 100}, fraction)}
}

func (r *reader) ratio(n *node) (float64, bool) {
	over, under, fraction := strings.Cut(n.text, "/")
	if n.kind != scalarNode || !fraction {
		return r.number(n)
	}
	a, errA := strconv.ParseUint(strings.TrimSpace(over), 10, 16)
	b, errB := strconv.ParseUint(strings.TrimSpace(under), 10, 16)
	if errA != nil || errB != nil || a == 0 || b == 0 || a > 9999 || b > 9999 {
		r.wrong(n.pos, quote(n.shown())+" is no fraction", "write such as 1/3")
		return 0, false
	}
	return float64(a) / float64(b), true
}
