package look

import (
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"unicode"

	"likelyground/habitat/legends"
	"likelyground/raster/maps"
)

// role is what a band seems to measure.
type role int

const (
	amount role = iota
	height
	acidity
	percent
	coded // classes
)

// Words of file names, band descriptions and units that tell a role.
var (
	heightWords  = []string{"dem", "dtm", "dsm", "dgm", "elev", "elevation", "height", "heights", "altitude", "srtm", "nasadem", "hgt", "terrain", "relief", "ahn"}
	surfaceWords = []string{"dsm", "surface", "srtm", "nasadem", "hgt"} // of models that show tree tops and roofs
	acidityWords = []string{"ph", "phh2o", "phcacl2", "phca", "phw", "soilph", "acidity"}
	percentWords = []string{"percent", "percentage", "pct", "tcd", "density", "imperviousness"}
)

// wordsOf splits a text into its words, small letters.
func wordsOf(text string) []string {
	return strings.FieldsFunc(strings.ToLower(text), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
}

func anyOf(words, known []string) bool {
	return slices.ContainsFunc(words, func(w string) bool { return slices.Contains(known, w) })
}

// SurfaceModel tells whether a file of heights has the name of a surface model,
// which shows tree tops and roofs.
func SurfaceModel(file string) bool { return anyOf(wordsOf(filepath.Base(file)), surfaceWords) }

// bandLook is a band while it is looked at.
type bandLook struct {
	in    *maps.InspectedBand
	words []string // of the file's name and the band's description
	role  role
	guess bool // classes only because their numbers are few and whole
	all   []step
	odd   []step // suspects of no data
	sound []step

	product *legends.Guess // a legend of the program's that would fit; nil for none
	legend  string         // file beside the map that names the codes
	scale   float64        // proposed; equal to the file's where that will do
	between string
	unit    string
	surface bool // heights of tree tops and roofs
}

func lookAtRaster(path string) (*Map, error) {
	in, err := maps.Inspect(path)
	if err != nil {
		return nil, err
	}
	m := &Map{File: path, Kind: "raster", Format: in.Format, Suspicions: []Suspicion{}}
	for _, n := range in.Notes {
		m.suspect("", "on opening: "+n, "look at its values with care")
	}
	m.Lattice = m.lattice(in)
	m.manyBands(in)
	var looks []*bandLook
	for i := range in.Bands {
		b := newBandLook(path, &in.Bands[i])
		if b.product = b.productOf(path, m.Place, m.Cell); b.product != nil {
			b.takeProduct()
		}
		m.Bands = append(m.Bands, b.band())
		if b.in.Sample.Cells > 0 && !b.in.Alpha {
			b.judge(m, in.BandCount)
		} else if b.in.Complex {
			m.suspect(b.where(in.BandCount), "it holds complex numbers", "give a band of plain numbers")
		} else if b.in.Sample.Why != "" && i == 0 {
			m.suspect("", "its values were not looked at: "+b.in.Sample.Why, "check tells what is in the ground that a plan uses")
		}
		looks = append(looks, b)
	}
	m.rasterPlan(in, looks)
	return m, nil
}

func newBandLook(path string, in *maps.InspectedBand) *bandLook {
	name := filepath.Base(path)
	b := &bandLook{in: in, words: append(wordsOf(name), wordsOf(in.Description)...), scale: in.Scale}
	b.all = steps(in.Sample.Known)
	if len(in.Names) == 0 && len(b.all) > 0 {
		b.legend, in.Names = legendBeside(path)
	}
	b.findRole()
	b.odd = slices.DeleteFunc(standIns(b.all, in, b.role == coded), func(s step) bool {
		name, named := in.Names[int32(s.x)]
		return named && !nothing(name)
	})
	if b.role == coded {
		for _, s := range b.all {
			if nothing(in.Names[int32(s.x)]) && !slices.Contains(b.odd, s) {
				b.odd = append(b.odd, s)
			}
		}
	}
	b.sound = without(b.all, b.odd)
	return b
}

// findRole guesses what the band holds, from names, unit and numbers.
func (b *bandLook) findRole() {
	unit := strings.ToLower(b.in.Unit)
	plain := b.in.Scale == 1 && b.in.Offset == 0
	switch {
	case len(b.in.Names) > 1 || b.legend != "" || b.in.Palette && b.in.Whole && plain:
		b.role = coded
	case unit == "ph" || anyOf(b.words, acidityWords):
		b.role = acidity
	case anyOf(b.words, heightWords):
		b.role = height
	case unit == "%" || unit == "percent" || anyOf(b.words, percentWords):
		b.role = percent
	case unit == "" && plain && (b.in.Whole || len(b.all) > 1) && few(without(b.all, standIns(b.all, b.in, true))):
		b.role, b.guess = coded, true
	}
}

// where names the band, in a file of many.
func (b *bandLook) where(bands int) string {
	if bands < 2 {
		return ""
	}
	return fmt.Sprintf("band %d", b.in.Number)
}

// band is what the answer says of it.
func (b *bandLook) band() Band {
	in := b.in
	product := ""
	if b.product != nil {
		product = b.product.Name
	}
	out := Band{BuiltIn: product, Number: in.Number, Description: in.Description, Type: in.Type, Unit: in.Unit, Nodata: jsonNumber(in.Nodata), Masked: in.Masked,
		Scale: in.Scale, Offset: in.Offset, Sample: Sample{in.Sample.All, in.Sample.Cells, in.Sample.Missing, in.Sample.Why}}
	switch {
	case len(b.all) == 0:
	case b.role == coded:
		out.Classes = classes(b.all, in.Names)
	default:
		out.Values = values(b.sound, b.odd, in.Scale, in.Offset)
	}
	return out
}

// jsonNumber leaves out what JSON has no word for.
func jsonNumber(x *float64) *float64 {
	if x == nil || math.IsNaN(*x) || math.IsInf(*x, 0) {
		return nil
	}
	return x
}

// manyBands tells of files that need a choice.
func (m *Map) manyBands(in *maps.Inspection) {
	plain := 0
	for _, b := range in.Bands {
		if !b.Alpha {
			plain++
		}
	}
	picture := plain == 3
	for _, b := range in.Bands {
		picture = picture && (b.Alpha || b.Type == "Byte" && b.Description == "")
	}
	switch {
	case picture:
		m.suspect("", "it looks like a picture: three bands of colours, not values", "fetch the data behind the picture; colours cannot be turned back into values")
	case plain > 1:
		m.suspect("", fmt.Sprintf("it has %d bands", in.BandCount), "say which one with band:")
	}
}

// judge raises the suspicions about a band's numbers.
func (b *bandLook) judge(m *Map, bands int) {
	where := b.where(bands)
	say := func(fix, format string, args ...any) { m.suspect(where, fmt.Sprintf(format, args...), fix) }
	for _, n := range b.in.Notes {
		say("correct the file's nodata, or say missing: with the number that means no data", "%s", n)
	}
	if b.in.SignedTag {
		say("nothing: a plan reads them right, from -128 to 127", "its bytes are signed, which many programs read as 0 to 255")
	}
	if len(b.all) == 0 {
		say("choose another file or band, if that is not to be expected", "no cell that was looked at is known")
		return
	}
	b.judgeOdd(say)
	if b.product != nil {
		what, fix := productWords(b.product)
		say(fix, "%s", what)
	}
	if len(b.sound) == 1 && total(b.sound) > 1 {
		say("choose another file or band, if that is not to be expected", "every known cell that was looked at holds %s", number(b.sound[0].x))
	}
	switch b.role {
	case coded:
		b.judgeClasses(say)
	case height:
		b.judgeHeights(say)
	case acidity:
		b.judgeAcidity(say)
	case percent:
		b.judgePercent(say)
	default:
		b.unit = b.in.Unit
	}
}

// judgeOdd tells of numbers that look like no data.
func (b *bandLook) judgeOdd(say func(fix, format string, args ...any)) {
	for _, s := range b.odd {
		if math.IsInf(s.x, 0) {
			say("nothing: infinite numbers count as missing", "%s stands in %s", map[bool]string{true: "plus infinity", false: "minus infinity"}[s.x > 0], b.cells(s))
			continue
		}
		if b.knows(s.x) {
			say(fmt.Sprintf("nothing, with that legend; without it, missing: %s", number(s.x)), "%s means no data in the legend %s, and nothing else declares it: it stands in %s", number(s.x), b.product.Name, b.cells(s))
			continue
		}
		say(fmt.Sprintf("say missing: %s; or missing: none if it is a real value", number(s.x)), "%s looks like a sign for no data, and nothing declares it: it stands in %s", number(s.x), b.cells(s))
	}
}

// cells says in how many cells a number stands.
func (b *bandLook) cells(s step) string {
	of := "of those looked at"
	if b.in.Sample.All {
		of = "of the map"
	}
	word := "cells"
	if s.n == 1 {
		word = "cell"
	}
	return fmt.Sprintf("%s %s, %s %s", thousands(int64(s.n)), word, percentWord(float64(s.n)/float64(b.in.Sample.Cells)), of)
}

func (b *bandLook) judgeClasses(say func(fix, format string, args ...any)) {
	if b.guess {
		say("if they are amounts, take the legend out and say unit:", "it is taken for classes only because its numbers are whole and few")
	}
	if !b.in.Whole {
		say("a plan reads them, as long as all numbers are whole", "class codes are stored as broken numbers (%s)", b.in.Type)
	}
	if len(b.in.Names) == 0 {
		return
	}
	var bare []string
	for _, s := range b.sound {
		if b.in.Names[int32(s.x)] == "" {
			bare = append(bare, number(s.x))
		}
	}
	if len(bare) > 0 {
		say("give a legend: with all codes, or say missing: with a code that means no data", "its names of classes leave out %s", list(bare, 12))
	}
}

// surface is what a model that shows tree tops is good for.
const surface = "use a terrain model for slopes, hollows and flow; woods and roofs stand up in this one"

func (b *bandLook) judgeHeights(say func(fix, format string, args ...any)) {
	if b.surface = anyOf(b.words, surfaceWords); b.surface {
		say(surface, "its name tells of a surface model, which shows tree tops and roofs")
	}
	b.unit = "m"
	feet := strings.Contains(strings.ToLower(b.in.Unit), "f") // ft, feet, foot, US survey foot
	if feet {
		b.unit = "ft"
		say("nothing: unit: ft is in the lines below", "its heights are in feet")
	}
	low, high := -500.0, 9000.0
	if feet {
		low, high = low/0.3048, high/0.3048
	}
	out := b.outside(low, high)
	switch n := total(out); {
	case n == 0:
	case 10*n > total(b.sound):
		say("say unit: ft if they are feet, or scale: 0.1, 0.01 or 0.001 if they are decimetres, centimetres or millimetres",
			"heights of %s m are found nowhere on earth: the unit is another one", number(b.physical(out[len(out)-1].x)))
	default:
		b.between = fmt.Sprintf("[%s, %s]", number(math.Round(low)), number(math.Round(high)))
		say(fmt.Sprintf("say between: %s to take them as missing", b.between), "heights of %s stand in it, which no ground has", number(b.physical(out[0].x)))
	}
}

// physical turns a number of the file into a value, with the proposed scale.
func (b *bandLook) physical(x float64) float64 { return tidy(float64(x*b.scale) + b.in.Offset) }

// outside returns the sound numbers whose values lie outside a range.
func (b *bandLook) outside(low, high float64) []step {
	var out []step
	for _, s := range b.sound {
		if v := b.physical(s.x); v < low || v > high {
			out = append(out, s)
		}
	}
	return out
}

// judgeAcidity finds the scale that turns the numbers into pH: the middle of
// soils lies between 3.5 and 9.
func (b *bandLook) judgeAcidity(say func(fix, format string, args ...any)) {
	b.unit = "pH"
	middle := b.physical(median(b.sound))
	for _, factor := range []float64{1, 0.1, 0.01} {
		if v := middle * factor; v < 2.5 || v > 10 {
			continue
		}
		if factor != 1 {
			b.scale = tidy(b.in.Scale * factor)
			say(fmt.Sprintf("say scale: %s", number(b.scale)), "its values, %s in the middle, are no pH: they look like pH × %g", number(middle), math.Round(1/factor))
		}
		if out := b.outside(2, 11); len(out) > 0 {
			b.between = "[2, 11]"
			say("say missing: with the number, or between: [2, 11], to take them as missing", "%s cannot be a pH: such values stand in %s", number(b.physical(out[0].x)), b.cells(step{n: total(out)}))
		}
		return
	}
	if len(b.sound) > 0 {
		b.unit = ""
		say("find out what the file holds, and say unit: and scale:", "its name speaks of pH, but its values, %s in the middle, are none", number(middle))
	}
}

func (b *bandLook) judgePercent(say func(fix, format string, args ...any)) {
	b.unit = "percent"
	if out := b.outside(0, 100); len(out) > 0 {
		b.between = "[0, 100]"
		say("say missing: with the number, or between: [0, 100], to take them as missing", "%s cannot be a percentage: such values stand in %s", number(b.physical(out[0].x)), b.cells(step{n: total(out)}))
	} else if n := len(b.sound); n > 2 && b.physical(b.sound[n-1].x) <= 1 {
		b.unit = "share"
	}
}
