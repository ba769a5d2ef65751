package plan

// Plan is a plan file as read: checked, with defaults filled in.
//
// The JSON names of its fields are the form that [Plan.Canonical] writes;
// positions and warnings are no part of it.
type Plan struct {
	File    string `json:"-"`       // the name given to [Read]
	Title   string `json:"title"`   // "" when not given
	Subject string `json:"subject"` // the organism; "" when not given

	Area    *Area     `json:"area"` // nil: the extent of the grid's map
	Grid    Grid      `json:"grid"`
	Maps    []Map     `json:"maps"`    // in order of their names
	Derived []Derived `json:"derived"` // each after the layers it reads, else in order of names
	Factors []Factor  `json:"factors"` // in the plan's order, which is that of the bands of factors.tif

	Compare  *Comparison `json:"compare"` // pairwise table that gives the weights; nil: weights stand at the factors
	Rule     Rule        `json:"rule"`
	Floor    float64     `json:"floor"`   // 0..1, smallest factor score that enters a logarithm or reciprocal
	Unknown  Unknown     `json:"unknown"` // for factors that say nothing of their own
	KeepOut  []KeepOut   `json:"keep out"`
	Hotspots Hotspots    `json:"hotspots"`
	Outputs  Outputs     `json:"outputs"`
	Packing  Compression `json:"compression"`

	Warnings []Problem `json:"-"` // what is odd but not wrong, in order of lines

	// Shown, where it is set, writes files that stand in for what the plan
	// names, such as one unpacked from an archive, under the plan's names. It
	// is called on messages of [Plan.PointAt].
	Shown func(text string) string `json:"-"`

	source              []string
	given               given // the top keys that the plan has
	acceptInconsistency bool
}

// Pos is a place in the plan file. The zero Pos is nowhere: what has it was
// not written but filled in.
type Pos struct {
	Line   int // from 1
	Column int // in characters, from 1
	Length int // characters pointed at, at least 1
}

// Area is the ground to rate: either polygons in a file or a box.
type Area struct {
	Pos     Pos     `json:"-"`               // of the path, or of the box
	File    string  `json:"file,omitempty"`  // relative to the plan; "" for a box
	StandIn string  `json:"-"`               // a file to open in its place; whoever finds it sets it
	Layer   string  `json:"layer,omitempty"` // "" when not given: the file's only one
	CRS     string  `json:"crs,omitempty"`   // always given for a box; "" with a file: the file's own
	CRSPos  Pos     `json:"-"`
	IsBox   bool    `json:"is box"`
	Corners Corners `json:"corners,omitzero"`
}

// Corners are the edges of a box in the units of its CRS, x east (or
// longitude) and y north (or latitude) whatever the CRS's own axis order.
type Corners struct {
	West  float64 `json:"west"`
	South float64 `json:"south"`
	East  float64 `json:"east"`
	North float64 `json:"north"`
}

// Grid says on which cells everything is worked out: like one of the maps, or
// of a given CRS and cell.
type Grid struct {
	Pos              Pos     `json:"-"`
	Like             string  `json:"like,omitempty"` // name of a map; "" for an explicit grid
	CRS              string  `json:"crs,omitempty"`  // of an explicit grid
	CRSPos           Pos     `json:"-"`
	DX               float64 `json:"dx,omitempty"` // cell width of an explicit grid, metres
	DY               float64 `json:"dy,omitempty"` // cell height of an explicit grid, metres
	CellPos          Pos     `json:"-"`
	AcceptScaleError bool    `json:"accept scale error"`
}

// Map is one map: what to open and how to take its values.
type Map struct {
	Name string `json:"name"`
	Pos  Pos    `json:"-"` // of the name

	Files    []Path      `json:"files"`               // at least one; an earlier one lies on top
	Layer    string      `json:"layer,omitempty"`     // of a vector file
	Field    string      `json:"field,omitempty"`     // of a vector file; "" for a raster
	Else     []string    `json:"else,omitempty"`      // fields that are asked in order where those before are empty
	Parts    []PartField `json:"parts,omitempty"`     // of a vector file whose polygons are of several classes; Field is that of the first then
	SharesIn SharesIn    `json:"shares in,omitempty"` // of parts; "" when not given
	Band     int         `json:"band,omitempty"`      // from 1; 0 when not given
	Index    string      `json:"index,omitempty"`     // field of a vector file whose features name the map's tiles; "" when Files are the map
	LayerAt  Pos         `json:"-"`
	FieldAt  Pos         `json:"-"`
	BandAt   Pos         `json:"-"`
	IndexAt  Pos         `json:"-"`

	Where   string  `json:"where,omitempty"`  // condition on the features of a vector file; "": all of them
	Radius  float64 `json:"radius,omitempty"` // metres around a point that it stands for; 0: points are no ground
	Width   float64 `json:"width,omitempty"`  // metres of ground along a line; 0: lines are no ground
	WhereAt Pos     `json:"-"`

	Unit    string   `json:"unit,omitempty"`  // as in the plan, but known ones as the Unit… constants; "" when not given
	Scale   *float64 `json:"scale,omitempty"` // nil: the file's own
	Offset  *float64 `json:"offset,omitempty"`
	Missing Missing  `json:"missing"` // in the file's own numbers
	Between *Range   `json:"between,omitempty"`

	// Classes is true where the values are classes: the map has a legend or
	// says `classes: yes`, or the plan uses it by scores or by `of`. A vector
	// field without use as classes is taken as numbers.
	Classes bool       `json:"classes"`
	Legend  *LegendUse `json:"legend,omitempty"`
	Match   Match      `json:"match,omitempty"` // how class names are compared, unless a reader says otherwise; "": whole text

	WhereAbsent *Absent `json:"where absent,omitempty"`

	Year           int    `json:"year,omitempty"` // 0 when not given
	Credit         string `json:"credit,omitempty"`
	CreditFrom     string `json:"credit from,omitempty"` // LegendWord where the plan leaves it to the built-in legend
	Licence        string `json:"licence,omitempty"`
	LicenceFrom    string `json:"licence from,omitempty"` // as CreditFrom
	Share          string `json:"share,omitempty"`        // "yes", "no" or "modified"; "" when not given
	Optional       bool   `json:"optional"`
	AcceptBallpark bool   `json:"accept ballpark"`
	CRS            string `json:"crs,omitempty"` // replaces what the file says; "" when not given
	CRSPos         Pos    `json:"-"`

	Surface *bool `json:"surface,omitempty"` // heights of tree tops and roofs; nil: the plan does not say

	saidAmounts bool // `classes: no`
	unsound     bool // something in it is wrong
}

// Units of quantities that the program knows; any other text is kept as it is.
const (
	UnitMetres      = "m"
	UnitFeet        = "ft"
	UnitPH          = "pH"
	UnitPercent     = "percent"
	UnitMillimetres = "mm"
	UnitDegrees     = "degrees"
	UnitHectares    = "ha"
	UnitPerMetre    = "1/m"
	UnitSunshine    = "MJ/m²"
)

// Height reports whether the map's unit says that its values are heights.
func (m *Map) Height() bool { return m.Unit == UnitMetres || m.Unit == UnitFeet }

// Path is a file as the plan writes it, relative to the plan.
type Path struct {
	Text string `json:"text"`
	Glob bool   `json:"glob,omitempty"` // holds *, ? or [: a pattern, unless a file has that very name
	Pos  Pos    `json:"-"`

	StandIns []string `json:"-"` // files to open in its place; whoever finds them sets it
}

// Missing says which numbers of a file stand for no knowledge, on top of what
// the file itself declares.
type Missing struct {
	Pos    Pos       `json:"-"`
	None   bool      `json:"none"` // `missing: none`: insist that every number is a value
	Values []float64 `json:"values,omitempty"`
	Ranges []Range   `json:"ranges,omitempty"`
}

// Given reports whether the plan says anything of missing values.
func (m Missing) Given() bool { return m.None || len(m.Values)+len(m.Ranges) > 0 }

// Range is a span of numbers, both ends included.
type Range struct {
	Low  float64 `json:"low"`
	High float64 `json:"high"`
	Pos  Pos     `json:"-"`
}

// Absent is the value of ground that no file of a map covers.
type Absent struct {
	Pos     Pos     `json:"-"`
	Class   *Class  `json:"class,omitempty"` // for a map of classes
	Number  float64 `json:"number"`          // for quantities, in physical units (after scale)
	IsClass bool    `json:"is class"`
}

// Class names a class of a map in the plan: by its name, or by its code where
// the plan writes a bare whole number.
type Class struct {
	Name   string `json:"name,omitempty"` // "" when IsCode
	Code   int32  `json:"code,omitempty"`
	IsCode bool   `json:"is code,omitempty"`
	Match  Match  `json:"match,omitempty"` // how it is compared with what the map holds; "": whole text
	Pos    Pos    `json:"-"`
}

// Verb is what a derived layer works out.
type Verb string

// The verbs, as the plan writes them.
const (
	Slope     Verb = "slope"     // steepness; degrees, or percent where In says so
	Northness Verb = "northness" // -1 (south) .. 1 (north)
	Eastness  Verb = "eastness"  // -1 (west) .. 1 (east)
	Aspect    Verb = "aspect"    // degrees clockwise from the grid's north, the way down; missing on level ground
	Elevation Verb = "elevation" // metres
	Share     Verb = "share"     // of classes within a radius, 0..1
	Distance  Verb = "distance"  // to the nearest cell of some classes, metres
	Mean      Verb = "mean"      // within a radius, unit of its input

	ProfileCurvature    Verb = "profile curvature"    // 1/m, above 0 on brows
	TangentialCurvature Verb = "tangential curvature" // 1/m, above 0 on spurs
	ContourCurvature    Verb = "contour curvature"    // 1/m, above 0 on spurs
	RelativePosition    Verb = "relative position"    // above the mean of other cells within a radius, metres
	Ruggedness          Verb = "ruggedness"           // unlikeness to the eight neighbours, metres
	HeatLoad            Verb = "heat load"            // of a year, MJ/cm² with the afternoons warmer
	Radiation           Verb = "radiation"            // of a day on the slope, MJ/m²

	EdgeDistance Verb = "edge distance" // to the edge of some classes, metres
	Lasting      Verb = "lasting"       // whether every dated map shows some classes; a layer of classes
	FirstOf      Verb = "first of"      // the first of several layers that knows the place; classes or a quantity as they are

	Filled          Verb = "filled"           // height at which water stands in hollows, else the ground's, metres
	HollowDepth     Verb = "hollow depth"     // metres, 0 outside hollows
	HollowArea      Verb = "hollow area"      // of the hollow that the cell lies in, hectares
	Gathered        Verb = "gathered"         // ground that drains through the cell, hectares
	Wetness         Verb = "wetness"          // ln(a / tan b)
	ChannelDistance Verb = "channel distance" // along the way of the water, metres
	ChannelHeight   Verb = "channel height"   // above the channel that the water comes to, metres
)

// LastingLegend are the classes of a layer that tells lasting ground from
// other. It is missing where a map is, unless another one shows that the
// ground was not of the classes.
var LastingLegend = Legend{{Code: 0, Name: "other"}, {Code: 1, Name: "lasting"}}

// Witness is a dated map that shows whether ground was of some classes.
type Witness struct {
	Map  string  `json:"map"`
	Pos  Pos     `json:"-"` // of the map's name
	Of   []Class `json:"of"`
	Year int     `json:"-"` // the map's
}

// Side says on which side of an edge distances are measured; on the other
// side they are 0.
type Side string

// The sides, as the plan writes them.
const (
	BothSides Side = "both"
	Inside    Side = "inside"  // from cells of the classes
	Outside   Side = "outside" // from other cells
)

// Derived is a layer worked out from another one, or from several maps.
type Derived struct {
	Name    string  `json:"name"`
	Pos     Pos     `json:"-"` // of the name
	Verb    Verb    `json:"verb"`
	From    string  `json:"from"` // a map or an earlier derived layer; "" for lasting and first of
	FromPos Pos     `json:"-"`
	Of      []Class `json:"of,omitempty"`     // of share, distance and edge distance
	Match   Match   `json:"-"`                // of Of, as the plan writes it; each class has what counts
	Within  float64 `json:"within,omitempty"` // metres; of share, mean and relative position
	UpTo    float64 `json:"up to,omitempty"`  // metres; of distance and edge distance; 0: no cap
	Side    Side    `json:"side,omitempty"`   // of edge distance; "" for both
	Percent bool    `json:"percent"`          // of slope: percent in place of degrees

	After    Author `json:"after,omitempty"`    // of ruggedness
	Day      int    `json:"day,omitempty"`      // of radiation, 1 to 366
	Equation int    `json:"equation,omitempty"` // of heat load; 0 for the first, see HeatEquation
	Warmest  Facing `json:"warmest,omitempty"`  // of heat load; "" for southwest

	Margin  float64 `json:"margin,omitempty"`       // metres, of the water verbs; 0 for the default, see WaterMargin
	Flow    Flow    `json:"flow,omitempty"`         // "" for many ways
	Channel float64 `json:"channel from,omitempty"` // m²; of channel distance and channel height

	Drains *Drains `json:"drains,omitempty"` // of the water verbs; nil for none

	On []Witness `json:"on,omitempty"` // of lasting: at least two maps, by rising year, then name

	First []string `json:"first of,omitempty"` // of first of: at least two layers, the one that counts most first

	firstPos []Pos
	onPos    []put[string] // the maps named apart from the classes
	unsound  bool
}

// Reads returns the layers that a derived layer is worked out from.
func (d *Derived) Reads() []string {
	switch d.Verb {
	case Lasting:
	case FirstOf:
		return d.First
	default:
		if d.Drains != nil {
			return []string{d.From, d.Drains.Map}
		}
		return []string{d.From}
	}
	var out []string
	for _, w := range d.On {
		out = append(out, w.Map)
	}
	return out
}

// Grouping says how the members of a group make one score.
type Grouping string

// The ways of grouping; NoGroup is a factor that reads a layer.
const (
	NoGroup Grouping = ""
	BestOf  Grouping = "best of"
	MeanOf  Grouping = "mean of"
)

// Factor is one factor of the score, or one member of a group.
type Factor struct {
	Name string `json:"name"`
	Pos  Pos    `json:"-"` // of the name

	// A factor that reads a layer has exactly one of Curve, Scores, Straight.
	From     string  `json:"from,omitempty"` // a map or derived layer; "" for a group
	FromPos  Pos     `json:"-"`
	Curve    []Point `json:"curve,omitempty"`  // by rising X; piecewise linear, flat beyond
	CurvePos Pos     `json:"-"`                // of the curve's key
	Scores   *Scores `json:"scores,omitempty"` // for classes
	Straight bool    `json:"straight"`         // the layer is a share already: its value is the score

	Group   Grouping `json:"group,omitempty"`
	Members []Factor `json:"members,omitempty"` // in the plan's order; only of a group

	Weight    float64  `json:"weight"` // at least 0; 1 when not given. Of a member: only in a mean
	WeightPos Pos      `json:"-"`      // zero when not given
	Must      bool     `json:"must"`
	Unknown   *Unknown `json:"unknown,omitempty"` // nil: the plan's

	others  *float64
	match   Match
	unsound bool
}

// Point is one point of a curve: a value of the layer and its score.
type Point struct {
	X float64 `json:"x"` // in the layer's own unit
	Y float64 `json:"y"` // 0..1
}

// Scores gives classes their score.
type Scores struct {
	Pos     Pos          `json:"-"`                // of the key
	Match   Match        `json:"-"`                // as the plan writes it; each class has what counts
	Classes []ClassScore `json:"classes"`          // in the plan's order, each class once
	Others  *float64     `json:"others,omitempty"` // for classes that Classes lacks; nil: refuse such classes
}

// Named returns the classes that have a score of their own.
func (s *Scores) Named() []Class {
	out := make([]Class, len(s.Classes))
	for i, c := range s.Classes {
		out[i] = c.Class
	}
	return out
}

// ClassScore is the score of one class.
type ClassScore struct {
	Class
	Score float64 `json:"score"` // 0..1
}

// RuleKind names a rule that joins the factors.
type RuleKind string

// The rules, as the plan writes them.
const (
	MeanRule           RuleKind = "mean"
	GeometricMean      RuleKind = "geometric mean"
	HarmonicMean       RuleKind = "harmonic mean"
	Product            RuleKind = "product"
	LeastFactor        RuleKind = "least factor"
	OrderedWeightsRule RuleKind = "ordered weights"
)

// Rule joins the factors to one score.
type Rule struct {
	Kind  RuleKind  `json:"kind"`
	Order []float64 `json:"order,omitempty"` // of ordered weights: for the best score first; sums to 1
	Pos   Pos       `json:"-"`
}

// UnknownKind names what a missing factor does to a score.
type UnknownKind string

// The ways with missing values, as the plan writes them.
const (
	ShareOut   UnknownKind = "share out"   // its weight goes to the known factors
	LeaveBlank UnknownKind = "leave blank" // the score is missing too
	Assume     UnknownKind = "assume"      // it counts as a given score
)

// Unknown says what a missing factor does to a score.
type Unknown struct {
	Kind  UnknownKind `json:"kind"`
	Score float64     `json:"score"` // of Assume, 0..1
	Pos   Pos         `json:"-"`
}

// Comparison is a pairwise table of all factors (Saaty 1980).
type Comparison struct {
	Pos                 Pos         `json:"-"`
	Names               []string    `json:"names"`  // as Plan.Factors
	Matrix              [][]float64 `json:"matrix"` // full and reciprocal: [i][j] says how much more i counts than j
	AcceptInconsistency bool        `json:"accept inconsistency"`

	pairs []pair
}

// KeepOut is ground that gets no score. Exactly one of Of, Above, Below is
// given.
type KeepOut struct {
	Pos   Pos      `json:"-"`   // of the layer's name
	Layer string   `json:"map"` // a map or derived layer
	Of    []Class  `json:"of,omitempty"`
	Match Match    `json:"-"`               // of Of, as the plan writes it; each class has what counts
	Above *float64 `json:"above,omitempty"` // in the layer's own unit; the limit itself stays in
	Below *float64 `json:"below,omitempty"`

	above, below *limit // as written
}

// Hotspots says which patches of good ground are listed.
type Hotspots struct {
	From  float64 `json:"from"`  // 0..1, as written: not yet rounded to the steps of a score
	Least float64 `json:"least"` // square metres
	// OrLength is from which length on, in metres, smaller patches are listed
	// too; 0: none.
	OrLength float64 `json:"or length,omitempty"`
	Most     int     `json:"most"` // at least 1
}

// Outputs says what a run writes beside its account.
type Outputs struct {
	Score      bool `json:"score"`
	Factors    bool `json:"factors"`
	Hotspots   bool `json:"hotspots"`
	Picture    bool `json:"picture,omitempty"`
	GPX        bool `json:"gpx,omitempty"`
	CSV        bool `json:"csv,omitempty"`
	GeoPackage bool `json:"geopackage,omitempty"`
}

// Areas reports whether some output is made of the ranked areas.
func (o Outputs) Areas() bool { return o.Hotspots || o.GPX || o.CSV || o.GeoPackage }

// Packer names a way to compress rasters.
type Packer string

// The ways to compress, as the plan writes them.
const (
	Deflate Packer = "deflate" // what every viewer reads
	Zstd    Packer = "zstd"    // smaller and faster, but not every viewer reads it
)

// Compression says how the rasters are compressed.
type Compression struct {
	Packer Packer `json:"by"`
	Level  int    `json:"level"` // effort from 1, up to 9 for Deflate and 22 for Zstd; 0: the usual one
}

// Map returns the map of a name.
func (p *Plan) Map(name string) (*Map, bool) {
	for i := range p.Maps {
		if p.Maps[i].Name == name {
			return &p.Maps[i], true
		}
	}
	return nil, false
}

// DerivedLayer returns the derived layer of a name.
func (p *Plan) DerivedLayer(name string) (*Derived, bool) {
	for i := range p.Derived {
		if p.Derived[i].Name == name {
			return &p.Derived[i], true
		}
	}
	return nil, false
}
