package habitat

import (
	"fmt"
	"time"

	"likelyground/habitat/plan"
)

// Estimate is what a run is likely to need.
type Estimate struct {
	Cells     int64   `json:"cells"`
	Seconds   float64 `json:"seconds"`
	Memory    int64   `json:"memory_bytes"`     // at the most
	Disk      int64   `json:"disk_bytes"`       // at the most, while it runs
	LeastDisk int64   `json:"least_disk_bytes"` // below which it cannot succeed
}

// Costs in nanoseconds of one processor a cell, measured on two shared cores
// of a server; see scripts/bench. They only serve to tell a user how long.
var (
	costOfMap    = 15.0
	costOfVerb   = map[plan.Verb]float64{plan.Slope: 5, plan.Northness: 6, plan.Eastness: 6, plan.Aspect: 15, plan.ProfileCurvature: 7, plan.TangentialCurvature: 7, plan.ContourCurvature: 7, plan.Ruggedness: 6, plan.RelativePosition: 62, plan.HeatLoad: 20, plan.Radiation: 60, plan.Elevation: 1, plan.Share: 12, plan.Distance: 10, plan.EdgeDistance: 19, plan.Mean: 60, plan.Lasting: 2, plan.FirstOf: 2}
	costOfFactor = 6.0
	costOfBand   = 32.0
)

// Bytes a cell of a compressed band: usual, and with nearly all cells alike.
const (
	usualBytes = 1.6
	leastBytes = 0.01
)

// estimate foretells what a run of the plan needs.
func (d *desk) estimate(memory int64, threads int) Estimate {
	cells := d.grid.Cells()
	e := Estimate{Cells: cells, Memory: min(memory, engineMemory(memory)+int64(cacheMB(memory))<<20+200<<20)}
	cost := costOfMap * float64(len(d.plan.Maps))
	for _, v := range d.plan.Derived {
		cost += costOfVerb[v.Verb]
	}
	cost += costOfFactor * float64(len(d.plan.Factors))
	bands := 0
	if d.plan.Outputs.Score {
		bands++
	}
	if d.plan.Outputs.Picture {
		bands++
	}
	if d.plan.Outputs.Factors {
		bands += len(d.plan.Factors) + 1
	}
	cost += costOfBand * float64(bands)
	e.Seconds = 0.3 + cost*float64(cells)*1e-9/float64(threads)
	held := float64(cells) * float64(bands) * 2 // waiting in scratch, then in the file
	e.Disk = int64(usualBytes * held)
	e.LeastDisk = int64(leastBytes * held)
	for _, f := range d.graph.waters {
		needs := f.needs()
		e.Seconds += needs.cost * float64(f.window.Size()) * 1e-9 / float64(threads)
		e.Disk += needs.disk * int64(f.window.Size())
		e.LeastDisk += needs.disk * int64(f.window.Size())
	}
	return e
}

// fits returns an error when the disk of a folder has no room for the least
// that a run needs.
func (e Estimate) fits(dir string) error {
	free, err := freeDisk(dir)
	if err != nil || free >= e.LeastDisk {
		return nil // where the system does not tell, the run will
	}
	return &shortage{dir, free, e.LeastDisk}
}

// shortage is a disk without room; making room and trying again helps.
type shortage struct {
	dir        string
	free, need int64
}

func (s *shortage) Error() string {
	return fmt.Sprintf("the disk of %s has %s free, but the run needs at least %s", s.dir, Bytes(s.free), Bytes(s.need))
}

func (s *shortage) Remedy() string {
	return "make room, name another disk with --out, or choose a larger cell"
}

// Bytes writes a number of bytes for people.
func Bytes(n int64) string {
	switch {
	case n < 1000:
		return fmt.Sprintf("%d bytes", n)
	case n < 1e6:
		return fmt.Sprintf("%.0f kB", float64(n)/1e3)
	case n < 1e9:
		return fmt.Sprintf("%.0f MB", float64(n)/1e6)
	}
	return fmt.Sprintf("%.1f GB", float64(n)/1e9)
}

// Duration writes seconds for people.
func Duration(seconds float64) string {
	if seconds < 1 {
		return "under a second"
	}
	return time.Duration(seconds * float64(time.Second)).Round(time.Second).String()
}
