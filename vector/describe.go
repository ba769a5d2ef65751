package vector

import (
	"fmt"
	"sort"
	"strings"

	"github.com/airbusgeo/godal"
)

// kinds names the simple kinds of geometry (OGC 06-103r4, table 7) that are
// no polygons and hold none.
var kinds = map[int]string{
	1: "points", 2: "lines", 4: "points", 5: "lines", 8: "lines", 9: "lines", 11: "lines", 13: "lines",
	100: "a table without places",
}

// flat takes the marks for height and measure off a geometry type.
func flat(t godal.GeometryType) int {
	return int(uint32(t)&^0x80000000) % 1000
}

// checkKind refuses a layer whose kind tells that it holds nothing wanted,
// and one of polygons where points or lines are.
func (l *Layer) checkKind() error {
	o := l.options
	switch kind, other := kinds[flat(l.layer.Type())]; {
	case other && (kind == "points" && o.Points || kind == "lines" && o.Lines):
		return nil
	case other:
		return l.problem("it holds "+kind+", not polygons", l.widenFix(kind), nil)
	case (o.Points || o.Lines) && l.shapes() == "polygons":
		return l.problem("it holds polygons, and a radius or a width is of points or lines", "take `radius:` and `width:` out, or name another layer", nil)
	}
	return nil
}

// widenFix is the remedy for a layer of points or of lines.
func (l *Layer) widenFix(kind string) string {
	switch {
	case l.options.PolygonsAlone:
	case kind == "points":
		return "add `radius: 25 m`, how far around each point its class reaches; or name a layer of polygons"
	case kind == "lines":
		return "add `width: 6 m`, how wide the ground along each line is; or name a layer of polygons"
	}
	return "name a layer of polygons"
}

// readCRS takes the coordinate reference system given, or the layer's own.
func (l *Layer) readCRS(given string) error {
	own := l.ownCRS()
	l.CRS = own
	if given != "" {
		l.CRS = given
		return nil
	}
	if own == "" {
		return l.problem("it does not say in which coordinate reference system it lies",
			"add `crs:` to the map, for instance `crs: EPSG:25831`", nil)
	}
	l.warnGeoJSON()
	return nil
}

// ownCRS returns the layer's own coordinate reference system, "" for none
// and for the placeholders of a GeoPackage.
func (l *Layer) ownCRS() string {
	sr := l.layer.SpatialRef()
	defer sr.Close()
	wkt, err := sr.WKT(Quiet)
	if err != nil || strings.HasPrefix(wkt, "LOCAL_CS") || strings.HasPrefix(wkt, "ENGCRS") ||
		strings.Contains(wkt, `"Undefined `) {
		return ""
	}
	return wkt
}

// warnGeoJSON tells of a `crs` member, which RFC 7946 took out of the format.
func (l *Layer) warnGeoJSON() {
	sr := l.layer.SpatialRef()
	defer sr.Close()
	code := sr.AuthorityCode("")
	if l.Driver != "GeoJSON" || code == "4326" || code == "CRS84" || code == "4979" {
		return
	}
	name, _ := sr.AttrValue("PROJCS", 0)
	if name == "" {
		name, _ = sr.AttrValue("GEOGCS", 0)
	}
	l.Warnings = append(l.Warnings, fmt.Sprintf("%s has a `crs` member, which RFC 7946 does not know: it is taken at its word, %s", l.File, name))
}

// readFields learns the names and kinds of the fields from a row of NULLs,
// which every layer gives.
func (l *Layer) readFields() error {
	rows, err := l.ds.ExecuteSQL(fmt.Sprintf("SELECT t.* FROM (SELECT 1) LEFT JOIN %s t ON 0 LIMIT 1", quote(l.Name)), godal.SQLiteDialect(), Quiet)
	if err != nil {
		return l.damaged(err)
	}
	defer rows.Close(Quiet)
	row := rows.NextFeature()
	if row == nil {
		return l.problem("its fields cannot be read", "the file is damaged: fetch it again", nil)
	}
	defer row.Close()
	for name, f := range row.Fields() {
		if f.Type() != godal.FTBinary {
			l.Fields = append(l.Fields, Field{name, kindOf(f.Type())})
		}
	}
	sort.Slice(l.Fields, func(i, j int) bool { return l.Fields[i].Name < l.Fields[j].Name })
	return nil
}

func kindOf(t godal.FieldType) Kind {
	switch t {
	case godal.FTInt, godal.FTInt64:
		return Integer
	case godal.FTReal:
		return Real
	}
	return Text
}

// Field finds a field by its name, to the letter.
func (l *Layer) Field(name string) (Field, error) {
	names := make([]string, len(l.Fields))
	for i, f := range l.Fields {
		if f.Name == name {
			return f, nil
		}
		names[i] = f.Name
	}
	return Field{}, l.problem(fmt.Sprintf("there is no field %q", name), choice("fields", name, names), nil)
}

// quote makes an SQL name of any text.
func quote(name string) string { return `"` + strings.ReplaceAll(name, `"`, `""`) + `"` }
