package crs

import "fmt"

// Refusal is an error that trying again cannot cure: the plan or its data must
// be changed.
type Refusal struct {
	What string // what is wrong
	Fix  string // what to do about it
}

// Error says what is wrong.
func (r *Refusal) Error() string { return r.What }

// Remedy says what to do about it.
func (r *Refusal) Remedy() string { return r.Fix }

// MustChange reports that the plan or its data must be changed: always true.
func (r *Refusal) MustChange() bool { return true }

func refuse(fix, format string, args ...any) error {
	return &Refusal{What: fmt.Sprintf(format, args...), Fix: fix}
}
