package maps

import (
	"fmt"
	"os"
	"strconv"
	"strings"
	"sync"

	"github.com/airbusgeo/godal"
)

// foreignPrefixes begin the names of environment settings that change what
// GDAL reads or computes. They are removed, so that a map means the same on
// every machine.
var foreignPrefixes = []string{
	"GDAL_", "OGR_", "OSR_", "CPL_", "VSI_", "VRT_", "GTIFF_", "TIFF_", "GEOTIFF_",
	"COG_", "HFA_", "NITF_", "JP2", "GMLJP2", "OPENJPEG_", "JPEG", "PNG_", "PDF_",
	"GRIB_", "HDF4_", "HDF5_", "NETCDF_", "AAIGRID_", "DTED_", "SRTMHGT_", "ENVI_",
	"USGSDEM_", "ZMAP_", "XYZ_", "BAG_", "MBTILES_", "GPKG_", "SQLITE_", "SHAPE_",
	"DXF_", "KML_", "LIBKML_", "GML_", "GPX_", "CSV_", "FGDB_", "OPENFILEGDB_", "MVT_",
	"WMS_", "WMTS_", "WCS_", "RPC_", "LERC_", "MRF_", "PCIDSK_", "SENTINEL2_", "BSB_",
}

// foreignNames are settings of the same kind without such a prefix.
var foreignNames = []string{
	"ADD_FEATURE_COUNT", "BIGTIFF", "CENTER_LONG", "CHECK_WITH_INVERT_PROJ", "CLOCKWISE_RING",
	"CONVERT_YCBCR_TO_RGB", "DUMP_GDAL", "ESRI_XML_PAM", "GEO_NORMALIZE_DISABLE", "IDRISIDIR",
	"INIT_DEST", "INTERLEAVE", "JPEGMEM", "MITAB_BOUNDS_FILE", "NUM_THREADS", "ONE_BIG_READ",
	"OVERRIDE_PROJ_DATUM_WITH_TOWGS84", "REPORT_DATUM_CONFLICT", "SAR_CEOS_UTM", "SKIP_SOURCE",
	"THRESHOLD", "USE_DIR", "USE_RRD", "USE_TILE_AS_BLOCK", "WARP_EXTRAS", "S57_PROFILE",
}

// kept are settings that only tell where GDAL's own tables lie.
var kept = map[string]bool{"GDAL_DATA": true}

// ours are the settings every run has.
var ours = map[string]string{
	"GDAL_CONFIG_FILE":               "/dev/null", // instead of gdalrc files
	"GDAL_NUM_THREADS":               "1",
	"GDAL_VRT_ENABLE_PYTHON":         "NO",
	"GDAL_DISABLE_READDIR_ON_OPEN":   "FALSE", // side files are seen
	"GDAL_PAM_ENABLED":               "YES",   // CRS and nodata kept in side files count
	"CPL_VSIL_GZIP_WRITE_PROPERTIES": "NO",    // nothing is written beside a map
	"CPL_VSIL_CURL_ALLOWED_FILENAME": "none",  // no address is contacted
	"GDAL_HTTP_PROXY":                "127.0.0.1:9",
	"GDAL_HTTP_TIMEOUT":              "1",
	"GDAL_HTTP_CONNECTTIMEOUT":       "1",
	"CPL_LOG":                        "/dev/null",                // what GDAL says outside a call's own messages
	"OGR_CURRENT_DATE":               "1970-01-01T00:00:00.000Z", // files written twice are the same bytes
}

// skippedDrivers read from the network because of what stands in a local
// file, or open other files wherever a label points to.
var skippedDrivers = []string{
	"WMS", "WMTS", "WCS", "WFS", "OAPIF", "OGCAPI", "CSW", "HTTP", "NGW", "DAAS", "EEDA", "EEDAI",
	"PLMOSAIC", "PLSCENES", "STACTA", "STACIT", "ESRIC", "Carto", "AmigoCloud", "Elastic", "GMLAS",
	"PostgreSQL", "PGeo", "MySQL", "MSSQLSpatial", "ODBC", "OCI", "CouchDB", "Cloudant", "PostGISRaster",
	"MRF", "PCIDSK", "DIMAP", "TIL", "FAST", "NDF", "KMLSUPEROVERLAY", "ILWIS", "RPFTOC", "ECRGTOC", "TSX", "RS2", "SAFE",
	"COSAR", "COASP", "SENTINEL2", "GenBin", "ADRG", "SRP", "SDTS", "MFF", "MFF2", "CEOS", "SAR_CEOS", "ESAT", "Rasterlite", "CAD", "PDF",
	"ISIS2", "ISIS3", "PDS", "PDS4", "VICAR", "MAP", "ERS", "DERIVED",
}

var setup struct {
	once sync.Once
	err  error
}

// Setup makes GDAL ready, once for the process; later calls return the first
// result. cacheMB bounds GDAL's block cache, one for all workers; 0 means 64.
//
// The process environment is changed: settings that would alter what GDAL
// reads, computes or contacts are removed or overridden, files that would set
// them are not read, and drivers that use the network are left out. Side
// files of maps are read and never written, as long as nobody asks GDAL for
// statistics.
func Setup(cacheMB int) error {
	setup.once.Do(func() { setup.err = prepare(cacheMB) })
	return setup.err
}

func prepare(cacheMB int) error {
	if cacheMB <= 0 {
		cacheMB = 64
	}
	for _, entry := range os.Environ() {
		name, _, _ := strings.Cut(entry, "=")
		if !foreign(name) {
			continue
		}
		if err := os.Unsetenv(name); err != nil {
			return fmt.Errorf("remove the environment setting %s: %w", name, err)
		}
	}
	for name, value := range ours {
		if err := os.Setenv(name, value); err != nil {
			return fmt.Errorf("set %s for GDAL: %w", name, err)
		}
	}
	if err := os.Setenv("GDAL_CACHEMAX", strconv.Itoa(cacheMB)); err != nil {
		return fmt.Errorf("bound GDAL's cache: %w", err)
	}
	if err := registerDrivers(); err != nil {
		return err
	}
	if v := godal.Version(); v.Major() != 3 || v.Minor() < 4 {
		return fmt.Errorf("GDAL %d.%d is installed; likelyground needs 3.4 or a later 3.x", v.Major(), v.Minor())
	}
	return nil
}

// registerDrivers loads GDAL's drivers and then, in a second round, drops those
// of skippedDrivers that this GDAL has: it complains about unknown ones.
func registerDrivers() error {
	godal.RegisterAll()
	var skip []string
	for _, name := range skippedDrivers {
		_, rasters := godal.RasterDriver(godal.DriverName(name))
		_, vectors := godal.VectorDriver(godal.DriverName(name))
		if rasters || vectors {
			skip = append(skip, name)
		}
	}
	if err := os.Setenv("GDAL_SKIP", strings.Join(skip, ",")); err != nil {
		return fmt.Errorf("leave out drivers that use the network: %w", err)
	}
	godal.RegisterAll()
	return nil
}

// foreign tells whether an environment setting may change what a map says.
func foreign(name string) bool {
	if kept[name] {
		return false
	}
	for _, prefix := range foreignPrefixes {
		if strings.HasPrefix(name, prefix) {
			return true
		}
	}
	for _, known := range foreignNames {
		if name == known {
			return true
		}
	}
	return false
}
