package crs

import (
	"os"
	"path/filepath"
	"testing"
)

// A search path without PROJ's database would leave PROJ without any CRS; one
// that has it is how an unusual installation is found, and stays.
func TestOverrideSearchPath(t *testing.T) {
	with := t.TempDir()
	if err := os.WriteFile(filepath.Join(with, "proj.db"), nil, 0o666); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"PROJ_DATA", "PROJ_LIB"} {
		t.Setenv(name, "/nowhere")
		overrideEnvironment()
		if got, set := os.LookupEnv(name); set {
			t.Errorf("%s is still %q", name, got)
		}
		path := "/nowhere" + string(filepath.ListSeparator) + with
		t.Setenv(name, path)
		overrideEnvironment()
		if got := os.Getenv(name); got != path {
			t.Errorf("%s is %q, want %q", name, got, path)
		}
	}
}
