package start

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"unicode"

	"likelyground/habitat/look"
	"likelyground/habitat/plan"
)

// part is a map of the plan: one file, or the tiles of one map.
type part struct {
	*look.Map // of the first file
	files     []string
	boxes     []look.Place // of each file
	name      string
	holds     string
	legend    string // a table among the files that names the codes

	// What the first survey taught.
	standIns []float64
	between  string
	optional bool
}

// lines beside a map that belong to it, or to a folder of downloads, and are
// no maps.
var (
	sideEndings = []string{".aux.xml", ".ovr", ".msk", ".prj", ".dbf", ".shx", ".cpg", ".qix", ".sbn", ".sbx", ".shp.xml", ".tfw", ".tifw", ".wld", ".jgw", ".pgw", ".qml", ".sld", ".clr", ".lyr"}
	paperEnding = []string{".txt", ".pdf", ".html", ".htm", ".md", ".doc", ".docx", ".yaml", ".yml", ".xml"}
)

// gather looks at the files and sorts them into maps.
func (s *starting) gather(files []string) error {
	all, err := spread(files)
	if err != nil {
		return err
	}
	var seen []*look.Map
	var tables []string
	for i, path := range all {
		if s.ctx.Err() != nil {
			return s.ctx.Err()
		}
		s.progress("Looking at the maps", int64(i), int64(len(all)))
		if strings.EqualFold(filepath.Ext(path), ".csv") {
			tables = append(tables, path)
			continue
		}
		m, err := s.lookAt(path, slices.Contains(files, path))
		if err != nil {
			return err
		}
		if m != nil {
			seen = append(seen, m)
		}
	}
	for _, m := range seen {
		s.take(m)
	}
	for _, path := range tables {
		s.takeTable(path)
	}
	if len(s.maps) == 0 {
		return s.noMaps()
	}
	s.arrange()
	return nil
}

// spread puts the files of folders in the place of the folders.
func spread(files []string) ([]string, error) {
	var out []string
	for _, f := range files {
		info, err := os.Stat(f)
		if err != nil || !info.IsDir() || strings.EqualFold(filepath.Ext(f), ".gdb") {
			out = append(out, f)
			continue
		}
		entries, err := os.ReadDir(f)
		if err != nil {
			return nil, err
		}
		for _, e := range entries {
			if !strings.HasPrefix(e.Name(), ".") && (!e.IsDir() || strings.EqualFold(filepath.Ext(e.Name()), ".gdb")) {
				out = append(out, filepath.Join(f, e.Name()))
			}
		}
	}
	return slices.DeleteFunc(out, beside), nil
}

// beside tells side files of maps.
func beside(path string) bool {
	lower := strings.ToLower(path)
	return slices.ContainsFunc(sideEndings, func(end string) bool { return strings.HasSuffix(lower, end) })
}

func (s *starting) leaveOut(file, why string) {
	s.result.LeftOut = append(s.result.LeftOut, LeftOut{file, why})
}

// lookAt looks at one file; nil for one that is left out. A file that is not
// there is an error; of those in a folder, or on paper, what is no map is left
// out.
func (s *starting) lookAt(path string, named bool) (*look.Map, error) {
	m, err := look.File(path)
	if err == nil {
		return m, nil
	}
	var fault *look.Fault
	paper := slices.Contains(paperEnding, strings.ToLower(filepath.Ext(path)))
	if _, gone := os.Stat(path); gone != nil || named && !paper && !errors.As(err, &fault) {
		return nil, err
	}
	s.leaveOut(path, strings.TrimPrefix(err.Error(), path+": "))
	return nil, nil
}

// noMaps says why nothing is left to make a plan of.
func (s *starting) noMaps() error {
	f := &Fault{What: "none of the files is a map that can be rated", Fix: "give maps of heights, soil, rock or land cover: rasters (GeoTIFF) or polygons (GeoPackage, shapefile, GeoJSON)"}
	var why []string
	for _, l := range s.result.LeftOut {
		why = append(why, l.File+": "+l.Why)
	}
	if len(why) > 0 {
		f.What += ": " + strings.Join(why, "; ")
	}
	return f
}

// take sorts one map in.
func (s *starting) take(m *look.Map) {
	if why := unfit(m); why != "" {
		s.leaveOut(m.File, why)
		return
	}
	p := &part{Map: m, files: []string{m.File}, boxes: []look.Place{placeOf(m)}, holds: m.Holds}
	if m.Holds == look.Nothing {
		if s.area != nil {
			s.leaveOut(m.File, "it looks like another outline of the ground to rate, and "+s.area.File+" is taken")
			return
		}
		s.area = p
		return
	}
	for _, other := range s.maps {
		if other.continues(p) {
			other.files, other.boxes = append(other.files, m.File), append(other.boxes, p.boxes[0])
			other.Lines = joinMissing(other.Lines, m.Lines)
			return
		}
	}
	s.maps = append(s.maps, p)
}

// unfit says why a map cannot be used; "" where it can.
func unfit(m *look.Map) string {
	p := placeOf(m)
	switch {
	case strings.ContainsFunc(m.File, func(r rune) bool { return r < ' ' || r == 0x7f }):
		return "its name holds characters that a plan does not take: rename it"
	case p.Extent == nil:
		return reason(m, "it does not say where on earth it lies")
	case p.CRS == nil && !degrees(*p.Extent):
		return reason(m, "it does not say in which coordinate reference system it lies")
	case p.CRS != nil && p.LonLat == nil:
		return reason(m, "its bounds lie nowhere on earth")
	case m.Kind == "raster" && m.Holds == look.Nothing:
		return reason(m, "no cell that was looked at is known")
	case m.Kind == "raster" && picture(m):
		return "it is a picture, whose colours cannot be turned back into values"
	case m.Kind == "features" && m.Layers[m.Layer].Shapes != "polygons" && !hasKey(m.Lines, "radius", "width"):
		return fmt.Sprintf("it holds %s, which cover no ground; places that you know go behind --places, as a table", m.Layers[m.Layer].Shapes)
	}
	return ""
}

// reason prefers what look says.
func reason(m *look.Map, otherwise string) string {
	for _, s := range m.Suspicions {
		for _, word := range []string{"does not say", "swapped", "are none", "look like degrees", "nowhere on the earth", "no cell", "not understood"} {
			if strings.Contains(s.What, word) {
				return s.What + ": " + s.Fix
			}
		}
	}
	return otherwise
}

func picture(m *look.Map) bool {
	return slices.ContainsFunc(m.Suspicions, func(s look.Suspicion) bool { return strings.Contains(s.What, "looks like a picture") })
}

func hasKey(lines []look.Line, keys ...string) bool {
	return slices.ContainsFunc(lines, func(l look.Line) bool { return slices.Contains(keys, l.Key) })
}

// placeOf is where a map lies: of features the layer that the lines read.
func placeOf(m *look.Map) look.Place {
	if m.Kind == "raster" {
		return m.Lattice.Place
	}
	return m.Layers[m.Layer].Place
}

// degrees tells whether a box could be one of longitude and latitude.
func degrees(b look.Box) bool {
	return b.West >= -180 && b.East <= 360 && b.South >= -90 && b.North <= 90
}

// continues tells whether another raster is a tile of the same map: it holds
// the same, is read the same way, has cells of about the same size, is called
// the same but for figures and quarters, or touches it, and hardly overlaps.
func (p *part) continues(q *part) bool {
	if p.Kind != "raster" || q.Kind != "raster" || p.holds != q.holds || !sameReading(p.Lines, q.Lines) || len(p.Bands) != len(q.Bands) {
		return false
	}
	a, b := p.Cell, q.Cell
	if a.WidthMetres > 2*b.WidthMetres || b.WidthMetres > 2*a.WidthMetres || a.HeightMetres > 2*b.HeightMetres || b.HeightMetres > 2*a.HeightMetres {
		return false
	}
	touches := pattern(p.File) == pattern(q.File)
	for _, box := range p.boxes {
		if overlapShare(*box.LonLat, *q.boxes[0].LonLat) > 0.1 {
			return false
		}
		touches = touches || near(*box.LonLat, *q.boxes[0].LonLat)
	}
	return touches
}

// sameReading compares what tiles of one map must agree in; what is missing
// may differ.
func sameReading(a, b []look.Line) bool {
	for _, key := range []string{"unit", "scale", "offset", "band"} {
		if valueOf(a, key) != valueOf(b, key) {
			return false
		}
	}
	return true
}

func valueOf(lines []look.Line, key string) string {
	for _, l := range lines {
		if l.Key == key {
			return l.Value
		}
	}
	return ""
}

var tileMarks = regexp.MustCompile(`[0-9]+|\b[nsew]\b|[nsew](?:[0-9])`)

// pattern is a file's name without the parts that tell its tile.
func pattern(path string) string {
	name := strings.ToLower(strings.TrimSuffix(filepath.Base(path), filepath.Ext(path)))
	return tileMarks.ReplaceAllString(strings.ReplaceAll(name, "_", " "), "")
}

// overlapShare is the share of the smaller box that the other covers.
func overlapShare(a, b look.Box) float64 {
	w, h := min(a.East, b.East)-max(a.West, b.West), min(a.North, b.North)-max(a.South, b.South)
	if w <= 0 || h <= 0 {
		return 0
	}
	return w * h / min((a.East-a.West)*(a.North-a.South), (b.East-b.West)*(b.North-b.South))
}

// near tells whether two boxes lie side by side, a twentieth of their size
// apart at most.
func near(a, b look.Box) bool {
	dx, dy := max(a.West, b.West)-min(a.East, b.East), max(a.South, b.South)-min(a.North, b.North)
	return dx <= (a.East-a.West)/20 && dy <= (a.North-a.South)/20
}

// joinMissing adds the numbers that mean no data in another tile.
func joinMissing(lines, others []look.Line) []look.Line {
	more := valueOf(others, "missing")
	if more == "" || more == valueOf(lines, "missing") {
		return lines
	}
	out := slices.Clone(lines)
	for i, l := range out {
		if l.Key == "missing" {
			out[i].Value = "[" + strings.Trim(l.Value, "[]") + ", " + strings.Trim(more, "[]") + "]"
			return out
		}
	}
	return append(out, look.Line{Key: "missing", Value: more, Remark: "looks like no data"})
}

// takeTable uses a table as the legend of a map whose codes have no names, if
// it names all of them.
func (s *starting) takeTable(path string) {
	data, err := os.ReadFile(path)
	if err != nil {
		s.leaveOut(path, err.Error())
		return
	}
	legend, err := plan.ReadLegend(path, data)
	for _, p := range s.maps {
		switch {
		case slices.ContainsFunc(p.Lines, func(l look.Line) bool { return l.Path == path }):
			return // look found it
		case err == nil && p.nameless() && explains(legend, p.codes()):
			p.legend = path
			return
		}
	}
	why := "it is a table, and names the classes of none of the maps"
	if err != nil {
		why += "; if it holds places that you know, give it by --places"
	}
	s.leaveOut(path, why)
}

// nameless tells whether look found codes without names.
func (p *part) nameless() bool {
	return p.Kind == "raster" && p.holds == look.Classes && p.legend == "" && hasKey(p.Lines, "legend") && valueOf(p.Lines, "legend") == ""
}

func (p *part) codes() []look.Class {
	for _, b := range p.Bands {
		if len(b.Classes) > 0 {
			return b.Classes
		}
	}
	return nil
}

func explains(legend plan.Legend, codes []look.Class) bool {
	for _, c := range codes {
		if _, ok := legend.Name(int32(*c.Code)); !ok {
			return false
		}
	}
	return len(codes) > 0
}

// order is in which order maps stand in the plan.
var order = []string{look.Heights, look.Acidity, look.Percent, look.Amounts, look.Classes}

// dull are words of file names that tell nothing of the map.
var dull = []string{"download", "downloads", "export", "exported", "data", "dataset", "map", "maps", "layer", "layers", "file", "tile", "tiles", "clip", "clipped", "output", "out", "result", "results", "untitled", "new", "copy", "final", "tif", "area", "merged", "raster", "vector", "features", "polygons", "kopie", "img", "image", "of", "the", "my"}

// arrange sorts the maps and gives each a name of its own.
func (s *starting) arrange() {
	slices.SortStableFunc(s.maps, func(a, b *part) int {
		if d := slices.Index(order, a.holds) - slices.Index(order, b.holds); d != 0 {
			return d
		}
		return rank(a) - rank(b)
	})
	taken := map[string]bool{}
	for _, p := range s.maps {
		p.name = unique(p.plainName(), taken)
	}
}

// rank puts terrain before surfaces, rasters before features.
func rank(p *part) int {
	switch {
	case p.Surface:
		return 1
	case p.Kind == "features":
		return 2
	}
	return 0
}

// plainName is look's name, or where a file's name tells nothing, what the
// map holds.
func (p *part) plainName() string {
	if p.holds == look.Heights || p.holds == look.Acidity {
		return p.Name
	}
	words := strings.Fields(p.Name)
	if slices.ContainsFunc(words, func(w string) bool {
		return len([]rune(w)) > 2 && !slices.Contains(dull, w) && strings.Trim(w, "0123456789") == w
	}) {
		return p.Name
	}
	if field := wordsOf(valueOf(p.Lines, "field")); strings.ContainsFunc(field, unicode.IsLetter) {
		return field
	}
	if p.holds == look.Classes {
		return "cover"
	}
	return p.holds
}

// wordsOf keeps the words of a text, in small letters.
func wordsOf(text string) string {
	return strings.Join(strings.FieldsFunc(strings.ToLower(text), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) }), " ")
}

// unique returns a name that differs from those taken, whatever their case,
// and takes it.
func unique(name string, taken map[string]bool) string {
	out := name
	for i := 2; taken[strings.ToLower(out)]; i++ {
		out = fmt.Sprintf("%s %d", name, i)
	}
	taken[strings.ToLower(out)] = true
	return out
}
