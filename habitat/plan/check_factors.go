package plan

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// Reserved are the names that no factor may have, whatever their case: those
// of the properties and columns that outputs have of their own.
var Reserved = []string{
	"area_ha", "begin", "best_hectare_ha", "best_hectare_mean", "coarse_maps", "coverage", "easting", "fid", "geom", "geometry",
	"grid_reference", "id", "latitude", "length_m", "limited_by", "longitude", "max", "mean", "mean_known", "name", "northing",
	"not_known", "point", "rank", "score", "steepest_deg", "wet_share", "why",
}

func (c *checker) grid() {
	g := &c.p.Grid
	switch _, hasArea := c.p.given["area"]; {
	case g.Like != "":
		c.like(c.find(g.Like, g.Pos), g.Pos)
	case g.CRS != "" && !hasArea:
		c.r.wrong(g.CRSPos, "a grid of its own needs an area to cover", "add area: with a file of polygons or a box")
	}
}

// like checks the map whose cells the grid takes.
func (c *checker) like(l *layer, at Pos) {
	switch {
	case l == nil:
	case l.m == nil:
		c.r.wrong(at, quote(l.name)+" is a derived layer, and a grid is like a map", "name the map that it is made from")
	case l.m.Field != "":
		c.r.wrong(at, quote(l.name)+" is a vector map, which has no cells", "name a raster map, or write {crs: EPSG:…, cell: 10 m}")
	case l.m.Optional:
		c.r.wrong(at, quote(l.name)+" is optional, and a grid cannot be like a map that may be missing", fmt.Sprintf("take optional out in line %d", l.pos.Line))
	}
}

func (c *checker) factors() {
	seen := map[string]Factor{}
	for i := range c.p.Factors {
		f := &c.p.Factors[i]
		c.factorName(f, seen)
		c.factor(f)
	}
	if len(c.p.Factors) > 0 && c.p.Compare == nil && weightless(c.p.Factors) {
		c.r.wrong(c.p.Factors[0].Pos, "no factor has a weight above 0", "give at least one of them a weight")
	}
}

func (c *checker) factorName(f *Factor, seen map[string]Factor) {
	folded := strings.ToLower(f.Name)
	if slices.Contains(Reserved, folded) {
		c.r.wrong(f.Pos, "a factor cannot be called "+quote(f.Name)+": outputs have something of that name", "choose another name, such as "+quote("good "+f.Name))
	}
	if other, ok := seen[folded]; ok && other.Name != f.Name {
		c.r.wrong(f.Pos, fmt.Sprintf("%s differs from the factor in line %d by case alone", quote(f.Name), other.Pos.Line), "give one of them another name")
	}
	seen[folded] = *f
}

func weightless(factors []Factor) bool {
	return !slices.ContainsFunc(factors, func(f Factor) bool { return f.Weight > 0 || f.unsound })
}

// factor checks a factor or a member against its layer.
func (c *checker) factor(f *Factor) {
	for i := range f.Members {
		c.factor(&f.Members[i])
	}
	if f.Group == MeanOf && len(f.Members) > 0 && weightless(f.Members) {
		c.r.wrong(f.Pos, "no member of the mean has a weight above 0", "give at least one of them a weight")
	}
	l := c.find(f.From, f.FromPos)
	if l == nil || f.unsound || l.d != nil && l.from == nil {
		return
	}
	switch {
	case f.Scores != nil:
		c.scored(f, l)
	case len(f.Curve) > 0:
		if c.amounts(l, f.FromPos, "a curve") {
			c.reach(f, l)
			c.round(f, l)
		}
	case f.Straight && !l.share():
		c.bare(f, l)
	}
}

func (c *checker) scored(f *Factor, l *layer) {
	if !c.classes(l, f.FromPos, "scores") {
		return
	}
	var classes []Class
	for _, s := range f.Scores.Classes {
		classes = append(classes, s.Class)
	}
	c.known(l, classes, true)
}

// bare refuses a factor that does not say how its layer is rated.
func (c *checker) bare(f *Factor, l *layer) {
	fix := "add curve: {value: score, …}"
	if l.m != nil && l.m.Unit == "" && (l.m.Classes || l.m.Field != "") {
		fix = "add scores: {class: score, …}"
	}
	c.r.wrong(f.Pos, fmt.Sprintf("the factor %s does not say how %s is rated", quote(f.Name), quote(l.name)), fix)
}

// share reports whether a layer's values run from 0 to 1 and are thus scores
// as they stand.
func (l *layer) share() bool {
	return l != nil && l.d != nil && (l.d.Verb == Share || l.lasting() || l.d.Verb == Mean && l.from.share() || l.firstOf() && l.everyShare())
}

// Bounds of what slopes can get: the equations of heat load stay below the
// first, and the sun of a whole day straight from above gives the second,
// 24 · 60 · 0.082 · 1.033 MJ/m².
const (
	mostHeat = 1.5
	mostSun  = 122
)

// span returns from where to where a layer's values can go.
func (l *layer) span() (low, high float64) {
	switch {
	case l == nil:
	case l.m != nil && l.m.Unit == UnitPH:
		return 0, 14
	case l.m != nil && l.m.Between != nil:
		return l.m.Between.Low, l.m.Between.High
	case l.m != nil:
	case l.d.Verb == Share:
		return 0, 1
	case l.d.Verb == Northness, l.d.Verb == Eastness:
		return -1, 1
	case l.d.Verb == Aspect:
		return 0, 360
	case l.d.Verb == HeatLoad:
		return 0, mostHeat
	case l.d.Verb == Radiation:
		return 0, mostSun
	case l.d.Verb == Slope && !l.d.Percent:
		return 0, 90
	case l.d.Verb == Slope, l.d.Verb == Ruggedness:
		return 0, math.Inf(1)
	case l.d.metres() && l.d.UpTo > 0:
		return 0, l.d.UpTo
	case l.d.metres():
		return 0, math.Inf(1)
	case l.d.Verb.Water() && l.d.Verb != Filled && l.d.Verb != Wetness:
		return 0, math.Inf(1)
	case l.d.Verb == Mean:
		return l.from.span()
	case l.firstOf():
		return l.wholeSpan()
	}
	return math.Inf(-1), math.Inf(1)
}

// metres reports whether the layer is a distance.
func (d *Derived) metres() bool { return d.Verb == Distance || d.Verb == EdgeDistance }

// reach warns where a curve has points that its layer never comes to: most
// likely it was meant in another unit.
func (c *checker) reach(f *Factor, l *layer) {
	low, high := l.span()
	for _, p := range f.Curve {
		if p.X < low || p.X > high {
			c.warn(f.CurvePos, fmt.Sprintf("the curve of %s has a point at %s, and %s is %s", quote(f.Name), trimmed(p.X), quote(l.name), between(low, high)), "write the curve in the layer's own unit")
			return
		}
	}
}

// joining checks how the factors are joined.
func (c *checker) joining() {
	rule := c.p.Rule.Kind
	if rule == OrderedWeightsRule {
		c.ordered()
	}
	logs := rule == GeometricMean || rule == HarmonicMean
	if at, ok := c.p.given["floor"]; ok && !logs {
		c.warn(at, fmt.Sprintf("floor changes nothing under the rule %s", rule), "take it out, or choose the geometric or harmonic mean")
	}
	if rule == Product || rule == LeastFactor || rule == OrderedWeightsRule {
		c.needless(rule)
	}
	if at, ok := c.p.given["hotspots"]; ok && !c.p.Outputs.Areas() {
		c.warn(at, "hotspots are described, and outputs does not list them", "add hotspots to outputs, or take this out")
	}
}

// ordered checks the weights of ranks.
func (c *checker) ordered() {
	sum, count := 0.0, 0
	for _, w := range c.p.Rule.Order {
		sum += w
	}
	for _, f := range c.p.Factors {
		if f.Weight > 0 {
			count++
		}
	}
	at := c.p.Rule.Pos
	switch {
	case len(c.p.Rule.Order) == 0:
	case len(c.p.Rule.Order) != count:
		c.r.wrong(at, fmt.Sprintf("there are %d ordered weights for %d factors with weight", len(c.p.Rule.Order), count), "write one for each rank, the best score first")
	case math.Abs(sum-1) > 1e-6:
		c.r.wrong(at, fmt.Sprintf("the ordered weights sum to %s", trimmed(math.Round(sum*1e6)/1e6)), "let them sum to 1")
	}
}

// needless warns of weights that the rule does not use.
func (c *checker) needless(rule RuleKind) {
	const fix = "take them out, or choose a mean"
	if c.p.Compare != nil {
		c.warn(c.p.Compare.Pos, fmt.Sprintf("weights change nothing under the rule %s", rule), fix)
		return
	}
	for _, f := range c.p.Factors {
		if f.WeightPos.Line != 0 && f.Weight != 0 && f.Weight != 1 {
			c.warn(f.WeightPos, fmt.Sprintf("weights above 0 change nothing under the rule %s", rule), fix)
			return
		}
	}
}

// compare makes the full table of the pairs given.
func (c *checker) compare() {
	t := c.p.Compare
	if t == nil {
		return
	}
	t.AcceptInconsistency = c.p.acceptInconsistency
	place := map[string]int{}
	for i, f := range c.p.Factors {
		place[f.Name] = i
		t.Names = append(t.Names, f.Name)
		if f.WeightPos.Line != 0 {
			c.r.wrong(f.WeightPos, fmt.Sprintf("%s has a weight, and the weights come from the pairwise table in line %d", quote(f.Name), t.Pos.Line), "keep one of them")
		}
	}
	if len(t.Names) == 0 {
		return
	}
	lines := make(map[[2]int]Pos)
	t.Matrix = identity(len(t.Names))
	for _, p := range t.pairs {
		c.pair(t, p, place, lines)
	}
	c.gaps(t, lines)
}

func identity(n int) [][]float64 {
	m := make([][]float64, n)
	for i := range m {
		m[i] = make([]float64, n)
		m[i][i] = 1
	}
	return m
}

// pair puts one comparison into the table.
func (c *checker) pair(t *Comparison, p pair, place map[string]int, lines map[[2]int]Pos) {
	i, okA := place[p.a]
	j, okB := place[p.b]
	for _, side := range []struct {
		name string
		pos  Pos
		ok   bool
	}{{p.a, p.aPos, okA}, {p.b, p.bPos, okB}} {
		if !side.ok {
			fix, better := didYouMean(side.name, t.Names, "the factors are "+listed(t.Names))
			c.r.suggest(side.pos, "there is no factor "+quote(side.name), fix, better)
		}
	}
	if !okA || !okB {
		return
	}
	pairKey := [2]int{min(i, j), max(i, j)}
	first, twice := lines[pairKey]
	switch {
	case i == j:
		c.r.wrong(p.bPos, quote(p.a)+" is compared with itself", "take it out")
	case twice:
		c.r.wrong(p.bPos, fmt.Sprintf("%s and %s are compared twice, first in line %d", quote(p.a), quote(p.b), first.Line), "keep one of them; the other way round follows from it")
	default:
		lines[pairKey] = p.bPos
		t.Matrix[i][j], t.Matrix[j][i] = p.ratio, 1/p.ratio
	}
}

// gaps reports the pairs that the table lacks.
func (c *checker) gaps(t *Comparison, lines map[[2]int]Pos) {
	var lacking []string
	for i := range t.Names {
		for j := i + 1; j < len(t.Names); j++ {
			if _, ok := lines[[2]int{i, j}]; !ok {
				lacking = append(lacking, t.Names[i]+" with "+t.Names[j])
			}
		}
	}
	if len(lacking) > 0 && len(c.r.problems) == 0 {
		c.r.wrong(t.Pos, fmt.Sprintf("the pairwise table lacks %d of its pairs: %s", len(lacking), listed(lacking)), "compare every two factors once")
	}
}

// absent judges the values of uncovered ground once it is known which maps
// hold classes.
func (c *checker) absent() {
	for i := range c.p.Maps {
		m := &c.p.Maps[i]
		a := m.WhereAbsent
		switch {
		case a == nil || m.unsound:
		case m.Classes && !a.IsClass:
			c.absentCode(m, a)
		case m.Classes:
			c.known(c.layers[m.Name], []Class{*a.Class}, false)
		case a.IsClass && c.layers[m.Name].asAmounts.Line != 0:
			c.r.wrong(a.Pos, fmt.Sprintf("%s holds amounts, and %s is no number", quote(m.Name), a.Class), "write a number")
		case a.IsClass:
			m.Classes = true
		}
	}
}

// absentCode takes the number of a map of classes as a code.
func (c *checker) absentCode(m *Map, a *Absent) {
	if a.Number != math.Trunc(a.Number) || math.Abs(a.Number) > math.MaxInt32 {
		c.r.wrong(a.Pos, trimmed(a.Number)+" is no class code: codes are whole numbers", "write a class name or a code")
		return
	}
	a.Class, a.IsClass, a.Number = &Class{Code: int32(a.Number), IsCode: true, Pos: a.Pos}, true, 0
}

// idle warns of layers that nothing uses.
func (c *checker) idle() {
	for _, name := range c.names {
		l := c.layers[name]
		if l.used || l.unsound {
			continue
		}
		what := "map"
		if l.m == nil {
			what = "derived layer"
		}
		c.warn(l.pos, fmt.Sprintf("nothing uses the %s %s", what, quote(name)), "rate it by a factor, or take it out")
	}
}
