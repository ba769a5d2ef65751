// Package habitat runs plans: from a plan file and the maps that it names to
// a grid of scores, ranked areas and the account of how they came about.
//
// It can be used without the command line: [Run] does a plan, [Check] opens
// everything and computes nothing. What a run writes, and when, is told at
// Run; nothing is printed: progress and warnings are events.
//
// Scores go from 0 to 1 and rate ground. They say nothing about what grows
// there, whether a find may be eaten, or whether the ground may be walked.
package habitat

import (
	"runtime"

	"likelyground/raster/crs"
	"likelyground/raster/maps"
)

// Options say how a plan is run; none of them but Out changes what is
// written. The zero value is usable.
type Options struct {
	Out     string      // output folder; "": beside the plan, its name with .out
	Scratch string      // folder for scratch files; "": the hidden folder beside Out
	Kept    string      // folder where finished work is kept from run to run, see KeptFolder; "": nothing is kept
	Online  bool        // maps on the network may be fetched, and asked whether they changed
	Memory  int64       // budget in bytes; 0: a quarter of the machine's
	Threads int         // workers; 0: one a processor
	Tile    int         // cells a side of a tile; 0: chosen
	Force   bool        // write into a folder that holds something else
	Anew    bool        // do everything again, whatever was kept
	Events  func(Event) // progress and warnings; may be nil

	KeptMost int64 // bytes that finished work may take in Kept; 0: half of the free disk

	copies string // where copies of remote maps are kept, when a folder of the work's own takes the place of Scratch
}

// Event is something a caller may want to show: progress of a stage, or a
// warning, or what is used again of earlier runs.
type Event struct {
	Stage       string
	Done, Total int64  // in units of the stage's own; Total 0: not known
	Warning     string // "" for progress
	Said        string // what is used again of earlier runs, or why nothing is; "" for progress
}

func (o Options) settled() Options {
	if o.Threads <= 0 {
		o.Threads = runtime.GOMAXPROCS(0)
	}
	if o.Memory <= 0 {
		o.Memory = machineMemory() / 4
	}
	if o.Events == nil {
		o.Events = func(Event) {}
	}
	return o
}

// Version is the program's version. It goes up with every change that may
// change a result.
const Version = "0.1.0"

// VersionList names what a result depends on.
type VersionList struct {
	Program string `json:"likelyground"`
	Go      string `json:"go"`
	GDAL    string `json:"gdal"`
	PROJ    string `json:"proj"`
}

// Versions returns the versions of the program and of its libraries.
func Versions() VersionList {
	return VersionList{Program: Version, Go: runtime.Version(), GDAL: maps.Version(), PROJ: crs.Version()}
}
