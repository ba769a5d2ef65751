package plan

import (
	"fmt"

	"likelyground/habitat/legends"
)

// PartField names the fields of a vector file that hold the class of one part
// of each polygon and how much of the polygon that part is.
type PartField struct {
	Field string `json:"field"`
	Share string `json:"share,omitempty"` // "": what the other parts leave
	Pos   Pos    `json:"-"`
}

// SharesIn says in what the shares of parts count.
type SharesIn string

// The units of shares, as the plan writes them. Where the plan does not say,
// they are percent if one of the layer is above 1, else fractions.
const (
	InPercent   SharesIn = "percent"
	InFractions SharesIn = "fractions"
)

// partKeys are the keys of a map whose polygons are of several classes each.
func partKeys() []key[Map] {
	return []key[Map]{
		entry("parts", "The fields of a vector file whose polygons are of several classes, in place of field: a list of {field: CLASS, share: SHARE}, one for each part. The last one may have no share: it is what the others leave. A part whose class is blank is unknown ground.", listShape("parts", partShape(), 1, 0), func(m *Map, v put[[]PartField]) {
			m.Parts, m.Field, m.FieldAt = v.value, v.value[0].Field, v.at
		}),
		entry("shares in", "What the shares of parts count in: percent (of the polygon) or fractions (from 0 to 1). Where it is not said, percent if a share of the layer is above 1, else fractions; check and the account tell which.", wordShape("shares in", InPercent, InFractions), func(m *Map, v put[SharesIn]) { m.SharesIn = v.value }),
	}
}

func partShape() shape[PartField] {
	table := object[PartField]{
		what: "a part", fresh: func() PartField { return PartField{} },
		keys: []key[PartField]{
			needed("field: soil1", entry("field", "The field that holds the class.", textShape("a field"), func(p *PartField, v put[string]) { p.Field, p.Pos = v.value, v.at })),
			entry("share", "The field that holds how much of the polygon is of that class.", textShape("a field"), func(p *PartField, v put[string]) { p.Share = v.value }),
		},
	}.shape()
	return table
}

// finishParts holds the parts of a map together.
func finishParts(r *reader, m *Map) {
	if len(m.Parts) == 0 {
		return
	}
	seen := map[string]bool{}
	for i, p := range m.Parts {
		if seen[p.Field] {
			r.wrong(p.Pos, fmt.Sprintf("the field %s stands for two parts", quote(p.Field)), "name the field of the other part's class")
		}
		seen[p.Field] = true
		switch last := i == len(m.Parts)-1; {
		case p.Share != "":
		case last && i == 0:
			r.wrong(p.Pos, "the only part has no share", "write field: in place of parts:, or name the field of its share")
		case !last:
			r.wrong(p.Pos, fmt.Sprintf("the part %s has no share, and only the last part can be what the others leave", quote(p.Field)), "add share: with the name of the field that holds it")
		}
	}
	if b := m.Legend.Open(); b != nil && b.Kind == legends.Amounts {
		r.wrong(m.Legend.Pos, fmt.Sprintf("the legend %s is of a map of measured values, and parts are classes", quote(b.Name)), "use another legend, or field: with the name of one field")
	}
}
