package look

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"
)

// Words returns what was seen as text: a block of facts, the suspicions, the
// lines for the plan.
func (m *Map) Words() string {
	var b strings.Builder
	if m.Kind == "raster" {
		fmt.Fprintf(&b, "%s: a raster (%s)\n", clean(m.File), m.Format)
		m.rasterWords(&b)
	} else {
		fmt.Fprintf(&b, "%s: features (%s)\n", clean(m.File), m.Format)
		for i := range m.Layers {
			m.Layers[i].words(&b)
		}
	}
	if len(m.Suspicions) > 0 {
		b.WriteString("\n  Look out:\n")
	}
	for _, s := range m.Suspicions {
		where := ""
		if s.Where != "" {
			where = s.Where + ": "
		}
		fmt.Fprintf(&b, "  - %s.\n    %s.\n", clean(where+s.What), clean(s.Fix))
	}
	b.WriteString("\n  For the plan, below `maps:`\n\n")
	b.WriteString(m.Plan)
	return b.String()
}

// row writes a line of facts.
func row(b *strings.Builder, name, text string) {
	fmt.Fprintf(b, "  %-8s %s\n", name, clean(text))
}

func (m *Map) rasterWords(b *strings.Builder) {
	l := m.Lattice
	l.Place.words(b)
	size := fmt.Sprintf("%s × %s", thousands(int64(l.Columns)), thousands(int64(l.Rows)))
	if c := l.Cell; c != nil {
		unit := ""
		if l.CRS != nil {
			unit = " " + l.CRS.Unit
		}
		size += fmt.Sprintf(" of %s × %s%s", short(c.Width), short(c.Height), unit)
		if c.WidthMetres > 0 {
			size += fmt.Sprintf("; on the ground %.4g × %.4g m", c.WidthMetres, c.HeightMetres)
		}
	}
	row(b, "cells", size)
	for i := range m.Bands {
		m.Bands[i].words(b, len(m.Bands))
	}
}

func (p Place) words(b *strings.Builder) {
	switch {
	case p.CRS == nil:
		row(b, "CRS", "not known")
	case p.CRS.Code == "":
		row(b, "CRS", p.CRS.Name)
	default:
		row(b, "CRS", fmt.Sprintf("%s (%s)", p.CRS.Name, p.CRS.Code))
	}
	if p.Extent != nil {
		row(b, "extent", p.Extent.words())
	}
	if p.LonLat != nil && (p.CRS == nil || !p.CRS.Geographic) {
		row(b, "", fmt.Sprintf("longitude %.4f to %.4f, latitude %.4f to %.4f", p.LonLat.West, p.LonLat.East, p.LonLat.South, p.LonLat.North))
	}
}

func (b Box) words() string {
	return fmt.Sprintf("x %s to %s, y %s to %s", short(b.West), short(b.East), short(b.South), short(b.North))
}

func (d *Band) words(b *strings.Builder, bands int) {
	kind := d.Type
	if d.Nodata != nil {
		kind += ", nodata " + number(*d.Nodata)
	}
	if d.Masked {
		kind += ", with a mask"
	}
	if d.Scale != 1 || d.Offset != 0 {
		kind += fmt.Sprintf(", scale %s, offset %s", number(d.Scale), number(d.Offset))
	}
	if d.Unit != "" {
		kind += ", in " + d.Unit
	}
	if d.Description != "" {
		kind += fmt.Sprintf(", %q", d.Description)
	}
	name := "type"
	if bands > 1 {
		name = fmt.Sprintf("band %d", d.Number)
	}
	row(b, name, kind)
	if d.Sample.Cells == 0 {
		return
	}
	looked := fmt.Sprintf("in a sample of %s cells", thousands(d.Sample.Cells))
	if d.Sample.All {
		looked = "in all cells"
	}
	looked += ", " + percentWord(float64(d.Sample.Missing)/float64(d.Sample.Cells)) + " of them missing"
	switch {
	case d.Values != nil:
		row(b, "values", fmt.Sprintf("%s to %s, half below %s, %s", number(d.Values.Low), number(d.Values.High), number(d.Values.Median), looked)+d.Values.without())
		d.Values.words(b)
	case d.Classes != nil:
		row(b, "classes", fmt.Sprintf("%d %s", len(d.Classes), looked))
		listClasses(b, d.Classes)
	default:
		row(b, "values", "none known "+looked)
	}
}

// without names the numbers left out.
func (v *Values) without() string {
	var out []string
	for _, x := range v.Without {
		out = append(out, number(x))
	}
	if len(out) == 0 {
		return ""
	}
	return ", " + list(out, 4) + " left out"
}

// bar draws a share, the largest one 30 characters wide.
func bar(share, most float64) string {
	if share <= 0 {
		return ""
	}
	return strings.Repeat("#", max(1, int(math.Round(30*share/most))))
}

func (v *Values) words(b *strings.Builder) {
	most, wide := 0.0, 0
	label := func(h Bin) string { return number(h.From) + " – " + number(h.To) }
	for _, h := range v.Histogram {
		most, wide = max(most, h.Share), max(wide, len([]rune(label(h))))
	}
	for _, h := range v.Histogram {
		text := label(h)
		pad := strings.Repeat(" ", wide-len([]rune(text)))
		fmt.Fprintf(b, "    %s%s  %6s %s\n", pad, text, percentWord(h.Share), bar(h.Share, most))
	}
}

func listClasses(b *strings.Builder, all []Class) {
	wide := 0
	label := func(c Class) string {
		switch {
		case c.Code == nil:
			return clean(shorten(c.Name))
		case c.Name == "":
			return fmt.Sprint(*c.Code)
		}
		return clean(fmt.Sprintf("%d %s", *c.Code, shorten(c.Name)))
	}
	told := all[:min(len(all), mostTold)]
	for _, c := range told {
		wide = max(wide, len([]rune(label(c))))
	}
	for _, c := range told {
		text := label(c)
		fmt.Fprintf(b, "    %s%s  %6s %s\n", text, strings.Repeat(" ", wide-len([]rune(text))), percentWord(c.Share), bar(c.Share, all[0].Share))
	}
	if more := len(all) - len(told); more > 0 {
		fmt.Fprintf(b, "    and %d more\n", more)
	}
}

func (l *Layer) words(b *strings.Builder) {
	row(b, "layer", fmt.Sprintf("%s: %s %s", l.Name, thousands(int64(l.Features)), l.Shapes))
	l.Place.words(b)
	if l.Read < l.Features {
		row(b, "", fmt.Sprintf("of the fields, the first %s features were looked at", thousands(int64(l.Read))))
	}
	for i := range l.Fields {
		l.Fields[i].words(b, l.Read)
	}
}

// fewTexts is how many different texts of a field are told in words; of more
// the first ones.
const fewTexts = 12

func (f *Field) words(b *strings.Builder, read int) {
	text := fmt.Sprintf("%s: %s", f.Name, f.Kind)
	if f.Low != nil {
		text += fmt.Sprintf(" from %s to %s", number(*f.Low), number(*f.High))
	}
	if f.Unlike > 0 {
		more := ""
		if f.More {
			more = "more than "
		}
		text += fmt.Sprintf(", %s%s different", more, thousands(int64(f.Unlike)))
	}
	if f.Null > 0 {
		text += fmt.Sprintf(", NULL in %s", thousands(int64(f.Null)))
	}
	if f.Empty > 0 {
		text += fmt.Sprintf(", empty in %s", thousands(int64(f.Empty)))
	}
	row(b, "field", text)
	if f.Kind != "text" || f.Unlike == 0 || f.Unlike == read && read > fewTexts {
		return
	}
	listClasses(b, f.Classes[:min(len(f.Classes), fewTexts)])
	if more := f.Unlike - fewTexts; more > 0 {
		fmt.Fprintf(b, "    and %s more\n", thousands(int64(more)))
	}
}

// shorten cuts a text to what fits a line.
func shorten(text string) string {
	if r := []rune(text); len(r) > 60 {
		return string(r[:59]) + "…"
	}
	return text
}

// list joins texts, the first few of many.
func list(all []string, most int) string {
	short := make([]string, 0, len(all))
	for _, t := range all[:min(len(all), most)] {
		short = append(short, shorten(t))
	}
	out := strings.Join(short, ", ")
	if more := len(all) - most; more > 0 {
		out += fmt.Sprintf(" and %d more", more)
	}
	return out
}

// number writes a number the shortest way that reads back.
func number(x float64) string {
	if a := math.Abs(x); a != 0 && (a < 1e-4 || a >= 1e15) {
		return strconv.FormatFloat(x, 'g', -1, 64)
	}
	return strconv.FormatFloat(x, 'f', -1, 64)
}

// short writes a number in at most nine figures.
func short(x float64) string { return number(tidy(x)) }

// thousands groups the figures of a whole number.
func thousands(n int64) string {
	s := strconv.FormatInt(n, 10)
	for i := len(s) - 3; i > 0 && s[i-1] != '-'; i -= 3 {
		s = s[:i] + " " + s[i:]
	}
	return s
}

// percentWord writes a share: what is there is never told as 0 %.
func percentWord(share float64) string {
	switch p := 100 * share; {
	case p == 0:
		return "0 %"
	case p < 0.1:
		return "<0.1 %"
	case p < 10 || p > 99 && p < 100:
		return fmt.Sprintf("%.1f %%", math.Min(p, 99.9))
	default:
		return fmt.Sprintf("%.0f %%", p)
	}
}

// clean takes control characters out of what a file or its name carries.
func clean(text string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsPrint(r) {
			return r
		}
		return '\uFFFD'
	}, text)
}
