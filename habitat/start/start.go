// Package start writes a plan to begin with, out of nothing but the files of
// maps: it recognises what each map holds, chooses a grid and an area that all
// maps cover, works the plan out once to see what the ground holds, and writes
// a plan with a reason for every number. With places that somebody knows it
// sets the maps' values there beside those of the whole ground.
//
// What a map is is left to habitat/look, what a plan computes to habitat. The
// plan that is written has been worked out as it stands: it passes a check and
// a run. It knows nothing of an organism: its curves and scores are neutral
// beginnings, and no choice of them comes from a publication.
//
// Places are sensitive: they are read, compared and forgotten. Neither their
// coordinates, nor their names, nor the name of their file reaches the plan;
// what the plan says of them is rounded, and said only of three cells or more.
// The area never depends on them.
//
// Values are in the unit of each map after scale; shares go from 0 to 1;
// missing cells are left out of both.
package start

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"likelyground/habitat"
	"likelyground/habitat/plan"
)

// Options say where the plan goes and how it is worked out.
type Options struct {
	Out    string          // the plan to write; "": plan.yaml
	Places string          // a table of places; "": none
	Force  bool            // replace a plan that is there
	Engine habitat.Options // memory, threads, scratch, events
}

// DefaultName is the plan that is written where none is named.
const DefaultName = "plan.yaml"

// Result is what was written and why.
type Result struct {
	Plan     string      `json:"plan"`
	CRS      string      `json:"crs"`
	CRSName  string      `json:"crs_name"`
	CellX    float64     `json:"cell_x_m"`
	CellY    float64     `json:"cell_y_m"`
	Columns  int         `json:"columns"`
	Rows     int         `json:"rows"`
	Maps     []Taken     `json:"maps"`
	LeftOut  []LeftOut   `json:"left_out"`
	Places   *Comparison `json:"places,omitempty"`
	Warnings []string    `json:"warnings"`
}

// Taken is a map of the plan.
type Taken struct {
	Name  string   `json:"name"`
	Holds string   `json:"holds"` // as look.Map says it, or "area"
	Files []string `json:"files"`
}

// LeftOut is a file that the plan does not use.
type LeftOut struct {
	File string `json:"file"`
	Why  string `json:"why"`
}

// Fault is something about the files that must be changed before a plan can
// be made of them.
type Fault struct {
	What, Fix string
	Err       error // the cause; may be nil
}

// Error says what is wrong.
func (f *Fault) Error() string { return f.What }

// Remedy says what to do.
func (f *Fault) Remedy() string { return f.Fix }

// MustChange reports true: trying again cannot help.
func (f *Fault) MustChange() bool { return true }

// Unwrap returns the cause.
func (f *Fault) Unwrap() error { return f.Err }

// Write makes a plan of the files and writes it. Nothing is asked. A file may
// be a folder: then all files in it are meant. The error has a Remedy where
// the files, the table of places or the name of the plan must be changed; no
// plan is written then.
func Write(ctx context.Context, files []string, o Options) (*Result, error) {
	if o.Out == "" {
		o.Out = DefaultName
	}
	if o.Engine.Events == nil {
		o.Engine.Events = func(habitat.Event) {}
	}
	if err := mayWrite(o.Out, o.Force); err != nil {
		return nil, err
	}
	s := &starting{Options: o, ctx: ctx, result: &Result{Plan: o.Out, LeftOut: []LeftOut{}, Warnings: []string{}}}
	text, err := s.plan(files)
	if err != nil {
		return nil, err
	}
	return s.result, put(o.Out, text, o.Force)
}

// starting is a plan being made.
type starting struct {
	Options
	ctx    context.Context
	result *Result

	maps   []*part
	area   *part       // polygons that are the ground to rate; nil for a box
	where  ground      // the grid and the area chosen
	places *placeTable // nil without
	held   *habitat.Holding
	from   float64 // of the hotspots
}

func (s *starting) plan(files []string) ([]byte, error) {
	if s.Places != "" {
		var err error
		if s.places, err = readPlaces(s.Places); err != nil {
			return nil, err
		}
	}
	if err := s.gather(files); err != nil {
		return nil, err
	}
	if err := s.settle(); err != nil {
		return nil, err
	}
	if s.places != nil {
		s.result.Places = s.compare()
	}
	return s.finish()
}

// finish writes the plan with its curves and works it out as it stands, for
// the score from which on ground counts as an area.
func (s *starting) finish() ([]byte, error) {
	s.from = 0.5
	held, err := s.survey(s.text(), nil)
	if err != nil {
		return nil, err
	}
	if len(held.Wrong) > 0 {
		return nil, &Fault{What: "the map " + held.Wrong[0].Map + " cannot be used as it is: " + held.Wrong[0].What, Fix: "leave it out, or write its lines by hand: likelyground look tells them"}
	}
	s.from = threshold(held.Scores)
	text := s.text()
	if _, err := plan.Read(s.Out, text); err != nil {
		return nil, err
	}
	r := s.result
	r.CRS, r.CRSName, r.CellX, r.CellY, r.Columns, r.Rows = held.CRS, held.CRSName, held.CellX, held.CellY, held.Columns, held.Rows
	for _, p := range s.maps {
		r.Maps = append(r.Maps, Taken{p.name, p.holds, p.files})
	}
	if s.area != nil {
		r.Maps = append(r.Maps, Taken{"area", "area", s.area.files})
	}
	return text, nil
}

// survey works a plan out, with this plan's maps.
func (s *starting) survey(text []byte, places []habitat.Place) (*habitat.Holding, error) {
	return habitat.Survey(s.ctx, s.Out, text, places, s.Engine)
}

// threshold is the score that the best twentieth of the ground reaches,
// rounded down to hundredths.
func threshold(scores []float32) float64 {
	if len(scores) == 0 {
		return 0.5
	}
	hundredths := int(float64(quantile(scores, 0.95))*100 + 1e-6)
	return float64(min(max(hundredths, 1), 99)) / 100
}

// mayWrite refuses a plan that is there, and a folder that is not.
func mayWrite(out string, force bool) error {
	info, err := os.Stat(out)
	switch {
	case err == nil && info.IsDir():
		return &Fault{What: out + " is a folder, not a plan", Fix: "name a file with --out, such as --out " + filepath.Join(out, DefaultName)}
	case err == nil && !force:
		return there(out)
	case err == nil && !info.Mode().IsRegular():
		return &Fault{What: out + " is a pipe or a device, not a plan", Fix: "name a file with --out"}
	}
	if dir := filepath.Dir(out); err != nil {
		if info, err := os.Stat(dir); err != nil || !info.IsDir() {
			return &Fault{What: fmt.Sprintf("there is no folder %s for the plan", dir), Fix: "make it, or name another place with --out"}
		}
	}
	return nil
}

func there(out string) error {
	return &Fault{What: out + " is there already", Fix: "name another plan with --out, or say --force to replace this one"}
}

// put writes a file whole or not at all; without force never over another.
func put(out string, text []byte, force bool) (err error) {
	f, err := os.CreateTemp(filepath.Dir(out), ".likelyground-start-*")
	if err != nil {
		return err
	}
	defer os.Remove(f.Name())
	_, err = f.Write(bytes.ReplaceAll(text, []byte("\r"), nil))
	err = errors.Join(err, f.Chmod(0o644), f.Sync(), f.Close())
	if err != nil {
		return err
	}
	if force {
		return os.Rename(f.Name(), out)
	}
	if err := os.Link(f.Name(), out); err != nil { // fails where the name is taken
		if errors.Is(err, os.ErrExist) {
			return there(out)
		}
		return os.Rename(f.Name(), out) // a file system without links
	}
	return nil
}
