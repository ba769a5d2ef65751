package look

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"likelyground/habitat/standin"
)

// looker looks at files, wherever they lie.
type looker struct{}

// file looks at what a path leads to.
func (l looker) file(ctx context.Context, path string) (*Map, error) {
	desk := &standin.Desk{}
	defer desk.Close()
	files, err := desk.Files(ctx, path)
	switch {
	case err != nil:
		return nil, err
	case files == nil:
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
	var change interface {
		Remedy() string
		MustChange() bool
	}
	text := desk.Shown(err.Error())
	if !errors.As(err, &change) || !change.MustChange() {
		return errors.New(text)
	}
	return &packedFault{text: text, fix: desk.Shown(change.Remedy()), err: err}
}

// packedFault is a fault of a map that lies in something else.
type packedFault struct {
	text, fix string
	err       error
}

func (f *packedFault) Error() string    { return f.text }
func (f *packedFault) Remedy() string   { return f.fix }
func (f *packedFault) MustChange() bool { return true }
func (f *packedFault) Unwrap() error    { return f.err }
