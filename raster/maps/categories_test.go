package maps

import (
	"maps"
	"os"
	"path/filepath"
	"testing"

	"github.com/airbusgeo/godal"
)

// namedRaster writes a raster of classes whose side file holds more about it.
func namedRaster(t *testing.T, side string) string {
	t.Helper()
	if err := Setup(0); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "cover.tif")
	ds, err := godal.Create(godal.GTiff, file, 1, godal.Byte, 2, 2)
	if err != nil {
		t.Fatal(err)
	}
	sr, err := godal.NewSpatialRefFromEPSG(25831)
	if err != nil {
		t.Fatal(err)
	}
	defer sr.Close()
	if err := ds.SetSpatialRef(sr); err != nil {
		t.Fatal(err)
	}
	if err := ds.SetGeoTransform([6]float64{500000, 10, 0, 6000000, 0, -10}); err != nil {
		t.Fatal(err)
	}
	if err := ds.Close(); err != nil {
		t.Fatal(err)
	}
	if side != "" {
		if err := os.WriteFile(file+".aux.xml", []byte("<PAMDataset><PAMRasterBand band=\"1\">"+side+"</PAMRasterBand></PAMDataset>"), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	return file
}

// TestCategoryNames reads class names as GDAL keeps them: category names by
// their place, or an attribute table with a value and a name.
func TestCategoryNames(t *testing.T) {
	table := `<GDALRasterAttributeTable tableType="thematic">
<FieldDefn index="0"><Name>Value</Name><Type>0</Type><Usage>5</Usage></FieldDefn>
<FieldDefn index="1"><Name>Label</Name><Type>2</Type><Usage>2</Usage></FieldDefn>
<Row index="0"><F>40</F><F>heath &amp; moor</F></Row><Row index="1"><F>7</F><F>oak</F></Row></GDALRasterAttributeTable>`
	for _, c := range []struct {
		side string
		want map[int32]string
	}{
		{"", map[int32]string{}},
		{"<CategoryNames><Category>nothing</Category><Category></Category><Category>oak &amp; ash</Category></CategoryNames>", map[int32]string{0: "nothing", 2: "oak & ash"}},
		{table, map[int32]string{40: "heath & moor", 7: "oak"}},
	} {
		file := namedRaster(t, c.side)
		before, _ := os.ReadDir(filepath.Dir(file))
		got, err := CategoryNames(RasterSpec{Name: "cover", Files: []string{file}, Classes: true})
		if err != nil || !maps.Equal(got, c.want) {
			t.Errorf("%q: %v, %v", c.side, got, err)
		}
		if after, _ := os.ReadDir(filepath.Dir(file)); len(after) != len(before) {
			t.Errorf("a side file was written: %v", after)
		}
	}
}
