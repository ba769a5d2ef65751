package look

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"likelyground/habitat/remote"
	"likelyground/habitat/standin"
)

// Looker looks at maps wherever they lie: in files, in archives, and on the
// network as far as it has a store of copies.
type Looker struct {
	Remote *remote.Store // nil: no map on the network is looked at
}

// file looks at what a path leads to.
func (l Looker) file(ctx context.Context, path string) (*Map, error) {
	desk := &standin.Desk{Remote: l.Remote}
	defer desk.Close()
	files, err := desk.Files(ctx, path)
	switch {
	case err != nil:
		return nil, shownAs(desk, err)
	case files == nil:
		if err := there(path); err != nil {
			return nil, err
		}
		return one(path)
	case len(files) > 1:
		return nil, &Fault{File: path, What: fmt.Sprintf("these are %d maps", len(files)), Fix: "look at one of them, such as " + desk.Shown(files[0])}
	}
	m, err := one(files[0])
	if err != nil {
		return nil, shownAs(desk, err)
	}
	m.standFor(files[0], desk.Shown(files[0]))
	return m, nil
}

// standFor names a map that was looked at in place of another after that.
func (m *Map) standFor(local, shown string) {
	for i := range m.Lines {
		if l := &m.Lines[i]; l.Path != "" {
			l.Path = strings.ReplaceAll(l.Path, local, shown)
			l.Value = Scalar(l.Path)
		}
	}
	m.Plan = written(m.Name, m.Lines)
	for i := range m.Suspicions {
		s := &m.Suspicions[i]
		s.What, s.Fix = strings.ReplaceAll(s.What, local, shown), strings.ReplaceAll(s.Fix, local, shown)
	}
	m.File = shown
}

// shownAs is an error about a file that stands in for another, in words about
// that.
func shownAs(desk *standin.Desk, err error) error {
	text := desk.Shown(err.Error())
	if text == err.Error() {
		return err
	}
	out := &packedFault{text: text, err: err}
	var fix interface{ Remedy() string }
	if errors.As(err, &fix) {
		out.fix = desk.Shown(fix.Remedy())
	}
	return out
}

// packedFault is what is wrong with a map that lies in something else.
type packedFault struct {
	text, fix string
	err       error
}

func (f *packedFault) Error() string  { return f.text }
func (f *packedFault) Remedy() string { return f.fix }
func (f *packedFault) Unwrap() error  { return f.err }

// MustChange tells whether trying again cannot help.
func (f *packedFault) MustChange() bool {
	var change interface{ MustChange() bool }
	return errors.As(f.err, &change) && change.MustChange()
}
