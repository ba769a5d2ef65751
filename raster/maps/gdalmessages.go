package maps

import (
	"errors"
	"strings"

	"github.com/airbusgeo/godal"
)

// messages gathers what GDAL says during a call. Warnings are kept as notes;
// a failure becomes the call's error. Without it GDAL's warnings would fail
// a call that went well.
type messages struct{ notes []string }

// handle is the godal.ErrorHandler of the gatherer.
func (m *messages) handle(category godal.ErrorCategory, _ int, text string) error {
	if category >= godal.CE_Failure {
		return errors.New(strings.TrimSpace(text))
	}
	if category == godal.CE_Warning {
		m.add(strings.TrimSpace(text))
	}
	return nil
}

// add keeps a note once.
func (m *messages) add(note string) {
	for _, known := range m.notes {
		if known == note {
			return
		}
	}
	m.notes = append(m.notes, note)
}

// quiet drops what GDAL says short of a failure.
func quiet(category godal.ErrorCategory, _ int, text string) error {
	if category >= godal.CE_Failure {
		return errors.New(strings.TrimSpace(text))
	}
	return nil
}
