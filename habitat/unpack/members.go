package unpack

import (
	"path"
	"path/filepath"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// member is a file in an archive.
type member struct {
	name string // "/" between folders
	size int64  // as declared; -1: not declared
	kind kind
}

type kind int

const (
	plainFile kind = iota
	otherKind      // a folder, a link, a device
)

// plain tells whether a member is a file that may be written: nothing is made
// of links, nor of names that lead elsewhere or could not be shown.
func (m member) plain() bool {
	if m.kind != plainFile || !filepath.IsLocal(m.name) || path.Clean(m.name) != m.name || !utf8.ValidString(m.name) || strings.Count(m.name, "/") > deepestMember {
		return false
	}
	if strings.HasPrefix(path.Base(m.name), "._") || strings.HasPrefix(m.name, "__MACOSX/") {
		return false // what one system writes beside the files themselves
	}
	for _, part := range strings.Split(m.name, "/") {
		if len(part) > 255 {
			return false
		}
	}
	return !strings.ContainsFunc(m.name, func(r rune) bool { return r == '\\' || !unicode.IsPrint(r) })
}

// mapEndings are the endings of files that are maps by themselves.
var mapEndings = []string{
	".tif", ".tiff", ".vrt", ".asc", ".img", ".nc", ".bil", ".bip", ".bsq", ".flt", ".hgt", ".dem", ".jp2", ".grd", ".sdat", ".rst", ".bt", ".dt0", ".dt1", ".dt2", ".mbtiles",
	".gpkg", ".shp", ".geojson", ".fgb", ".gml", ".kml", ".kmz", ".tab", ".mif", ".sqlite",
}

// folderMaps are the endings of folders that are one map.
var folderMaps = []string{".gdb"}

// folderMap returns the folder within which a member is part of a map that is
// a folder; "" for other members.
func folderMap(name string) string {
	for dir := path.Dir(name); dir != "."; dir = path.Dir(dir) {
		if slices.Contains(folderMaps, strings.ToLower(path.Ext(dir))) {
			return dir
		}
	}
	return ""
}

// mapsAmong returns the names of members that are maps, in order; of what
// lies below a virtual raster's folder, the virtual raster alone is left to
// be named with the rest.
func mapsAmong(members []member) []string {
	var out []string
	for _, m := range members {
		name := m.name
		if folder := folderMap(name); folder != "" {
			name = folder
		} else if !slices.Contains(mapEndings, strings.ToLower(path.Ext(name))) {
			continue
		}
		out = append(out, name)
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// withSides returns the members to unpack for some maps: they and what belongs
// to them.
func withSides(members []member, maps []string) map[string]bool {
	stems, folders, out := map[string]bool{}, map[string]bool{}, map[string]bool{}
	for _, name := range maps {
		out[name] = true
		stems[stem(name)] = true
		switch strings.ToLower(path.Ext(name)) {
		case ".vrt", ".adf":
			folders[path.Dir(name)] = true
		case ".gdb":
			folders[name] = true
		}
	}
	for _, m := range members {
		if belongs(m.name, stems) || within(m.name, folders) {
			out[m.name] = true
		}
	}
	return out
}

// stem is a name up to its ending, in small letters but for the folder.
func stem(name string) string {
	base := path.Base(name)
	return path.Join(path.Dir(name), strings.ToLower(strings.TrimSuffix(base, path.Ext(base)))+".")
}

// belongs tells whether a name is one of the stems with something behind it.
// Tables of commas are no side files of a map.
func belongs(name string, stems map[string]bool) bool {
	base := strings.ToLower(path.Base(name))
	if strings.HasSuffix(base, ".csv") {
		return false
	}
	for i, r := range base {
		if r == '.' && stems[path.Join(path.Dir(name), base[:i+1])] {
			return true
		}
	}
	return false
}

// within tells whether a name lies in one of the folders or below.
func within(name string, folders map[string]bool) bool {
	for dir := path.Dir(name); len(folders) > 0; dir = path.Dir(dir) {
		if folders[dir] {
			return true
		}
		if dir == "." {
			break
		}
	}
	return false
}
