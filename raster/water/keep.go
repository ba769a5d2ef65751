package water

import (
	"bytes"
	"encoding/gob"
	"fmt"
)

// Keeper is a [Store] that keeps finished stages from one computation to the
// next of the same ground and tile size. A stage that was kept is not done
// again. Keep and Kept are called by one goroutine.
type Keeper interface {
	Store
	// Kept makes the layers of a stage that was kept ready to be read, and
	// returns what was kept with them; false where the stage is to be done.
	Kept(stage string) (state []byte, ok bool)
	// Keep tells that a stage is done: the layers made since the last one, and
	// not dropped, are whole and not written to any more.
	Keep(stage string, state []byte) error
}

// Names of stages, as a [Keeper] has them.
const (
	FillStage   = "fill"      // of [New], which alone reads the ground
	HollowStage = hollowLayer // of [Water.Hollows]
)

// GatherStages returns the stages of [Water.GatherMany], or of
// [Water.GatherOne].
func GatherStages(many bool) []string {
	if many {
		return []string{drainStage, manyLayer}
	}
	return []string{drainStage, oneLayer}
}

// Stage returns the last stage of [Water.Channels].
func (c Channel) Stage() string { return c.layer("distance") }

// state is what stages leave in memory.
type state struct {
	Drains     []bool
	FilledEdge []key
	WayEdge    []way
	Large      []int32
}

// stateOf returns what a stage left in memory, nil for most.
func (w *Water) stateOf(stage string) ([]byte, error) {
	var s state
	switch stage {
	case FillStage:
		s.Drains, s.FilledEdge = w.drains, w.filledEdge
	case drainStage:
		s.WayEdge = w.wayEdge
	case oneLayer, manyLayer:
		s.Large = w.large[stage]
	default:
		return nil, nil
	}
	var out bytes.Buffer
	err := gob.NewEncoder(&out).Encode(s)
	return out.Bytes(), err
}

// restore is the inverse of stateOf.
func (w *Water) restore(stage string, data []byte) error {
	if len(data) == 0 {
		return nil
	}
	var s state
	if err := gob.NewDecoder(bytes.NewReader(data)).Decode(&s); err != nil {
		return fmt.Errorf("water: what was kept of stage %q: %w", stage, err)
	}
	tiles, edges := w.lattice.tiles(), w.lattice.edges()
	fits := true
	switch stage {
	case FillStage:
		w.drains, w.filledEdge = s.Drains, s.FilledEdge
		fits = len(s.Drains) == tiles && len(s.FilledEdge) == edges
	case drainStage:
		w.wayEdge = s.WayEdge
		fits = len(s.WayEdge) == edges
	case oneLayer, manyLayer:
		w.large[stage] = s.Large
		fits = len(s.Large) == tiles
	}
	if !fits {
		return fmt.Errorf("water: what was kept of stage %q is of another ground", stage)
	}
	return nil
}

// once does a stage unless it is done already, or was kept.
func (w *Water) once(stage string, do func() error) error {
	if w.done[stage] {
		return nil
	}
	keeper, keeps := w.store.(Keeper)
	if keeps {
		if data, ok := keeper.Kept(stage); ok {
			err := w.restore(stage, data)
			w.done[stage] = err == nil
			return err
		}
	}
	if err := do(); err != nil {
		return err
	}
	w.done[stage] = true
	if !keeps {
		return nil
	}
	data, err := w.stateOf(stage)
	if err != nil {
		return err
	}
	return keeper.Keep(stage, data)
}

// StageTitle names a stage for people, by what it came to.
func StageTitle(stage string) string {
	switch stage {
	case FillStage:
		return "hollows filled"
	case drainStage:
		return "ways down"
	case oneLayer:
		return "ground gathered one way"
	case manyLayer:
		return "ground gathered many ways"
	case hollowLayer:
		return "areas of hollows"
	}
	return "ways to channels"
}
