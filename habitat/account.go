package habitat

import (
	"encoding/json"
	"fmt"
	"io"
	stdmaps "maps"
	"math"
	"runtime"
	"slices"
	"strings"
	"time"

	"likelyground/habitat/combine"
	"likelyground/habitat/licence"
	"likelyground/habitat/plan"
	"likelyground/raster/crs"
	"likelyground/raster/maps"
)

// account is the account of a run: what went in, what was done with it, what
// came out. Everything that differs from run to run stands in ThisRun.
type account struct {
	Format   int              `json:"format"`
	Title    string           `json:"title"`
	Subject  string           `json:"subject"`
	Plan     accountPlan      `json:"plan"`
	Grid     accountGrid      `json:"grid"`
	Area     *accountArea     `json:"area,omitempty"`
	Maps     []accountMap     `json:"maps"`
	Water    []accountWater   `json:"water,omitempty"`
	Factors  []accountFactor  `json:"factors"`
	Pairwise *accountPairs    `json:"pairwise,omitempty"`
	Cells    cellTotals       `json:"cells"`
	Hotspots *accountSpots    `json:"hotspots,omitempty"`
	Method   []methodSection  `json:"method"`
	Settings json.RawMessage  `json:"parameters"`
	Versions VersionList      `json:"versions"`
	Credits  []string         `json:"credits"`
	Licences licence.Together `json:"licences"`
	Warnings []string         `json:"warnings"`
	Cautions []string         `json:"cautions"`
	Outputs  []outputFile     `json:"outputs"`
	ThisRun  thisRun          `json:"this_run"`
}

type accountPlan struct {
	File string `json:"file"` // from the output folder
	Hash string `json:"sha256_of_content"`
}

type accountGrid struct {
	CRS    string     `json:"crs"`
	Name   string     `json:"crs_name"`
	Origin [2]float64 `json:"origin"` // outer north-western corner
	Cell   [2]float64 `json:"cell"`
	Metres float64    `json:"metres_per_unit"`
	Cols   int        `json:"columns"`
	Rows   int        `json:"rows"`
}

// accountArea is the area of interest as it was read.
type accountArea struct {
	Files []accountFile `json:"files"` // none for a box
	Read  accountRead   `json:"read"`
}

type accountFile struct {
	File string `json:"file"` // as seen from the plan
	fileHash
	*accountPieces
}

// accountMap is a map as it was read.
type accountMap struct {
	Name        string         `json:"name"`
	Unit        string         `json:"unit,omitempty"`
	Year        int            `json:"year,omitempty"`
	Credit      string         `json:"credit,omitempty"`
	CreditFrom  string         `json:"credit_from,omitempty"` // "legend" where the plan leaves it to a built-in one
	Licence     string         `json:"licence,omitempty"`
	LicenceFrom string         `json:"licence_from,omitempty"`     // as credit_from
	KnownAs     string         `json:"licence_known_as,omitempty"` // where the plan writes it another way
	Share       string         `json:"share,omitempty"`
	Legend      *accountLegend `json:"legend,omitempty"`
	LeftOut     string         `json:"left_out,omitempty"`
	Files       []accountFile  `json:"files"`
	Read        []accountRead  `json:"read,omitempty"`
	Known       int64          `json:"known_cells"`
	Missing     int64          `json:"missing_cells"`
	Clipped     int64          `json:"clipped_source_cells"`
	Gaps        int64          `json:"cells_in_no_file,omitempty"`
	Overlapping int64          `json:"cells_in_polygons_that_differ,omitempty"`
	Surface     bool           `json:"surface_model,omitempty"` // it shows tree tops and roofs
	Low         *float64       `json:"lowest,omitempty"`
	High        *float64       `json:"highest,omitempty"`
	Classes     []accountClass `json:"classes,omitempty"`
}

// accountLegend is where the names of classes are from.
type accountLegend struct {
	BuiltIn   string `json:"built_in,omitempty"`
	Title     string `json:"title,omitempty"`
	Publisher string `json:"publisher,omitempty"`
	Source    string `json:"source,omitempty"`
	Edition   string `json:"edition,omitempty"`
	Note      string `json:"note,omitempty"`
	NoData    []any  `json:"no_data,omitempty"` // codes or texts that it says mean so
	File      string `json:"file,omitempty"`    // as seen from the plan
	InPlan    bool   `json:"in_plan,omitempty"`
	InMap     bool   `json:"in_map,omitempty"` // the map's own names
}

// legendOf says where the names of a map's classes are from; nil where they
// have none but their codes or texts.
func (d *desk) legendOf(m *plan.Map) *accountLegend {
	u, b := m.Legend, m.Legend.Open()
	switch {
	case b != nil:
		a := &accountLegend{BuiltIn: b.Name, Title: b.Title, Publisher: b.Publisher, Source: b.Source, Edition: b.Edition, Note: b.Note}
		for _, x := range b.Missing {
			switch {
			case m.Missing.None:
			case x.Text != "":
				a.NoData = append(a.NoData, x.Text)
			default:
				a.NoData = append(a.NoData, x.Code)
			}
		}
		return a
	case u != nil && u.File != "":
		return &accountLegend{File: d.fromPlan(inFolder(d.dir, u.File))}
	case u != nil:
		return &accountLegend{InPlan: true}
	}
	if s := d.sources[m.Name]; s != nil && s.classes != nil && s.classes.legend != nil {
		return &accountLegend{InMap: true}
	}
	return nil
}

// accountRead is how one file, or a vector layer, was brought onto the grid.
type accountRead struct {
	File        string     `json:"file,omitempty"`
	Layer       string     `json:"layer,omitempty"`
	CRS         string     `json:"crs"`
	CRSFrom     string     `json:"crs_from,omitempty"` // "plan" where the file's own is replaced
	CellMetres  [2]float64 `json:"cell_m,omitzero"`
	Type        string     `json:"type,omitempty"`
	Band        int        `json:"band,omitempty"`
	Nodata      any        `json:"nodata,omitempty"`
	Masked      bool       `json:"mask_in_use,omitempty"`
	Scale       *float64   `json:"scale,omitempty"`
	Offset      *float64   `json:"offset,omitempty"`
	ScaleFrom   string     `json:"scale_from,omitempty"`
	Ratio       float64    `json:"grid_cell_by_map_cell,omitempty"`
	How         string     `json:"how"`
	Features    int        `json:"features,omitempty"`
	Repaired    int        `json:"repaired,omitempty"`
	Unchecked   int        `json:"not_checked,omitempty"`
	NoGeometry  int        `json:"without_geometry,omitempty"`
	LeftOut     int        `json:"left_out_by_condition,omitempty"`
	NotPolygons int        `json:"not_polygons,omitempty"`
	Unclassed   int        `json:"without_value,omitempty"`
	HalfUnknown int        `json:"known_by_less_than_half,omitempty"`
	OddShares   int        `json:"shares_that_cannot_be,omitempty"`
	NoShares    int        `json:"parts_without_shares,omitempty"`
	SharesIn    string     `json:"shares_in,omitempty"`
	Recoded     int        `json:"texts_not_utf8,omitempty"`
	Beyond      int        `json:"beyond_the_grid,omitempty"`
	transformation
}

type accountClass struct {
	Code  int32  `json:"code"`
	Name  string `json:"name"`
	Cells int64  `json:"cells"`

	Whole *float64 `json:"cells_if_put_together,omitempty"` // where cells are of several classes: their parts, as whole cells
}

type accountFactor struct {
	Name   string  `json:"name"`
	Weight float64 `json:"weight"`
	Share  float64 `json:"share_of_weight"`
	Must   bool    `json:"must"`
}

type accountPairs struct {
	Ratio float64 `json:"consistency_ratio"`
	Limit float64 `json:"limit"`
}

type accountSpots struct {
	From           float64       `json:"from"`
	LeastHa        float64       `json:"least_ha"`
	OrLength       float64       `json:"or_length_m,omitempty"`
	Most           int           `json:"most"`
	Cells          int64         `json:"cells_at_or_above"`
	Found          int64         `json:"patches"`
	TooSmall       int64         `json:"too_small"`
	BeyondMost     int64         `json:"beyond_most"`
	Listed         int           `json:"listed"`
	AreaHa         float64       `json:"area_ha"`
	Highest        *float64      `json:"highest_score"`
	Answer         string        `json:"answer"`
	Phone          *accountPhone `json:"gpx,omitempty"`
	transformation               // from the grid to longitude and latitude
}

// thisRun is all that differs from run to run.
type thisRun struct {
	Started  string   `json:"started"`
	Seconds  float64  `json:"seconds"`
	Stages   []timing `json:"stages"`
	Threads  int      `json:"threads"`
	Memory   int64    `json:"memory_bytes"`
	Machine  string   `json:"machine"`
	FromTile int      `json:"tile,omitempty"`

	Network []accountCopy `json:"from_the_network,omitempty"`
	Kept    []string      `json:"of_earlier_runs,omitempty"` // what was used again, or why not
}

// makeAccount fills in the account once all other outputs are whole.
func (r *run) makeAccount() error {
	d := r.desk
	hashes, err := r.hashes.wait()
	if err != nil {
		return err
	}
	if err := d.unchanged(); err != nil { // what was hashed is what was read
		return err
	}
	weights, ratio, err := weigh(d.plan)
	if err != nil {
		return err
	}
	together, err := d.together()
	if err != nil {
		return err
	}
	a := &account{
		Format: 1, Title: d.plan.Title, Subject: d.plan.Subject,
		Plan:     accountPlan{r.planSeenFromOut(), d.plan.Hash()},
		Grid:     accountGrid{d.grid.name(), d.grid.info.Name, [2]float64{d.grid.X0, d.grid.Y0}, [2]float64{d.grid.DX, d.grid.DY}, d.grid.metres, d.grid.Cols, d.grid.Rows},
		Factors:  accountFactors(d.plan, weights),
		Cells:    d.graph.counts.cellTotals,
		Settings: d.plan.Canonical(),
		Versions: Versions(),
		Credits:  d.credits(),
		Licences: together,
		Warnings: d.saidFromPlan(),
		Cautions: Cautions,
		Outputs:  r.outputs,
	}
	if d.areaOf != nil {
		a.Area = &accountArea{d.accountFiles(d.origins(d.areaOf.Files()), hashes), d.accountPolygons(d.areaOf.Facts())}
		a.Area.Read.How = "every grid cell whose centre it holds"
	}
	for i := range d.plan.Maps {
		a.Maps = append(a.Maps, d.accountMap(&d.plan.Maps[i], hashes))
	}
	a.Water = d.accountWaters()
	if ratio != nil {
		a.Pairwise = &accountPairs{*ratio, combine.ConsistencyLimit}
	}
	if r.spots != nil {
		a.Hotspots = r.spots.account(d.toLonLat)
	}
	a.Method = methodOf(d, a)
	a.ThisRun = r.thisRun()
	r.account = a
	return nil
}

// saidFromPlan returns the warnings told, with files as seen from the plan.
func (d *desk) saidFromPlan() []string {
	out := make([]string, len(d.said))
	for i, text := range d.said {
		out[i] = d.wordsFromPlan(text)
	}
	return out
}

// name returns the CRS by its code, or by its own text where it has none.
func (g *ground) name() string {
	if g.info.ID != "" {
		return g.info.ID
	}
	return g.info.WKT
}

func (r *run) thisRun() thisRun {
	return thisRun{
		Started: r.started.UTC().Format(time.RFC3339), Seconds: time.Since(r.started).Seconds(), Stages: r.timings,
		Threads: r.Threads, Memory: r.Options.Memory, FromTile: r.Tile, Network: r.desk.accountCopies(), Kept: r.said,
		Machine: fmt.Sprintf("%s/%s, %d processors", runtime.GOOS, runtime.GOARCH, runtime.NumCPU()),
	}
}

func accountFactors(p *plan.Plan, weights []float64) []accountFactor {
	sum := weightSum(p, weights)
	out := make([]accountFactor, len(p.Factors))
	for i, f := range p.Factors {
		out[i] = accountFactor{f.Name, weights[i], weights[i] / sum, f.Must}
	}
	return out
}

// weightSum adds weights up in the order of the factors' names, so that the
// order of keys changes no bit.
func weightSum(p *plan.Plan, weights []float64) float64 {
	order := make([]int, len(weights))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int { return compareNames(p.Factors[a].Name, p.Factors[b].Name) })
	var sum float64
	for _, i := range order {
		sum += weights[i]
	}
	return sum
}

func (d *desk) accountFiles(files []string, hashes map[string]fileHash) []accountFile {
	out := []accountFile{}
	for _, f := range files {
		file := accountFile{d.fromPlan(f), hashes[f], nil}
		if c := d.inPieces(f); c != nil {
			file.Bytes = c.Bytes
			file.accountPieces = &accountPieces{c.ETag, c.Modified, "read in parts: there is no hash of the whole, but the server's mark of its state"}
		}
		out = append(out, file)
	}
	return out
}

func (d *desk) accountMap(m *plan.Map, hashes map[string]fileHash) accountMap {
	a := accountMap{Name: m.Name, Unit: m.Unit, Year: m.Year, Credit: m.Credit, CreditFrom: m.CreditFrom, Licence: m.Licence, LicenceFrom: m.LicenceFrom, Share: m.Share, Legend: d.legendOf(m), Files: d.accountFiles(d.mapFiles(m), hashes)}
	if l := licence.Read(m.Licence); l.Known && l.Name != m.Licence {
		a.KnownAs = l.Name
	}
	s := d.sources[m.Name]
	if s.blank != "" {
		a.LeftOut = d.wordsFromPlan(s.blank)
		return a
	}
	t := &s.inArea
	found := s.findings()
	a.Known, a.Missing, a.Clipped, a.Gaps, a.Overlapping = t.known, t.missing, found.Clipped, found.Gaps, found.Hidden
	if s.classes == nil && t.known > 0 {
		low, high := float64(t.low), float64(t.high)
		a.Low, a.High = &low, &high
	}
	if s.classes != nil {
		a.Classes = s.classes.account(t.byCode)
	}
	_, a.Surface = surfaceModel(m)
	a.Read = s.accountRead(d)
	return a
}

// account lists the classes of cells by their codes.
func (c *classes) account(cells map[int32]int64) (out []accountClass) {
	classes := c.byPart(cells)
	for _, code := range slices.Sorted(stdmaps.Keys(classes)) {
		a := accountClass{Code: code, Name: c.name(code), Cells: classes[code]}
		if c.mixed() {
			whole := rounded(c.wholeCells(cells, code), 3)
			a.Whole = &whole
		}
		out = append(out, a)
	}
	return out
}

func (s *source) accountRead(d *desk) []accountRead {
	if s.polygons != nil {
		return []accountRead{d.accountPolygons(s.polygons.Facts())}
	}
	var out []accountRead
	for _, f := range s.raster.Facts() {
		out = append(out, d.accountRaster(f, s.classes != nil))
	}
	return out
}

// transformation is how positions of one CRS were found in another.
type transformation struct {
	Operation   string   `json:"transformation"`
	Accuracy    *float64 `json:"transformation_accuracy_m"` // null: not known
	Ballpark    bool     `json:"ballpark,omitempty"`
	Outside     bool     `json:"outside_its_area_of_use,omitempty"`
	BetterIsOut string   `json:"better_transformation_not_installed,omitempty"`
}

func transformationOf(o crs.Operation) transformation {
	t := transformation{Operation: o.Name, Ballpark: o.Ballpark, Outside: o.Outside, BetterIsOut: o.Better}
	if o.Accuracy >= 0 {
		t.Accuracy = &o.Accuracy
	}
	return t
}

func (d *desk) accountRaster(f maps.Facts, classes bool) accountRead {
	a := accountRead{File: d.fromPlan(f.Path), CRS: f.CRS, CRSFrom: planWord(f.CRSFrom), CellMetres: [2]float64{rounded(f.CellX, 3), rounded(f.CellY, 3)},
		Type: f.Type, Band: f.Band, Masked: f.Masked, ScaleFrom: f.ScaleFrom, Ratio: f.Ratio, transformation: transformationOf(f.Operation)}
	if f.Nodata != nil {
		a.Nodata = jsonNumber(*f.Nodata)
	}
	if f.ScaleFrom != "" {
		a.Scale, a.Offset = &f.Scale, &f.Offset
	}
	a.How = howRead(f, classes)
	return a
}

func (d *desk) accountPolygons(f maps.PolygonFacts) accountRead {
	a := accountRead{Layer: f.Layer, CRS: f.CRS, CRSFrom: planWord(f.CRSFrom), Type: "polygons", How: howFeatures(f.Radius, f.Width),
		Features: f.Features, LeftOut: f.LeftOut, Repaired: f.Repaired, Unchecked: f.Unchecked, NoGeometry: f.NullGeometry, NotPolygons: f.NotPolygons, Unclassed: f.Unclassed,
		HalfUnknown: f.HalfUnknown, OddShares: f.OddShares, NoShares: f.NoShares, SharesIn: string(f.ShareUnit),
		Recoded: f.Recoded, Beyond: f.Beyond, transformation: transformationOf(f.Operation)}
	if f.Path != "" {
		a.File = d.fromPlan(f.Path)
	}
	a.How += shareWords(f)
	return a
}

// howFeatures says which feature a cell has its value from.
func howFeatures(radius, width float64) string {
	kinds := []string{"that holds the grid cell's centre"}
	if radius > 0 {
		kinds = append(kinds, fmt.Sprintf("whose point is within %g m of it", radius))
	}
	if width > 0 {
		kinds = append(kinds, fmt.Sprintf("whose line is within %g m of it", width/2))
	}
	if len(kinds) == 1 {
		return "the last polygon " + kinds[0]
	}
	return "the last feature " + strings.Join(kinds, ", or ")
}

// shareWords says how the shares of parts were read.
func shareWords(f maps.PolygonFacts) string {
	switch {
	case f.ShareUnit == "":
		return ""
	case !f.ShareGuessed:
		return fmt.Sprintf(", its parts by their shares (%s)", f.ShareUnit)
	case f.ShareUnit == maps.SharePercent:
		return ", its parts by their shares (taken for percent, as some are above 1)"
	}
	return ", its parts by their shares (taken for fractions, as none is above 1)"
}

// planWord is where a CRS came from, if it was not the file.
func planWord(from string) string {
	if from == "file" {
		return ""
	}
	return from
}

func howRead(f maps.Facts, classes bool) string {
	switch {
	case f.SameLattice:
		return "copied cell by cell"
	case f.Ratio <= 1 && classes:
		return "refined: the class of the map cell that holds the grid cell's centre"
	case f.Ratio <= 1:
		return "refined: bilinear between the centres of map cells"
	case classes:
		return fmt.Sprintf("coarsened: most frequent class at %d × %d points a grid cell", f.Points, f.Points)
	}
	return fmt.Sprintf("coarsened: mean of %d × %d points a grid cell", f.Points, f.Points)
}

// jsonNumber returns a number for JSON, or its name where JSON has none.
func jsonNumber(v float64) any {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return fmt.Sprint(v)
	}
	return v
}

func (s *spots) account(toLonLat crs.Operation) *accountSpots {
	x := s.search
	a := &accountSpots{From: x.From, LeastHa: x.LeastHa, OrLength: x.OrLength, Most: x.Most, Cells: x.Cells, Found: x.Found, TooSmall: x.TooSmall,
		BeyondMost: x.BeyondMost, Listed: len(s.list), AreaHa: rounded(s.areaHa(), 4), Answer: s.answer(), Phone: s.phone, transformation: transformationOf(toLonLat)}
	if !math.IsNaN(x.Highest) {
		a.Highest = &x.Highest
	}
	return a
}

// write writes the account as JSON.
func (a *account) write(w io.Writer) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	return e.Encode(a)
}

// oldAccount is what this program needs of an account that it finds.
type oldAccount struct {
	Plan    accountPlan  `json:"plan"`
	Outputs []outputFile `json:"outputs"`
}

// oldAccount reads the account that the output folder holds; nil if there is
// none, or none that this program wrote.
func (r *run) oldAccount() (*oldAccount, error) {
	data, err := r.folder.Account()
	if err != nil || data == nil {
		return nil, err
	}
	var old oldAccount
	if json.Unmarshal(data, &old) != nil || old.Plan.File == "" {
		return nil, &Fault{What: fmt.Sprintf("the folder %s holds a run.json that is no account of a run", r.folder.Dir()), Fix: "name another folder with --out, or say --force to replace it"}
	}
	return &old, nil
}

// staleOutputs returns the outputs of an earlier run that this one replaces
// or does not make any more.
func (r *run) staleOutputs() ([]string, error) {
	old, err := r.oldAccount()
	if old == nil || err != nil {
		if r.Force {
			return r.folder.Existing(outputNames), nil
		}
		return nil, err
	}
	var out []string
	for _, o := range old.Outputs {
		if slices.Contains(outputNames, o.File) { // never follow a path that the file makes up
			out = append(out, o.File)
		}
	}
	return out, nil
}
