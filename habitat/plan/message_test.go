package plan

import (
	"errors"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write the golden files anew")

// planFiles returns the plans of a folder of testdata by their paths.
func planFiles(t *testing.T, pattern string) map[string][]byte {
	t.Helper()
	out, err := globbed(pattern)
	if err != nil || len(out) == 0 {
		t.Fatalf("no plans in testdata/%s: %v", pattern, err)
	}
	return out
}

func globbed(pattern string) (map[string][]byte, error) {
	paths, err := filepath.Glob(filepath.Join("testdata", pattern))
	out := map[string][]byte{}
	for _, p := range paths {
		data, err := os.ReadFile(p)
		if err != nil {
			return nil, err
		}
		out[p] = data
	}
	return out, err
}

// golden holds text against a golden file.
func golden(t *testing.T, path, got string) {
	t.Helper()
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s: messages differ; with -update they are written anew\ngot:\n%s\nwant:\n%s", path, got, want)
	}
}

// TestMessages holds what each wrong plan is answered against its golden
// file, word by word.
func TestMessages(t *testing.T) {
	for path, data := range planFiles(t, "bad/*.yaml") {
		name := filepath.Base(path)
		t.Run(name, func(t *testing.T) {
			p, err := Read(name, data)
			var problems Problems
			if p != nil || !errors.As(err, &problems) {
				t.Fatalf("got plan %v and error %v", p, err)
			}
			golden(t, strings.TrimSuffix(path, "yaml")+"txt", err.Error()+"\n")
		})
	}
}
