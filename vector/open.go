package vector

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/airbusgeo/godal"

	"likelyground/vector/where"
)

// drivers are the formats that are read. Left out are those that fetch from
// the network, run code or open other files wherever a text in them points.
var drivers = []string{
	"GPKG", "ESRI Shapefile", "GeoJSON", "GeoJSONSeq", "TopoJSON", "FlatGeobuf",
	"OpenFileGDB", "SQLite", "GML", "LIBKML", "KML", "MapInfo File",
}

// Layer is a table of shapes in a file, open for reading. It owns C memory
// that only Close frees, and is not for two goroutines.
type Layer struct {
	File, Name string
	Driver     string   // the format, in GDAL's word for it
	CRS        string   // WKT
	Fields     []Field  // by name
	Count      int      // features, those without geometry included
	Warnings   []string // what was taken notice of on opening

	ds        *godal.Dataset
	layer     godal.Layer
	options   Options
	condition *where.Condition // nil: every feature
}

// Options say what of a file is wanted; the zero value is a layer of polygons.
type Options struct {
	Layer  string // may be empty where the file has one
	CRS    string // if not empty, in place of the layer's own
	Where  string // a condition on the fields, see package where; "": every feature
	Points bool   // points are wanted too
	Lines  bool   // and lines

	// PolygonsAlone says that points and lines could not be wanted, so that
	// no remedy speaks of it.
	PolygonsAlone bool
}

// Open opens a layer of polygons; with one layer in the file its name may be
// left empty. crs, if not empty, stands in for the layer's own. See [OpenWith].
func Open(file, layer, crs string) (*Layer, error) {
	return OpenWith(file, Options{Layer: layer, CRS: crs, PolygonsAlone: true})
}

// OpenWith opens a layer. Side files are read and none is written.
//
// It answers with a [Problem] when the file is missing, of no known format or
// cut short, when the layer is not there, not named among several, empty
// (cause [ErrEmpty]), of another kind than is wanted or without coordinate
// reference system, or when the condition cannot be read or does not fit the
// fields (cause [where.Error]).
func OpenWith(file string, o Options) (*Layer, error) {
	Setup()
	l := &Layer{File: file, options: o}
	if err := l.open(); err != nil {
		return nil, err
	}
	if err := l.describe(); err != nil {
		l.Close()
		return nil, err
	}
	return l, nil
}

// Close frees the layer; it may be called twice.
func (l *Layer) Close() error {
	if l.ds == nil {
		return nil
	}
	err := l.ds.Close(Quiet)
	l.ds = nil
	return err
}

func (l *Layer) open() error {
	if err := Reachable(l.File); err != nil {
		return err
	}
	info, err := os.Stat(l.File)
	if errors.Is(err, fs.ErrNotExist) {
		return MissingFile(l.File)
	}
	if err != nil {
		return err
	}
	if err := l.checkBytes(info); err != nil {
		return err
	}
	opts := append([]godal.OpenOption{godal.VectorOnly(), godal.Drivers(drivers...), godal.SiblingFiles(), Quiet}, l.formatOptions()...)
	ds, err := godal.Open(l.path(), opts...)
	if err != nil && strings.Contains(err.Error(), "crs not found") {
		return &Problem{File: l.File, What: "its coordinate reference system is not known", Err: err,
			Fix: "correct its `crs` member or its definition, or take that away and add `crs:` to the map in the plan"}
	}
	if err != nil {
		return &Problem{File: l.File, What: "it cannot be read as a map of polygons", Err: err,
			Fix: "use a GeoPackage, shapefile, GeoJSON, FlatGeobuf, GML, KML or file geodatabase; if it is one, it is damaged: fetch it again"}
	}
	l.ds = ds
	driver := ds.Driver()
	l.Driver = driver.ShortName()
	return nil
}

// path is what the library opens: whole, so that no name is taken for
// something else than a file's.
func (l *Layer) path() string {
	path, err := filepath.Abs(l.File)
	if err != nil {
		return l.File
	}
	return path
}

func (l *Layer) extension() string { return strings.ToLower(filepath.Ext(l.File)) }

// formatOptions are those of the format, known by the file's ending, since a
// format refuses the options of another.
func (l *Layer) formatOptions() []godal.OpenOption {
	switch l.extension() {
	case ".gml":
		return []godal.OpenOption{godal.DriverOpenOption("WRITE_GFS=NO", "DOWNLOAD_SCHEMA=NO")}
	case ".gpkg":
		if WriteAhead(l.File) {
			return []godal.OpenOption{godal.DriverOpenOption("IMMUTABLE=YES")}
		}
	}
	return nil
}

func (l *Layer) describe() error {
	if err := l.choose(l.options.Layer); err != nil {
		return err
	}
	var err error
	if l.Count, err = l.count(); err != nil {
		return err
	}
	if l.Count == 0 {
		return l.problem("", "leave the map out, or use a file with features in it", ErrEmpty)
	}
	if err := l.checkKind(); err != nil {
		return err
	}
	if err := l.readCRS(l.options.CRS); err != nil {
		return err
	}
	if err := l.readFields(); err != nil {
		return err
	}
	return l.readCondition()
}

// choose finds the layer by its name, or the only one.
func (l *Layer) choose(name string) error {
	var names []string
	for _, each := range l.ds.Layers() {
		if each.Name() == name {
			l.layer, l.Name = each, name
			return nil
		}
		names = append(names, each.Name())
	}
	switch {
	case len(names) == 0:
		return &Problem{File: l.File, What: "the file holds no layer", Fix: "use a file with polygons in it"}
	case name != "":
		return &Problem{File: l.File, What: fmt.Sprintf("there is no layer %q", name), Fix: choice("layers", name, names)}
	case len(names) > 1:
		return &Problem{File: l.File, What: fmt.Sprintf("the file holds %d layers and none is named", len(names)),
			Fix: "name one with `layer:`; " + all("layers", names)}
	}
	l.layer, l.Name = l.ds.Layers()[0], names[0]
	return nil
}

func (l *Layer) problem(what, fix string, cause error) *Problem {
	return &Problem{File: l.File, Layer: l.Name, What: what, Fix: fix, Err: cause}
}

func (l *Layer) damaged(cause error) *Problem {
	return l.problem("it cannot be read to the end", "the file is damaged: fetch it again", cause)
}

// Extent returns the box around the layer as the file tells it, which may be
// wider than its features.
func (l *Layer) Extent() (west, south, east, north float64, err error) {
	b, err := l.layer.Bounds(Quiet)
	if err != nil {
		return 0, 0, 0, 0, l.damaged(err)
	}
	return b[0], b[1], b[2], b[3], nil
}
