package vector

import (
	"os"
	"sync"

	"github.com/airbusgeo/godal"
)

var once sync.Once

// Setup makes the vector drivers known, once a process. Stray messages of
// the library are silenced (what fails is returned as an error), no side file
// is written beside a map that is read, and the date that a GeoPackage
// carries is fixed, so that the same features give the same bytes. Every
// function of this package and of those below it calls Setup itself.
func Setup() {
	once.Do(func() {
		for name, value := range map[string]string{
			"CPL_LOG":                "/dev/null",
			"GDAL_PAM_ENABLED":       "NO",
			"OGR_CURRENT_DATE":       "2000-01-01T00:00:00.000Z",
			"GML_SKIP_RESOLVE_ELEMS": "ALL",
		} {
			os.Setenv(name, value)
		}
		godal.RegisterAll()
	})
}

// Quiet is the way messages are taken everywhere: a failure becomes the error
// of the call, a warning does not.
var Quiet = godal.ErrLogger(func(ec godal.ErrorCategory, code int, msg string) error {
	if ec < godal.CE_Failure {
		return nil
	}
	return ogrError(msg)
})

type ogrError string

func (e ogrError) Error() string { return string(e) }
