package habitat

import (
	"fmt"
	"os"
	"testing"
)

// TestMain lets what runs keep lie in a folder of the tests' own.
func TestMain(m *testing.M) {
	cache, err := os.MkdirTemp("", "likelyground-habitat-")
	if err == nil {
		err = os.Setenv("XDG_CACHE_HOME", cache)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	code := m.Run()
	os.RemoveAll(cache)
	os.Exit(code)
}
