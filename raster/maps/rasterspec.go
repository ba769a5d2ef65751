package maps

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
)

// Range is a closed range of numbers; a single number has From equal to To.
type Range struct{ From, To float64 }

// RasterSpec says which raster files make up a map and how their numbers are
// to be read. The zero value of every field but Files is a sensible default.
type RasterSpec struct {
	Name  string   // the plan's name of the map, for messages
	Files []string // in the order in which they win where they overlap
	Band  int      // from 1; 0 takes the only one

	Classes     bool    // whole-numbered class codes, never averaged
	Missing     []Range // in the file's own numbers, added to its nodata
	MissingNone bool    // odd-looking values are real: judge none of them

	Scale, Offset *float64    // replace the file's: value = number × Scale + Offset
	Between       *[2]float64 // physical values outside are missing, and counted
	Unit          string      // of the physical values; "pH" is judged as such
	Elevation     bool        // judged as heights, in feet where Unit is "ft"
	WhereAbsent   *float64    // value (or class code) of ground that no file covers

	CRS           string // replaces what the files say
	AllowBallpark bool   // accept a transformation without datum shift
}

// problem starts an error about the map.
func (s *RasterSpec) problem(file, what, fix string) *Problem {
	return &Problem{Map: s.Name, File: file, What: what, Fix: fix}
}

// validate checks what can be checked before a file is opened.
func (s *RasterSpec) validate() error {
	if len(s.Files) == 0 {
		return s.problem("", "no file is named", "say file: with a path or a pattern that matches at least one file")
	}
	for _, f := range s.Files {
		if err := s.localFile(f); err != nil {
			return err
		}
	}
	for _, r := range s.Missing {
		if !(r.From <= r.To) {
			return s.problem("", fmt.Sprintf("the missing range %g to %g is empty", r.From, r.To), "write the smaller number first")
		}
	}
	if b := s.Between; b != nil && !(b[0] <= b[1]) {
		return s.problem("", fmt.Sprintf("between: [%g, %g] is empty", b[0], b[1]), "write the smaller number first")
	}
	if s.Scale != nil && (*s.Scale == 0 || math.IsNaN(*s.Scale) || math.IsInf(*s.Scale, 0)) {
		return s.problem("", fmt.Sprintf("scale %g would make all values alike", *s.Scale), "give the factor that turns the file's numbers into the unit")
	}
	return s.validateAbsent()
}

func (s *RasterSpec) validateAbsent() error {
	a := s.WhereAbsent
	if a == nil {
		return nil
	}
	if math.IsNaN(*a) || math.IsInf(*a, 0) {
		return s.problem("", fmt.Sprintf("where absent: %g is no value", *a), "give a number, or leave the line out")
	}
	if s.Classes && (*a != math.Trunc(*a) || math.Abs(*a) > math.MaxInt32) {
		return s.problem("", fmt.Sprintf("where absent: %g is no class code", *a), "give a whole number")
	}
	return nil
}

// localFile refuses names that are not of a file on this machine.
func (s *RasterSpec) localFile(name string) error { return localFile(s.Name, name) }

// localFile refuses names that lead off this machine or are no file at all:
// a map is a file, or a folder that GDAL reads as one map.
func localFile(mapName, name string) error {
	if lender(name) != nil {
		return nil
	}
	lower := strings.ToLower(name)
	if strings.Contains(lower, "/vsi") || strings.Contains(lower, "://") || strings.HasPrefix(strings.TrimSpace(name), "<") {
		return &Problem{Map: mapName, File: name, What: "this is not the name of a file on this machine",
			Fix: "name the file, or the way into an archive, such as maps.zip/soil.tif"}
	}
	if _, err := os.Stat(name); err != nil {
		if os.IsNotExist(err) || notFolder(name) {
			return missingFile(mapName, name)
		}
		return fmt.Errorf("map %q: %w", mapName, err)
	}
	return nil
}

// notFolder tells whether a part of the path that should be a folder is not.
func notFolder(path string) bool {
	info, err := os.Stat(filepath.Dir(path))
	return err == nil && !info.IsDir()
}
