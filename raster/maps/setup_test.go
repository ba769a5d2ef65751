package maps

import (
	"os"
	"testing"

	"github.com/airbusgeo/godal"
)

// Drivers that would contact addresses written in a local file are gone, the
// ordinary ones are there.
func TestSetupLeavesNetworkDriversOut(t *testing.T) {
	for _, name := range []godal.DriverName{"WMS", "WMTS", "WCS", "HTTP", "WFS", "STACTA"} {
		if _, ok := godal.RasterDriver(name); ok {
			t.Errorf("driver %s is loaded", name)
		}
	}
	for _, name := range []godal.DriverName{"GTiff", "VRT", "AAIGrid", "GPKG"} {
		if _, ok := godal.RasterDriver(name); !ok {
			t.Errorf("driver %s is missing", name)
		}
	}
	for _, name := range []godal.DriverName{"GPKG", "ESRI Shapefile", "GeoJSON"} {
		if _, ok := godal.VectorDriver(name); !ok {
			t.Errorf("driver %s is missing", name)
		}
	}
}

func TestForeignSettingsAreRemoved(t *testing.T) {
	for _, name := range []string{"GTIFF_POINT_GEO_IGNORE", "GDAL_GEOREF_SOURCES", "OSR_WKT_FORMAT", "OGR_CT_FORCE_TRADITIONAL_GIS_ORDER",
		"CPL_DEBUG", "GTIFF_IGNORE_READ_ERRORS", "GDAL_CONFIG_FILE", "VRT_SHARED_SOURCE", "CENTER_LONG"} {
		if !foreign(name) {
			t.Errorf("%s changes results and is left alone", name)
		}
	}
	for _, name := range []string{"HOME", "GDAL_DATA", "PROJ_DATA", "PATH", "TMPDIR"} {
		if foreign(name) {
			t.Errorf("%s is removed", name)
		}
	}
	if got := os.Getenv("GDAL_NUM_THREADS"); got != "1" {
		t.Errorf("GDAL_NUM_THREADS is %q", got)
	}
}
