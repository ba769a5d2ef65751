package habitat

import (
	"fmt"
	"math"
	"strings"
	"unicode/utf8"

	"likelyground/habitat/plan"
	"likelyground/raster/maps"
)

// Words returns the explanation as text.
func (w *Why) Words() string {
	var b strings.Builder
	w.Place.words(&b)
	b.WriteString(w.verdict())
	table := [][]string{{"Factors", "score", "weight", "loss", ""}}
	for i := range w.Factors {
		table = w.Factors[i].rows(table, "")
	}
	b.WriteString("\n")
	writeTable(&b, table)
	if w.Score != nil && *w.Score < 1 {
		fmt.Fprintf(&b, "Loss is a factor's share of what keeps the score from 1. Rule %s: %s.\n", w.Rule, w.Loss)
	}
	table = [][]string{{"Layers", "value", "from"}}
	for i := range w.Layers {
		l := &w.Layers[i]
		table = append(table, []string{l.Name, l.valueWords(), l.fromWords()})
	}
	b.WriteString("\n")
	writeTable(&b, table)
	for _, text := range w.Wrong {
		fmt.Fprintf(&b, "\nA run would refuse this: %s\n", text)
	}
	return b.String()
}

func (p *WhyPlace) words(b *strings.Builder) {
	if p.Lon != nil {
		fmt.Fprintf(b, "Place: longitude %.6f, latitude %.6f", *p.Lon, *p.Lat)
		if p.Reference != "" {
			fmt.Fprintf(b, " (%s)", p.Reference)
		}
		b.WriteString("\n")
	}
	fmt.Fprintf(b, "Grid:  %.2f east, %.2f north in %s; column %d, row %d from 0, a cell of %g × %g m\n", p.X, p.Y, p.CRSName, p.Col, p.Row, p.CellX, p.CellY)
	fmt.Fprintf(b, "       (asked: %s)\n", p.Asked)
	if p.SquareM > max(p.CellX, p.CellY) {
		fmt.Fprintf(b, "       The square asked for is larger than a cell: other cells of it may differ.\n")
	}
}

// verdict is the score, or why there is none.
func (w *Why) verdict() string {
	known := fmt.Sprintf("%.0f %% of the weight known", 100*w.Coverage)
	text := ""
	switch w.State {
	case "scored":
		text = fmt.Sprintf("Score: %s (%s, %s)\n", scoreWords(w.Score), w.Rule, known)
	case "kept out":
		text = fmt.Sprintf("No score: kept out (%s)\n", strings.Join(w.KeptOut, "; "))
	case "outside the area":
		text = "No score: the place lies outside the plan's area\n"
	case "no ground":
		text = "No score: the grid's own map knows nothing here\n"
	default:
		text = fmt.Sprintf("No score: not enough is known (%s)\n", known)
	}
	if w.State != "kept out" && len(w.KeptOut) > 0 {
		text += fmt.Sprintf("Kept out too: %s\n", strings.Join(w.KeptOut, "; "))
	}
	return text + w.limitWords() + w.unknownList()
}

func (w *Why) limitWords() string {
	if len(w.Limits) == 0 {
		return ""
	}
	loss, must := 0.0, ""
	for i := range w.Factors {
		if f := &w.Factors[i]; f.Name == w.Limits[0] {
			loss = *f.Loss
			if f.Vetoes {
				must = ", a must that scores 0"
			}
		}
	}
	if len(w.Limits) > 1 {
		return fmt.Sprintf("Limits most: %s, %.0f %% of the loss each%s\n", andList(w.Limits), 100*loss, must)
	}
	return fmt.Sprintf("Limits most: %s, %.0f %% of the loss%s\n", w.Limits[0], 100*loss, must)
}

func (w *Why) unknownList() string {
	if len(w.Unknown) == 0 {
		return ""
	}
	return fmt.Sprintf("Unknown here: %s\n", andList(w.Unknown))
}

func scoreWords(v *float32) string {
	if v == nil {
		return "unknown"
	}
	return fmt.Sprintf("%.4f", *v)
}

// rows appends a factor and its members, each indented below its group.
func (f *WhyFactor) rows(table [][]string, indent string) [][]string {
	row := []string{indent + f.Name, scoreWords(f.Score), fmt.Sprintf("%.4g", f.Weight), "", f.notes()}
	if f.Loss != nil {
		row[3] = fmt.Sprintf("%.0f %%", 100**f.Loss)
	} else if f.Best || indent != "" {
		row[2] = ""
	}
	table = append(table, row)
	for i := range f.Members {
		m := &f.Members[i]
		table = m.rows(table, indent+"  ")
		if f.Group == "mean of" {
			table[len(table)-1-m.below()][2] = fmt.Sprintf("%.4g", m.Weight)
		}
	}
	return table
}

// below counts the members of all depths.
func (f *WhyFactor) below() int {
	n := len(f.Members)
	for i := range f.Members {
		n += f.Members[i].below()
	}
	return n
}

func (f *WhyFactor) notes() string {
	var notes []string
	if f.From != "" {
		notes = append(notes, "from "+f.From)
	}
	if f.Group != "" {
		notes = append(notes, f.Group)
	}
	if text := f.Class.words(); text != "" {
		notes = append(notes, text)
	}
	if f.Best {
		notes = append(notes, "the best")
	}
	if f.Vetoes {
		notes = append(notes, "a must: makes the score 0")
	}
	if f.Adds != nil && f.Share != nil {
		notes = append(notes, fmt.Sprintf("adds %.4f of at most %.4f", *f.Adds, *f.Share))
	}
	if f.Unknown != "" {
		notes = append(notes, "missing: "+f.Unknown)
	}
	return strings.Join(notes, ", ")
}

func (l *WhyLayer) valueWords() string {
	switch {
	case !l.Known:
		return "missing"
	case l.Value != nil:
		unit := l.Unit
		if unit == "share" || unit == l.Name {
			unit = ""
		}
		return strings.TrimSpace(fmt.Sprintf("%.6g %s", *l.Value, unit))
	case l.Code != nil && l.Class == fmt.Sprint(*l.Code):
		return "code " + l.Class
	}
	if len(l.Groups) > 0 {
		return fmt.Sprintf("%s (%s)", l.Class, strings.Join(l.Groups, ", "))
	}
	return l.Class
}

// words says by what the class is scored; "" where that is its own name.
func (c *WhyClass) words() string {
	switch {
	case c != nil && c.By == byParts:
		return partWords(c.Parts)
	case c == nil || c.By == "" || c.By == string(plan.AsName) && c.Key == c.Name:
		return ""
	case c.By == "others":
		return fmt.Sprintf("%q is scored by others", c.Name)
	case c.By == string(plan.AsName):
		return fmt.Sprintf("%q is scored as %q", c.Name, c.Key)
	case c.By == string(plan.AsCode) && c.Key == c.Name:
		return ""
	}
	return fmt.Sprintf("%q is scored by the %s %q", c.Name, c.By, c.Key)
}

func (l *WhyLayer) fromWords() string {
	s := l.Source
	if s == nil {
		return l.From
	}
	switch s.How {
	case maps.Uncovered:
		return "nothing covers the place"
	case "polygon", "feature":
		return s.polygonWords()
	}
	return s.cellWords()
}

func (s *WhySource) polygonWords() string {
	least := ""
	if s.AtLeast {
		least = "at least "
	}
	text := fmt.Sprintf("%s of %s%s in %s", s.How, least, areaWords(s.AreaHa), s.File)
	if s.Layer != "" {
		text += ", layer " + s.Layer
	}
	if s.Missing {
		text += "; it says nothing"
	}
	if s.Beneath > 0 {
		text += fmt.Sprintf("; lies over %d more", s.Beneath)
	}
	return text
}

func (s *WhySource) cellWords() string {
	text := fmt.Sprintf("%s, column %d, row %d of %s", map[string]string{
		maps.Copied:  "copied",
		maps.Between: fmt.Sprintf("between the centres of %d cells", s.Cells),
		maps.Holding: "from the cell that holds the place",
		maps.MeanOf:  fmt.Sprintf("mean of %d points in %d cells", s.Points*s.Points, s.Cells),
		maps.MostOf:  fmt.Sprintf("most frequent of %d points in %d cells", s.Points*s.Points, s.Cells),
	}[s.How], *s.Col, *s.Row, s.File)
	text += fmt.Sprintf(", cells of %s × %s m", side(s.WidthM), side(s.HeightM))
	switch {
	case s.Missing && s.Number != nil:
		text += fmt.Sprintf(", number %g there means missing", *s.Number)
	case s.Missing:
		text += ", nothing known there"
	default:
		text += fmt.Sprintf(", number %.8g there", *s.Number)
	}
	if s.Beneath > 0 {
		text += fmt.Sprintf("; %d more cover the place", s.Beneath)
	}
	return text
}

// side writes the side of a cell, to the decimetre or whole metre.
func side(m float64) string {
	if m >= 100 {
		return fmt.Sprintf("%.0f", m)
	}
	return fmt.Sprintf("%g", math.Round(m*10)/10)
}

// writeTable writes rows in columns; the last one is not padded.
func writeTable(b *strings.Builder, rows [][]string) {
	wide := make([]int, len(rows[0]))
	for _, row := range rows {
		for i, cell := range row {
			wide[i] = max(wide[i], utf8.RuneCountInString(cell))
		}
	}
	for _, row := range rows {
		line := ""
		for i, cell := range row {
			line += cell + strings.Repeat(" ", wide[i]-utf8.RuneCountInString(cell)+2)
		}
		b.WriteString(strings.TrimRight(line, " ") + "\n")
	}
}
