package habitat

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"likelyground/habitat/combine"
	"likelyground/habitat/plan"
	"likelyground/raster"
	"likelyground/raster/maps"
	"likelyground/raster/pipe"
)

// Why is one cell of a plan's grid explained. A pointer is nil where nothing
// is known. Values are those of the engine to the bit: the score is the one
// that a run writes for this cell, unless a warning says that water was
// followed around the place alone.
type Why struct {
	Plan     string      `json:"plan"`
	Place    WhyPlace    `json:"place"`
	State    string      `json:"state"` // "scored", "outside the area", "no ground", "kept out" or "unknown"
	Score    *float32    `json:"score"`
	Rule     string      `json:"rule"`
	Coverage float32     `json:"coverage"` // known share of the weight
	Loss     string      `json:"loss_is"`  // what share_of_loss is a share of, for this rule
	Limits   []string    `json:"limits"`   // the factors that bear most of the loss: one, or more that bear the same
	Unknown  []string    `json:"unknown"`  // factors whose score is missing
	KeptOut  []string    `json:"kept_out"` // what keeps the place out, in words
	Factors  []WhyFactor `json:"factors"`  // in the plan's order
	Layers   []WhyLayer  `json:"layers"`   // maps, then derived layers, as the plan's order of working them out
	Wrong    []string    `json:"wrong"`    // what a run would refuse, seen here
	Warnings []string    `json:"warnings"`
}

// WhyPlace is where the cell lies; coordinates are of its centre.
type WhyPlace struct {
	Asked     string   `json:"asked"`              // what the place was read as
	SquareM   float64  `json:"square_m,omitempty"` // side of the square that was asked for, whose middle lies in the cell
	Lon       *float64 `json:"lon"`
	Lat       *float64 `json:"lat"`
	X         float64  `json:"x"`
	Y         float64  `json:"y"`
	CRS       string   `json:"crs"`
	CRSName   string   `json:"crs_name"`
	Col       int      `json:"col"` // from 0 at the west
	Row       int      `json:"row"` // from 0 at the north
	CellX     float64  `json:"cell_x_m"`
	CellY     float64  `json:"cell_y_m"`
	Reference string   `json:"grid_reference,omitempty"`
}

// WhyLayer is what a map or derived layer says.
type WhyLayer struct {
	Name   string     `json:"name"`
	Value  *float32   `json:"value,omitempty"`  // of a quantity; missing where nil
	Code   *int32     `json:"code,omitempty"`   // of a class; the numbering of texts is the program's own
	Class  string     `json:"class,omitempty"`  // its name
	Groups []string   `json:"groups,omitempty"` // of the legend, the narrowest first
	Parts  []WhyPart  `json:"parts,omitempty"`  // of a polygon of several classes, the largest first; there is no code then
	Known  bool       `json:"known"`
	Unit   string     `json:"unit,omitempty"`
	From   string     `json:"from,omitempty"` // how it came about, in words
	Source *WhySource `json:"source,omitempty"`
}

// WhySource is the cell or polygon of a map's file that the value is from.
type WhySource struct {
	File    string   `json:"file"`
	Layer   string   `json:"layer,omitempty"` // of a vector file
	How     string   `json:"how"`             // of a raster as in maps.SourceCell; "polygon", "feature" where points or lines may cover ground, "uncovered"
	Band    int      `json:"band,omitempty"`
	Col     *int     `json:"col,omitempty"` // in the file, from 0
	Row     *int     `json:"row,omitempty"`
	Number  *float64 `json:"number,omitempty"` // in the file, before scale
	Missing bool     `json:"missing"`
	WidthM  float64  `json:"width_m,omitempty"`
	HeightM float64  `json:"height_m,omitempty"`
	Cells   int      `json:"cells,omitempty"` // different source cells that took part
	Points  int      `json:"points,omitempty"`
	AreaHa  float64  `json:"area_ha,omitempty"` // of a polygon, in cells of the grid
	AtLeast bool     `json:"at_least,omitempty"`
	Beneath int      `json:"beneath,omitempty"` // other polygons, or files, that cover the place
}

// WhyFactor is what one factor, or a member of a group, does here.
type WhyFactor struct {
	Name    string      `json:"name"`
	From    string      `json:"from,omitempty"`  // the layer it reads
	Group   string      `json:"group,omitempty"` // "best of" or "mean of"
	Class   *WhyClass   `json:"class,omitempty"` // where it scores classes
	Score   *float32    `json:"score"`
	Weight  float64     `json:"weight"`
	Must    bool        `json:"must,omitempty"`
	Share   *float64    `json:"share_of_weight,omitempty"` // that counts here; of factors alone
	Adds    *float64    `json:"adds,omitempty"`            // to the score, in rules that add
	Loss    *float64    `json:"share_of_loss,omitempty"`   // of what keeps the score from 1
	Vetoes  bool        `json:"vetoes,omitempty"`
	Unknown string      `json:"unknown,omitempty"` // what the plan does with it where its score is missing
	Best    bool        `json:"best,omitempty"`    // the member that a "best of" takes
	Members []WhyFactor `json:"members,omitempty"` // in the plan's order
}

// WhyClass is how the class of a place came to its score.
type WhyClass struct {
	Name string `json:"name"`
	By   string `json:"by"`            // "class", "code", "group", "words", "last part"; "others" or "" where the plan names it by nothing
	Key  string `json:"key,omitempty"` // as the plan writes it

	Parts []WhyPart `json:"parts,omitempty"` // of a polygon of several classes; By is "parts" then
}

// WhyPart is a part of a polygon of several classes.
type WhyPart struct {
	Name   string   `json:"name"`  // "" where its class is unknown
	Share  float64  `json:"share"` // of the polygon
	Groups []string `json:"groups,omitempty"`
	Score  *float64 `json:"score,omitempty"` // of a factor's class
	By     string   `json:"by,omitempty"`    // as of WhyClass
	Key    string   `json:"key,omitempty"`
}

// Explain opens a plan and works out one cell of its grid, with all that led
// to its score. The place is "lon lat" in degrees, "easting northing" in the
// grid's CRS, or a grid reference; see package gridref. It needs no run and
// writes nothing. A place that cannot be read, or lies off the grid, is a
// [Fault].
func Explain(ctx context.Context, planFile, place string, o Options) (*Why, error) {
	return withScratch(ctx, o.settled(), func(o Options) (*Why, error) { return explain(ctx, planFile, place, o) })
}

func explain(ctx context.Context, planFile, place string, o Options) (*Why, error) {
	d, done, err := openDesk(ctx, planFile, o)
	defer done()
	if err != nil {
		return nil, err
	}
	at, col, row, err := d.findPlace(place)
	if err != nil {
		return nil, err
	}
	e := &explaining{desk: d, at: raster.Window{Col: col, Row: row, Cols: 1, Rows: 1}, tiles: map[*pipe.Node]raster.Tile{}}
	if err := e.evaluate(ctx, o); err != nil {
		return nil, err
	}
	return e.why(at)
}

// explaining is one cell being explained.
type explaining struct {
	*desk
	at    raster.Window
	tiles map[*pipe.Node]raster.Tile // of every node that is shown
}

// evaluate computes the cell by the graph that a run computes.
func (e *explaining) evaluate(ctx context.Context, o Options) error {
	for _, f := range e.graph.waters {
		if f.allKept(e.desk, o) {
			continue // all of it is there
		}
		if said := f.narrow(e.at, e.grid); said != "" {
			e.said = append(e.said, said)
		}
	}
	if err := e.followWater(ctx, o); err != nil {
		return err
	}
	var nodes []*pipe.Node
	add := func(n *pipe.Node) {
		if n != nil && !slices.Contains(nodes, n) {
			nodes = append(nodes, n)
		}
	}
	add(e.graph.score)
	add(e.graph.area)
	for _, name := range e.layerNames() {
		add(e.graph.layers[name].Node)
	}
	for i, n := range e.graph.factors {
		eachMember(&e.plan.Factors[i], n, add)
	}
	g := pipe.Graph{Window: e.at, Outputs: nodes, Sink: func() (pipe.Sink, error) { return &keeping{nodes, e.tiles}, nil }}
	err := pipe.Run(ctx, g, pipe.Options{Workers: 1, Tile: o.Tile, Memory: engineMemory(o.Memory)})
	if ctx.Err() != nil {
		return context.Cause(ctx)
	}
	if err != nil {
		return e.pointAtMap(err)
	}
	return e.unchanged()
}

// eachMember calls add for a factor's node and for those of its members.
func eachMember(f *plan.Factor, n *pipe.Node, add func(*pipe.Node)) {
	add(n)
	if f.Group == plan.NoGroup {
		return
	}
	for i, m := range byMemberName(f.Members) {
		eachMember(&m, n.Inputs[i], add)
	}
}

// byMemberName is the order in which a group's node has its members.
func byMemberName(members []plan.Factor) []plan.Factor {
	out := slices.Clone(members)
	slices.SortFunc(out, func(a, b plan.Factor) int { return compareNames(a.Name, b.Name) })
	return out
}

// keeping keeps the one tile of each node.
type keeping struct {
	nodes []*pipe.Node
	into  map[*pipe.Node]raster.Tile
}

func (k *keeping) Take(w raster.Window, in []raster.Tile) error {
	for i, t := range in {
		copied := raster.Tile{Window: w, Values: slices.Clone(t.Values), Codes: slices.Clone(t.Codes)}
		k.into[k.nodes[i]] = copied
	}
	return nil
}

func (k *keeping) Close() error { return nil }

// value is the quantity of a node at the cell.
func (e *explaining) value(n *pipe.Node) float32 { return e.tiles[n].Values[0] }

// pointer returns nil for a missing value.
func pointer(v float32) *float32 {
	if v != v {
		return nil
	}
	return &v
}

func (e *explaining) why(at askedPlace) (*Why, error) {
	p := e.plan
	w := &Why{Plan: e.file, Rule: string(p.Rule.Kind), Loss: lossIs[p.Rule.Kind], Score: pointer(e.value(e.graph.score)), Limits: []string{}, Unknown: []string{}, KeptOut: []string{}}
	var err error
	if w.Place, err = e.place(at, e.at.Col, e.at.Row); err != nil {
		return nil, err
	}
	if err := e.explainFactors(w); err != nil {
		return nil, err
	}
	for _, name := range e.layerNames() {
		l, err := e.layer(name)
		if err != nil {
			return nil, err
		}
		w.Layers = append(w.Layers, l)
	}
	w.Warnings = append([]string{}, e.warnings()...)
	e.explainKeepOut(w)
	w.State = e.state(w)
	w.Wrong = e.wrong()
	return w, nil
}

// state says what became of the cell, as the run counts it.
func (e *explaining) state(w *Why) string {
	like := e.plan.Grid.Like
	switch {
	case e.graph.area != nil && e.tiles[e.graph.area].Codes[0] != 1:
		return "outside the area"
	case like != "" && missingAt(e.tiles[e.graph.layers[like].Node], 0):
		return "no ground"
	case len(w.KeptOut) > 0:
		return "kept out"
	case w.Score == nil:
		return "unknown"
	}
	return "scored"
}

// lossIs says what each rule's loss is.
var lossIs = map[plan.RuleKind]string{
	plan.MeanRule:           "the weighted sum of what each score lacks to 1",
	plan.GeometricMean:      "the weighted sum of the logarithms of the scores",
	plan.HarmonicMean:       "the weighted sum of what each 1/score has over 1",
	plan.Product:            "the sum of the logarithms of the scores",
	plan.LeastFactor:        "the least score bears all of it",
	plan.OrderedWeightsRule: "the sum of what each score lacks to 1, weighted by its place",
}

// explainFactors takes the score apart.
func (e *explaining) explainFactors(w *Why) error {
	weights, _, err := weigh(e.plan)
	if err != nil {
		return err
	}
	c, err := combiner(e.plan, weights)
	if err != nil {
		return err
	}
	scores := make([]float32, len(weights))
	columns := make([][]float32, len(weights))
	for i, n := range e.graph.factors {
		scores[i] = e.value(n)
		columns[i] = scores[i : i+1]
	}
	var score, coverage [1]float32
	c.Scratch().Apply(score[:], coverage[:], columns)
	w.Coverage = coverage[0]
	parts := c.Explain(scores)
	most := 0.0
	for i := range e.plan.Factors {
		f := e.factor(&e.plan.Factors[i], e.graph.factors[i], weights[i])
		e.explainPart(&f, &e.plan.Factors[i], parts[i])
		most = max(most, parts[i].Loss)
		w.Factors = append(w.Factors, f)
		if f.Score == nil {
			w.Unknown = append(w.Unknown, f.Name)
		}
	}
	for i, p := range parts {
		if score[0] == score[0] && p.Loss > 0 && p.Loss >= most*(1-1e-12) {
			w.Limits = append(w.Limits, e.plan.Factors[i].Name)
		}
	}
	return nil
}

// factor is a factor or a member with its own members.
func (e *explaining) factor(f *plan.Factor, n *pipe.Node, weight float64) WhyFactor {
	out := WhyFactor{Name: f.Name, From: f.From, Group: string(f.Group), Score: pointer(e.value(n)), Weight: weight, Must: f.Must}
	if f.Group == plan.NoGroup {
		out.Class = e.scoredClass(n)
		return out
	}
	node := map[string]*pipe.Node{}
	for i, m := range byMemberName(f.Members) {
		node[m.Name] = n.Inputs[i]
	}
	for i := range f.Members {
		m := &f.Members[i]
		member := e.factor(m, node[m.Name], m.Weight)
		member.Best = f.Group == plan.BestOf && member.Score != nil && out.Score != nil && *member.Score == *out.Score
		out.Members = append(out.Members, member)
	}
	return out
}

func (e *explaining) explainPart(f *WhyFactor, p *plan.Factor, part combine.Part) {
	f.Loss, f.Vetoes = &part.Loss, part.Vetoes
	if e.plan.Rule.Kind != plan.Product && e.plan.Rule.Kind != plan.LeastFactor {
		f.Share = &part.Share
	}
	if !math.IsNaN(part.Adds) {
		f.Adds = &part.Adds
	}
	if !part.Known {
		f.Unknown = unknownHere(e.plan, p)
	}
}

// unknownHere says what the plan does with a missing factor.
func unknownHere(p *plan.Plan, f *plan.Factor) string {
	switch u := unknownRule(p, *f); u.Treatment {
	case combine.LeaveBlank:
		return "the score is missing"
	case combine.Assumed:
		return fmt.Sprintf("%g is assumed", u.Value)
	}
	return "its weight is shared out"
}

// layerNames are the names of all layers, in the order of working them out.
func (e *explaining) layerNames() []string {
	var out []string
	for _, m := range e.plan.Maps {
		out = append(out, m.Name)
	}
	for _, d := range e.plan.Derived {
		out = append(out, d.Name)
	}
	return out
}

func (e *explaining) layer(name string) (WhyLayer, error) {
	l := e.graph.layers[name]
	t := e.tiles[l.Node]
	out := WhyLayer{Name: name, Unit: l.Unit, Known: !missingAt(t, 0)}
	s := e.sources[name]
	switch {
	case !out.Known:
	case t.Codes == nil:
		out.Value = pointer(t.Values[0])
	default:
		e.graph.classes[name].tell(&out, t.Codes[0])
	}
	if s == nil {
		if d, ok := e.plan.DerivedLayer(name); ok {
			out.From = derivedWords(*d)
		}
		return out, nil
	}
	if s.blank != "" {
		out.From = "left out: " + s.blank
		return out, nil
	}
	var err error
	out.Source, err = e.source(s)
	return out, err
}

// source finds the cell or polygon of the file.
func (e *explaining) source(s *source) (*WhySource, error) {
	if s.polygons != nil {
		return e.polygon(s)
	}
	c, err := s.raster.Probe(e.at.Col, e.at.Row)
	if err != nil {
		return nil, e.pointAtMap(err)
	}
	out := &WhySource{File: e.standIns.Shown(c.File), How: c.How, Missing: c.Missing, WidthM: c.Width, HeightM: c.Height, Cells: c.Cells, Points: c.Points, Beneath: max(c.Files-1, 0), Band: c.Band}
	if c.How == maps.Uncovered {
		return out, nil
	}
	out.Col, out.Row = &c.Col, &c.Row
	if !math.IsNaN(c.Number) && !math.IsInf(c.Number, 0) {
		out.Number = &c.Number
	}
	return out, nil
}

func (e *explaining) polygon(s *source) (*WhySource, error) {
	p, err := s.polygons.Probe(e.at.Col, e.at.Row)
	if err != nil {
		return nil, err
	}
	facts := s.polygons.Facts()
	out := &WhySource{File: e.standIns.Shown(facts.Path), Layer: facts.Layer, How: maps.Uncovered}
	if p.Found {
		out.How, out.Missing, out.Beneath, out.AtLeast = "polygon", p.Missing, p.Beneath, p.Cut
		if facts.Radius+facts.Width > 0 {
			out.How = "feature"
		}
		out.AreaHa = float64(p.Cells) * e.grid.cellHa()
	}
	return out, nil
}

// explainKeepOut finds the lines of keep out that the cell breaks.
func (e *explaining) explainKeepOut(w *Why) {
	b := &builder{plan: e.plan, grid: e.grid, sources: e.sources, areaOf: e.areaOf, faults: &faults{plan: e.plan}, g: e.graph}
	for i := range e.plan.KeepOut {
		k := &e.plan.KeepOut[i]
		l, ok := e.graph.layers[k.Layer]
		if !ok {
			continue
		}
		test := b.keepOutTest(k, l)
		if test == nil {
			continue
		}
		var out [1]int32
		test(e.tiles[l.Node], out[:])
		if out[0] == 1 {
			w.KeptOut = append(w.KeptOut, e.keepOutWords(*k)+e.classHere(*k, l.Node))
		}
	}
}

// classHere names the class of the cell where a line of keep out names it by
// something else, such as its group.
func (e *explaining) classHere(k plan.KeepOut, n *pipe.Node) string {
	s := e.sources[k.Layer]
	if k.Of == nil || s == nil || s.classes == nil {
		return ""
	}
	name := s.classes.cellName(e.tiles[n].Codes[0])
	if slices.ContainsFunc(k.Of, func(c plan.Class) bool { return c.Written() == name }) {
		return ""
	}
	return fmt.Sprintf(", here %q", name)
}

// scoredClass says which of the factor's classes the cell's own is scored by;
// nil where it is missing, or the factor scores no classes.
func (e *explaining) scoredClass(n *pipe.Node) *WhyClass {
	at := slices.IndexFunc(e.graph.scorers, func(s *scorer) bool { return s.node == n })
	if at < 0 {
		return nil
	}
	s := e.graph.scorers[at]
	code := e.tiles[e.graph.layers[s.f.From].Node].Codes[0]
	if code == raster.MissingCode {
		return nil
	}
	parts := s.of.parts(code)
	if len(parts) > 1 || parts[0].Share < maps.WholeShare {
		return s.scoredParts(code)
	}
	out := &WhyClass{Name: s.of.name(parts[0].Code)}
	out.By, out.Key, _ = s.scoredBy(parts[0].Code)
	return out
}

// wrong tells what a run would refuse of the cells that this one's value
// hangs on.
func (e *explaining) wrong() []string {
	f := &faults{plan: e.plan}
	for i := range e.plan.Maps {
		s := e.sources[e.plan.Maps[i].Name]
		if s == nil || s.blank != "" {
			continue
		}
		found := s.findings()
		found.Problems = slices.DeleteFunc(slices.Clone(found.Problems), func(p *maps.Problem) bool { return maps.Elsewhere(p) })
		e.judgeMap(s, found, f)
	}
	for _, s := range e.graph.scorers {
		e.judgeScores(s, f)
	}
	out := []string{}
	for _, p := range f.list {
		out = append(out, p.Error())
	}
	if f.other != nil {
		out = append(out, errors.Join(f.other).Error())
	}
	return out
}
