package vector

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/airbusgeo/godal"
	"golang.org/x/text/encoding/charmap"

	"likelyground/vector/where"
)

// Counts tells what a pass over a layer met.
type Counts struct {
	Features     int // all of them
	NullGeometry int // without any geometry: they cover nothing
	LeftOut      int // the condition is not true of them
	NotPolygons  int // empty geometries, and points and lines that were not asked for: they cover nothing
	Points       int // of these, those that hold points
	Lines        int // of these, those that hold lines
	Invalid      int // geometries that break the rules; see [Polygon] for what they cover
	Unchecked    int // geometries of so many overlapping lines that nobody asked whether they break them
	Recoded      int // texts that were no UTF-8 and were read as Windows-1252
}

// Each calls do for every feature that meets the layer's condition and has
// polygons, or points or lines where the layer was opened for them, in the
// layer's own order, with the values of the fields asked for. What do is given is its own
// only until it returns. An error of do ends the pass and is returned as it
// is; a coordinate that is no number and a file that breaks off answer with a
// [Problem].
//
// Curves come as chords of half a degree of arc, at most 1e-5 of the radius
// off; heights and measures are dropped.
func (l *Layer) Each(fields []string, do func(*Feature) error) (Counts, error) {
	p, err := l.newPass(fields, do)
	if err != nil {
		return Counts{}, err
	}
	rows, err := l.ds.ExecuteSQL(p.query(), godal.SQLiteDialect(), Quiet)
	if err != nil {
		return Counts{}, l.damaged(err)
	}
	defer rows.Close(Quiet)
	for row := rows.NextFeature(); row != nil; row = rows.NextFeature() {
		err := p.take(row)
		row.Close()
		if err != nil {
			return p.counts, err
		}
	}
	return p.counts, p.checkWhole()
}

// pass is one reading of a layer.
type pass struct {
	*Layer
	fields []Field // asked for, then those of the condition
	asked  int     // how many were asked for
	do     func(*Feature) error
	counts Counts
	item   Feature
	values []Value // of all fields
	test   []where.Value
	shapes wkbReader
	tangler
}

func (l *Layer) newPass(names []string, do func(*Feature) error) (*pass, error) {
	p := &pass{Layer: l, do: do, asked: len(names)}
	if l.condition != nil {
		names = append(slices.Clone(names), l.condition.Fields()...)
	}
	for _, name := range names {
		f, err := l.Field(name)
		if err != nil {
			return nil, err
		}
		p.fields = append(p.fields, f)
	}
	p.values = make([]Value, len(names))
	p.item.Values = p.values[:p.asked]
	p.shapes.points, p.shapes.lines = l.options.Points, l.options.Lines
	return p, nil
}

// query selects the geometry and, for each field, its value and whether it
// is NULL, which the library's own reading does not tell.
func (p *pass) query() string {
	var b strings.Builder
	fmt.Fprintf(&b, "SELECT %s", p.geometryColumn())
	for i, f := range p.fields {
		value := "t." + quote(f.Name)
		if f.Kind == Text {
			value = "CAST(" + value + " AS TEXT)"
		}
		fmt.Fprintf(&b, ", %s AS %s, t.%s IS NULL AS %s", value, valueColumn(i), quote(f.Name), nullColumn(i))
	}
	fmt.Fprintf(&b, " FROM %s t", quote(p.Name))
	return b.String()
}

func valueColumn(i int) string { return "likelyground_value_" + strconv.Itoa(i) }
func nullColumn(i int) string  { return "likelyground_null_" + strconv.Itoa(i) }

// geometryColumn finds the name of the column of geometries by trying the
// usual ones; all columns are read where it has another.
func (p *pass) geometryColumn() string {
	for _, name := range []string{"geom", "geometry", "shape", "the_geom", "wkb_geometry", "geometryproperty"} {
		column := "t." + quote(name)
		rows, err := p.ds.ExecuteSQL(fmt.Sprintf("SELECT %s FROM %s t LIMIT 1", column, quote(p.Name)), godal.SQLiteDialect(), Quiet)
		if err != nil {
			continue
		}
		found := rows.Type() != godal.GTNone
		rows.Close(Quiet)
		if found {
			return column
		}
	}
	return "t.*"
}

func (p *pass) take(row *godal.Feature) error {
	p.counts.Features++
	p.item.Number = p.counts.Features
	if err := p.takeValues(row); err != nil {
		return err
	}
	if !p.meets() {
		p.counts.LeftOut++
		return nil
	}
	ok, err := p.takeShape(row)
	if err != nil || !ok {
		return err
	}
	return p.do(&p.item)
}

// takeShape reads what covers ground; false means that there is nothing.
func (p *pass) takeShape(row *godal.Feature) (bool, error) {
	geometry := row.Geometry()
	if geometry.Name() == "" { // no geometry at all
		p.counts.NullGeometry++
		return false, nil
	}
	bytes, err := geometry.WKB(Quiet)
	if err != nil {
		return false, p.bad("its geometry cannot be read", err)
	}
	s := &p.shapes
	if err := s.read(bytes); err != nil {
		return false, p.bad("its geometry cannot be read", err)
	}
	p.item.Polygons, p.item.Lines, p.item.Points = s.polygons, s.chains, s.spots
	if len(s.polygons)+len(s.chains)+len(s.spots) == 0 {
		p.counts.NotPolygons++
		if s.sawPoints {
			p.counts.Points++
		}
		if s.sawLines {
			p.counts.Lines++
		}
		return false, nil
	}
	p.item.Invalid = false
	if len(s.polygons) > 0 {
		p.judgeShape(geometry)
	}
	return true, nil
}

// judgeShape finds out whether the geometry breaks the rules, where that
// takes bounded time.
func (p *pass) judgeShape(geometry *godal.Geometry) {
	if p.tangler.tangled(p.item.Polygons, mostOverlaps) {
		p.counts.Unchecked++
		return
	}
	p.item.Invalid = !geometry.Valid()
	if p.item.Invalid {
		p.counts.Invalid++
	}
}

func (p *pass) bad(what string, cause error) *Problem {
	return p.problem(fmt.Sprintf("feature %d: %s", p.counts.Features, what), "mend or remove that feature", cause)
}

func (p *pass) takeValues(row *godal.Feature) error {
	if len(p.fields) == 0 {
		return nil
	}
	columns := row.Fields()
	for i, f := range p.fields {
		v := Value{Kind: f.Kind, Null: columns[nullColumn(i)].Int() != 0}
		if !v.Null {
			if err := p.fill(&v, columns[valueColumn(i)]); err != nil {
				return p.bad(fmt.Sprintf("field %q", f.Name), err)
			}
		}
		p.values[i] = v
	}
	return nil
}

// fill reads a column into the kind of value the field is of.
func (p *pass) fill(v *Value, column godal.Field) (err error) {
	switch v.Kind {
	case Text:
		v.Text = p.decode(column.String())
	case Integer:
		if v.Whole = column.Int(); column.Type() == godal.FTString {
			v.Whole, err = strconv.ParseInt(column.String(), 10, 64)
		}
	case Real:
		if v.Number = column.Float(); column.Type() == godal.FTString {
			v.Number, err = strconv.ParseFloat(column.String(), 64)
		}
	}
	return err
}

// decode returns text as UTF-8. What is none is read as Windows-1252, the
// usual encoding of old western tables, of which ISO 8859-1 is a part.
func (p *pass) decode(text string) string {
	if utf8.ValidString(text) {
		return text
	}
	p.counts.Recoded++
	out, err := charmap.Windows1252.NewDecoder().String(text)
	if err != nil {
		return strings.ToValidUTF8(text, "\uFFFD")
	}
	return out
}

// checkWhole compares the features read with those the layer has: the
// library ends a pass without a word where the file breaks off.
func (p *pass) checkWhole() error {
	if p.counts.Features == p.Count {
		return nil
	}
	rows, err := p.ds.ExecuteSQL(fmt.Sprintf("SELECT COUNT(*) AS n FROM %s", quote(p.Name)), godal.SQLiteDialect(), Quiet)
	if err != nil {
		return p.damaged(err)
	}
	defer rows.Close(Quiet)
	row := rows.NextFeature()
	if row == nil {
		return p.damaged(errors.New("its features cannot be counted"))
	}
	defer row.Close()
	if n := row.Fields()["n"].Int(); n != int64(p.counts.Features) {
		return p.damaged(fmt.Errorf("%d features of %d were read", p.counts.Features, n))
	}
	return nil
}
