package maps

import (
	"testing"
)

// FuzzGeoTags: the tags of any bytes are read without a panic, and none lies
// beyond them.
func FuzzGeoTags(f *testing.F) {
	tags, err := GeoTags("EPSG:25831")
	if err != nil || len(tags.Directory) == 0 {
		f.Fatal(err)
	}
	f.Add([]byte("II*\x00\x08\x00\x00\x00\x01\x00\xaf\x87\x03\x00\x04\x00\x00\x00\x1a\x00\x00\x00\x00\x00\x00\x00\x01\x00\x01\x00\x00\x00\x00\x00"))
	f.Add([]byte("II*\x00\x08\x00\x00\x00\xff\xff\xb0\x87\x0c\x00\xff\xff\xff\xff\xff\xff\xff\xff"))
	f.Add([]byte("II*\x00\xff\xff\xff\xff"))
	f.Fuzz(func(t *testing.T, data []byte) {
		tags, err := parseGeoTags(data)
		if err == nil && 2*len(tags.Directory)+8*len(tags.Doubles)+len(tags.ASCII) > 70_000*len(data) {
			t.Errorf("%d bytes hold %d keys", len(data), len(tags.Directory))
		}
	})
}

// FuzzCategories: class names come out of any description of a band.
func FuzzCategories(f *testing.F) {
	f.Add([]byte(`<VRTDataset><VRTRasterBand><CategoryNames><Category>a</Category></CategoryNames></VRTRasterBand></VRTDataset>`))
	f.Add([]byte(`<VRTDataset><VRTRasterBand><GDALRasterAttributeTable><FieldDefn><Usage>5</Usage></FieldDefn><FieldDefn><Usage>2</Usage></FieldDefn><Row><F>1</F><F>a</F></Row></GDALRasterAttributeTable></VRTRasterBand></VRTDataset>`))
	f.Fuzz(func(t *testing.T, text []byte) {
		names, err := parseCategories(text)
		for code, name := range names {
			if err != nil || name == "" {
				t.Errorf("%d: %q, %v", code, name, err)
			}
		}
	})
}

// FuzzFlags: any number of a file is judged as one kind, and what is a class
// code is whole.
func FuzzFlags(f *testing.F) {
	f.Add(-9999.0, 1.0, 0.0)
	f.Add(1e308, 1e308, 1e308)
	f.Fuzz(func(t *testing.T, x, scale, offset float64) {
		file := &rasterFile{scale: scale, offset: offset}
		j := newRules(&RasterSpec{Unit: "pH"})
		if kind := j.judge(file, x); int(kind) >= flagKinds {
			t.Errorf("%v is of kind %d", x, kind)
		}
		if isCode(x) && float64(int32(x)) != x {
			t.Errorf("%v is a class code", x)
		}
	})
}
