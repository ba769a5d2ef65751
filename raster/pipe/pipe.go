// Package pipe is the engine: it evaluates a graph of nodes tile by tile,
// with several workers, in bounded memory.
//
// A [Node] is local: it makes a window of values from windows of its inputs,
// each grown by the node's reach. Nodes that read their inputs cell by cell
// are fused: they run one after another on the same tile. A node that is read
// beyond its own tile, or by two fused groups, is kept: each of its tiles is
// computed once and stays in memory until the last reader has had it.
//
// Wide computations (patches, water) run in three steps: survey each tile in
// a [Sink], solve all summaries at once, finish tile by tile with [Each].
//
// The engine does not know what its nodes mean. Results do not depend on the
// number of workers, on the tile size or on the memory allowed, as long as
// every node is a pure function of the windows it is given.
package pipe

import (
	"likelyground/raster"
)

// Kind tells what a node's tiles hold.
type Kind int

const (
	Quantity Kind = iota // Tile.Values, missing as NaN
	Class                // Tile.Codes, missing as raster.MissingCode
)

// Node is one step of the computation. Nodes are compared by address.
type Node struct {
	Name   string
	Kind   Kind
	Inputs []*Node
	Reach  int                       // how many cells beyond its own window it reads of each input
	Open   func() (Evaluator, error) // called once a worker that needs the node
}

// Evaluator computes tiles of one node for one worker. Eval must set every
// cell of out; in[i] is out's window grown by the node's reach, and is only
// to be read. Nothing may be kept of either after the call.
type Evaluator interface {
	Eval(out raster.Tile, in []raster.Tile) error
	Close() error
}

// Owner is an Evaluator that counts what it evaluates. Cells beside a strip's
// seam are computed in both strips; before each strip the engine says which
// cells the strip answers for, so that each cell is counted once. The windows
// of all strips together hold every cell that is evaluated.
type Owner interface {
	Own(w raster.Window)
}

// Plain makes an Open function for a node without state of its own.
func Plain(eval func(out raster.Tile, in []raster.Tile) error) func() (Evaluator, error) {
	return func() (Evaluator, error) { return plain(eval), nil }
}

type plain func(out raster.Tile, in []raster.Tile) error

func (p plain) Eval(out raster.Tile, in []raster.Tile) error { return p(out, in) }
func (p plain) Close() error                                 { return nil }

// Sink takes the finished tiles of one worker. Tiles come in any order;
// in[i] belongs to Graph.Outputs[i] and has exactly the window given.
type Sink interface {
	Take(w raster.Window, in []raster.Tile) error
	Close() error
}

// Graph is what a run computes: the outputs over a window of the grid.
type Graph struct {
	Window  raster.Window
	Outputs []*Node
	Sink    func() (Sink, error) // called once a worker

	// Wanted, where it is given, tells whether a tile is wanted at all: others
	// are not computed, but for what wanted ones read of them. It may be called
	// several times for a tile, by one goroutine at a time.
	Wanted func(w raster.Window) bool
}

// Options say how to compute; none of them changes a result. The zero value
// is usable.
type Options struct {
	Workers  int   // 0: one
	Tile     int   // cells a side; 0: DefaultTile, or less where memory is short
	Memory   int64 // bytes for kept tiles and buffers; 0: DefaultMemory
	Limit    int64 // bytes that nodes which read far may use beyond Memory before the run is refused; 0: none
	Progress func(done, total int64)
}

const (
	DefaultTile   = 512
	DefaultMemory = 256 << 20
)
