package maps

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"strconv"
	"sync/atomic"
	"unicode/utf8"

	"github.com/airbusgeo/godal"
)

var categoryFiles atomic.Int64

// CategoryNames returns the names that a map's first file, or a side file of
// it, gives to class codes: its category names, or the name column of its
// attribute table. It is empty where the file names none.
func CategoryNames(s RasterSpec) (map[int32]string, error) {
	if err := errors.Join(Setup(0), s.validate()); err != nil {
		return nil, err
	}
	f, err := openHeader(&s, s.Files[0])
	if err != nil {
		return nil, err
	}
	ds, err := godal.Open(f.path, godal.RasterOnly(), godal.SiblingFiles(), godal.ErrLogger(quiet))
	if err != nil {
		return nil, openFailure(&s, f.path, err)
	}
	defer ds.Close(godal.ErrLogger(quiet))
	return categories(ds, f)
}

// categories reads the names that the band itself gives its codes.
func categories(ds *godal.Dataset, f *rasterFile) (map[int32]string, error) {
	text, err := virtualCopy(ds, f)
	if err != nil {
		return nil, err
	}
	names, err := parseCategories(text)
	if err != nil {
		return nil, &Problem{File: f.path, What: "the class names that it carries cannot be read", Fix: "give the map a legend: in the plan", Err: err}
	}
	return names, nil
}

// virtualCopy describes the band as a virtual raster: the one form in which
// GDAL's interface here tells its names and its unit.
func virtualCopy(ds *godal.Dataset, f *rasterFile) ([]byte, error) {
	name := fmt.Sprintf("/vsimem/likelyground-names-%d.vrt", categoryFiles.Add(1))
	defer func() { _ = godal.VSIUnlink(name) }()
	copied, err := ds.Translate(name, []string{"-of", "VRT", "-b", strconv.Itoa(f.band + 1)}, godal.ErrLogger(quiet))
	if err != nil {
		return nil, fmt.Errorf("read the class names of %s: %w", f.path, err)
	}
	if err := copied.Close(godal.ErrLogger(quiet)); err != nil {
		return nil, err
	}
	text, err := readAll(name)
	return wellFormed(text), err
}

// wellFormed makes text that GDAL copied from a file, of whatever encoding and
// however damaged, fit for XML.
func wellFormed(text []byte) []byte {
	return bytes.Map(func(r rune) rune {
		if r == '\n' || r == '\t' || r == '\r' || r >= ' ' && r != 0xfffe && r != 0xffff {
			return r
		}
		return utf8.RuneError
	}, bytes.ToValidUTF8(text, []byte("\uFFFD")))
}

// virtualBand is what a virtual raster says of the classes of its band.
type virtualBand struct {
	Names []string         `xml:"VRTRasterBand>CategoryNames>Category"`
	Table []attributeField `xml:"VRTRasterBand>GDALRasterAttributeTable>FieldDefn"`
	Rows  []attributeRow   `xml:"VRTRasterBand>GDALRasterAttributeTable>Row"`
}

type attributeField struct {
	Usage int `xml:"Usage"`
}

type attributeRow struct {
	Cells []string `xml:"F"`
}

// The usages of GDAL's attribute tables that matter here.
const (
	usageName   = 2
	usageMinMax = 5
)

func parseCategories(text []byte) (map[int32]string, error) {
	var v virtualBand
	if err := xml.Unmarshal(text, &v); err != nil {
		return nil, fmt.Errorf("read class names: %w", err)
	}
	out := map[int32]string{}
	for code, name := range v.Names {
		if name != "" {
			out[int32(code)] = name
		}
	}
	if len(out) > 0 {
		return out, nil
	}
	code, name := -1, -1
	for i, f := range v.Table {
		switch f.Usage {
		case usageMinMax:
			code = i
		case usageName:
			name = i
		}
	}
	if code < 0 || name < 0 {
		return out, nil
	}
	for _, r := range v.Rows {
		if len(r.Cells) <= max(code, name) || r.Cells[name] == "" {
			continue
		}
		if n, err := strconv.ParseInt(r.Cells[code], 10, 32); err == nil {
			out[int32(n)] = r.Cells[name]
		}
	}
	return out, nil
}
