package cog

import (
	"encoding/xml"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
)

// nodataText is the nodata value as tag 42113 spells it.
func (l Layout) nodataText() string {
	if math.IsNaN(*l.Nodata) {
		return "nan"
	}
	return number(*l.Nodata)
}

// number prints the shortest decimal that reads back as v.
func number(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

// metadata is the XML of tag 42112: the file's items, then each band's name,
// unit, scale, offset and statistics. Without any it is empty.
func (w *Writer) metadata() string {
	var x items
	for _, name := range slices.Sorted(maps.Keys(w.layout.Metadata)) {
		if text := w.layout.Metadata[name]; text != "" { // GDAL reads no empty ones
			x.add(name, -1, "", text)
		}
	}
	for b, band := range w.described() {
		x.band(b, band)
		x.statistics(b, w.summary(b), w.layout.Grid.Cells())
	}
	if x.Len() == 0 {
		return ""
	}
	return "<GDALMetadata>\n" + x.String() + "</GDALMetadata>\n"
}

// described are the bands whose values stand in the file: none of colours.
func (w *Writer) described() []Band {
	if w.layout.Sample == Colour {
		return nil
	}
	return w.layout.Bands
}

type items struct{ strings.Builder }

// add writes an item of a band, or of the file when band is below 0.
func (x *items) add(name string, band int, role, value string) {
	x.WriteString(`  <Item name="` + escape(name) + `"`)
	if band >= 0 {
		x.WriteString(` sample="` + strconv.Itoa(band) + `"`)
	}
	if role != "" {
		x.WriteString(` role="` + role + `"`)
	}
	x.WriteString(">" + escape(value) + "</Item>\n")
}

func (x *items) band(b int, band Band) {
	if band.Description != "" {
		x.add("DESCRIPTION", b, "description", band.Description)
	}
	if band.Unit != "" {
		x.add("UNITTYPE", b, "unittype", band.Unit)
	}
	if band.Offset != 0 || band.Scale != 0 && band.Scale != 1 {
		scale := band.Scale
		if scale == 0 {
			scale = 1
		}
		x.add("OFFSET", b, "offset", number(band.Offset))
		x.add("SCALE", b, "scale", number(scale))
	}
}

// statistics writes what is known of a band's values; of a band without any
// only that.
func (x *items) statistics(b int, s summary, cells int64) {
	if s.known > 0 {
		x.add("STATISTICS_MAXIMUM", b, "", number(s.high))
		x.add("STATISTICS_MEAN", b, "", number(s.mean))
		x.add("STATISTICS_MINIMUM", b, "", number(s.low))
		x.add("STATISTICS_STDDEV", b, "", number(s.deviation()))
	}
	percent := 100 * float64(s.known) / float64(cells)
	x.add("STATISTICS_VALID_PERCENT", b, "", strconv.FormatFloat(percent, 'g', 12, 64))
}

// escape makes text fit for XML; characters that XML forbids become U+FFFD.
// GDAL undoes entities once more after it has read the XML, and cuts the text
// at an ampersand that begins none, so ampersands are escaped twice.
func escape(text string) string {
	var b strings.Builder
	_ = xml.EscapeText(&b, []byte(strings.ReplaceAll(text, "&", "&amp;"))) // a Builder never fails
	return b.String()
}
