package crs

import (
	"errors"
	"math"
	"strings"
	"testing"
)

// mustRefuse checks the way other rooms recognise a refusal.
func mustRefuse(t *testing.T, err error, remedy string) {
	t.Helper()
	var r interface {
		Remedy() string
		MustChange() bool
	}
	if !errors.As(err, &r) || !r.MustChange() {
		t.Errorf("want a refusal, got %v", err)
		return
	}
	if !strings.Contains(r.Remedy(), remedy) {
		t.Errorf("%v: the remedy %q lacks %q", err, r.Remedy(), remedy)
	}
}

const (
	// British National Grid as ESRI writes it beside shapefiles, and as GDAL
	// writes it in WKT 1 with a tied shift to WGS 84.
	wktESRI = `PROJCS["British_National_Grid",GEOGCS["GCS_OSGB_1936",DATUM["D_OSGB_1936",SPHEROID["Airy_1830",6377563.396,299.3249646]],PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]],PROJECTION["Transverse_Mercator"],PARAMETER["False_Easting",400000.0],PARAMETER["False_Northing",-100000.0],PARAMETER["Central_Meridian",-2.0],PARAMETER["Scale_Factor",0.9996012717],PARAMETER["Latitude_Of_Origin",49.0],UNIT["Meter",1.0]]`
	wktTied = `PROJCS["OSGB 1936 / British National Grid",GEOGCS["OSGB 1936",DATUM["OSGB_1936",SPHEROID["Airy 1830",6377563.396,299.3249646,AUTHORITY["EPSG","7001"]],TOWGS84[446.448,-125.157,542.06,0.15,0.247,0.842,-20.489],AUTHORITY["EPSG","6277"]],PRIMEM["Greenwich",0,AUTHORITY["EPSG","8901"]],UNIT["degree",0.0174532925199433,AUTHORITY["EPSG","9122"]],AUTHORITY["EPSG","4277"]],PROJECTION["Transverse_Mercator"],PARAMETER["latitude_of_origin",49],PARAMETER["central_meridian",-2],PARAMETER["scale_factor",0.9996012717],PARAMETER["false_easting",400000],PARAMETER["false_northing",-100000],UNIT["metre",1,AUTHORITY["EPSG","9001"]],AXIS["Easting",EAST],AXIS["Northing",NORTH],AUTHORITY["EPSG","27700"]]`
	// Zone 32 under the code of zone 31.
	wktLie = `PROJCS["ETRS89 / UTM zone 32N",GEOGCS["ETRS89",DATUM["European_Terrestrial_Reference_System_1989",SPHEROID["GRS 1980",6378137,298.257222101]],PRIMEM["Greenwich",0],UNIT["degree",0.0174532925199433]],PROJECTION["Transverse_Mercator"],PARAMETER["latitude_of_origin",0],PARAMETER["central_meridian",9],PARAMETER["scale_factor",0.9996],PARAMETER["false_easting",500000],PARAMETER["false_northing",0],UNIT["metre",1],AUTHORITY["EPSG","25831"]]`
	// Interrupted Homolosine as GDAL writes it in WKT 1.
	wktHomolosine = `PROJCS["Interrupted_Goode_Homolosine",GEOGCS["GCS_unnamed ellipse",DATUM["D_unknown",SPHEROID["Unknown",6378137,298.257223563]],PRIMEM["Greenwich",0],UNIT["Degree",0.0174532925199433]],PROJECTION["Interrupted_Goode_Homolosine"],UNIT["metre",1],EXTENSION["PROJ4","+proj=igh +lat_0=0 +lon_0=0 +datum=WGS84 +units=m +no_defs"]]`
)

func TestDescribe(t *testing.T) {
	for _, c := range []struct {
		text, id   string
		geographic bool
		unit       float64
	}{
		{"EPSG:25831", "EPSG:25831", false, 1},
		{" epsg:4326\n", "EPSG:4326", true, 0},
		{"OGC:CRS84", "OGC:CRS84", true, 0},
		{"ESRI:54052", "ESRI:54052", false, 1},
		{"IGNF:LAMB93", "IGNF:LAMB93", false, 1},
		{"urn:ogc:def:crs:OGC:1.3:CRS84", "OGC:CRS84", true, 0},
		{"urn:ogc:def:crs:EPSG::3035", "EPSG:3035", false, 1},
		{"http://www.opengis.net/def/crs/EPSG/0/4326", "EPSG:4326", true, 0},
		{"WGS84", "EPSG:4326", true, 0},
		{"+init=epsg:27700", "EPSG:27700", false, 1},
		{"+proj=utm +zone=31 +datum=WGS84", "EPSG:32631", false, 1},
		{"+proj=longlat +datum=WGS84", "EPSG:4326", true, 0},
		{"+proj=merc +a=6378137 +b=6378137 +lat_ts=0 +lon_0=0 +x_0=0 +y_0=0 +k=1 +units=m +nadgrids=@null +wktext", "EPSG:3857", false, 1},
		{"+proj=utm +zone=31 +ellps=GRS80", "", false, 1}, // of no datum
		{"EPSG:2263", "EPSG:2263", false, 1200. / 3937},   // US survey feet
		{"EPSG:4807", "EPSG:4807", true, 0},               // grads from Paris
		{"EPSG:7405", "EPSG:27700", false, 1},             // with heights
		{"EPSG:25831+5705", "EPSG:25831", false, 1},
		{"EPSG:4979", "EPSG:4326", true, 0}, // three axes
		{wktESRI, "EPSG:27700", false, 1},
		{wktTied, "EPSG:27700", false, 1},
		{wktHomolosine, "", false, 1},
	} {
		got, err := Describe(c.text)
		if err != nil {
			t.Errorf("%s: %v", c.text, err)
			continue
		}
		if got.ID != c.id || got.Geographic != c.geographic || math.Abs(got.MetresPerUnit-c.unit) > 1e-12 || got.Name == "" || got.Name == "unknown" {
			t.Errorf("%s: %+v", c.text, got)
		}
		if same, err := Same(c.text, got.WKT); !same || err != nil {
			t.Errorf("%s is not the same as its own WKT %s (%v)", c.text, got.WKT, err)
		}
		if strings.Contains(got.WKT, "\n") || strings.HasPrefix(got.WKT, "BOUNDCRS") {
			t.Errorf("%s: WKT %s", c.text, got.WKT)
		}
	}
}

// A shift that is tied to a CRS the registry does not know must not get lost.
func TestDescribeKeepsTheOnlyShift(t *testing.T) {
	const text = "+proj=tmerc +lat_0=40 +lon_0=7 +k=1 +x_0=0 +y_0=0 +ellps=intl +towgs84=100,200,300 +units=m"
	got, err := Describe(text)
	if err != nil || got.MetresPerUnit != 1 || got.Geographic || !strings.HasPrefix(got.WKT, "BOUNDCRS") {
		t.Errorf("%+v, %v", got, err)
	}
	op, err := Choose(text, "EPSG:4326", Box{}, Options{})
	if err != nil || op.Ballpark || op.Accuracy != -1 || !strings.Contains(op.Definition, "+x=100") {
		t.Errorf("%+v, %v", op, err)
	}
}

func TestDescribeDoesNotTrustFalseCodes(t *testing.T) {
	got, err := Describe(wktLie)
	if err != nil || got.ID == "EPSG:25831" {
		t.Errorf("%+v, %v", got, err)
	}
	if same, err := Same(wktLie, "EPSG:25832"); !same || err != nil {
		t.Errorf("not the zone its numbers say: %v", err)
	}
}

func TestDescribeRefuses(t *testing.T) {
	for _, c := range []struct{ text, remedy string }{
		{"", "EPSG:25831"},
		{"   ", "EPSG:25831"},
		{"foo", "by code"},
		{"27700", "EPSG:27700"},
		{"EPSG:99999", "by code"},
		{"EPSG:152160", "by code"}, // some files name Homolosine so
		{"British", "by code"},
		{"OSGB 1936 / British National Grid", "EPSG:27700"}, // an old name
		{"EPSG:5705", "by code"},                            // heights only
		{"EPSG:4978", "by code"},                            // from the earth's centre
		{`LOCAL_CS["site",UNIT["m",1]]`, "by code"},
		{"+proj=nonsense", "by code"},
		{"+proj=pipeline +step +proj=noop", "by code"},
		{"+init=/tmp/mine:1", "by code"},
		{"type=crs init=/tmp/mine:1", "by code"},
		{"+proj=longlat +ellps=airy +nadgrids=/tmp/shift.gsb", "without its folder"},
		{`BOUNDCRS[SOURCECRS[x],ABRIDGEDTRANSFORMATION["s",METHOD["NTv2"],PARAMETERFILE["f","../shift.gsb"]]]`, "without its folder"},
		{strings.Repeat("PROJCS[", 4000), "by code"},
	} {
		_, err := Describe(c.text)
		mustRefuse(t, err, c.remedy)
		if err != nil && len(err.Error()) > 600 {
			t.Errorf("a message of %d bytes", len(err.Error()))
		}
	}
}

func TestSame(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want bool
	}{
		{"EPSG:4326", "OGC:CRS84", true},
		{"EPSG:4326", "EPSG:4979", true},
		{"EPSG:32631", "+proj=utm +zone=31 +datum=WGS84", true},
		{"EPSG:27700", wktESRI, true},
		{"EPSG:27700", wktTied, true},
		{"EPSG:31467", "+proj=tmerc +lat_0=0 +lon_0=9 +k=1 +x_0=3500000 +y_0=0 +ellps=bessel +units=m +datum=potsdam", true}, // north first
		{"EPSG:3857", "EPSG:900913", true},
		{"EPSG:25831", "EPSG:32631", false},
		{"EPSG:25831", "EPSG:25832", false},
		{"EPSG:4326", "EPSG:4258", false},
		{"EPSG:2263", "EPSG:32118", false}, // feet and metres
		{"EPSG:25831", "+proj=utm +zone=31 +ellps=GRS80", false},
	} {
		for _, p := range [][2]string{{c.a, c.b}, {c.b, c.a}} {
			if got, err := Same(p[0], p[1]); got != c.want || err != nil {
				t.Errorf("%s and %s: %v, %v", p[0], p[1], got, err)
			}
		}
	}
	_, err := Same("EPSG:4326", "nonsense")
	mustRefuse(t, err, "by code")
	_, err = Same("nonsense", "EPSG:4326")
	mustRefuse(t, err, "by code")
}
