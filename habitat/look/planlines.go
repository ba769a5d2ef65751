package look

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"likelyground/habitat/legends"
	"likelyground/raster/maps"
	"likelyground/vector"
)

// Line is a line of a map's entry in a plan.
type Line struct {
	Key    string // with spaces before it where it stands further in
	Value  string // as YAML; "" where further lines follow
	Remark string
	Path   string // where Value is the path of a file: that path, as it was given
	Note   bool   // a remark, to be taken in at will
}

// lines gathers the lines of a plan below the map's name.
type lines struct{ all []Line }

// add adds a line of the map's entry; a remark follows it.
func (l *lines) add(key, value, remark string) {
	l.all = append(l.all, Line{Key: key, Value: value, Remark: remark})
}

// addPath adds a line that names a file.
func (l *lines) addPath(key, path, remark string) {
	l.all = append(l.all, Line{Key: key, Value: Scalar(path), Remark: remark, Path: path})
}

// String writes the line as it stands in a plan.
func (l Line) String() string {
	if l.Note && l.Key == "" {
		return fmt.Sprintf("    # %s\n", clean(l.Remark))
	}
	if l.Note {
		return fmt.Sprintf("    # %s: %s   # %s\n", l.Key, clean(l.Value), clean(l.Remark))
	}
	line := strings.TrimRight(fmt.Sprintf("    %s: %s", l.Key, l.Value), " ")
	if l.Remark != "" {
		line += strings.Repeat(" ", max(2, 32-len([]rune(line)))) + "# " + clean(l.Remark)
	}
	return line + "\n"
}

// written is a map's entry in a plan.
func written(name string, all []Line) string {
	var b strings.Builder
	fmt.Fprintf(&b, "  %s:\n", Scalar(name))
	for _, l := range all {
		b.WriteString(l.String())
	}
	return b.String()
}

// note adds a line of the entry as a remark, to be taken in at will.
func (l *lines) note(key, value, remark string) {
	l.all = append(l.all, Line{Key: key, Value: value, Remark: remark, Note: true})
}

// whereHint is a condition on another field of few texts than the one that
// holds the classes: kinds of feature in one layer. "" for none.
func whereHint(in *vector.InspectedLayer, classes *vector.InspectedField) string {
	for i := range in.Fields {
		f := &in.Fields[i]
		if f == classes || f.Kind != vector.Text || len(f.Texts) < 2 || len(f.Texts) > 12 || f.Uncounted > 0 || anyOf(wordsOf(f.Name), idleWords) {
			continue
		}
		return Scalar(fmt.Sprintf(`"%s" = '%s'`, strings.ReplaceAll(f.Name, `"`, `""`), strings.ReplaceAll(f.Texts[0].Text, "'", "''")))
	}
	return ""
}

// rename gives the map a name that is not taken yet.
func (m *Map) rename(taken map[string]bool) {
	name := m.Name
	for i := 2; taken[name]; i++ {
		name = fmt.Sprintf("%s %d", m.Name, i)
	}
	taken[name] = true
	m.Name, m.Plan = name, written(name, m.Lines)
}

// finish sets name and lines.
func (m *Map) finish(name string, l *lines) {
	if clean(m.File) != m.File {
		m.suspect("", "its name holds characters that cannot be shown, and a plan takes none of them", "rename the file")
	}
	m.Name, m.Lines, m.Plan = name, l.all, written(name, l.all)
}

// rasterPlan proposes the entry of a raster, for the first band that holds
// anything.
func (m *Map) rasterPlan(in *maps.Inspection, looks []*bandLook) {
	l := &lines{}
	l.addPath("file", m.File, "the path as seen from the plan")
	b := looks[0]
	for _, other := range looks {
		if len(other.all) > 0 && !other.in.Alpha {
			b = other
			break
		}
	}
	if in.BandCount > 1 {
		l.add("band", fmt.Sprint(b.in.Number), bandNames(in))
	}
	m.crsLine(l, m.Place)
	if b.product != nil {
		b.productLines(l, m.File)
	} else {
		b.lines(l)
	}
	m.Holds, m.Guess, m.Surface = b.holds(), b.guess, b.role == height && anyOf(b.words, surfaceWords)
	m.finish(m.nameFor(b), l)
}

// What the lines of a map read, as Map.Holds says it.
const (
	Heights = "heights"
	Acidity = "pH"
	Percent = "percent"
	Amounts = "amounts"
	Classes = "classes"
	Nothing = "nothing"
)

func (b *bandLook) holds() string {
	switch {
	case b.in.Complex || b.in.Alpha || len(b.all) == 0 && b.in.Sample.Why == "":
		return Nothing
	case b.role == amount:
		return Amounts
	}
	return map[role]string{height: Heights, acidity: Acidity, percent: Percent, coded: Classes}[b.role]
}

// fieldHolds says what a field is good for; nothing where all features have
// one text.
func fieldHolds(f *vector.InspectedField) string {
	switch {
	case f == nil || f.Kind != vector.Real && len(f.Texts) < 2:
		return Nothing
	case f.Kind == vector.Real:
		return Amounts
	}
	return Classes
}

func bandNames(in *maps.Inspection) string {
	var out []string
	for _, b := range in.Bands {
		if b.Description != "" {
			out = append(out, fmt.Sprintf("%d is %q", b.Number, b.Description))
		}
	}
	return fmt.Sprintf("1 to %d; %s", in.BandCount, list(append(out, "choose one"), 8))
}

// crsLine makes room for a system that the file does not name.
func (m *Map) crsLine(l *lines, p Place) {
	switch {
	case p.CRS != nil:
	case p.Extent != nil && p.Extent.degrees():
		l.add("crs", "EPSG:4326", "a guess: the file names none")
	default:
		l.add("crs", "EPSG:…", "put the map's own system here: the file names none")
	}
}

// lines proposes how the band's numbers are to be read.
func (b *bandLook) lines(l *lines) {
	if b.unit != "" {
		l.add("unit", Scalar(b.unit), "")
	}
	if b.surface {
		l.add("surface", "yes", "shows tree tops and roofs; no if it does not")
	}
	if b.scale != b.in.Scale {
		l.add("scale", number(b.scale), "")
	}
	if b.scale != b.in.Scale && b.in.Offset != 0 {
		l.add("offset", number(b.in.Offset), "")
	}
	var missing []string
	for _, s := range b.odd {
		if s.x-s.x == 0 { // infinite numbers are missing by themselves
			missing = append(missing, number(s.x))
		}
	}
	switch {
	case len(missing) == 1:
		l.add("missing", missing[0], "looks like no data")
	case len(missing) > 1:
		l.add("missing", "["+strings.Join(missing, ", ")+"]", "look like no data")
	}
	if b.between != "" {
		l.add("between", b.between, "values outside count as missing")
	}
	if b.role == coded {
		b.legendLines(l)
	}
}

// legendLines proposes a legend: the names that the file has do without one.
func (b *bandLook) legendLines(l *lines) {
	if b.legend != "" {
		l.addPath("legend", b.legend, "")
		return
	}
	bare := false
	for _, s := range b.sound {
		bare = bare || b.in.Names[int32(s.x)] == ""
	}
	if !bare || len(b.sound) > 200 {
		l.add("classes", "yes", "the names stand in the file")
		return
	}
	l.add("legend", "", "put the names of the classes here")
	sum := float64(total(b.sound))
	for _, s := range b.sound {
		name := b.in.Names[int32(s.x)]
		if name == "" {
			name = "class " + number(s.x)
		}
		l.add("  "+number(s.x), Scalar(name), percentWord(float64(s.n)/sum)+" of the cells")
	}
}

// nameFor proposes a name for the plan.
func (m *Map) nameFor(b *bandLook) string {
	switch b.role {
	case height:
		return "ground"
	case acidity:
		return "soil"
	}
	return stem(m.File)
}

// stem makes a name of a file's: words of letters and figures, at most 30
// characters.
func stem(path string) string {
	base := filepath.Base(path)
	name := strings.Join(wordsOf(strings.TrimSuffix(base, filepath.Ext(base))), " ")
	if r := []rune(name); len(r) > 30 {
		name = strings.TrimSpace(string(r[:30]))
	}
	if name == "" || !strings.ContainsFunc(name, letter) {
		name = strings.TrimSpace("map " + name)
	}
	return name
}

func letter(r rune) bool { return r >= 'a' && r <= 'z' }

// featurePlan proposes the entry of the layer with the most features.
func (m *Map) featurePlan(in *vector.Inspection) {
	at := 0
	for i := range in.Layers {
		if in.Layers[i].Count > in.Layers[at].Count && in.Layers[i].Shapes != tables {
			at = i
		}
	}
	layer := &in.Layers[at]
	l := &lines{}
	l.addPath("file", m.File, "the path as seen from the plan")
	if name := tileField(m.File, layer); name != "" {
		m.indexPlan(l, in, layer, name)
		return
	}
	f, product := fieldProduct(m.File, layer, m.Layers[at].Place)
	if f == nil {
		f = bestField(layer)
	}
	if len(in.Layers) > 1 && f != nil {
		l.add("layer", Scalar(layer.Name), "")
	}
	if f != nil {
		l.add("field", Scalar(f.Name), fieldRemark(f))
	}
	switch layer.Shapes {
	case "points":
		l.add("radius", "25 m", "a guess: how far around each point the value holds")
	case "lines":
		l.add("width", "6 m", "a guess: how wide the ground along each line is")
	}
	if p := partsHint(layer); p != "" {
		l.note("parts", p, "in place of field: if each polygon is of several classes")
	}
	if w := whereHint(layer, f); w != "" {
		l.note("where", w, "if only these features count")
	}
	m.fieldLines(l, m.Layers[at].Name, f, product)
	m.crsLine(l, m.Layers[at].Place)
	m.Holds, m.Layer = fieldHolds(f), at
	m.finish(stem(m.File), l)
}

// indexPlan proposes the entry of an index of tiles.
func (m *Map) indexPlan(l *lines, in *vector.Inspection, layer *vector.InspectedLayer, field string) {
	if len(in.Layers) > 1 {
		l.add("layer", Scalar(layer.Name), "")
	}
	l.add("index", Scalar(field), "the tiles that it names are the map; look at one of them for the other lines")
	m.suspect("", fmt.Sprintf("it is an index of tiles: its field %q names rasters", field), "a plan reads the tiles by it; look at one of them too")
	m.finish(stem(m.File), l)
}

// tileField returns the field of a layer whose texts are files that lie where
// the layer's file says, other than shapes; "" for none.
func tileField(file string, in *vector.InspectedLayer) string {
	for _, f := range in.Fields {
		if f.Kind != vector.Text || len(f.Texts) == 0 {
			continue
		}
		path := filepath.FromSlash(f.Texts[0].Text)
		if !filepath.IsAbs(path) {
			path = filepath.Join(filepath.Dir(file), path)
		}
		info, err := os.Stat(path)
		if err == nil && info.Mode().IsRegular() && !slices.Contains(featureEndings, strings.ToLower(filepath.Ext(path))) {
			return f.Name
		}
	}
	return ""
}

// fieldLines proposes what tells the classes of a field apart: a legend that
// the program has, or the last part of addresses.
func (m *Map) fieldLines(l *lines, layer string, f *vector.InspectedField, product *legends.Guess) {
	where := ""
	if len(m.Layers) > 1 {
		where = fmt.Sprintf("layer %q", layer)
	}
	switch {
	case f == nil:
	case product != nil:
		what, fix := productWords(product)
		m.suspect(where, strings.Replace(what, "it looks", fmt.Sprintf("its field %q looks", f.Name), 1), fix)
		l.legend(product, m.File)
		for i := range m.Layers {
			for j := range m.Layers[i].Fields {
				if field := &m.Layers[i].Fields[j]; m.Layers[i].Name == layer && field.Name == f.Name {
					field.BuiltIn = product.Name
				}
			}
		}
	case addresses(f):
		l.add("match", "last part", "its texts are addresses: score them by what follows the last / or #")
	}
}

// fieldRemark tells the most frequent texts of the field.
func fieldRemark(f *vector.InspectedField) string {
	if f.Kind == vector.Real {
		return "numbers"
	}
	var out []string
	for _, t := range f.Texts {
		out = append(out, t.Text)
	}
	return list(out, 6)
}

// plainText is text that YAML takes for text without quotes, whatever stands
// around it.
var plainText = regexp.MustCompile(`^(\.{0,2}/)*[A-Za-z]([A-Za-z0-9_./ -]*[A-Za-z0-9_])?$`)

// notText are words that YAML takes for something else than text.
var notText = map[string]bool{"yes": true, "no": true, "on": true, "off": true, "true": true, "false": true, "null": true, "none": true, "y": true, "n": true}

// Scalar writes a text for YAML, whatever stands around it.
func Scalar(text string) string {
	if plainText.MatchString(text) && !notText[strings.ToLower(text)] {
		return text
	}
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range text {
		switch {
		case r == '"' || r == '\\':
			b.WriteRune('\\')
			b.WriteRune(r)
		case clean(string(r)) != string(r):
			fmt.Fprintf(&b, "\\U%08x", r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}
