package maps

import (
	"fmt"
	"testing"

	"likelyground/raster/crs"
)

// The projected CRS key 3072 or the geographic one 2048 holds the EPSG code
// (GeoTIFF 1.1, OGC 19-008r4, sections 7.4.1 and 7.4.2).
func TestGeoTagsNameCodes(t *testing.T) {
	for code, key := range map[uint16]uint16{25831: 3072, 27700: 3072, 3035: 3072, 4326: 2048} {
		tags, err := GeoTags(fmt.Sprintf("EPSG:%d", code))
		must(t, err)
		if len(tags.Directory)%4 != 0 || int(tags.Directory[3])*4+4 != len(tags.Directory) {
			t.Fatalf("EPSG:%d: directory %v", code, tags.Directory)
		}
		found := false
		for i := 4; i < len(tags.Directory); i += 4 {
			found = found || tags.Directory[i] == key && tags.Directory[i+3] == code
		}
		if !found {
			t.Errorf("EPSG:%d: key %d is not in %v", code, key, tags.Directory)
		}
	}
}

// A system without a code is written with its parameters, a nonsense one is
// refused, one that GeoTIFF has no words for as well.
func TestGeoTagsWithoutCode(t *testing.T) {
	info, err := crs.Describe("+proj=laea +lat_0=52 +lon_0=3 +ellps=GRS80 +units=m")
	must(t, err)
	tags, err := GeoTags(info.WKT)
	must(t, err)
	if len(tags.Doubles) == 0 {
		t.Errorf("no parameters were written: %+v", tags)
	}
	if _, err := GeoTags("EPSG:9876543"); err == nil {
		t.Error("a nonsense system was written")
	}
	again, err := GeoTags(info.WKT)
	must(t, err)
	if fmt.Sprint(again) != fmt.Sprint(tags) {
		t.Errorf("%v, then %v", tags, again)
	}
}

func TestParseGeoTagsRefusesOtherBytes(t *testing.T) {
	for _, b := range []string{"", "II*\x00", "MM\x00*\x00\x00\x00\x08", "II*\x00\xff\xff\xff\xff", "II*\x00\x08\x00\x00\x00\xff\xff"} {
		if _, err := parseGeoTags([]byte(b)); err == nil {
			t.Errorf("%q was taken for a TIFF", b)
		}
	}
}
