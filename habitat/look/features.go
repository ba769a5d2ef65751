package look

import (
	"fmt"
	"math"

	"likelyground/vector"
)

func lookAtFeatures(path string) (*Map, error) {
	in, err := vector.Inspect(path)
	if err != nil {
		return nil, err
	}
	m := &Map{File: path, Kind: "features", Format: in.Driver, Suspicions: []Suspicion{}}
	if len(in.Layers) > 1 {
		m.suspect("", fmt.Sprintf("it holds %d layers", len(in.Layers)), "say which one with layer:")
	}
	for i := range in.Layers {
		l := &in.Layers[i]
		where := ""
		if len(in.Layers) > 1 {
			where = fmt.Sprintf("layer %q", l.Name)
		}
		m.Layers = append(m.Layers, m.layer(where, l))
	}
	m.featurePlan(in)
	return m, nil
}

func (m *Map) layer(where string, in *vector.InspectedLayer) Layer {
	out := Layer{Name: in.Name, Shapes: in.Shapes, Features: in.Count, Read: in.Read, Fields: []Field{}}
	if in.Count == 0 {
		m.suspect(where, "it is empty", "leave the map out, or use a file with features in it")
		return out
	}
	var box *Box
	if e := in.Extent; e != nil {
		box = &Box{e[0], e[1], e[2], e[3]}
	}
	if in.Shapes != tables {
		out.Place = m.place(where, in.CRS, box)
	}
	for _, w := range in.Warnings {
		m.suspect(where, w, "nothing, if the map then lies where it should")
	}
	switch in.Shapes {
	case "points":
		m.suspect(where, "it holds points, which cover no ground by themselves", "say how far around each its value holds, such as radius: 25 m, or use a map of polygons")
	case "lines":
		m.suspect(where, "it holds lines, which cover no ground by themselves", "say how wide the ground along each is, such as width: 6 m, or use a map of polygons")
	case "polygons":
		if in.Count == 1 {
			m.suspect(where, "it holds a single feature", "if that is the ground to rate, leave the lines below away and say area: "+Scalar(m.File))
		}
	case tables:
		m.suspect(where, "it is a table without places", "use a layer with shapes")
	}
	if in.Recoded > 0 {
		m.suspect(where, fmt.Sprintf("%s texts are not in UTF-8", thousands(int64(in.Recoded))), "nothing, if the words below read right: they are taken for Windows-1252")
	}
	for i := range in.Fields {
		out.Fields = append(out.Fields, field(&in.Fields[i], in.Read))
	}
	if in.Shapes == anyShapes {
		m.suspect(where, "it may hold points and lines too, which cover no ground by themselves", "say radius: or width: with their reach; without, only polygons count")
	}
	if f := bestField(in); f != nil && f.Null+f.Empty > 0 {
		m.suspect(where, fmt.Sprintf("the field %q is empty in %s of %s features", f.Name, thousands(int64(f.Null+f.Empty)), thousands(int64(in.Read))), "nothing: that ground counts as missing")
	}
	return out
}

// How vector names a layer without geometry, and one whose kind is not told.
const (
	tables    = "a table without places"
	anyShapes = "shapes of any kind"
)

// mostTold is how many texts of a field are told.
const mostTold = 30

func field(in *vector.InspectedField, read int) Field {
	out := Field{Name: in.Name, Kind: in.Kind.String(), Null: in.Null, Empty: in.Empty, Unlike: len(in.Texts), More: in.Uncounted > 0}
	if !math.IsNaN(in.Low) {
		out.Low, out.High = &in.Low, &in.High
	}
	for _, t := range in.Texts[:min(len(in.Texts), mostTold)] {
		out.Classes = append(out.Classes, Class{Name: t.Text, Share: share(t.Count, float64(read))})
	}
	return out
}

// Words of field names that tell of a class a person can score, and of a
// field that only counts or measures the feature.
var (
	classWords = []string{"rock", "lith", "lithology", "rcs", "class", "type", "name", "desc", "description", "cover", "habitat", "soil", "geology", "unit", "main", "group", "d"}
	idleWords  = []string{"id", "fid", "gid", "objectid", "uuid", "guid", "shape", "area", "length", "perimeter", "leng", "date", "version", "url", "sheet", "globalid", "released"}
)

// bestField is the field that most likely holds the classes of a map: text of
// 2 to 300 different values that repeat, mostly filled, in words. nil for
// none; a field of numbers only where no text will do.
func bestField(in *vector.InspectedLayer) *vector.InspectedField {
	var best *vector.InspectedField
	most := 0.0
	for i := range in.Fields {
		if p := points(&in.Fields[i], in.Read); p > most {
			best, most = &in.Fields[i], p
		}
	}
	return best
}

// points says how good a field is to take classes from.
func points(f *vector.InspectedField, read int) float64 {
	filled := 1 - float64(f.Null+f.Empty)/float64(max(read, 1))
	words := wordsOf(f.Name)
	p := 4 * filled
	switch n := len(f.Texts); {
	case filled == 0:
		return 0
	case f.Kind == vector.Real:
		p = filled / 2
	case n < 2:
		p = filled / 4
	case f.Kind == vector.Integer:
		p = filled
	case read > 20 && 2*n > read || n > 2000: // nearly each feature has its own
		p = filled / 2
	case n <= 300:
		p += 2
	}
	if f.Kind == vector.Text && len(f.Texts) > 1 {
		p += math.Min(meanLength(f), 20) / 10
	}
	if anyOf(words, classWords) {
		p += 1.5
	}
	if anyOf(words, idleWords) {
		p /= 8
	}
	return p
}

// meanLength is the mean length of the texts, in characters.
func meanLength(f *vector.InspectedField) float64 {
	sum := 0
	for _, t := range f.Texts {
		sum += len([]rune(t.Text))
	}
	return float64(sum) / float64(max(len(f.Texts), 1))
}
