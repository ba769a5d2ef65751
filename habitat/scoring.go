package habitat

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"sync"

	"likelyground/habitat/combine"
	"likelyground/habitat/layers"
	"likelyground/habitat/plan"
	"likelyground/habitat/response"
	"likelyground/raster"
	"likelyground/raster/pipe"
)

// factor makes the node of a factor, or of a member of a group; nil if it
// could not be made, which has been noted.
func (b *builder) factor(f *plan.Factor) *pipe.Node {
	if f.Group != plan.NoGroup {
		return b.group(f)
	}
	l, ok := b.g.layers[f.From]
	if !ok {
		return nil
	}
	switch {
	case f.Scores != nil:
		return b.scoredClasses(f, l)
	case f.Straight:
		return l.Share()
	case l.Member != nil:
		b.faults.say(f.FromPos, fmt.Sprintf("the factor %q has a curve, but the map %q holds classes", f.Name, l.Name), "give it scores: with a number from 0 to 1 for each class")
		return nil
	}
	return b.curved(f, l)
}

func (b *builder) curved(f *plan.Factor, l layers.Layer) *pipe.Node {
	curve, err := curveOf(f)
	b.faults.at(f.CurvePos, err)
	return &pipe.Node{Name: f.Name, Inputs: []*pipe.Node{l.Node}, Open: pipe.Plain(func(out raster.Tile, in []raster.Tile) error {
		curve.Apply(out.Values, in[0].Values)
		return nil
	})}
}

// curveOf is the curve of a factor.
func curveOf(f *plan.Factor) (response.Curve, error) {
	points := make([]response.Point, len(f.Curve))
	for i, p := range f.Curve {
		points[i] = response.Point(p)
	}
	return response.NewCurve(points)
}

func (b *builder) group(f *plan.Factor) *pipe.Node {
	members := slices.Clone(f.Members)
	slices.SortFunc(members, func(a, b plan.Factor) int { return compareNames(a.Name, b.Name) })
	n := &pipe.Node{Name: f.Name}
	var weights []float64
	for i := range members {
		m := b.factor(&members[i])
		if m == nil {
			return nil
		}
		n.Inputs = append(n.Inputs, m)
		weights = append(weights, members[i].Weight)
	}
	best := f.Group == plan.BestOf
	n.Open = func() (pipe.Evaluator, error) {
		values := make([][]float32, len(n.Inputs))
		return pipe.Plain(func(out raster.Tile, in []raster.Tile) error {
			for i, t := range in {
				values[i] = t.Values
			}
			if best {
				combine.BestOf(out.Values, values)
			} else {
				combine.MeanOf(out.Values, values, weights)
			}
			return nil
		})()
	}
	return n
}

func compareNames(a, b string) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// scorer scores a map's classes and counts the cells of those that have no
// score.
type scorer struct {
	f      *plan.Factor
	node   *pipe.Node
	of     *classes
	hits   map[int32]plan.Hit // what of the plan names each code
	scores response.Scores

	counts *cellCounts
	mu     sync.Mutex
	wants  map[int32]int64 // cells in the area by code without a score
}

func (b *builder) scoredClasses(f *plan.Factor, l layers.Layer) *pipe.Node {
	of := b.g.classes[l.Name]
	if of == nil {
		b.faults.say(f.FromPos, fmt.Sprintf("the factor %q scores classes, but %q holds numbers", f.Name, l.Name), "give it a curve:, or give the map a legend")
		return nil
	}
	table := map[int32]float64{}
	hits, odd := of.assign(f.Scores.Named(), true)
	b.faults.unknownClasses(odd)
	for code, h := range hits {
		table[code] = f.Scores.Classes[h.Key].Score
	}
	others := math.NaN()
	if f.Scores.Others != nil {
		others = *f.Scores.Others
	}
	table, others = of.scoreOfParts(table, others)
	scores, err := response.NewScores(table, others)
	b.faults.at(f.Scores.Pos, err)
	sc := &scorer{f: f, of: of, hits: hits, scores: scores, counts: b.g.counts, wants: map[int32]int64{}}
	b.g.scorers = append(b.g.scorers, sc)
	n := &pipe.Node{Name: f.Name, Inputs: []*pipe.Node{l.Node}, Open: func() (pipe.Evaluator, error) {
		return &scoring{scorer: sc, wants: map[int32]int64{}}, nil
	}}
	if b.g.area != nil {
		n.Inputs = append(n.Inputs, b.g.area)
	}
	sc.node = n
	return n
}

// scoring evaluates a scorer for one worker.
type scoring struct {
	*scorer
	wants map[int32]int64
}

func (s *scoring) Eval(out raster.Tile, in []raster.Tile) error {
	codes := in[0].Codes
	s.scores.Apply(out.Values, codes)
	if s.f.Scores.Others != nil {
		return nil
	}
	for i, v := range out.Values {
		if v != v && codes[i] != raster.MissingCode && (len(in) < 2 || in[1].Codes[i] == 1) {
			s.wants[codes[i]]++
		}
	}
	return nil
}

func (s *scoring) Close() error {
	if s.counts.settled {
		return nil
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	for code, n := range s.wants {
		s.scorer.wants[code] += n
	}
	return nil
}

// unscored returns the classes without a score that the area has, with the
// cells that each is in.
func (s *scorer) unscored() map[int32]int64 {
	out := s.of.byPart(s.wants)
	maps.DeleteFunc(out, func(code int32, _ int64) bool { _, scored := s.hits[code]; return scored })
	return out
}

// combiner returns the rule that joins the factors.
func combiner(p *plan.Plan, weights []float64) (*combine.Combiner, error) {
	var list []combine.Factor
	for i, f := range p.Factors {
		list = append(list, combine.Factor{Name: f.Name, Weight: weights[i], Must: f.Must, Unknown: unknownRule(p, f)})
	}
	rule, err := combine.ParseRule(string(p.Rule.Kind))
	if err != nil {
		return nil, err
	}
	return combine.New(list, rule, combine.Options{Floor: p.Floor, OrderWeights: p.Rule.Order})
}

func unknownRule(p *plan.Plan, f plan.Factor) combine.Unknown {
	u := p.Unknown
	if f.Unknown != nil {
		u = *f.Unknown
	}
	switch u.Kind {
	case plan.LeaveBlank:
		return combine.Unknown{Treatment: combine.LeaveBlank}
	case plan.Assume:
		return combine.Assume(u.Score)
	}
	return combine.Unknown{}
}

// weigh returns the factors' weights: as given, or from the pairwise table,
// whose consistency ratio it returns too.
func weigh(p *plan.Plan) (weights []float64, ratio *float64, err error) {
	if p.Compare == nil {
		for _, f := range p.Factors {
			weights = append(weights, f.Weight)
		}
		return weights, nil, nil
	}
	c, err := pairwise(p.Compare)
	if err != nil {
		return nil, nil, p.PointAt(p.Compare.Pos, err.Error(), remedyOf(err))
	}
	if c.Ratio > combine.ConsistencyLimit && !p.Compare.AcceptInconsistency {
		return nil, nil, p.PointAt(p.Compare.Pos, fmt.Sprintf("the comparisons contradict each other: their consistency ratio is %.2f, and above %.1f they should be made anew", c.Ratio, combine.ConsistencyLimit),
			"look for a pair that breaks the chain (a counts more than b, b more than c, but c more than a), or say `accept inconsistency: yes`")
	}
	return c.Weights, &c.Ratio, nil
}

// pairwise weighs a table in the order of names, so that the order of keys in
// the plan changes no bit, and returns the weights in the table's own order.
func pairwise(t *plan.Comparison) (combine.Comparison, error) {
	order := make([]int, len(t.Names))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int { return compareNames(t.Names[a], t.Names[b]) })
	sorted := make([][]float64, len(order))
	for i, from := range order {
		for _, to := range order {
			sorted[i] = append(sorted[i], t.Matrix[from][to])
		}
	}
	c, err := combine.Pairwise(sorted)
	if err != nil {
		return c, err
	}
	weights := make([]float64, len(order))
	for i, at := range order {
		weights[at] = c.Weights[i]
	}
	c.Weights = weights
	return c, nil
}

// cellCounts says what became of the cells of the area.
type cellCounts struct {
	settled bool // all is counted: whatever is computed again counts no more

	mu sync.Mutex
	cellTotals
}

type cellTotals struct {
	Area     int64 `json:"in_area"`
	NoGround int64 `json:"grid_map_missing"`
	KeptOut  int64 `json:"kept_out"`
	Unknown  int64 `json:"left_blank"` // nothing known, or too little for the plan
	Scored   int64 `json:"scored"`
}

func (c *cellTotals) add(d cellTotals) {
	c.Area += d.Area
	c.NoGround += d.NoGround
	c.KeptOut += d.KeptOut
	c.Unknown += d.Unknown
	c.Scored += d.Scored
}

// scoreNode joins the factors; it is missing outside the area, where the
// grid's own map is missing, on ground kept out, and where nothing is known.
func (b *builder) scoreNode() *pipe.Node {
	weights, _, err := weigh(b.plan)
	b.faults.at(plan.Pos{}, err)
	if err != nil {
		return nil
	}
	c, err := combiner(b.plan, weights)
	b.faults.at(b.plan.Rule.Pos, err)
	if err != nil {
		return nil
	}
	n := &pipe.Node{Name: "score", Inputs: slices.Clone(b.g.factors)}
	also := func(in *pipe.Node) int {
		if in == nil {
			return -1
		}
		n.Inputs = append(n.Inputs, in)
		return len(n.Inputs) - 1
	}
	e := scoreEval{factors: len(b.g.factors), area: also(b.g.area), keptOut: also(b.keepOutNode()), ground: -1, counts: b.g.counts}
	if b.plan.Grid.Like != "" {
		e.ground = also(b.g.layers[b.plan.Grid.Like].Node)
	}
	n.Open = func() (pipe.Evaluator, error) {
		mine := e
		mine.scratch, mine.strips = c.Scratch(), make([][]float32, e.factors)
		return &mine, nil
	}
	return n
}

// scoreEval joins the factors for one worker. The places of its other inputs
// are -1 where there is none.
type scoreEval struct {
	factors               int
	area, keptOut, ground int
	scratch               *combine.Scratch
	strips                [][]float32
	totals                cellTotals
	counts                *cellCounts
}

// stripCells is how many cells are joined at a time, so that all factors of a
// strip stay in the processor's nearest cache.
const stripCells = 256

func (e *scoreEval) Eval(out raster.Tile, in []raster.Tile) error {
	for from := 0; from < len(out.Values); from += stripCells {
		to := min(from+stripCells, len(out.Values))
		for i := range e.strips {
			e.strips[i] = in[i].Values[from:to]
		}
		e.scratch.Apply(out.Values[from:to], nil, e.strips)
		e.mask(out.Values, in, from, to)
	}
	return nil
}

// mask blanks what is no ground to score, and counts.
func (e *scoreEval) mask(score []float32, in []raster.Tile, from, to int) {
	if e.area < 0 && e.keptOut < 0 {
		e.maskGround(score[from:to], in, from)
		return
	}
	t := &e.totals
	for i := from; i < to; i++ {
		switch {
		case e.area >= 0 && in[e.area].Codes[i] != 1:
			score[i] = raster.Missing
			continue
		case e.ground >= 0 && missingAt(in[e.ground], i):
			score[i] = raster.Missing
			t.NoGround++
		case e.keptOut >= 0 && in[e.keptOut].Codes[i] == 1:
			score[i] = raster.Missing
			t.KeptOut++
		case score[i] != score[i]:
			t.Unknown++
		default:
			t.Scored++
		}
		t.Area++
	}
}

// maskGround is mask where all the grid is the area and nothing is kept out.
func (e *scoreEval) maskGround(score []float32, in []raster.Tile, from int) {
	t, bare, unknown := &e.totals, int64(0), int64(0)
	if e.ground >= 0 {
		bare = blankBare(score, in[e.ground], from)
	}
	for _, v := range score {
		if v != v {
			unknown++
		}
	}
	unknown -= bare
	t.Area += int64(len(score))
	t.NoGround += bare
	t.Unknown += unknown
	t.Scored += int64(len(score)) - bare - unknown
}

// blankBare blanks the cells of a strip where the grid's own map is missing,
// and counts them.
func blankBare(score []float32, ground raster.Tile, from int) (n int64) {
	if ground.Codes != nil {
		for i, c := range ground.Codes[from : from+len(score)] {
			if c == raster.MissingCode {
				score[i] = raster.Missing
				n++
			}
		}
		return n
	}
	for i, v := range ground.Values[from : from+len(score)] {
		if v != v {
			score[i] = raster.Missing
			n++
		}
	}
	return n
}

func missingAt(t raster.Tile, i int) bool {
	if t.Codes != nil {
		return t.Codes[i] == raster.MissingCode
	}
	return t.Values[i] != t.Values[i]
}

func (e *scoreEval) Close() error {
	if e.counts.settled {
		return nil
	}
	e.counts.mu.Lock()
	defer e.counts.mu.Unlock()
	e.counts.add(e.totals)
	return nil
}

// keepOutNode is 1 on ground that gets no score; nil if there is none. Where
// the layer is missing nothing is kept out.
func (b *builder) keepOutNode() *pipe.Node {
	n := &pipe.Node{Name: "keep out", Kind: pipe.Class}
	var tests []func(t raster.Tile, out []int32)
	for i := range b.plan.KeepOut {
		k := &b.plan.KeepOut[i]
		l, ok := b.g.layers[k.Layer]
		if !ok {
			continue
		}
		if test := b.keepOutTest(k, l); test != nil {
			n.Inputs = append(n.Inputs, l.Node)
			tests = append(tests, test)
		}
	}
	if len(tests) == 0 {
		return nil
	}
	n.Open = pipe.Plain(func(out raster.Tile, in []raster.Tile) error {
		clear(out.Codes)
		for i, test := range tests {
			test(in[i], out.Codes)
		}
		return nil
	})
	return n
}

// keepOutTest marks the ground of one line of keep out.
func (b *builder) keepOutTest(k *plan.KeepOut, l layers.Layer) func(t raster.Tile, out []int32) {
	if (k.Of != nil) != (l.Member != nil) {
		b.faults.say(k.Pos, fmt.Sprintf("this cannot be asked of %q", l.Name), "use `of` with a map of classes, `above` or `below` with one of numbers")
		return nil
	}
	if k.Of != nil {
		member, err := l.Member(k.Of)
		b.faults.at(k.Pos, err)
		return func(t raster.Tile, out []int32) {
			for i, c := range t.Codes {
				if member.At(c) == 1 {
					out[i] = 1
				}
			}
		}
	}
	low, high := float32(math.Inf(-1)), float32(math.Inf(1))
	if k.Above != nil {
		high = float32(*k.Above)
	}
	if k.Below != nil {
		low = float32(*k.Below)
	}
	return func(t raster.Tile, out []int32) {
		for i, v := range t.Values {
			if v > high || v < low {
				out[i] = 1
			}
		}
	}
}
