package vector

import (
	"errors"
	"fmt"

	"likelyground/vector/where"
)

// readCondition reads the condition and holds it against the fields.
func (l *Layer) readCondition() error {
	if l.options.Where == "" {
		return nil
	}
	c, err := where.Parse(l.options.Where)
	if err != nil {
		return l.badCondition(err)
	}
	var kinds []where.Kind
	for _, name := range c.Fields() {
		f, err := l.Field(name)
		if err != nil {
			return err
		}
		kind := where.Number
		if f.Kind == Text {
			kind = where.Text
		}
		kinds = append(kinds, kind)
	}
	if err := c.Fits(kinds); err != nil {
		return l.badCondition(err)
	}
	l.condition = c
	return nil
}

func (l *Layer) badCondition(err error) *Problem {
	fix := "mend the condition"
	var e *where.Error
	if errors.As(err, &e) {
		fix = e.Remedy()
	}
	return l.problem(fmt.Sprintf("the condition %s cannot be used", l.options.Where), fix, err)
}

// meets reports whether the condition is true of the feature whose values
// were read.
func (p *pass) meets() bool {
	if p.condition == nil {
		return true
	}
	p.test = p.test[:0]
	for _, v := range p.values[p.asked:] {
		p.test = append(p.test, where.Value{Null: v.Null, Text: v.Text, Exact: v.Kind == Integer, Whole: v.Whole, Number: v.Number})
	}
	return p.condition.Holds(p.test)
}
