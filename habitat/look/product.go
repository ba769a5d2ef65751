package look

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"likelyground/habitat/legends"
	"likelyground/habitat/match"
	"likelyground/vector"
)

// A map of a known product is told from its codes, its name, and where it lies;
// see legends.Recognise. Its legend is proposed, in words and in the lines of
// the plan, and nothing is read by it until the plan says so.

// productOf returns the legend that the band would fit; nil for none, and
// where its codes have names already.
func (b *bandLook) productOf(path string, p Place, cell *Cell) *legends.Guess {
	if len(b.in.Names) > 0 || b.in.Scale != 1 || b.in.Offset != 0 {
		return nil
	}
	seen := legends.Seen{File: path, Whole: true}
	if p.CRS != nil {
		seen.CRS = p.CRS.Code
	}
	if cell != nil {
		seen.Cell = cell.Width
	}
	for _, s := range b.all {
		if s.x != math.Trunc(s.x) || math.Abs(s.x) > math.MaxInt32 {
			return nil
		}
		seen.Codes = append(seen.Codes, int32(s.x))
	}
	return legends.Recognise(seen)
}

// knows reports whether the legend that is proposed takes a number for no
// data.
func (b *bandLook) knows(x float64) bool {
	if b.product == nil || x != math.Trunc(x) || math.Abs(x) > math.MaxInt32 {
		return false
	}
	_, noData := b.product.Has(int32(x))
	return noData
}

// takeProduct lets the proposed legend say what is class and what is no data.
func (b *bandLook) takeProduct() {
	b.guess = false
	if b.role = coded; b.product.Kind == legends.Amounts {
		b.role = percent
	}
	b.odd = nil
	for _, s := range b.all {
		if b.knows(s.x) {
			b.odd = append(b.odd, s)
		}
	}
	b.sound = without(b.all, b.odd)
}

// productWords tells which legend would fit, and why.
func productWords(g *legends.Guess) (what, fix string) {
	return fmt.Sprintf("it looks like %s (%s): %s", g.Title, g.Publisher, g.Why),
		fmt.Sprintf("keep legend: {built in: %s} in the lines below if it is that, else take it out; nothing is taken from it until a plan says so", g.Name)
}

// productLines proposes the legend, the year that the file's name holds and,
// as remarks, what the codes found would be.
func (b *bandLook) productLines(l *lines, path string) {
	l.legend(b.product, path)
	sum := float64(total(b.all))
	names := map[int32]string{}
	for _, c := range b.product.Classes {
		names[c.Code] = c.Name
	}
	for _, s := range b.product.Missing {
		names[s.Code] = s.Name + ", missing by the legend"
	}
	told := 0
	for _, s := range b.all {
		name, ok := names[int32(s.x)]
		if told++; ok && told <= mostTold {
			l.remark(fmt.Sprintf("%s is %s, %s of the cells", number(s.x), name, percentWord(float64(s.n)/sum)))
		}
	}
}

// legend proposes a built-in legend.
func (l *lines) legend(g *legends.Guess, path string) {
	l.add("legend", fmt.Sprintf("{built in: %s}", g.Name), "a guess: "+g.Title)
	if year := yearIn(path); year != "" {
		l.add("year", year, "from the file's name")
	}
}

// remark writes a line of its own that the plan does not read.
func (l *lines) remark(text string) {
	l.all = append(l.all, Line{Note: true, Remark: text})
}

// year is a word of a file's name that holds nothing but one, or one behind
// the letters of a product.
var year = regexp.MustCompile(`^(?:clc|dlt|tcd|nlcd)?((?:19|20)[0-9][0-9])$`)

// yearIn returns the year that a file's name tells; "" without one.
func yearIn(path string) string {
	for _, word := range wordsOf(path[strings.LastIndexByte(path, '/')+1:]) {
		if m := year.FindStringSubmatch(word); m != nil {
			return m[1]
		}
	}
	return ""
}

// fieldProduct returns the legend that a field of a layer would fit, and the
// field; nil for none.
func fieldProduct(path string, in *vector.InspectedLayer, p Place) (*vector.InspectedField, *legends.Guess) {
	for i := range in.Fields {
		f := &in.Fields[i]
		seen := legends.Seen{File: path, Field: f.Name, Whole: f.Kind != vector.Real}
		if p.CRS != nil {
			seen.CRS = p.CRS.Code
		}
		numbers := true
		for _, t := range f.Texts {
			code, err := strconv.ParseInt(strings.TrimSpace(t.Text), 10, 32)
			numbers = numbers && err == nil
			seen.Codes = append(seen.Codes, int32(code))
			seen.Texts = append(seen.Texts, t.Text)
		}
		if !numbers {
			seen.Codes = nil
		}
		if g := legends.Recognise(seen); g != nil && len(f.Texts) > 0 && g.Kind != legends.Amounts {
			return f, g
		}
	}
	return nil, nil
}

// addresses reports whether the texts of a field are addresses, whose last
// parts tell them apart.
func addresses(f *vector.InspectedField) bool {
	if f.Kind != vector.Text || len(f.Texts) == 0 {
		return false
	}
	last := map[string]bool{}
	for _, t := range f.Texts {
		last[match.LastPart(t.Text)] = true
	}
	return len(last) == len(f.Texts) && !slices.ContainsFunc(f.Texts, func(t vector.TextCount) bool { return !strings.Contains(t.Text, "://") })
}
