package maps

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"likelyground/raster"
	"likelyground/vector"
)

// numbers is what a field of numbers says as a quantity: each different
// number of the layer once, by class number.
type numbers struct {
	rules  rules
	raw    []float64 // the field's own numbers
	values []float32 // after scale; NaN where missing
	kinds  []flag
}

// number returns the class number of a feature's quantity.
func (m *importer) number(f *vector.Feature, field int, v vector.Value) (int32, error) {
	x := v.Number
	switch v.Kind {
	case vector.Integer:
		x = float64(v.Whole)
	case vector.Text:
		var err error
		if x, err = strconv.ParseFloat(strings.TrimSpace(v.Text), 64); err != nil {
			return 0, &Problem{Map: m.to.spec.Name, File: m.to.spec.File,
				What: fmt.Sprintf("feature %d: field %q holds %q, which is no number", f.Number, m.fields[field], v.Text),
				Fix:  "name a field of numbers, or use the map's classes with scores:"}
		}
	}
	return m.class(strconv.FormatFloat(x, 'g', -1, 64)), nil
}

// newNumbers works out the values of a layer's numbers, given as texts in the
// order of their class numbers.
func newNumbers(texts []string, s *RasterSpec) (*numbers, error) {
	n := &numbers{rules: newRules(s)}
	file := &rasterFile{scale: 1}
	if s.Scale != nil {
		file.scale = *s.Scale
	}
	if s.Offset != nil {
		file.offset = *s.Offset
	}
	for _, text := range texts {
		x, err := strconv.ParseFloat(text, 64)
		if err != nil {
			return nil, err
		}
		v, kind := float32(file.physical(x)), sound
		if slices.ContainsFunc(s.Missing, func(r Range) bool { return x >= r.From && x <= r.To }) {
			v = raster.Missing
		} else if kind = n.rules.judge(file, x); kind == clipped || kind == unbounded {
			v = raster.Missing
		}
		n.raw, n.values, n.kinds = append(n.raw, x), append(n.values, v), append(n.kinds, kind)
	}
	return n, nil
}

// add appends a value that stands in no feature and returns its class number.
func (n *numbers) add(value float64) int32 {
	n.raw, n.values, n.kinds = append(n.raw, value), append(n.values, float32(value)), append(n.kinds, sound)
	return int32(len(n.values) - 1)
}

// fill sets a tile of quantities from class numbers.
func (n *numbers) fill(values []float32, codes []int32) {
	for i, c := range codes {
		values[i] = raster.Missing
		if c != raster.MissingCode {
			values[i] = n.values[c]
		}
	}
}

// judgeNumbers turns counts by class number into what is known of a quantity.
func (p *Polygons) judgeNumbers(out *Findings) {
	n := p.numbers
	codes := out.Codes
	out.Codes, out.Known = nil, 0
	for _, c := range codes {
		v, kind := n.values[c.Code], n.kinds[c.Code]
		switch {
		case kind == clipped:
			out.Clipped += c.Cells
		case kind == unbounded:
			out.Infinite += c.Cells
		case kind.wrong():
			out.Problems = append(out.Problems, p.oddNumber(n.raw[c.Code], kind, c.Cells))
			out.sort(kind, oddCells{n: c.Cells, value: n.raw[c.Code]})
		}
		if v != v {
			out.Missing += c.Cells
			continue
		}
		if out.Known == 0 {
			out.Low, out.High = float64(v), float64(v)
		}
		out.Known += c.Cells
		out.Low, out.High = min(out.Low, float64(v)), max(out.High, float64(v))
	}
}

// oddNumber puts into words a number that cannot be what it claims to be.
func (p *Polygons) oddNumber(x float64, kind flag, cells int64) *Problem {
	text := number(x)
	out := &Problem{Map: p.spec.Name, File: p.spec.File}
	where := fmt.Sprintf("field %q holds it in polygons that cover %s of the area", p.spec.Field, cellCount(cells))
	if kind == tooLow || kind == tooHigh {
		out.What = fmt.Sprintf("%s cannot be right for this quantity: %s", text, where)
		out.Fix = fmt.Sprintf("say missing: %s if that number means no data, scale: if the numbers are in another unit, or missing: none to insist", text)
		return out
	}
	out.What = fmt.Sprintf("%s looks like a sign for no data, and nothing declares it: %s", text, where)
	out.Fix = fmt.Sprintf("say missing: %s; or missing: none if it is a real value", text)
	return out
}
