package maps

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"sync/atomic"

	"github.com/airbusgeo/godal"

	"likelyground/raster/cog"
	"likelyground/raster/crs"
)

// The TIFF tags that name a coordinate reference system.
const (
	tagGeoDirectory = 34735
	tagGeoDoubles   = 34736
	tagGeoASCII     = 34737
)

var geoTagFiles atomic.Int64

// GeoTags returns the GeoTIFF tags that name a coordinate reference system, as
// GDAL writes them; they work for systems without a code too. A system that
// cannot be written so that it reads back the same is a [Problem].
func GeoTags(crsText string) (cog.GeoTags, error) {
	if err := Setup(0); err != nil {
		return cog.GeoTags{}, err
	}
	name := fmt.Sprintf("/vsimem/likelyground-crs-%d.tif", geoTagFiles.Add(1))
	defer func() {
		_ = godal.VSIUnlink(name)              // nothing is lost when a file in memory stays
		_ = godal.VSIUnlink(name + ".aux.xml") // and this one is there for odd systems only
	}()
	if err := writeTiny(name, crsText); err != nil {
		return cog.GeoTags{}, err
	}
	content, err := readAll(name)
	if err != nil {
		return cog.GeoTags{}, fmt.Errorf("read back the coordinate reference system: %w", err)
	}
	tags, err := parseGeoTags(content)
	if err != nil {
		return cog.GeoTags{}, err
	}
	return tags, readsBack(name, crsText)
}

// writeTiny writes a GeoTIFF of one cell.
func writeTiny(name, crsText string) error {
	info, err := crs.Describe(crsText)
	if err != nil {
		return err
	}
	text := info.WKT
	if info.ID != "" {
		text = info.ID
	}
	sr, err := godal.NewSpatialRef(text, godal.ErrLogger(quiet))
	if err != nil {
		return &Problem{What: "the grid's coordinate reference system is not understood", Fix: "say crs: with a code, EPSG:25831 say", Err: err}
	}
	defer sr.Close()
	ds, err := godal.Create(godal.GTiff, name, 1, godal.Byte, 1, 1, godal.ErrLogger(quiet))
	if err != nil {
		return fmt.Errorf("write the coordinate reference system: %w", err)
	}
	return errors.Join(
		ds.SetSpatialRef(sr, godal.ErrLogger(quiet)),
		ds.SetGeoTransform([6]float64{0, 1, 0, 0, 0, -1}, godal.ErrLogger(quiet)),
		ds.Close(godal.ErrLogger(quiet)))
}

// readAll returns the bytes of a file of GDAL's.
func readAll(name string) ([]byte, error) {
	file, err := godal.VSIOpen(name, godal.ErrLogger(quiet))
	if err != nil {
		return nil, err
	}
	content, err := io.ReadAll(file)
	return content, errors.Join(err, file.Close())
}

// readsBack makes sure that the tags alone name the same system.
func readsBack(name, crsText string) error {
	_ = godal.VSIUnlink(name + ".aux.xml") // what stands beside the file does not count
	ds, err := godal.Open(name, godal.ErrLogger(quiet))
	if err != nil {
		return fmt.Errorf("read back the coordinate reference system: %w", err)
	}
	defer ds.Close(godal.ErrLogger(quiet))
	same, err := crs.Same(ds.Projection(), crsText)
	if err != nil || !same {
		return &Problem{What: fmt.Sprintf("a GeoTIFF cannot name the grid's coordinate reference system %s", crsText),
			Fix: "say grid: with a system that has an EPSG code", Err: err}
	}
	return nil
}

var errNoTIFF = errors.New("the tiny GeoTIFF that GDAL wrote is not laid out as a TIFF")

// parseGeoTags takes the key tags out of a little-endian classic TIFF.
func parseGeoTags(b []byte) (cog.GeoTags, error) {
	var tags cog.GeoTags
	if len(b) < 8 || string(b[:4]) != "II*\x00" {
		return tags, errNoTIFF
	}
	at := uint64(binary.LittleEndian.Uint32(b[4:]))
	if at+2 > uint64(len(b)) {
		return tags, errNoTIFF
	}
	n := uint64(binary.LittleEndian.Uint16(b[at:]))
	for i := range n {
		entry := at + 2 + 12*i
		if entry+12 > uint64(len(b)) {
			return tags, errNoTIFF
		}
		if err := takeGeoTag(&tags, b, b[entry:entry+12]); err != nil {
			return tags, err
		}
	}
	if len(tags.Directory) == 0 {
		return tags, errors.New("GDAL wrote no coordinate reference system")
	}
	return tags, nil
}

// takeGeoTag adds one directory entry, if it is one of the key tags.
func takeGeoTag(tags *cog.GeoTags, file, entry []byte) error {
	id, count := binary.LittleEndian.Uint16(entry), uint64(binary.LittleEndian.Uint32(entry[4:]))
	size := map[uint16]uint64{tagGeoDirectory: 2, tagGeoDoubles: 8, tagGeoASCII: 1}[id] * count
	if size == 0 {
		return nil
	}
	data := entry[8:]
	if size > 4 {
		at := uint64(binary.LittleEndian.Uint32(entry[8:]))
		if at+size > uint64(len(file)) {
			return errNoTIFF
		}
		data = file[at:]
	}
	data = data[:size]
	switch id {
	case tagGeoDirectory:
		for i := range count {
			tags.Directory = append(tags.Directory, binary.LittleEndian.Uint16(data[2*i:]))
		}
	case tagGeoDoubles:
		for i := range count {
			tags.Doubles = append(tags.Doubles, math.Float64frombits(binary.LittleEndian.Uint64(data[8*i:])))
		}
	default:
		tags.ASCII = strings.TrimRight(string(data), "\x00")
	}
	return nil
}
