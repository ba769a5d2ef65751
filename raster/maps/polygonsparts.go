package maps

import (
	"cmp"
	"encoding/binary"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"likelyground/raster"
	"likelyground/vector"
)

// PartField names the field that holds the class of one part of every polygon
// and the one that holds how much of the polygon that part is.
type PartField struct {
	Class string
	Share string // "": what the other parts leave
}

// ShareUnit says in what the fields of shares count.
type ShareUnit string

// The units of shares.
const (
	SharePercent  ShareUnit = "percent"  // the whole polygon is 100
	ShareFraction ShareUnit = "fraction" // the whole polygon is 1
)

// Part is a part of a polygon that lies somewhere in it.
type Part struct {
	Code  int32 // class number, as of a polygon of one class
	Share int32 // in millionths of the polygon, above 0
}

// WholeShare is the share of a polygon that is of one class.
const WholeShare = 1_000_000

// Mixture is what a polygon of several classes is: its known parts, the
// largest first and of equal ones that of the lower class number; each class
// once. They make up at least half of the polygon. Together they may be a
// little more than [WholeShare] where the layer's shares are rounded.
type Mixture struct{ Parts []Part }

// Known is the share of the polygon whose class is known, in millionths.
func (m Mixture) Known() (sum int64) {
	for _, p := range m.Parts {
		sum += int64(p.Share)
	}
	return sum
}

// Share returns how much of the known part is of the classes of which in is
// true, 0 to 1.
func (m Mixture) Share(in func(code int32) bool) float64 {
	of := int64(0)
	for _, p := range m.Parts {
		if in(p.Code) {
			of += int64(p.Share)
		}
	}
	return float64(of) / float64(m.Known())
}

// NewMixture returns a mixture of parts, those of one class joined.
func NewMixture(parts []Part) Mixture {
	m := Mixture{}
	for _, p := range parts {
		m.add(p.Code, p.Share)
	}
	slices.SortFunc(m.Parts, func(a, b Part) int { return cmp.Or(cmp.Compare(b.Share, a.Share), cmp.Compare(a.Code, b.Code)) })
	return m
}

// Compare orders mixtures by the classes of their parts, the largest first,
// and then by the shares.
func (m Mixture) Compare(o Mixture) int {
	return slices.CompareFunc(m.Parts, o.Parts, func(x, y Part) int {
		return cmp.Or(cmp.Compare(x.Code, y.Code), cmp.Compare(y.Share, x.Share))
	})
}

// mostShares is the most that all shares of a polygon may come to: rounded
// ones come to a little more than the whole.
const mostShares = WholeShare / 100 * 101

// rawPart is a part of a polygon as the layer has it.
type rawPart struct {
	code  int32   // number of the class in the order of coming; raster.MissingCode where it is blank
	share float64 // NaN where it is blank
}

// mixing gathers the mixtures of a layer. A cell's code is the number of its
// mixture.
type mixing struct {
	numbers map[string]int32 // of raw mixtures, in the order of coming, by their bytes
	raw     [][]rawPart
	times   []int // how many polygons have each
	one     []rawPart
	key     []byte
	above   bool // some share is above 1
}

// mixture returns the number of what a polygon is made of.
func (m *importer) mixture(f *vector.Feature) (int32, error) {
	x := m.mixing
	x.one, x.key = x.one[:0], x.key[:0]
	at := 0
	for _, p := range m.to.spec.Parts {
		part := rawPart{code: raster.MissingCode, share: math.NaN()}
		var err error
		if v := f.Values[at]; m.says(v) {
			if part.code, err = m.codeOf(f, at, v); err != nil {
				return 0, err
			}
		}
		at++
		if p.Share != "" {
			if part.share, err = m.shareOf(f, at); err != nil {
				return 0, err
			}
			at++
		}
		x.above = x.above || part.share > 1
		x.one = append(x.one, part)
		x.key = binary.LittleEndian.AppendUint32(x.key, uint32(part.code))
		x.key = binary.LittleEndian.AppendUint64(x.key, math.Float64bits(part.share))
	}
	n, ok := x.numbers[string(x.key)]
	if !ok {
		n = int32(len(x.raw))
		x.numbers[string(x.key)] = n
		x.raw, x.times = append(x.raw, slices.Clone(x.one)), append(x.times, 0)
	}
	x.times[n]++
	return n, nil
}

// shareOf is a field of shares; NaN where it is blank.
func (m *importer) shareOf(f *vector.Feature, field int) (float64, error) {
	v := f.Values[field]
	switch {
	case v.Null || v.Kind == vector.Text && strings.TrimSpace(v.Text) == "":
		return math.NaN(), nil
	case v.Kind == vector.Integer:
		return float64(v.Whole), nil
	case v.Kind == vector.Real:
		return v.Number, nil
	}
	x, err := strconv.ParseFloat(strings.TrimSpace(v.Text), 64)
	if err != nil {
		return 0, &Problem{Map: m.to.spec.Name, File: m.to.spec.File,
			What: fmt.Sprintf("feature %d: field %q holds %q, which is no share", f.Number, m.fields[field], v.Text),
			Fix:  "name a field of numbers under share:"}
	}
	return x, nil
}

// settleMixtures turns what the layer holds into mixtures of the classes'
// final numbers, and gives every polygon the number of its own.
func (m *importer) settleMixtures(number []int32) {
	p, x := m.to, m.mixing
	if p.facts.ShareUnit = p.spec.ShareUnit; p.facts.ShareUnit == "" {
		p.facts.ShareGuessed = true
		p.facts.ShareUnit = ShareFraction
		if x.above {
			p.facts.ShareUnit = SharePercent
		}
	}
	made := make([]Mixture, len(x.raw))
	for i, raw := range x.raw {
		made[i] = m.made(raw, x.times[i], number)
	}
	place := m.order(made)
	for i, part := range p.runs.parts {
		p.runs.parts[i].code = place[part.code]
	}
}

// made turns one raw mixture into one of final class numbers; without parts
// where too little of it is known.
func (m *importer) made(raw []rawPart, times int, number []int32) Mixture {
	f := &m.to.facts
	scale := float64(WholeShare)
	if f.ShareUnit == SharePercent {
		scale /= 100
	}
	shares, sum, blank, ok := sharesOf(raw, scale)
	var parts []Part
	named := false
	for i, part := range raw {
		if part.code == raster.MissingCode {
			continue
		}
		named = true
		share := shares[i]
		if part.share != part.share && blank == 1 {
			share = max(WholeShare-sum, 0)
		}
		if code := finalCode(part.code, number); share > 0 {
			parts = append(parts, Part{code, int32(min(share, WholeShare))})
		}
	}
	switch {
	case !named:
		f.Unclassed += times
		return Mixture{}
	case !ok:
		f.OddShares += times
		return Mixture{}
	case blank > 1:
		f.NoShares += times
	}
	out := NewMixture(parts)
	if 2*out.Known() < max(sum, WholeShare) {
		f.HalfUnknown += times
		return Mixture{}
	}
	return out
}

// sharesOf are the shares of parts in millionths, 0 where there is none given,
// and their sum; blank counts parts of a class without a share. ok is false
// where they cannot be shares.
func sharesOf(raw []rawPart, scale float64) (shares []int64, sum int64, blank int, ok bool) {
	shares, ok = make([]int64, len(raw)), true
	for i, part := range raw {
		switch x := math.Round(part.share * scale); {
		case part.share != part.share && part.code != raster.MissingCode:
			blank++
		case part.share != part.share:
		case !(x >= 0 && x <= mostShares):
			ok = false
		default:
			shares[i] = int64(x)
			sum += shares[i]
		}
	}
	return shares, sum, blank, ok && sum <= mostShares
}

// finalCode is a class number in the order of coming as it stays; number is
// nil where it does.
func finalCode(code int32, number []int32) int32 {
	if number == nil {
		return code
	}
	return number[code]
}

// add adds a part; of a class that is there already, to that.
func (m *Mixture) add(code, share int32) {
	i := slices.IndexFunc(m.Parts, func(p Part) bool { return p.Code == code })
	if i < 0 {
		m.Parts = append(m.Parts, Part{code, share})
		return
	}
	m.Parts[i].Share += share
}

// order sorts the mixtures, each once, and returns the place of each.
func (m *importer) order(made []Mixture) []int32 {
	p := m.to
	p.mixtures = []Mixture{}
	for _, x := range made {
		if len(x.Parts) > 0 {
			p.mixtures = append(p.mixtures, x)
		}
	}
	if p.base != raster.MissingCode {
		p.mixtures = append(p.mixtures, pure(p.base))
	}
	slices.SortFunc(p.mixtures, Mixture.Compare)
	p.mixtures = slices.CompactFunc(p.mixtures, func(a, b Mixture) bool { return a.Compare(b) == 0 })
	place := make([]int32, len(made))
	for i, x := range made {
		place[i] = raster.MissingCode
		if len(x.Parts) > 0 {
			place[i] = p.placeOf(x)
		}
	}
	if p.base != raster.MissingCode {
		p.base = p.placeOf(pure(p.base))
	}
	return place
}

// pure is a polygon of one class.
func pure(code int32) Mixture { return Mixture{[]Part{{code, WholeShare}}} }

func (p *Polygons) placeOf(x Mixture) int32 {
	at, _ := slices.BinarySearchFunc(p.mixtures, x, Mixture.Compare)
	return int32(at)
}

// Mixtures returns what polygons of several classes are made of; the code of
// a cell is then the place of its mixture, and [Polygons.Classes] and
// [Polygons.Numeric] speak of the codes of parts. It is nil where every
// polygon has one class.
func (p *Polygons) Mixtures() []Mixture { return p.mixtures }
