package look

import (
	"fmt"
	"regexp"
	"strings"

	"likelyground/vector"
)

// numbered is a field's name with a number at its end or before its last word,
// as fields have that repeat for each part of a polygon.
var numbered = regexp.MustCompile(`^(.*?)_?([1-9])(?:_?([A-Za-z]+))?$`)

// partsHint proposes parts where a layer has numbered fields of classes and as
// many of shares: the value of parts:, "" where it has none. Shares go from 0
// to 100, or to 1, and the polygons' sums are not looked at.
func partsHint(in *vector.InspectedLayer) string {
	classes, shares := map[string]string{}, map[string]string{} // by number
	for i := range in.Fields {
		f := &in.Fields[i]
		at := numbered.FindStringSubmatch(f.Name)
		if at == nil {
			continue
		}
		words := wordsOf(at[1] + " " + at[3])
		switch {
		case anyOf(words, shareWords) && f.Kind != vector.Text && f.Low >= 0 && f.High <= 101:
			note(shares, at[2], f.Name)
		case f.Kind != vector.Real && !anyOf(words, idleWords):
			note(classes, at[2], f.Name)
		}
	}
	var parts []string
	for n := '1'; n <= '9'; n++ {
		class, share := classes[string(n)], shares[string(n)]
		if class == "" || share == "" {
			if class != "" && len(parts) > 1 {
				parts = append(parts, fmt.Sprintf("{field: %s}", Scalar(class)))
			}
			break
		}
		parts = append(parts, fmt.Sprintf("{field: %s, share: %s}", Scalar(class), Scalar(share)))
	}
	if len(parts) < 2 {
		return ""
	}
	return "[" + strings.Join(parts, ", ") + "]"
}

// note keeps the first of a number.
func note(in map[string]string, number, name string) {
	if in[number] == "" {
		in[number] = name
	}
}

// shareWords are words of field names that tell of a share of a polygon.
var shareWords = []string{"share", "pct", "percent", "perc", "part", "proportion", "prop", "fraction", "area", "anteil", "pc", "p", "s", "w"}
