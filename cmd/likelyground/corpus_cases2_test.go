package main

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"strings"

	"github.com/airbusgeo/godal"
)

var nan = math.NaN()

func geojson(text string) func(*corner) {
	return func(c *corner) { c.text("bad.geojson", text) }
}

// square is a feature over the ground with other coordinates for one corner.
func square(at string) string {
	return string(collection(feature("sand", `{"type":"Polygon","coordinates":[[[2.99,55.92],[3.03,55.92],`+at+`,[2.99,55.96],[2.99,55.92]]]}`)))
}

// withCRS gives a GeoJSON over the ground a member crs.
func withCRS(member string) string {
	return strings.Replace(string(goodGeoJSON("sand")), `{"type"`, `{"crs":`+member+`,"type"`, 1)
}

// badFeatures are vector maps that break rules.
var badFeatures = []badMap{
	{name: "a projected crs", file: "bad.geojson", kind: polygons, look: 0, run: 0, says: "`crs` member", make: func(c *corner) {
		c.write("bad.geojson", metric([][2]float64{{499000, 6198000}, {502000, 6198000}, {502000, 6201000}, {499000, 6201000}}))
	}},
	{name: "a crs that is none", file: "bad.geojson", kind: polygons, look: 2, run: 2, says: "bad.geojson", lookSays: "reference system is not known", make: geojson(withCRS(`{"type":"name","properties":{"name":"EPSG:99999999"}}`))},
	{name: "a crs that is a number", file: "bad.geojson", kind: polygons, look: 0, run: 0, lookSays: "features", make: geojson(withCRS(`7`))},
	{name: "a crs from a file", file: "bad.geojson", kind: polygons, look: 2, run: 2, says: "address", make: geojson(withCRS(`{"type":"link","properties":{"href":"../outside/secret.bin","type":"esriwkt"}}`))},
	{name: "degrees taken for metres", file: "bad.geojson", kind: polygons, look: 0, run: 2, says: "nowhere on the earth|outside|no place|reach", lookSays: "features", make: func(c *corner) {
		c.write("bad.geojson", collection(feature("sand", `{"type":"Polygon","coordinates":[[[500000,6199000],[500700,6199000],[500700,6200000],[500000,6199000]]]}`)))
	}},
	{name: "lists a hundred thousand deep", file: "bad.geojson", kind: polygons, look: 2, run: 2, says: "bad.geojson", make: geojson(`{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"rock":"sand"},"geometry":{"type":"Polygon","coordinates":` + strings.Repeat("[", 100_000) + strings.Repeat("]", 100_000) + `}}]}`)},
	{name: "objects a hundred thousand deep", file: "bad.geojson", kind: polygons, look: 2, run: 2, says: "bad.geojson", make: geojson(`{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"rock":` + strings.Repeat(`{"a":`, 100_000) + "1" + strings.Repeat("}", 100_000) + `},"geometry":null}]}`)},
	{name: "collections a thousand deep", file: "bad.geojson", kind: polygons, look: 2, run: 2, says: "bad.geojson", make: geojson(string(collection(feature("sand", strings.Repeat(`{"type":"GeometryCollection","geometries":[`, 1000)+`{"type":"Point","coordinates":[3,56]}`+strings.Repeat("]}", 1000)))))},
	{name: "a place that is NaN", file: "bad.geojson", kind: polygons, look: 0, run: 2, says: "bad.geojson", lookSays: "features", make: geojson(square(`[NaN,55.96]`))},
	{name: "a place at 1e400", file: "bad.geojson", kind: polygons, look: 0, run: 2, says: "bad.geojson", lookSays: "features", make: geojson(square(`[1e400,-1e400]`))},
	{name: "a place at 1e300", file: "bad.geojson", kind: polygons, look: 0, run: 2, says: "bad.geojson", lookSays: "features", make: geojson(square(`[1e300,-1e300]`))},
	{name: "a place that is null", file: "bad.geojson", kind: polygons, look: 0, run: 2, says: "bad.geojson", lookSays: "features", make: geojson(square(`[null,55.96]`))},
	{name: "a place in words", file: "bad.geojson", kind: polygons, look: 2, run: 2, says: "bad.geojson", make: geojson(square(`["here","there"]`))},
	{name: "a place of one number", file: "bad.geojson", kind: polygons, look: 0, run: 2, says: "bad.geojson", lookSays: "features", make: geojson(square(`[3]`))},
	{name: "half a GeoJSON", file: "bad.geojson", kind: polygons, look: 2, run: 2, says: "bad.geojson", make: func(c *corner) { c.write("bad.geojson", goodGeoJSON("sand")); c.cut("bad.geojson", 0.7) }},
	{name: "no features", file: "bad.geojson", kind: polygons, look: 0, run: 2, says: "empty", lookSays: "empty", make: geojson(string(collection()))},
	{name: "points alone", file: "bad.geojson", kind: polygons, look: 0, run: 2, says: "points", lookSays: "points", make: geojson(string(collection(feature("sand", `{"type":"Point","coordinates":[3.001,55.941]}`))))},
	{name: "geometries of all kinds but polygons", file: "bad.geojson", kind: polygons, look: 0, run: 2, says: "polygon", lookSays: "features", make: geojson(string(collection(
		feature("sand", `{"type":"Point","coordinates":[3.001,55.941]}`), feature("sand", "null"), feature("sand", `{"type":"Polygon","coordinates":[]}`), feature("sand", `{"type":"LineString","coordinates":[[3,55],[3,56]]}`))))},
	{name: "texts that are no UTF-8", file: "bad.geojson", kind: polygons, look: 0, run: 0, lookSays: "features", make: func(c *corner) {
		c.write("bad.geojson", bytes.ReplaceAll(goodGeoJSON("sand@"), []byte("@"), []byte("\xff\xfe\xe9")))
	}},
	{name: "texts with NUL and halves of letters", file: "bad.geojson", kind: polygons, look: 0, run: 0, lookSays: "features", make: geojson(strings.Replace(string(goodGeoJSON("sand")), `"sand"`, `"sand\u0000\ud800\u001b[31m\u202e"`, 1))},
	{name: "a class of a megabyte", file: "bad.geojson", kind: polygons, look: 0, run: 0, lookSays: "features", make: func(c *corner) { c.write("bad.geojson", goodGeoJSON(strings.Repeat("sand ", 200_000))) }},
	{name: "classes of all kinds", file: "bad.geojson", kind: polygons, look: 0, run: 0, lookSays: "features", make: geojson(strings.ReplaceAll(string(collection(
		feature("@", `null`), feature("sand", `{"type":"Polygon","coordinates":[[[2.99,55.92],[3.03,55.92],[3.03,55.96],[2.99,55.96],[2.99,55.92]]]}`))), `"@"`, `{"a":[1,2,{"b":null}]}`))},
	{name: "a thousand fields", file: "bad.geojson", kind: polygons, look: 0, run: 0, lookSays: "features", slow: true, make: func(c *corner) {
		var fields []string
		for i := range 1000 {
			fields = append(fields, fmt.Sprintf(`"f%d":%d`, i, i))
		}
		c.text("bad.geojson", strings.Replace(string(goodGeoJSON("sand")), `"rock":`, strings.Join(fields, ",")+`,"rock":`, 1))
	}},
	{name: "a comb of a hundred thousand corners", file: "bad.geojson", kind: polygons, look: 0, run: 0, lookSays: "features", slow: true, make: func(c *corner) { c.write("bad.geojson", metric(comb(100_000))) }},
	{name: "a scribble of a hundred thousand lines", file: "bad.geojson", kind: polygons, look: 0, run: 0, lookSays: "features", slow: true, make: func(c *corner) { c.write("bad.geojson", metric(scribble(100_000))) }},
	{name: "a coil of a hundred thousand corners", file: "bad.geojson", kind: polygons, look: 0, run: 0, lookSays: "features", slow: true, make: func(c *corner) { c.write("bad.geojson", metric(coil(100_000))) }},
	{name: "an area of a hundred thousand corners", file: "bad.geojson", kind: outline, look: 0, run: 0, lookSays: "features", slow: true, make: func(c *corner) { c.write("bad.geojson", metric(scribble(100_000))) }},
	{name: "a hundred thousand rings of one corner", file: "bad.geojson", kind: polygons, look: 0, run: 2, says: "bad.geojson", lookSays: "features", make: geojson(string(collection(feature("sand", `{"type":"Polygon","coordinates":[`+strings.Repeat("[[3,56]],", 99_999)+`[[3,56]]]}`))))},
	{name: "an area without extent", file: "bad.geojson", kind: outline, look: 0, run: 2, says: "area", lookSays: "features", make: geojson(string(collection(feature("sand", `{"type":"Polygon","coordinates":[[[3,55.94],[3,55.94],[3,55.94],[3,55.94]]]}`))))},
	{name: "the whole earth as area", file: "bad.geojson", kind: outline, look: 0, run: 0, lookSays: "features", make: geojson(string(collection(feature("sand", `{"type":"Polygon","coordinates":[[[-180,-90],[180,-90],[180,90],[-180,90],[-180,-90]]]}`))))},
	{name: "a GML of a billion words", file: "bad.gml", kind: polygons, look: 2, run: 2, says: "bad.gml", make: func(c *corner) {
		c.text("bad.gml", billionLaughs("c")+strings.Replace(gml("&j;"), `<?xml version="1.0"?>`, "", 1))
	}},
	{name: "a GML of an entity from a file", file: "bad.gml", kind: polygons, look: 0, run: 2, says: "bad.gml", lookSays: "features", make: func(c *corner) {
		c.text("bad.gml", `<?xml version="1.0"?><!DOCTYPE c [<!ENTITY x SYSTEM "file://`+c.outside+`/secret.bin">]>`+strings.Replace(gml("&x;"), `<?xml version="1.0"?>`, "", 1))
	}},
	{name: "a GML with a schema from elsewhere", file: "bad.gml", kind: polygons, look: 0, run: 0, lookSays: "features", make: func(c *corner) {
		c.text("bad.gml", strings.Replace(gml("sand"), "<c ", `<c xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance" xsi:schemaLocation="http://a.b `+c.outside+`/secret.bin" `, 1))
	}},
	{name: "a GML called json", file: "bad.json", kind: polygons, look: 0, run: 0, lookSays: "features", make: func(c *corner) {
		c.text("bad.json", strings.Replace(gml("sand"), "<c ", `<c xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance" xsi:schemaLocation="http://a.b `+c.outside+`/secret.bin" `, 1))
	}},
	{name: "a KML of a billion words", file: "bad.kml", kind: polygons, look: 2, run: 2, says: "bad.kml", make: func(c *corner) { c.text("bad.kml", billionLaughs("kml")+kml("&j;")) }},
	{name: "a KML that links elsewhere", file: "bad.kml", kind: polygons, keys: "layer: d", look: 2, run: 2, says: "bad.kml", make: func(c *corner) {
		c.text("bad.kml", `<kml xmlns="http://www.opengis.net/kml/2.2"><NetworkLink><Link><href>`+c.outside+`/secret.kml</href></Link></NetworkLink></kml>`)
	}},
	{name: "a shapefile cut short", file: "bad.shp", kind: polygons, look: 2, run: 2, says: "cut short", make: func(c *corner) { c.vector("bad.shp", "ESRI Shapefile"); c.cut("bad.shp", 0.8) }},
	{name: "a shapefile without table", file: "bad.shp", kind: polygons, look: 2, run: 2, says: "dbf", make: func(c *corner) {
		c.vector("bad.shp", "ESRI Shapefile")
		c.must(os.Remove(c.path("bad.dbf")))
	}},
	{name: "a shapefile without index", file: "bad.shp", kind: polygons, look: 2, run: 2, says: "bad.shp", make: func(c *corner) {
		c.vector("bad.shp", "ESRI Shapefile")
		c.must(os.Remove(c.path("bad.shx")))
	}},
	{name: "a shapefile of a broken count", file: "bad.shp", kind: polygons, look: 2, run: 2, says: "bad", make: func(c *corner) { c.vector("bad.shp", "ESRI Shapefile"); c.flip("bad.shp", 148, 149, 150, 151) }},
	{name: "a table of a broken count", file: "bad.shp", kind: polygons, look: 2, run: 2, says: "bad", make: func(c *corner) { c.vector("bad.shp", "ESRI Shapefile"); c.flip("bad.dbf", 4, 5, 6, 7) }},
	{name: "half a FlatGeobuf", file: "bad.fgb", kind: polygons, look: 2, run: 2, says: "bad.fgb", make: func(c *corner) { c.vector("bad.fgb", "FlatGeobuf"); c.cut("bad.fgb", 0.8) }},
	{name: "a database of a table that reads a file", file: "bad.sqlite", kind: polygons, look: 2, run: 2, says: "bad.sqlite", make: func(c *corner) {
		c.geopackage("bad.sqlite", `DROP TABLE IF EXISTS gpkg_contents`,
			`PRAGMA writable_schema=ON; INSERT INTO sqlite_master VALUES ('table','evil','evil',0,'CREATE VIRTUAL TABLE evil USING VirtualShape("`+c.outside+`/secret", "UTF-8", 4326)')`)
	}},
}

func gml(rock string) string {
	return `<?xml version="1.0"?><c xmlns="http://a.b" xmlns:gml="http://www.opengis.net/gml"><gml:featureMember><geology><rock>` + rock + `</rock><geometry><gml:Polygon srsName="EPSG:25831"><gml:outerBoundaryIs><gml:LinearRing><gml:coordinates>499000,6198000 502000,6198000 502000,6201000 499000,6201000 499000,6198000</gml:coordinates></gml:LinearRing></gml:outerBoundaryIs></gml:Polygon></geometry></geology></gml:featureMember></c>`
}

func kml(name string) string {
	return `<kml xmlns="http://www.opengis.net/kml/2.2"><Document><Placemark><name>` + name + `</name><Polygon><outerBoundaryIs><LinearRing><coordinates>2.99,55.92 3.03,55.92 3.03,55.96 2.99,55.92</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark></Document></kml>`
}

func geopackage(statements ...string) func(*corner) {
	return func(c *corner) { c.geopackage("bad.gpkg", statements...) }
}

// badGeoPackages are databases that are not what they should be.
var badGeoPackages = []badMap{
	{name: "gpkg: another application", file: "bad.gpkg", kind: polygons, look: 0, run: 0, lookSays: "features", make: geopackage("PRAGMA application_id=7")},
	{name: "gpkg: a broken page size", file: "bad.gpkg", kind: polygons, look: 2, run: 2, says: "bad.gpkg", make: func(c *corner) { c.geopackage("bad.gpkg"); c.flip("bad.gpkg", 16, 17) }},
	{name: "gpkg: a broken encoding", file: "bad.gpkg", kind: polygons, look: 2, run: 2, says: "bad.gpkg", make: func(c *corner) { c.geopackage("bad.gpkg"); c.flip("bad.gpkg", 59) }},
	{name: "gpkg: a broken schema", file: "bad.gpkg", kind: polygons, look: 2, run: 2, says: "bad.gpkg", make: func(c *corner) {
		c.geopackage("bad.gpkg")
		for i := 100; i < 140; i++ {
			c.flip("bad.gpkg", i)
		}
	}},
	{name: "gpkg: half of it", file: "bad.gpkg", kind: polygons, look: 2, run: 2, says: "bad.gpkg", make: func(c *corner) { c.geopackage("bad.gpkg"); c.cut("bad.gpkg", 0.5) }},
	{name: "gpkg: no contents", file: "bad.gpkg", kind: polygons, look: 2, run: 2, says: "bad.gpkg", make: geopackage("DROP TABLE gpkg_contents")},
	{name: "gpkg: no columns of geometry", file: "bad.gpkg", kind: polygons, look: 2, run: 2, says: "bad.gpkg", lookSays: "cannot be read", make: geopackage("DROP TABLE gpkg_geometry_columns")},
	{name: "gpkg: no reference systems", file: "bad.gpkg", kind: polygons, look: 2, run: 2, says: "bad.gpkg", make: geopackage("DROP TABLE gpkg_spatial_ref_sys")},
	{name: "gpkg: a geometry column that is not there", file: "bad.gpkg", kind: polygons, look: 0, run: 0, says: "", lookSays: "features", make: geopackage("UPDATE gpkg_geometry_columns SET column_name='nowhere'")},
	{name: "gpkg: a table that is not there", file: "bad.gpkg", kind: polygons, look: 2, run: 2, says: "bad.gpkg", make: geopackage("DROP TABLE geology")},
	{name: "gpkg: a reference system that is not there", file: "bad.gpkg", kind: polygons, look: 0, run: 2, says: "coordinate reference system", lookSays: "CRS +not known", make: geopackage("UPDATE gpkg_geometry_columns SET srs_id=4711")},
	{name: "gpkg: a reference system of nonsense", file: "bad.gpkg", kind: polygons, look: 2, run: 2, says: "nesting|coordinate reference system", make: geopackage("UPDATE gpkg_spatial_ref_sys SET organization='x', organization_coordsys_id=1, definition='" + strings.Repeat("GEOGCS[", 5000) + "' WHERE srs_id=4326")},
	{name: "gpkg: geometries of nonsense", file: "bad.gpkg", kind: polygons, look: 0, run: 2, says: "bad.gpkg", lookSays: "features", make: geopackage("UPDATE geology SET geom=x'47500001e6100000010300000001000000ffffffff'")},
	{name: "gpkg: geometries that are texts", file: "bad.gpkg", kind: polygons, look: 0, run: 2, says: "bad.gpkg", lookSays: "features", make: geopackage("UPDATE geology SET geom='POLYGON EMPTY'")},
	{name: "gpkg: a view without end", file: "bad.gpkg", kind: polygons, keys: "layer: geology", look: 2, run: 2, slow: true, says: "view of more than|not counted within", make: geopackage("ALTER TABLE geology RENAME TO g; CREATE VIEW geology AS WITH RECURSIVE n(x) AS (SELECT 1 UNION ALL SELECT x+1 FROM n) SELECT x AS fid, g.geom, g.rock FROM n, g")},
	{name: "gpkg: a view of no rows without end", file: "bad.gpkg", kind: polygons, keys: "layer: geology", look: 2, run: 2, says: "not counted within", slow: true, make: geopackage(endlessView)},
	{name: "gpkg: a view of itself", file: "bad.gpkg", kind: polygons, look: 2, run: 2, says: "bad.gpkg", make: geopackage("ALTER TABLE geology RENAME TO g; CREATE VIEW geology AS SELECT * FROM h; CREATE VIEW h AS SELECT * FROM geology")},
	{name: "gpkg: a view of many", file: "bad.gpkg", kind: polygons, keys: "layer: geology", look: 2, run: 2, slow: true, says: "view of more than|not counted within", make: geopackage(manyRows)},
	{name: "gpkg: a view that loads code", file: "bad.gpkg", kind: polygons, look: 2, run: 2, says: "bad.gpkg", make: geopackage("ALTER TABLE geology RENAME TO g; CREATE VIEW geology AS SELECT fid, geom, load_extension('/tmp/x') AS rock FROM g")},
	{name: "gpkg: triggers", file: "bad.gpkg", kind: polygons, look: 0, run: 0, lookSays: "features", make: geopackage("CREATE TRIGGER t AFTER INSERT ON geology BEGIN DELETE FROM geology; END")},
	{name: "gpkg: an index of nonsense", file: "bad.gpkg", kind: polygons, look: 0, run: 0, lookSays: "features", make: geopackage("UPDATE rtree_geology_geom_node SET data=x'00'")},
	{name: "gpkg: a layer with quotes and escapes", file: "bad.gpkg", kind: polygons, look: 0, run: 0, lookSays: "features", make: geopackage("PRAGMA foreign_keys=OFF; ALTER TABLE geology RENAME TO \"a\"\"b'; DROP\n\x1b[31mX\"; UPDATE gpkg_contents SET table_name=(SELECT name FROM sqlite_master WHERE name LIKE 'a\"b%'); UPDATE gpkg_geometry_columns SET table_name=(SELECT name FROM sqlite_master WHERE name LIKE 'a\"b%')")},
	{name: "gpkg: changes not merged", file: "bad.gpkg", kind: polygons, look: 2, run: 2, says: "bad.gpkg-wal", make: func(c *corner) { c.geopackage("bad.gpkg"); c.text("bad.gpkg-wal", "some") }},
	{name: "gpkg: a journal left behind", file: "bad.gpkg", kind: polygons, look: 2, run: 2, lookSays: "", says: "cut off half way", make: func(c *corner) {
		c.geopackage("bad.gpkg")
		c.write("bad.gpkg-journal", append([]byte("\xd9\xd5\x05\xf9\x20\xa1\x63\xd7"), make([]byte, 1000)...))
	}},
}

// manyTables makes room for views of a table joined with itself.
const manyTables = `ALTER TABLE geology RENAME TO g; CREATE TABLE t(x); INSERT INTO t VALUES (1),(2),(3),(4),(5),(6),(7),(8),(9),(10);`

// manyRows is a view of ten to the twelfth rows.
const manyRows = manyTables + `CREATE VIEW geology AS SELECT g.fid, g.geom, g.rock FROM g, t a, t b, t c, t d, t e, t f, t h, t i, t j, t k, t l, t m`

// odd makes names that are sound but for their letters.
func odd(title, name string) []badMap {
	return []badMap{
		{name: "there: " + title, file: name, lookSays: "raster", make: func(c *corner) { ground(c, name) }},
		{name: "not there: " + title, file: name, look: 2, run: 2, says: "no such file|too long|matches|file on this machine"},
		{name: "features: " + title, file: name + ".geojson", kind: polygons, lookSays: "features", make: func(c *corner) { c.write(name+".geojson", goodGeoJSON("sand")) }},
	}
}

// unwritable are names that a plan does not take, for want of visible
// characters, and that look must still show safely.
func unwritable(title, name string) []badMap {
	all := odd(title, name)
	for i := range all {
		all[i].run, all[i].says = 2, "blank|cannot be shown|no such file"
	}
	return all
}

// oddNames are names that a person, an archive or a bad joke may bring.
var oddNames = func() []badMap {
	var all []badMap
	all = append(all, odd("quotes", `a"b'c.tif`)...)
	all = append(all, odd("signs of a format", `%s%d%n.tif`)...)
	all = append(all, odd("signs of a pattern", `[a]*?.tif`)...)
	all = append(all, unwritable("a right-to-left mark", "a\u202efit.tif")...)
	all = append(all, unwritable("blanks", " a  b ")...)
	all = append(all, odd("240 letters", strings.Repeat("x", 240))...)
	all = append(all, odd("signs of a shell", "$(touch x);`id`&.tif")...)
	all = append(all, odd("a colon", "NETCDF:a:b.tif")...)
	all = append(all, odd("tags", "a<script>.tif")...)
	all = append(all, unwritable("a line break", "a\nb.tif")...)
	all = append(all, unwritable("escapes", "a\x1b[31m\u009b2J\x07.tif")...)
	return append(all,
		badMap{name: "a name of 300 letters", file: strings.Repeat("x", 300) + ".tif", look: 2, run: 2, says: "too long|no such file"},
		badMap{name: "a path of 6000 letters", file: strings.Repeat("x/", 3000) + "a.tif", look: 2, run: 2, says: "too long|no such file|characters"},
		badMap{name: "a map of 300 letters", run: 2, says: "name", plan: strings.ReplaceAll(twoMaps, "NAME", strings.Repeat("n", 300))},
		badMap{name: "a map with an escape", run: 2, says: "p.yaml", plan: strings.ReplaceAll(twoMaps, "NAME", `"a\e[31mb"`)},
		badMap{name: "a title with an escape", run: 2, says: "p.yaml", plan: "title: \"\\e]0;x\\a\"\n" + strings.ReplaceAll(twoMaps, "NAME", "b")},
		badMap{name: "an unknown key with an escape", run: 2, says: "p.yaml", plan: strings.ReplaceAll(twoMaps, "NAME", "b") + "\"k\\e[2J\\n\\u202e\": 1\n"},
		badMap{name: "a map with a raw escape", run: 2, says: "p.yaml", plan: strings.ReplaceAll(twoMaps, "NAME", "a\x1b[31mb\u009b2J")},
	)
}()

const twoMaps = "format: 1\ngrid: {like: ground}\nmaps:\n  ground: {file: ground.tif, unit: m}\n  NAME: {file: gone.tif}\nfactors:\n  height: {from: ground, curve: {0: 0, 300: 1}}\n  other: {from: NAME, curve: {0: 0, 300: 1}}\n"

func csv(data []byte) func(*corner) {
	return func(c *corner) {
		c.raster("codes.tif", godal.GTiff, godal.Byte, side)
		c.write("bad.csv", data)
	}
}

func wide(text string) []byte {
	out := []byte{0xff, 0xfe}
	for _, r := range text {
		out = append(out, byte(r), byte(r>>8))
	}
	return out
}

// badTables are legends.
var badTables = []badMap{
	{name: "csv: a mark of byte order", file: "bad.csv", kind: legend, run: 0, make: csv([]byte("\ufeffcode,name\n1,sand\n2,clay\n"))},
	{name: "csv: UTF-16", file: "bad.csv", kind: legend, run: 2, says: "UTF", make: csv(wide("code,name\n1,sand\n2,clay\n"))},
	{name: "csv: NUL", file: "bad.csv", kind: legend, run: 2, says: "zero bytes", make: csv([]byte("code,name\n1,sa\x00nd\n2,clay\n"))},
	{name: "csv: escapes", file: "bad.csv", kind: legend, run: 2, says: "bad.csv:2", make: csv([]byte("code,name\n1,\x1b[31msand\u202e\n2,clay\n"))},
	{name: "csv: Latin-1", file: "bad.csv", kind: legend, run: 2, says: "bad.csv:3|UTF-8", make: csv([]byte("code,name\n1,sand\n2,cl\xe9\n"))},
	{name: "csv: a million lines", file: "bad.csv", kind: legend, run: 2, slow: true, says: "more than 4 MB", make: func(c *corner) {
		var b bytes.Buffer
		b.WriteString("code,name\n1,sand\n2,clay\n")
		for i := range 1_000_000 {
			fmt.Fprintf(&b, "%d,class %d\n", i+3, i)
		}
		csv(b.Bytes())(c)
	}},
	{name: "csv: a million wrong lines", file: "bad.csv", kind: legend, run: 2, says: "bad.csv:2", make: csv([]byte("code,name\n" + strings.Repeat("x,y\n", 1_000_000)))},
	{name: "csv: a million columns", file: "bad.csv", kind: legend, run: 0, says: "", make: csv([]byte("code,name" + strings.Repeat(",", 1_000_000) + "\n1,sand\n"))},
	{name: "csv: a million blank lines", file: "bad.csv", kind: legend, run: 0, make: csv([]byte("code,name\n1,sand\n" + strings.Repeat("\n", 1_000_000) + "2,clay\n"))},
	{name: "csv: a quote that never ends", file: "bad.csv", kind: legend, run: 2, says: "bad.csv", make: csv([]byte("code,name\n1,\"sand\n2,clay\n" + strings.Repeat("3,x\n", 100_000)))},
	{name: "csv: a name of a megabyte", file: "bad.csv", kind: legend, run: 2, says: "bad.csv:2", make: csv([]byte("code,name\n1," + strings.Repeat("sand", 250_000) + "\n2,clay\n"))},
	{name: "csv: a code of a thousand digits", file: "bad.csv", kind: legend, run: 2, says: "bad.csv:2", make: csv([]byte("code,name\n" + strings.Repeat("9", 1000) + ",sand\n2,clay\n"))},
	{name: "csv: codes twice", file: "bad.csv", kind: legend, run: 2, says: "bad.csv:3", make: csv([]byte("code,name\n1,sand\n1,clay\n2,clay\n"))},
	{name: "csv: no numbers", file: "bad.csv", kind: legend, run: 2, says: "bad.csv:2", make: csv([]byte("code,name\nNaN,sand\n1e400,clay\n"))},
	{name: "csv: random bytes", file: "bad.csv", kind: legend, run: 2, says: "bad.csv", make: csv(deflated(10_000_000, 'x'))},
}

// badPlans are plans that are no maps' fault.
var badPlans = []badMap{
	{name: "plan: nothing", run: 2, says: "p.yaml", plan: " "},
	{name: "plan: NUL", run: 2, says: "p.yaml", plan: "format: 1\x00\n"},
	{name: "plan: UTF-16", run: 2, says: "p.yaml", plan: string(wide("format: 1\n"))},
	{name: "plan: no UTF-8", run: 2, says: "p.yaml", plan: "title: \xff\xfe\n"},
	{name: "plan: random bytes", run: 2, says: "p.yaml", plan: string(deflated(1_000_000, 'x'))},
	{name: "plan: aliases of aliases", run: 2, says: "p.yaml", plan: aliasBomb()},
	{name: "plan: an alias of itself", run: 2, says: "p.yaml", plan: "maps: &a\n  b: *a\n"},
	{name: "plan: a thousand merges", run: 2, says: "p.yaml", plan: "a: &a {b: 1}\nmaps:\n" + strings.Repeat("  <<: *a\n", 1000)},
	{name: "plan: lists without end", run: 2, says: "p.yaml", plan: "maps: " + strings.Repeat("[", 100_000)},
	{name: "plan: maps without end", run: 2, says: "p.yaml", plan: "maps: " + strings.Repeat("{a: ", 100_000)},
	{name: "plan: dashes without end", run: 2, says: "p.yaml", plan: "keep out: " + strings.Repeat("- ", 100_000)},
	{name: "plan: questions without end", run: 2, says: "p.yaml", plan: strings.Repeat("? ", 100_000)},
	{name: "plan: deep blocks", run: 2, says: "p.yaml", plan: deepBlocks(400)},
	{name: "plan: a hundred thousand keys", run: 2, says: "p.yaml", plan: manyKeys(60_000)},
	{name: "plan: two megabytes", run: 2, says: "1 MB", plan: "format: 1\n" + strings.Repeat("# much\n", 300_000)},
	{name: "plan: a number of a hundred thousand digits", run: 2, says: "p.yaml", plan: strings.ReplaceAll(twoMaps, "300: 1}}\n  other", strings.Repeat("9", 100_000)+": 1}}\n  other")},
	{name: "plan: a number that is none", run: 2, says: "p.yaml", plan: strings.ReplaceAll(twoMaps, "300: 1", ".nan: 1")},
	{name: "plan: a number beyond numbers", run: 2, says: "p.yaml", plan: strings.ReplaceAll(twoMaps, "300: 1", "1e400: 1")},
	{name: "plan: a tag of code", run: 2, says: "p.yaml", plan: "title: !!python/object/apply:os.system ['id']\n"},
	{name: "plan: a binary", run: 2, says: "p.yaml", plan: "title: !!binary aGVsbG8=\n"},
	{name: "plan: two documents", run: 2, says: "p.yaml", plan: "format: 1\n---\nformat: 1\n"},
	{name: "plan: tabs", run: 2, says: "p.yaml", plan: "maps:\n\tground: {file: ground.tif}\n"},
}

func aliasBomb() string {
	var b strings.Builder
	b.WriteString("a0: &a0 [x, x, x, x, x, x, x, x, x, x]\n")
	for i := 1; i < 20; i++ {
		fmt.Fprintf(&b, "a%d: &a%d [%s]\n", i, i, strings.TrimSuffix(strings.Repeat(fmt.Sprintf("*a%d, ", i-1), 10), ", "))
	}
	return b.String() + "maps: *a19\n"
}

func deepBlocks(n int) string {
	var b strings.Builder
	for i := range n {
		b.WriteString(strings.Repeat(" ", i) + "a:\n")
	}
	return b.String()
}

func manyKeys(n int) string {
	var b strings.Builder
	for i := range n {
		fmt.Fprintf(&b, "k%d: 1\n", i)
	}
	return b.String()
}
