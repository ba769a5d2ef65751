package vector

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/airbusgeo/godal"
)

// Inspection is what a file of features tells of itself when it is asked
// without a plan.
type Inspection struct {
	File   string
	Driver string // the format, in GDAL's word for it
	Layers []InspectedLayer
}

// InspectedLayer is one layer, of whatever kind.
type InspectedLayer struct {
	Name     string
	Shapes   string      // "polygons", "points", "lines", "a table without places", "shapes of any kind"
	CRS      string      // WKT; "" where the file names none
	Count    int         // features
	Extent   *[4]float64 // west, south, east, north; nil where the file cannot tell
	Read     int         // features whose fields were looked at, the first ones
	Recoded  int         // texts that were no UTF-8 and were read as Windows-1252
	Fields   []InspectedField
	Warnings []string
}

// InspectedField is a field and what stands in it, of the features read.
type InspectedField struct {
	Field
	Null      int         // NULL
	Empty     int         // text of nothing but white space
	Texts     []TextCount // different texts or whole numbers, the most frequent first
	Uncounted int         // features whose text came after mostTexts different ones
	Low, High float64     // of numbers; NaN where there is none
}

// TextCount says how many features bear a text.
type TextCount struct {
	Text  string
	Count int
}

const (
	mostRead   = 50_000 // features
	mostFields = 200    // of a layer that are looked into
	mostTexts  = 5_000  // different texts of a field that are told apart

	longestText = 1_000 // bytes of a text that are told
)

// Inspect opens a file of features and tells what its layers hold, of any
// kind of shape, with or without a coordinate reference system, empty or not.
// Of a large layer it looks at the fields of the first 50 000 features.
//
// It answers with a [Problem] when the file is missing, of no known format,
// holds no layer or breaks off.
func Inspect(file string) (*Inspection, error) {
	Setup()
	l := &Layer{File: file}
	if err := l.open(); err != nil {
		return nil, err
	}
	defer l.Close()
	out := &Inspection{File: file, Driver: l.Driver}
	for _, each := range l.ds.Layers() {
		one := &Layer{File: file, Driver: l.Driver, Name: each.Name(), ds: l.ds, layer: each}
		in, err := one.inspect()
		if err != nil {
			return nil, err
		}
		out.Layers = append(out.Layers, in)
	}
	if len(out.Layers) == 0 {
		return nil, &Problem{File: file, What: "the file holds no layer", Fix: "use a file with features in it"}
	}
	return out, nil
}

func (l *Layer) inspect() (InspectedLayer, error) {
	out := InspectedLayer{Name: l.Name}
	var err error
	if out.Count, err = l.count(); err != nil { // before all else: a view may have no end
		return out, err
	}
	out.Shapes, out.CRS = l.shapes(), l.ownCRS()
	if out.CRS != "" {
		l.warnGeoJSON()
		out.Warnings = l.Warnings
	}
	if out.Count == 0 {
		return out, nil
	}
	if b, err := l.layer.Bounds(Quiet); err == nil && b[0] <= b[2] && b[1] <= b[3] && finite(b[2]-b[0]) && finite(b[3]-b[1]) {
		out.Extent = &b
	}
	if err := l.readFields(); err != nil {
		return out, err
	}
	if n := len(l.Fields); n > mostFields {
		l.Fields = l.Fields[:mostFields]
		out.Warnings = append(out.Warnings, fmt.Sprintf("it has %d fields, of which the first %d by name were looked at", n, mostFields))
	}
	return out, l.survey(&out)
}

// shapes names the kind of geometry.
func (l *Layer) shapes() string {
	switch code := flat(l.layer.Type()); {
	case kinds[code] != "":
		return kinds[code]
	case code == 0 || code == 7:
		return "shapes of any kind"
	}
	return "polygons"
}

// survey looks at what stands in the fields of the first features.
func (l *Layer) survey(out *InspectedLayer) error {
	p := &pass{Layer: l, fields: l.Fields, values: make([]Value, len(l.Fields))}
	rows, err := l.ds.ExecuteSQL(p.valuesQuery(mostRead), godal.SQLiteDialect(), Quiet)
	if err != nil {
		return l.damaged(err)
	}
	defer rows.Close(Quiet)
	tallies := make([]fieldTally, len(l.Fields))
	for row := rows.NextFeature(); row != nil; row = rows.NextFeature() {
		p.counts.Features++
		err := p.takeValues(row)
		row.Close()
		if err != nil {
			return err
		}
		for i := range tallies {
			tallies[i].take(p.values[i])
		}
	}
	if p.counts.Features < min(l.Count, mostRead) {
		return l.damaged(fmt.Errorf("%d features of %d were read", p.counts.Features, l.Count))
	}
	out.Read, out.Recoded = p.counts.Features, p.counts.Recoded
	for i, f := range l.Fields {
		out.Fields = append(out.Fields, tallies[i].field(f))
	}
	return nil
}

// valuesQuery selects the fields alone, of the first features.
func (p *pass) valuesQuery(most int) string {
	var columns []string
	for i, f := range p.fields {
		value := "t." + quote(f.Name)
		if f.Kind == Text {
			value = "CAST(" + value + " AS TEXT)"
		}
		columns = append(columns, fmt.Sprintf("%s AS %s, t.%s IS NULL AS %s", value, valueColumn(i), quote(f.Name), nullColumn(i)))
	}
	if len(columns) == 0 {
		columns = []string{"1 AS likelyground_feature"}
	}
	return fmt.Sprintf("SELECT %s FROM %s t LIMIT %d", strings.Join(columns, ", "), quote(p.Name), most)
}

// fieldTally counts what stands in a field.
type fieldTally struct {
	null, empty, uncounted int
	texts                  map[string]int
	low, high              float64
	numbers                bool
}

func (t *fieldTally) take(v Value) {
	switch {
	case v.Null:
		t.null++
		return
	case v.Kind == Text && strings.TrimSpace(v.Text) == "":
		t.empty++
		return
	case v.Kind == Real:
		t.span(v.Number)
		return
	case v.Kind == Integer:
		t.span(float64(v.Whole))
	}
	text := v.String()
	if len(text) > longestText {
		text = strings.ToValidUTF8(text[:longestText], "") + "…"
	}
	if t.texts == nil {
		t.texts = map[string]int{}
	}
	if _, known := t.texts[text]; !known && len(t.texts) >= mostTexts {
		t.uncounted++
		return
	}
	t.texts[text]++
}

func (t *fieldTally) span(x float64) {
	if !finite(x) {
		return
	}
	if !t.numbers {
		t.low, t.high, t.numbers = x, x, true
	}
	t.low, t.high = min(t.low, x), max(t.high, x)
}

func (t *fieldTally) field(f Field) InspectedField {
	out := InspectedField{Field: f, Null: t.null, Empty: t.empty, Uncounted: t.uncounted, Low: math.NaN(), High: math.NaN()}
	if t.numbers {
		out.Low, out.High = t.low, t.high
	}
	for text, n := range t.texts {
		out.Texts = append(out.Texts, TextCount{text, n})
	}
	slices.SortFunc(out.Texts, func(a, b TextCount) int {
		return cmp.Or(cmp.Compare(b.Count, a.Count), cmp.Compare(a.Text, b.Text))
	})
	return out
}
