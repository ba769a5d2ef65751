package vector

import (
	"errors"
	"os"
	"strings"
	"sync"

	"github.com/airbusgeo/godal"
)

// settings are the process settings that reading and writing features needs.
// Package maps sets more, and the same values where both name one.
var settings = [][2]string{
	{"CPL_LOG", "/dev/null"},                         // stray messages: what fails is an error, not a line on the terminal
	{"OGR_CURRENT_DATE", "1970-01-01T00:00:00.000Z"}, // the date a GeoPackage bears: files written twice are the same bytes
	{"GML_SKIP_RESOLVE_ELEMS", "ALL"},                // links inside a map are not followed
	{"GDAL_HTTP_PROXY", "127.0.0.1:9"},               // no address is contacted
	{"OGR_SQLITE_ALLOW_EXTERNAL_ACCESS", "NO"},       // nor another file opened from SQL
	{"OGR_GEOMETRY_ACCEPT_UNCLOSED_RING", "YES"},     // rings are closed here
	{"OGR_ARC_STEPSIZE", "0.5"},                      // degrees of a curve that the library itself breaks into lines
	{"OGR_GEOJSON_MAX_OBJ_SIZE", "0"},                // a feature may be of any size
}

var setup struct {
	sync.Mutex
	registered bool
}

// Setup makes the vector drivers known and sees that the settings of this
// package are in force; it may be called any number of times. Every function
// of this package and of those below it calls Setup itself.
func Setup() {
	setup.Lock()
	defer setup.Unlock()
	for _, s := range settings {
		if os.Getenv(s[0]) != s[1] {
			os.Setenv(s[0], s[1])
		}
	}
	if !setup.registered {
		godal.RegisterAll()
		setup.registered = true
	}
}

// Quiet is the way messages are taken everywhere: a failure becomes the error
// of the call, a warning does not.
var Quiet = godal.ErrLogger(func(ec godal.ErrorCategory, _ int, msg string) error {
	if ec < godal.CE_Failure {
		return nil
	}
	return errors.New(strings.TrimSpace(msg))
})
