package vector

import (
	"fmt"
	"strings"
	"time"
)

// mostOfView is how many rows a view of a database may have, and viewPatience
// how long they may take to count: a view is computed, and may have no end.
const (
	mostOfView   = 2_000_000
	viewPatience = 10 * time.Second
)

// count returns how many features the layer has.
func (l *Layer) count() (int, error) {
	if !l.isView() {
		n, err := l.layer.FeatureCount(Quiet)
		if err != nil {
			return 0, l.damaged(err)
		}
		return n, nil
	}
	type answer struct {
		n   int
		err error
	}
	counted := make(chan answer, 1)
	go func() {
		n, err := l.number(fmt.Sprintf("SELECT COUNT(*) AS n FROM (SELECT 1 FROM %s LIMIT %d)", quote(l.Name), mostOfView+1))
		counted <- answer{n, err}
	}()
	const fix = "write the view into a table of its own and name that"
	select {
	case a := <-counted:
		if a.err != nil {
			return 0, l.damaged(a.err)
		}
		if a.n > mostOfView {
			return 0, l.problem(fmt.Sprintf("it is a view of more than %d rows", mostOfView), fix, nil)
		}
		return a.n, nil
	case <-time.After(viewPatience):
		l.ds = nil // it cannot be closed while it computes
		return 0, l.problem("it is a view whose rows are not counted within "+viewPatience.String(), fix, nil)
	}
}

// isView tells whether the layer is a view of a database.
func (l *Layer) isView() bool {
	if l.Driver != "GPKG" && l.Driver != "SQLite" {
		return false
	}
	name := strings.ReplaceAll(l.Name, "'", "''")
	n, err := l.number("SELECT COUNT(*) AS n FROM sqlite_master WHERE type = 'view' AND name = '" + name + "'")
	return err == nil && n > 0
}

// number returns the number n of a query's first row.
func (l *Layer) number(query string) (int, error) {
	rows, err := l.ds.ExecuteSQL(query, Quiet)
	if err != nil {
		return 0, err
	}
	defer rows.Close(Quiet)
	row := rows.NextFeature()
	if row == nil {
		return 0, fmt.Errorf("no answer to %s", Brief(query))
	}
	defer row.Close()
	return int(row.Fields()["n"].Int()), nil
}
