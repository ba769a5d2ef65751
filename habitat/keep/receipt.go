package keep

import (
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"sort"
	"strings"

	"likelyground/raster/store"
)

// Receipt says from which files a run made which, so that the next one can
// tell whether anything is to be done.
type Receipt struct {
	Read     []File              // with all that lies beside a map and belongs to it
	Beside   map[string][]string // by each of them: the files of its folder whose names begin alike
	Patterns map[string][]string // the files that a path with signs of a pattern stands for
	Written  []File
	Result   []byte // of the run
}

// File is a file with its content.
type File struct {
	Path string // absolute
	store.Hash
}

// AddRead notes a file that was read.
func (r *Receipt) AddRead(path string, h store.Hash) {
	path, _ = filepath.Abs(path)
	r.Read = append(r.Read, File{path, h})
	if r.Beside == nil {
		r.Beside = map[string][]string{}
	}
	r.Beside[path] = beside(path)
}

// AddPattern notes what a pattern stood for.
func (r *Receipt) AddPattern(pattern string) {
	pattern, _ = filepath.Abs(pattern)
	if r.Patterns == nil {
		r.Patterns = map[string][]string{}
	}
	r.Patterns[pattern] = matches(pattern)
}

// AddWritten notes an output.
func (r *Receipt) AddWritten(path string, h store.Hash) {
	path, _ = filepath.Abs(path)
	r.Written = append(r.Written, File{path, h})
}

// beside returns the names in a file's folder that begin as its own does
// without the ending, whatever their case: what could belong to it.
func beside(path string) []string {
	name := strings.ToLower(filepath.Base(path))
	stem := strings.TrimSuffix(name, filepath.Ext(name))
	entries, _ := os.ReadDir(filepath.Dir(path))
	var out []string
	for _, e := range entries {
		if !e.IsDir() && strings.HasPrefix(strings.ToLower(e.Name()), stem) {
			out = append(out, e.Name())
		}
	}
	sort.Strings(out)
	return out
}

func matches(pattern string) []string {
	found, _ := filepath.Glob(pattern)
	sort.Strings(found)
	return found
}

// Stale says what is not as it was when the run was done; "" when nothing is
// to be done. hash returns the hash of a file.
func (r *Receipt) Stale(hash func(path string) (store.Hash, error)) string {
	for _, f := range r.Read {
		if names := beside(f.Path); !slices.Equal(names, r.Beside[f.Path]) {
			return fmt.Sprintf("what lies beside %s has changed", f.Path)
		}
		if why := f.stale(hash); why != "" {
			return why
		}
	}
	for _, pattern := range slices.Sorted(maps.Keys(r.Patterns)) {
		if !slices.Equal(matches(pattern), r.Patterns[pattern]) {
			return fmt.Sprintf("other files match %s", pattern)
		}
	}
	for _, f := range r.Written {
		if why := f.stale(hash); why != "" {
			return why
		}
	}
	return ""
}

func (f File) stale(hash func(path string) (store.Hash, error)) string {
	now, err := hash(f.Path)
	switch {
	case os.IsNotExist(err):
		return f.Path + " is gone"
	case err != nil:
		return err.Error()
	case now != f.Hash:
		return f.Path + " has changed"
	}
	return ""
}
