package vector

import (
	"errors"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
)

// Reachable refuses a path that leads round in a circle or is too long for a
// file, and a file whose reading may never end: a pipe or a device, a map with
// one beside it that bears its name, a folder with one in it. Of a file that
// is not there it says nothing. It opens no file.
func Reachable(path string) error {
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, syscall.ELOOP):
		return &Problem{File: path, What: "this is a link that leads round in a circle", Fix: "name the file itself", Err: nil}
	case errors.Is(err, syscall.ENAMETOOLONG):
		return &Problem{File: Brief(path), What: "this is too long for the name of a file", Fix: "correct the path"}
	case err != nil:
		return nil
	}
	parts := []string{path}
	if info.IsDir() {
		parts = oddEntries(path, "")
	} else {
		parts = append(parts, oddEntries(filepath.Dir(path), stem(path)+".")...)
	}
	for _, part := range parts {
		if info, err := os.Stat(part); err == nil && !info.Mode().IsRegular() && !info.IsDir() {
			return &Problem{File: part, What: "this is no file, but a pipe or a device", Fix: "name a file, and copy into one what the pipe would give"}
		}
	}
	return nil
}

func stem(path string) string {
	return strings.TrimSuffix(filepath.Base(path), filepath.Ext(path))
}

// oddEntries returns what in a folder is neither file nor folder, of the names
// that begin with the given letters.
func oddEntries(folder, begin string) []string {
	entries, err := os.ReadDir(folder)
	if err != nil {
		return nil
	}
	var out []string
	for _, e := range entries {
		if !e.IsDir() && !e.Type().IsRegular() && strings.HasPrefix(e.Name(), begin) {
			out = append(out, filepath.Join(folder, e.Name()))
		}
	}
	return out
}

// inner matches what libraries let slip of their insides: addresses of memory
// and lines of their sources.
var inner = regexp.MustCompile(`0x[0-9a-fA-F]{5,}|(\./)?[\w/.]+\.(cpp|c|h), (line )?\d+: `)

// Brief makes what a library says fit for a message: no longer than a line or
// two, and without its insides.
func Brief(text string) string {
	const most = 300
	text = inner.ReplaceAllString(text, "")
	if r := []rune(text); len(r) > most {
		return string(r[:most]) + "…"
	}
	return text
}
