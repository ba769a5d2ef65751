package crs

/*
#include <malloc.h>

static void crs_one_arena(void) {
#ifdef M_ARENA_MAX
	mallopt(M_ARENA_MAX, 1);
#endif
}
*/
import "C"

import (
	"os"
	"path/filepath"
)

// overridden are the environment variables of PROJ that change what a
// transformation gives. The empty value removes the variable.
var overridden = map[string]string{
	"PROJ_NETWORK":               "OFF",
	"PROJ_ONLY_BEST_DEFAULT":     "",
	"PROJ_AUX_DB":                "",
	"PROJ_FORCE_SEARCH_PIVOT":    "",
	"PROJ_IGNORE_CELESTIAL_BODY": "",
}

// The override stands in init because changing the C environment is safe only
// while no other thread reads it.
func init() {
	// With an arena a thread, C libraries take up to twice the memory, by chance.
	C.crs_one_arena()
	overrideEnvironment()
}

func overrideEnvironment() {
	for name, value := range overridden {
		if value == "" {
			os.Unsetenv(name)
		} else {
			os.Setenv(name, value)
		}
	}
	for _, name := range []string{"PROJ_DATA", "PROJ_LIB"} {
		if !holdsDatabase(os.Getenv(name)) {
			os.Unsetenv(name)
		}
	}
}

// holdsDatabase reports whether some folder of a search path has PROJ's
// database; without it PROJ knows no coordinate reference system.
func holdsDatabase(path string) bool {
	for _, dir := range filepath.SplitList(path) {
		if _, err := os.Stat(filepath.Join(dir, "proj.db")); err == nil {
			return true
		}
	}
	return false
}
