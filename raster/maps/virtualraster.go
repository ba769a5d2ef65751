package maps

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
)

// virtual looks through a virtual raster (VRT) before GDAL opens it: such a
// file can carry code, read any bytes of any file as cells, and refer to files
// anywhere.
type virtual struct {
	mapName string
	own     *belongings
	folder  string   // of the outermost virtual raster
	found   []string // files it refers to, all the way down
	known   map[string]bool
	notes   []string        // what is odd about them but stops nothing
	open    map[string]bool // virtual rasters that are being looked through
	inside  map[string]int  // how many files each virtual raster shows, all the way down
}

// deepest is how many virtual rasters may refer to one another.
const deepest = 8

// mostShown is how many files a virtual raster may show, each as often as it
// is shown: rasters of rasters of rasters multiply, and so does their reading.
const mostShown = 50_000

// scan looks through a file when it is a virtual raster.
func (v *virtual) scan(path string, depth int) error {
	text, ok, err := virtualText(path)
	if errors.Is(err, errEndless) {
		return &Problem{Map: v.mapName, File: path, What: err.Error(), Fix: "name a file, and copy into one what the pipe would give"}
	}
	if err != nil {
		return fmt.Errorf("map %q: %w", v.mapName, err)
	}
	if !ok {
		return nil
	}
	if v.open[path] {
		return v.refuse(path, "virtual rasters refer to one another in a circle")
	}
	if v.open == nil {
		v.open = map[string]bool{}
	}
	v.open[path] = true
	defer delete(v.open, path)
	if depth == deepest {
		return v.refuse(path, "virtual rasters refer to one another too deeply")
	}
	decoder := xml.NewDecoder(bytes.NewReader(text))
	decoder.CharsetReader = func(_ string, in io.Reader) (io.Reader, error) { return in, nil }
	e := virtualElement{v: v, path: path, depth: depth}
	for {
		token, err := decoder.Token()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			p := v.refuse(path, "the virtual raster is not well-formed XML")
			p.Err = err
			return p
		}
		if err := e.take(token); err != nil {
			return err
		}
	}
}

// errEndless says that a file's reading may never end.
var errEndless = errors.New("it is no file, but a pipe or a device")

// virtualText returns the whole file when it is a virtual raster.
func virtualText(path string) (text []byte, ok bool, err error) {
	if info, err := os.Stat(path); err == nil && !info.Mode().IsRegular() {
		return nil, false, errEndless
	}
	file, err := os.Open(path)
	if err != nil {
		return nil, false, err
	}
	defer file.Close()
	head := make([]byte, 4096)
	n, err := io.ReadFull(file, head)
	if err != nil && !errors.Is(err, io.ErrUnexpectedEOF) && !errors.Is(err, io.EOF) {
		return nil, false, err
	}
	isVRT := strings.EqualFold(filepath.Ext(path), ".vrt") && bytes.Contains(head[:n], []byte("<"))
	if !isVRT && !bytes.Contains(bytes.ToLower(head[:n]), []byte("<vrtdataset")) {
		return nil, false, nil
	}
	if _, err := file.Seek(0, io.SeekStart); err != nil {
		return nil, false, err
	}
	const most = 256 << 20
	text, err = io.ReadAll(io.LimitReader(file, most))
	return text, true, err
}

func (v *virtual) refuse(path, what string) *Problem {
	return &Problem{Map: v.mapName, File: path, What: what,
		Fix: "name the files it is made of under file: instead, or write what it shows into a GeoTIFF and name that"}
}

// codeWords begin the names of elements that carry code or read raw bytes.
var codeWords = []string{"pixelfunction", "imageoffset", "pixeloffset", "lineoffset", "relativetoexe"}

// plainBands are the kinds of bands that only show other files.
var plainBands = map[string]bool{"": true, "vrtsourcedrasterband": true, "vrtwarpedrasterband": true}

// plainDatasets are the kinds of virtual rasters that only show other files.
var plainDatasets = map[string]bool{"": true, "vrtwarpeddataset": true}

// virtualElement follows the elements of one virtual raster. GDAL reads names
// whatever their case, and attributes like elements; so does this.
type virtualElement struct {
	v        *virtual
	path     string
	depth    int
	stack    []string
	relative bool
	atFile   bool // the element's key says that its text is a file
	text     strings.Builder
	source   string     // the file that the element at hand shows
	cells    [2]float64 // of that file, shown by it
	told     bool       // that it stretches a file
}

func (e *virtualElement) take(token xml.Token) error {
	switch t := token.(type) {
	case xml.StartElement:
		name := strings.ToLower(t.Name.Local)
		e.stack = append(e.stack, name)
		e.relative, e.atFile = false, false
		e.text.Reset()
		return e.start(name, t.Attr)
	case xml.CharData:
		e.text.Write(t)
	case xml.EndElement:
		name := e.stack[len(e.stack)-1]
		e.stack = e.stack[:len(e.stack)-1]
		text := e.text.String()
		e.text.Reset()
		return e.value(name, strings.TrimSpace(text))
	}
	return nil
}

func (e *virtualElement) start(name string, attributes []xml.Attr) error {
	if err := e.noCode(name); err != nil {
		return err
	}
	e.stretches(name, attributes)
	if name == "relativetovrt" {
		return e.v.refuse(e.path, "the virtual raster names its files in an unusual way")
	}
	for _, a := range attributes {
		if strings.EqualFold(a.Name.Local, "relativeToVRT") {
			e.relative = strings.TrimSpace(a.Value) == "1"
		}
		if key := strings.ToUpper(a.Value); strings.HasSuffix(key, "_DATASET") || strings.HasSuffix(key, "_DEM") || strings.HasSuffix(key, "_DS_NAME") {
			e.atFile = true // the grids of places and heights that a warp may use
		}
	}
	for _, a := range attributes {
		attribute := strings.ToLower(a.Name.Local)
		if err := e.noCode(attribute); err != nil {
			return err
		}
		if attribute == "subclass" && !e.plain(name, strings.ToLower(a.Value)) {
			return e.v.refuse(e.path, fmt.Sprintf("the virtual raster holds a band of the kind %s, which could read or compute anything", a.Value))
		}
		if err := e.value(attribute, a.Value); err != nil {
			return err
		}
	}
	return nil
}

func (e *virtualElement) plain(element, kind string) bool {
	if element == "vrtdataset" {
		return plainDatasets[kind]
	}
	return plainBands[kind]
}

func (e *virtualElement) noCode(name string) error {
	for _, word := range codeWords {
		if strings.HasPrefix(name, word) {
			return e.v.refuse(e.path, fmt.Sprintf("the virtual raster carries code or reads raw bytes (%s)", name))
		}
	}
	return nil
}

// fileWords are the elements whose text names a file.
var fileWords = map[string]bool{"sourcefilename": true, "sourcedataset": true, "cutlinedsname": true, "sourcedatasetname": true}

// value looks at the text of an element or attribute.
func (e *virtualElement) value(name, text string) error {
	switch {
	case fileWords[name]:
		e.source = text
		return e.refersTo(text)
	case e.inWarp() && (looksLikePath(text) || e.atFile && text != ""):
		return e.refersTo(text)
	}
	return nil
}

// stretches notes, once for each virtual raster, that it shows a file's cells
// larger or smaller than they are: it then takes the nearest of them, however
// many it leaves out.
func (e *virtualElement) stretches(name string, attributes []xml.Attr) {
	if name != "srcrect" && name != "dstrect" || e.told {
		return
	}
	var size [2]float64
	for _, a := range attributes {
		v, err := strconv.ParseFloat(strings.TrimSpace(a.Value), 64)
		switch key := strings.ToLower(a.Name.Local); {
		case err == nil && key == "xsize":
			size[0] = v
		case err == nil && key == "ysize":
			size[1] = v
		}
	}
	if name == "srcrect" {
		e.cells = size
		return
	}
	for i := range size {
		if e.cells[i] > 0 && size[i] > 0 && math.Abs(size[i]/e.cells[i]-1) > 1e-4 {
			e.told = true
		}
	}
	if e.told {
		e.v.notes = append(e.v.notes, fmt.Sprintf("the virtual raster %s shows the %g × %g cells of %s as %g × %g, so its values are not those of the file's own cells; name the files themselves under file:, which are then read one by one",
			filepath.Base(e.path), e.cells[0], e.cells[1], filepath.Base(e.source), size[0], size[1]))
	}
}

// inWarp tells whether the element belongs to the options of a warp, which may
// name files anywhere.
func (e *virtualElement) inWarp() bool { return slices.Contains(e.stack, "gdalwarpoptions") }

// looksLikePath tells whether a text could name a file in some folder. The
// names of coordinate reference systems hold slashes too.
func looksLikePath(text string) bool {
	return strings.ContainsAny(text, "/\\") && !strings.ContainsAny(text, "[+")
}

// refersTo checks a file that the virtual raster refers to, and looks through
// it in turn.
func (e *virtualElement) refersTo(name string) error {
	path := name
	if e.relative && !filepath.IsAbs(name) {
		path = filepath.Join(filepath.Dir(e.path), name)
	}
	if strings.Contains(name, "://") {
		return e.v.refuse(e.path, fmt.Sprintf("the virtual raster refers to %s, an address outside its own folder", name))
	}
	if set, _, _ := strings.Cut(name, "/"); strings.Contains(set, ":") {
		return e.v.refuse(e.path, fmt.Sprintf("the virtual raster refers to %s, which may be read as something within another file", name))
	}
	if !e.v.mayShow(path) {
		return e.v.refuse(e.path, fmt.Sprintf("the virtual raster refers to %s, outside its own folder", name))
	}
	if _, err := os.Stat(path); err != nil {
		p := missingFile(e.v.mapName, path)
		p.What = fmt.Sprintf("there is no such file, but %s refers to it", e.path)
		return p
	}
	return e.shows(path)
}

// shows counts a file that the virtual raster shows, and looks through it
// when it is met first.
func (e *virtualElement) shows(path string) error {
	v := e.v
	if v.known == nil {
		v.known, v.inside = map[string]bool{}, map[string]int{}
	}
	if v.open[path] {
		return v.refuse(e.path, "virtual rasters refer to one another in a circle")
	}
	if !v.known[path] {
		v.known[path] = true
		v.found = append(v.found, path)
		if err := v.scan(path, e.depth+1); err != nil {
			return err
		}
	}
	if v.inside[e.path] += 1 + v.inside[path]; v.inside[e.path] > mostShown {
		return v.refuse(e.path, "virtual rasters refer to one another so often that reading them would not end")
	}
	return nil
}

// mayShow tells whether a path is one that the plan names, or leads to a file
// inside the folder of the outermost virtual raster, over symbolic links too.
func (v *virtual) mayShow(path string) bool {
	abs, err := filepath.Abs(path)
	if err != nil {
		return false
	}
	folder, err := filepath.Abs(v.folder)
	if err != nil {
		return false
	}
	if v.own.named[abs] {
		return true
	}
	if !within(folder, abs) {
		return false
	}
	real, err := filepath.EvalSymlinks(abs)
	if err != nil {
		return true // there is no such file, as is told next
	}
	if folder, err = filepath.EvalSymlinks(folder); err != nil {
		return false
	}
	return v.own.named[real] || within(folder, real)
}

// within tells whether an absolute path lies below a folder.
func within(folder, path string) bool {
	return strings.HasPrefix(path, strings.TrimSuffix(folder, "/")+"/")
}
