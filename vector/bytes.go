package vector

import (
	"encoding/binary"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
)

// checkBytes looks at what the library would pass over in silence: a table
// cut short, changes not yet merged into a database, a coordinate reference
// system to be fetched from the network.
func (l *Layer) checkBytes(info fs.FileInfo) error {
	if info.IsDir() {
		return nil
	}
	switch l.extension() {
	case ".shp":
		return l.checkShapefile(info.Size())
	case ".gpkg", ".sqlite", ".db":
		return AtRest(l.File)
	case ".json", ".geojson":
		if err := l.checkLink(); err != nil {
			return err
		}
		return l.checkFeatures(info.Size())
	}
	return nil
}

func (l *Layer) checkShapefile(size int64) error {
	if err := l.checkShape(size); err != nil {
		return err
	}
	stem := strings.TrimSuffix(l.File, filepath.Ext(l.File))
	for _, end := range []string{".dbf", ".DBF"} {
		if info, err := os.Stat(stem + end); err == nil {
			return l.checkTable(stem+end, info.Size())
		}
	}
	return &Problem{File: l.File, What: "its table of attributes (.dbf) is not beside it", Fix: "copy all files of the shapefile: .shp, .shx, .dbf, .prj and .cpg"}
}

// checkShape compares the size with the one the header tells, at byte 24, in
// words of 16 bits (ESRI Shapefile Technical Description, July 1998, p. 3).
func (l *Layer) checkShape(size int64) error {
	head, err := firstBytes(l.File, 28)
	if err != nil {
		return err
	}
	if len(head) < 28 || 2*int64(binary.BigEndian.Uint32(head[24:])) > size {
		return l.cut(l.File)
	}
	return nil
}

// checkTable does the same for the table: records at byte 4, length of the
// header at 8 and of a record at 10 (dBASE III file format).
func (l *Layer) checkTable(path string, size int64) error {
	head, err := firstBytes(path, 32)
	if err != nil {
		return err
	}
	if len(head) < 32 {
		return l.cut(path)
	}
	records := int64(binary.LittleEndian.Uint32(head[4:]))
	header, each := int64(binary.LittleEndian.Uint16(head[8:])), int64(binary.LittleEndian.Uint16(head[10:]))
	if header+records*each > size {
		return l.cut(path)
	}
	return nil
}

func (l *Layer) cut(path string) *Problem {
	return &Problem{File: path, What: "the file is cut short: it is smaller than its header says", Fix: "fetch it again"}
}

// AtRest refuses a database whose latest changes still lie in a file beside
// it, or must be taken back with the help of one: a mere reader would have to
// write to either. Of other files it says nothing.
func AtRest(path string) error {
	if head, err := firstBytes(path, 16); err != nil || string(head) != "SQLite format 3\x00" {
		return nil
	}
	beside := func(end, what, fix string) error {
		head, err := firstBytes(path+end, 8)
		if err != nil || len(head) == 0 || end == "-journal" && string(head) != hotJournal {
			return nil
		}
		return &Problem{File: path, What: fmt.Sprintf("%s %s%s", what, filepath.Base(path), end), Fix: fix}
	}
	if err := beside("-wal", "some of its content still lies in", "close the program that has the file open, or copy the file and leave that one behind"); err != nil {
		return err
	}
	return beside("-journal", "a change to it was cut off half way, and what it was before lies in", "open it with the program that was changing it, or fetch it again")
}

// hotJournal begins a journal that is needed (SQLite file format, 3).
const hotJournal = "\xd9\xd5\x05\xf9\x20\xa1\x63\xd7"

// WriteAhead tells whether a database is in the mode in which a mere reader
// would leave files beside it (SQLite file format, 1.3.3: bytes 18 and 19).
func WriteAhead(path string) bool {
	head, err := firstBytes(path, 20)
	return err == nil && len(head) == 20 && head[18] == 2
}

var linkedCRS = regexp.MustCompile(`(?is)"crs"\s*:\s*\{[^{}]*"type"\s*:\s*"(link|url)"`)

// checkLink refuses a GeoJSON file whose `crs` member points at an address.
func (l *Layer) checkLink() error {
	for _, end := range []func(string, int) ([]byte, error){firstBytes, lastBytes} {
		text, err := end(l.File, 1<<20)
		if err != nil {
			return err
		}
		if linkedCRS.Match(text) {
			return &Problem{File: l.File, What: "its `crs` member points at an address on the network",
				Fix: "remove that member and add `crs:` to the map in the plan"}
		}
	}
	return nil
}

// readWhole is up to which size the library may read a file whole, as it does
// where it finds no features to read one by one.
const readWhole = 32 << 20

var aFeature = regexp.MustCompile(`"(features|geometries|coordinates)"\s*:\s*\[\s*[\[{]`)

// checkFeatures refuses a large GeoJSON file that does not come to its
// features.
func (l *Layer) checkFeatures(size int64) error {
	if size <= readWhole {
		return nil
	}
	head, err := firstBytes(l.File, 1<<20)
	if err != nil {
		return err
	}
	if !aFeature.Match(head) {
		return &Problem{File: l.File, What: "it is large, and no feature stands in its first megabyte",
			Fix: "fetch it again if it is damaged; else convert it, to a GeoPackage for instance"}
	}
	return nil
}

// firstBytes returns the first n bytes of a file, fewer if it has fewer.
func firstBytes(path string, n int) ([]byte, error) { return someBytes(path, n, false) }

// lastBytes returns the last n bytes of a file, fewer if it has fewer.
func lastBytes(path string, n int) ([]byte, error) { return someBytes(path, n, true) }

func someBytes(path string, n int, last bool) ([]byte, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() {
		return nil, fmt.Errorf("%s is no file", path)
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	from := int64(0)
	if last {
		from = max(0, info.Size()-int64(n))
	}
	return io.ReadAll(io.NewSectionReader(f, from, int64(n)))
}
