package combine

// Error is a combination that cannot be: the plan must be changed.
type Error struct{ Problem, Cure string }

// Error returns what is wrong and what to do about it.
func (e *Error) Error() string { return e.Problem + "; " + e.Cure }

// Remedy returns what to do about it.
func (e *Error) Remedy() string { return e.Cure }

// MustChange reports that trying again cannot help.
func (e *Error) MustChange() bool { return true }
