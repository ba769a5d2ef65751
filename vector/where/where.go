// Package where reads and evaluates the condition by which a map of features
// is narrowed down: `"TYPE" = 'wood' AND HEIGHT >= 5`.
//
// The words are those of an attribute filter of the OGC Common Query
// Language and of SQL: = <> != < <= > >= , AND OR NOT, IN (…), BETWEEN … AND …,
// LIKE, ILIKE, IS NULL, parentheses; a field stands bare or in double quotes,
// a text in single ones. There is nothing else: no function, no sub-query, no
// second table, so that a condition can read the features' own fields alone.
// It is evaluated here and not by a format's own library, whose ways with
// capitals and NULL differ from format to format.
//
// Texts are compared to the letter and sorted by their bytes; LIKE too minds
// capitals, ILIKE does not; in their patterns % stands for any text and _ for
// one character. NULL is unknown (SQL-92): what is compared with it is
// neither true nor false, and a condition that is not true leaves a feature
// out. Which fields there are and what a feature holds is the caller's to say.
package where

import "fmt"

// Kind is what a field holds.
type Kind int

// The kinds of field.
const (
	Text Kind = iota
	Number
)

// Value is a field of a feature. A whole number stands in Whole and has Exact
// set, any other in Number.
type Value struct {
	Null   bool
	Text   string
	Exact  bool
	Whole  int64
	Number float64
}

// Error is a condition that cannot be read or does not fit its layer. It
// stands at a character of the text, from 1; 0 where no single one is meant.
type Error struct {
	At   int
	What string
	Fix  string
}

// Error says what is wrong and where.
func (e *Error) Error() string {
	if e.At == 0 {
		return e.What
	}
	return fmt.Sprintf("at its character %d: %s", e.At, e.What)
}

// Remedy says what to write instead.
func (e *Error) Remedy() string { return e.Fix }

// MustChange reports true: trying again cannot help.
func (e *Error) MustChange() bool { return true }

// Condition is a condition as read.
type Condition struct {
	root   node
	fields []mention
	loose  []literalUse
}

// mention is a field of the condition.
type mention struct {
	name string
	at   int
}

// literalUse is a value that is held against a field.
type literalUse struct {
	field int
	text  bool
	shown string
	at    int
}

// Fields returns the names of the fields that the condition asks, each once,
// in the order of the text.
func (c *Condition) Fields() []string {
	out := make([]string, len(c.fields))
	for i, f := range c.fields {
		out[i] = f.name
	}
	return out
}

// Fits holds the condition against the kinds of its fields, in the order of
// [Condition.Fields]: a text field cannot be compared with a number, nor a
// field of numbers with a text or by LIKE. It answers with an [Error].
func (c *Condition) Fits(kinds []Kind) error {
	for _, u := range c.loose {
		name := c.fields[u.field].name
		switch {
		case kinds[u.field] == Text && !u.text:
			return &Error{u.at, fmt.Sprintf("the field %q holds texts, and %s is a number", name, u.shown), fmt.Sprintf("write '%s'", u.shown)}
		case kinds[u.field] == Number && u.text:
			return &Error{u.at, fmt.Sprintf("the field %q holds numbers, and %s is a text", name, u.shown), "write a number without quotes"}
		}
	}
	return c.fitPairs(kinds)
}

// fitPairs refuses to compare a field of texts with one of numbers.
func (c *Condition) fitPairs(kinds []Kind) error {
	var err error
	c.root.walk(func(n node) {
		if p, ok := n.(*comparison); ok && p.right.field >= 0 && kinds[p.left] != kinds[p.right.field] {
			err = &Error{0, fmt.Sprintf("one of the fields %q and %q holds texts and the other numbers", c.fields[p.left].name, c.fields[p.right.field].name), "compare fields of one kind"}
		}
	})
	return err
}

// Holds reports whether the condition is true of a feature whose values are
// given in the order of [Condition.Fields]; the kinds are those that it fits.
func (c *Condition) Holds(values []Value) bool { return c.root.eval(values) == yes }
