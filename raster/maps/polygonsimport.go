package maps

import (
	"context"
	"fmt"
	"math"
	"slices"
	"sort"
	"strconv"
	"strings"

	"likelyground/raster"
	"likelyground/raster/crs"
	"likelyground/vector"
)

// outlines is where polygons come from: a layer or a box of the plan.
type outlines interface {
	crs() string
	// extent is a box around all polygons, in the source's CRS.
	extent() (west, south, east, north float64, err error)
	// each hands over every polygon feature in order.
	each(fields []string, do func(*vector.Feature) error) (vector.Counts, error)
	// classField returns the field that is the class.
	classField() (vector.Field, error)
	// field returns a field by its name.
	field(name string) (vector.Field, error)
}

// layerOutlines are those of a layer in a file.
type layerOutlines struct {
	layer *vector.Layer
	spec  *PolygonSpec
}

func (o layerOutlines) crs() string { return o.layer.CRS }

func (o layerOutlines) extent() (west, south, east, north float64, err error) {
	return o.layer.Extent()
}

func (o layerOutlines) each(fields []string, do func(*vector.Feature) error) (vector.Counts, error) {
	return o.layer.Each(fields, do)
}

func (o layerOutlines) field(name string) (vector.Field, error) { return o.layer.Field(name) }

func (o layerOutlines) classField() (vector.Field, error) {
	if o.spec.Field != "" {
		return o.layer.Field(o.spec.Field)
	}
	names := make([]string, len(o.layer.Fields))
	for i, f := range o.layer.Fields {
		names[i] = fmt.Sprintf("%q", f.Name)
	}
	return vector.Field{}, &vector.Problem{File: o.layer.File, Layer: o.layer.Name, What: "no field is named to be the class",
		Fix: "name one with `field:`; the fields there are: " + strings.Join(names, ", ")}
}

// load lays every polygon on the grid.
func (p *Polygons) load(from outlines) (err error) {
	m := importer{to: p, from: from, classes: map[string]int32{}}
	defer m.close()
	if err := m.ready(); err != nil {
		return p.spec.about(err)
	}
	if p.runs, err = newRunStore(p.spec.Scratch); err != nil {
		return p.spec.about(err)
	}
	if err := m.run(); err != nil {
		p.runs.close()
		return p.spec.about(err)
	}
	return nil
}

// importer carries one layer onto the grid.
type importer struct {
	to      *Polygons
	from    outlines
	fields  []string
	way     *carrier
	clip    *clipper // nil where nothing needs to be cut off
	outline outline
	rows    rowRuns
	swath   swath
	classes map[string]int32 // text to number in the order of coming
	mixing  *mixing          // nil where polygons have one class
	inGrid  bool

	sawPoints, sawLines bool
}

func (m *importer) close() {
	if m.way != nil {
		m.way.close()
	}
}

// ready chooses transformation, class field and the ground that is served.
func (m *importer) ready() error {
	p := m.to
	ground, err := crs.Describe(p.grid.CRS)
	if err != nil {
		return err
	}
	p.served = servedWindow(p.grid, ground.MetresPerUnit)
	if err := m.readySwath(ground.MetresPerUnit); err != nil {
		return err
	}
	own, err := crs.Describe(m.from.crs())
	if err != nil {
		return err
	}
	if p.facts.CRS = own.ID; own.ID == "" {
		p.facts.CRS = own.Name
	}
	if err := m.readyClass(); err != nil {
		return err
	}
	return m.readyWay()
}

func (m *importer) readyClass() error {
	if m.to.spec.AsMask {
		return nil
	}
	if len(m.to.spec.Parts) > 0 {
		return m.readyParts()
	}
	field, err := m.from.classField()
	if err != nil {
		return err
	}
	m.fields = []string{field.Name}
	texts := field.Kind == vector.Text
	for _, name := range m.to.spec.Else {
		field, err := m.from.field(name)
		if err != nil {
			return err
		}
		m.fields = append(m.fields, field.Name)
		texts = texts || field.Kind == vector.Text
	}
	m.to.numeric = !texts && m.to.spec.Numbers == nil
	return nil
}

// readyParts asks for the fields of parts: class and share of each in turn.
func (m *importer) readyParts() error {
	m.mixing = &mixing{numbers: map[string]int32{}}
	texts := false
	for _, part := range m.to.spec.Parts {
		class, err := m.from.field(part.Class)
		if err != nil {
			return err
		}
		m.fields = append(m.fields, class.Name)
		texts = texts || class.Kind == vector.Text
		if part.Share == "" {
			continue
		}
		share, err := m.from.field(part.Share)
		if err != nil {
			return err
		}
		m.fields = append(m.fields, share.Name)
	}
	m.to.numeric = !texts
	return nil
}

func (m *importer) readyWay() error {
	p := m.to
	area, err := usableBox(p.grid)
	if err != nil {
		return err
	}
	op, err := crs.Choose(m.from.crs(), p.grid.CRS, area, crs.Options{AllowBallpark: p.spec.AllowBallpark})
	if err != nil {
		return err
	}
	p.facts.Operation = op
	if m.way, err = newCarrier(op, p.grid); err != nil {
		return err
	}
	if op.Identity {
		return nil
	}
	m.clip = m.way.clipTo(p.served.Grow(m.swathCells()))
	if m.clip == nil {
		return &Problem{Map: p.spec.Name, File: p.spec.File, What: "the grid has no place in its coordinate reference system",
			Fix: "use a map in a coordinate reference system that covers the region"}
	}
	m.way.survey(m.clip)
	return nil
}

// usableBox is the grid in longitude and latitude.
func usableBox(g raster.Grid) (crs.Box, error) {
	west, south, east, north := g.Bounds()
	return crs.UsableBox(g.CRS, west, south, east, north)
}

// servedWindow is the grid and the ground around it whose cells are kept.
func servedWindow(g raster.Grid, metresPerUnit float64) raster.Window {
	const most, ground, least = 8192, 100e3, 64
	if metresPerUnit == 0 {
		metresPerUnit = 111e3 // a degree
	}
	cells := ground / (metresPerUnit * math.Max(g.DX, g.DY))
	return g.Window().Grow(int(min(max(cells, least), most)))
}

func (m *importer) run() error {
	p := m.to
	counts, err := m.from.each(m.fields, m.take)
	if err != nil {
		return err
	}
	f := &p.facts
	f.Features, f.NullGeometry, f.NotPolygons = counts.Features, counts.NullGeometry, counts.NotPolygons
	f.LeftOut, f.Points, f.Lines = counts.LeftOut, counts.Points, counts.Lines
	f.Repaired, f.Unchecked, f.Recoded = counts.Invalid, counts.Unchecked, counts.Recoded
	if err := m.nothingThere(counts); err != nil {
		return err
	}
	if !m.inGrid {
		return m.outside()
	}
	if err := p.runs.flush(); err != nil {
		return err
	}
	if err := m.nameClasses(); err != nil {
		return err
	}
	p.tree = newBoxTree(p.runs.parts)
	return p.Unchanged()
}

// take lays one feature.
func (m *importer) take(f *vector.Feature) error {
	if c := m.to.spec.Context; c != nil && c.Err() != nil {
		return context.Cause(c)
	}
	code, err := m.code(f)
	if err != nil {
		return err
	}
	inside := false
	for _, polygon := range f.Polygons {
		covers, err := m.lay(polygon, code)
		if err != nil {
			return m.nowhere(f, err)
		}
		inside = inside || covers
	}
	round, err := m.around(f, code)
	if err != nil {
		return m.nowhere(f, err)
	}
	inside = inside || round
	if !inside {
		m.to.facts.Beyond++
	}
	m.inGrid = m.inGrid || inside
	return nil
}

// nowhere puts a place that cannot be transformed into words; any other error
// is returned as it is.
func (m *importer) nowhere(f *vector.Feature, err error) error {
	if err != errNowhere {
		return err
	}
	return &Problem{Map: m.to.spec.Name, File: m.to.spec.File,
		What: fmt.Sprintf("feature %d reaches ground that has no place in the grid's coordinate reference system", f.Number),
		Fix:  "cut the map to the region first"}
}

// lay turns one polygon into the cells it covers and stores them; it tells
// whether any of them is the grid's.
func (m *importer) lay(polygon vector.Polygon, code int32) (bool, error) {
	m.outline.begin()
	for _, ring := range polygon {
		if m.clip != nil {
			ring = m.clip.cut(ring)
		}
		line, err := m.way.carry(ring)
		if err != nil {
			return false, err
		}
		m.outline.add(line)
	}
	return m.layOutline(m.to.served, code)
}

// code returns the class number of a feature; texts are numbered as they come.
func (m *importer) code(f *vector.Feature) (int32, error) {
	if m.to.spec.AsMask {
		return 1, nil
	}
	if m.mixing != nil {
		return m.mixture(f)
	}
	for i, v := range f.Values {
		if m.says(v) {
			return m.codeOf(f, i, v)
		}
	}
	m.to.facts.Unclassed++
	return raster.MissingCode, nil
}

// says reports whether a value is one: not NULL, empty, or declared missing.
func (m *importer) says(v vector.Value) bool {
	x := v.Number
	switch {
	case v.Null || v.Kind == vector.Text && strings.TrimSpace(v.Text) == "":
		return false
	case v.Kind == vector.Integer:
		x = float64(v.Whole)
	case v.Kind == vector.Text:
		var err error
		if n := m.to.spec.NoData; n != nil && n(v.Text) {
			return false
		}
		if x, err = strconv.ParseFloat(strings.TrimSpace(v.Text), 64); err != nil {
			return true
		}
	}
	if n := m.to.spec.Numbers; n != nil {
		return x == x && !slices.ContainsFunc(n.Missing, func(r Range) bool { return x >= r.From && x <= r.To })
	}
	return !m.missing(x)
}

// codeOf is the class number of a value of one of the fields.
func (m *importer) codeOf(f *vector.Feature, field int, v vector.Value) (int32, error) {
	switch {
	case m.to.spec.Numbers != nil:
		return m.number(f, field, v)
	case !m.to.numeric:
		return m.class(v.String()), nil
	case v.Kind == vector.Integer:
		return m.wholeCode(f, field, float64(v.Whole), v)
	}
	return m.wholeCode(f, field, v.Number, v)
}

// class returns the number of a text, a new one where it is met first.
func (m *importer) class(text string) int32 {
	n, ok := m.classes[text]
	if !ok {
		n = int32(len(m.classes))
		m.classes[text] = n
	}
	return n
}

// missing reports whether the plan declares a class number as no knowledge.
func (m *importer) missing(number float64) bool {
	return slices.ContainsFunc(m.to.spec.Missing, func(r Range) bool { return number >= r.From && number <= r.To })
}

func (m *importer) wholeCode(f *vector.Feature, field int, number float64, v vector.Value) (int32, error) {
	if number == math.Trunc(number) && math.Abs(number) <= math.MaxInt32 {
		return int32(number), nil
	}
	return 0, &Problem{Map: m.to.spec.Name, File: m.to.spec.File,
		What: fmt.Sprintf("feature %d: field %q holds %s, which is no class code", f.Number, m.fields[field], v),
		Fix:  "name a field of texts or of whole numbers up to 2147483647"}
}

// nameClasses sorts the texts and numbers them anew by their place, and
// settles what ground is that no polygon covers.
func (m *importer) nameClasses() error {
	p := m.to
	p.base = raster.MissingCode
	switch {
	case p.spec.AsMask:
		p.base = 0
		return nil
	case p.numeric:
		err := m.absentNumber()
		if m.mixing != nil {
			m.settleMixtures(nil)
		}
		return err
	case p.spec.Numbers == nil && p.spec.WhereAbsent != "":
		m.class(p.spec.WhereAbsent)
	}
	number := m.sortClasses()
	if p.spec.Numbers == nil {
		if at, ok := slices.BinarySearch(p.classes, p.spec.WhereAbsent); ok {
			p.base = int32(at)
		}
		if m.mixing != nil {
			m.settleMixtures(number)
		}
		return nil
	}
	var err error
	if p.numbers, err = newNumbers(p.classes, p.spec.Numbers); err == nil && p.spec.Numbers.WhereAbsent != nil {
		p.base = p.numbers.add(*p.spec.Numbers.WhereAbsent)
	}
	return err
}

// absentNumber takes the class of uncovered ground as a number.
func (m *importer) absentNumber() error {
	text := m.to.spec.WhereAbsent
	if text == "" {
		return nil
	}
	code, err := strconv.ParseInt(text, 10, 32)
	if err != nil {
		return &Problem{Map: m.to.spec.Name, File: m.to.spec.File, What: fmt.Sprintf("where absent: %q is no class of field %q, which holds numbers", text, m.fields[0]),
			Fix: "write the number of the class, or give the map a legend that names it"}
	}
	m.to.base = int32(code)
	return nil
}

// sortClasses returns the place of each class by its number in the order of
// coming, and gives it to the polygons that have one class.
func (m *importer) sortClasses() []int32 {
	p := m.to
	p.classes = make([]string, 0, len(m.classes))
	for text := range m.classes {
		p.classes = append(p.classes, text)
	}
	sort.Strings(p.classes)
	number := make([]int32, len(p.classes))
	for i, text := range p.classes {
		number[m.classes[text]] = int32(i)
	}
	if m.mixing != nil {
		return number
	}
	for i, part := range p.runs.parts {
		if part.code != raster.MissingCode {
			p.runs.parts[i].code = number[part.code]
		}
	}
	return number
}
