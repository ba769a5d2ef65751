package habitat

import (
	"errors"
	"fmt"

	"likelyground/habitat/plan"
)

// Fault is something about the plan or its data that must be changed before a
// run can succeed.
type Fault struct {
	What string
	Fix  string
	Err  error // cause; may be nil
}

func (f *Fault) Error() string {
	if f.Err != nil {
		return fmt.Sprintf("%s: %v", f.What, f.Err)
	}
	return f.What
}

// Remedy says what to do.
func (f *Fault) Remedy() string { return f.Fix }

// MustChange reports that trying again without a change cannot help.
func (f *Fault) MustChange() bool { return true }

// Unwrap returns the cause.
func (f *Fault) Unwrap() error { return f.Err }

// faults gathers what is wrong with a plan's data, so that all of it is told
// at once, each at its line of the plan.
type faults struct {
	plan  *plan.Plan
	list  plan.Problems
	other error // something that no change of the plan mends
}

// at notes an error that belongs to a place of the plan.
func (f *faults) at(pos plan.Pos, err error) {
	if err == nil {
		return
	}
	var change interface{ MustChange() bool }
	if !errors.As(err, &change) || !change.MustChange() {
		f.other = errors.Join(f.other, err)
		return
	}
	var listed plan.Problems
	var single plan.Problem
	switch {
	case errors.As(err, &listed):
		f.list = append(f.list, listed...)
	case errors.As(err, &single):
		f.list = append(f.list, single)
	default:
		f.say(pos, err.Error(), remedyOf(err))
	}
}

// say notes something wrong at a place of the plan.
func (f *faults) say(pos plan.Pos, what, fix string) {
	f.list = append(f.list, f.plan.PointAt(pos, what, fix))
}

// err returns everything noted as one error, nil if there is nothing.
func (f *faults) err() error {
	if f.other != nil {
		return f.other
	}
	if len(f.list) > 0 {
		return f.list
	}
	return nil
}

// pointed places an error of the plan's data at its line of the plan.
func pointed(p *plan.Plan, pos plan.Pos, err error) error {
	f := faults{plan: p}
	f.at(pos, err)
	return f.err()
}

func remedyOf(err error) string {
	var r interface{ Remedy() string }
	if errors.As(err, &r) {
		return r.Remedy()
	}
	return ""
}
