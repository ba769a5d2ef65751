package start

import (
	"fmt"
	"strings"
)

// Words returns the answer as text: what was taken for what, and the table of
// places where there is one.
func (r *Result) Words() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n", r.Plan)
	wide := 0
	for _, m := range r.Maps {
		wide = max(wide, len([]rune(m.Name)))
	}
	for _, m := range r.Maps {
		files := m.Files[0]
		if n := len(m.Files); n > 1 {
			files = fmt.Sprintf("%s and %s", files, plural(n-1, "more tile", "more tiles"))
		}
		fmt.Fprintf(&b, "  %s  %-8s  %s\n", padded(m.Name, wide), m.holds(), files)
	}
	fmt.Fprintf(&b, "  grid: %s, %d × %d cells of %s × %s\n", r.CRSName, r.Columns, r.Rows, metresWords(r.CellX), metresWords(r.CellY))
	if r.Places != nil {
		r.Places.words(&b)
	}
	return b.String()
}

func (t Taken) holds() string {
	if t.Holds == "area" {
		return "outline"
	}
	return t.Holds
}

func padded(text string, wide int) string {
	return text + strings.Repeat(" ", max(0, wide-len([]rune(text))))
}

// words writes the table of places.
func (c *Comparison) words(b *strings.Builder) {
	fmt.Fprintf(b, "\nWhat the maps say at your places (read as %s) and on the whole ground:\n", c.ReadAs)
	for i := range c.Layers {
		c.Layers[i].words(b)
	}
	fmt.Fprintf(b, "\n%s\n", c.proof())
}

// proof says how much the places prove.
func (c *Comparison) proof() string {
	switch {
	case c.Cells == 0:
		return "No place lies on this ground, so there is nothing to compare."
	case c.Cells < leastPlaces:
		return fmt.Sprintf("%s nothing about what your organism wants: give %d or more, found apart from each other.", plural(c.Cells, "place proves", "places prove"), fewPlaces)
	case c.Cells < fewPlaces:
		return fmt.Sprintf("%d places prove little: a few more, found elsewhere, may shift all of this. Places near paths and houses are found sooner, whatever the ground.", c.Cells)
	}
	return "Places are where somebody looked: those near paths and houses are found sooner, whatever the ground. What is common at your places is not yet what your organism needs."
}

func (l *LayerCompare) words(b *strings.Builder) {
	name := l.Name
	if l.Unit != "" {
		name += ", " + l.Unit
	}
	if l.Classes != nil {
		l.classWords(b, name)
		return
	}
	fmt.Fprintf(b, "\n  %-24s %10s %10s %10s %10s %10s\n", name, "lowest", "a quarter", "middle", "a quarter", "highest")
	five := func(title string, f *five) {
		if f == nil {
			fmt.Fprintf(b, "    %-22s %10s\n", title, "not known")
			return
		}
		fmt.Fprintf(b, "    %-22s %10s %10s %10s %10s %10s\n", title, figures(f.Lowest), figures(f.Quarter), figures(f.Middle), figures(f.Upper), figures(f.Highest))
	}
	five(plural(l.Known, "place", "places"), l.Here)
	five("the ground", l.Ground)
	if l.Span != nil {
		fmt.Fprintf(b, "    From the lowest to the highest place lie %s of the ground; %d places picked blindly would span about %s.\n", percentWords(*l.Span), l.Known, percentWords(*l.Blind))
	}
	if l.Curve != "" {
		fmt.Fprintf(b, "    To favour ground like theirs: curve: %s\n", l.Curve)
	}
}

// figures writes a number in four figures.
func figures(x float64) string { return fmt.Sprintf("%.4g", x) }

// mostClassRows is how many classes that no place has are told.
const mostClassRows = 12

func (l *LayerCompare) classWords(b *strings.Builder, name string) {
	fmt.Fprintf(b, "\n  %-34s %16s %12s\n", name, plural(l.Known, "place", "places"), "the ground")
	left := 0
	for i, c := range l.Classes {
		if c.Here == 0 && i >= mostClassRows {
			left++
			continue
		}
		share := "-"
		if l.Known > 0 {
			share = fmt.Sprintf("%d  %6s", c.Here, percentWords(c.Share))
		}
		fmt.Fprintf(b, "    %s %16s %12s\n", padded(shorten(c.Name), 32), share, percentWords(c.Ground))
	}
	if left > 0 {
		fmt.Fprintf(b, "    and %s that no place has\n", plural(left, "class", "classes"))
	}
}

func shorten(text string) string {
	if r := []rune(text); len(r) > 32 {
		return string(r[:31]) + "…"
	}
	return text
}
