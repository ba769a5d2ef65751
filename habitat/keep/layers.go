// Package keep takes work up where an earlier run left it: [Layers] keeps the
// finished stages of water, [Receipt] tells whether a run has anything to do
// at all. Both keep it in a store (package store), which knows nothing of what
// it keeps; what work depends on is for the run to say.
//
// Nothing here changes a result, and nothing that goes wrong here ends a run,
// but for a disk that cannot be written: what cannot be kept is made without.
package keep

import (
	"bytes"
	"context"
	"encoding/gob"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"sync"

	"likelyground/raster/store"
	"likelyground/raster/water"
)

// Layers is the store of the water of one ground: it keeps each finished
// stage, and gives back those that were kept. It is a [water.Keeper].
type Layers struct {
	store   *store.Store
	ctx     context.Context
	about   store.About // without the stage
	loose   *water.Scratch
	say     func(string)
	beside  map[string][]byte // by stage: more to keep with it, and what was kept
	making  *store.Making     // the stage under way; nil before its first layer
	homely  bool              // the stage under way has layers that cannot be kept
	entries []*store.Entry
	states  map[string][]byte
	asked   map[string]bool
	refused bool
	anew    bool
	taken   []string

	mu     sync.Mutex
	layers map[string]layer
}

type layer struct {
	file *os.File // nil: in loose
	size int
	kept bool
}

// note is what is kept with the files of a stage.
type note struct {
	State  []byte
	Beside []byte
	Sizes  map[string]int // of the records of each layer
}

// NewLayers returns the layers of what is told. What cannot be kept goes into
// the scratch folder, without a name. say tells what is taken from the store,
// or why nothing is.
func NewLayers(ctx context.Context, s *store.Store, a store.About, scratch string, say func(string)) *Layers {
	return &Layers{store: s, ctx: ctx, about: a, loose: water.NewScratch(scratch), say: say, beside: map[string][]byte{},
		states: map[string][]byte{}, asked: map[string]bool{}, layers: map[string]layer{}}
}

func (l *Layers) stage(name string) store.About { return Stage(l.about, name) }

// Counted is a stage that has no layers of its own: what was counted in
// others.
const Counted = "counted"

// Stage says what a stage depends on, and what it is, from what the whole is.
func Stage(a store.About, name string) store.About {
	a.Depends = append(slices.Clone(a.Depends), store.Part{Name: "stage", Value: name})
	if strings.HasPrefix(name, Counted) {
		a.Title += ": cells counted"
	} else {
		a.Title += ": " + water.StageTitle(name)
	}
	return a
}

// Put gives something to be kept with a stage that is to be done.
func (l *Layers) Put(stage string, data []byte) { l.beside[stage] = data }

// Beside returns what was put with a stage that was kept.
func (l *Layers) Beside(stage string) []byte { return l.beside[stage] }

// Taken returns the stages that were kept.
func (l *Layers) Taken() []string { return l.taken }

// Anew forgets what was kept instead of taking it.
func (l *Layers) Anew() { l.anew = true }

// Refuse lets nothing be kept from here on.
func (l *Layers) Refuse() { l.refused = true }

// Kept implements [water.Keeper].
func (l *Layers) Kept(stage string) ([]byte, bool) {
	if !l.asked[stage] {
		l.asked[stage] = true
		l.find(stage)
	}
	state, ok := l.states[stage]
	return state, ok
}

// find takes a stage from the store, if it is there.
func (l *Layers) find(stage string) {
	if l.anew {
		l.store.Forget(l.stage(stage))
		return
	}
	e, err := l.store.Find(l.ctx, l.stage(stage))
	var damage *store.Damage
	switch {
	case errors.Is(err, store.ErrAbsent):
		return
	case errors.As(err, &damage):
		l.say(fmt.Sprintf("%v; it is done again", err))
		return
	case err != nil:
		return
	}
	if err := l.take(stage, e); err != nil {
		e.Close()
		l.say(fmt.Sprintf("what was kept of %s cannot be read (%v); it is done again", l.about.Title, err))
	}
}

func (l *Layers) take(stage string, e *store.Entry) error {
	var n note
	if err := gob.NewDecoder(bytes.NewReader(e.Note())).Decode(&n); err != nil {
		return err
	}
	found := map[string]layer{}
	for _, name := range e.Names() {
		f, err := os.Open(e.Path(name))
		if err != nil {
			closeAll(found)
			return err
		}
		found[name] = layer{f, n.Sizes[name], true}
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	for name, f := range found {
		l.layers[name] = f
	}
	l.entries = append(l.entries, e)
	l.states[stage], l.beside[stage] = n.State, n.Beside
	l.taken = append(l.taken, stage)
	return nil
}

func closeAll(m map[string]layer) {
	for _, f := range m {
		if f.file != nil {
			f.file.Close()
		}
	}
}

// Keep implements [water.Keeper].
func (l *Layers) Keep(stage string, state []byte) error {
	homely := l.homely || l.refused
	l.homely = false
	if homely {
		return l.endMaking()
	}
	if err := l.begin(); err != nil {
		return nil
	}
	n := note{State: state, Beside: l.beside[stage], Sizes: map[string]int{}}
	l.mu.Lock()
	for name, f := range l.layers {
		if f.file != nil && !f.kept {
			n.Sizes[name] = f.size
			f.kept = true
			l.layers[name] = f
		}
	}
	l.mu.Unlock()
	var data bytes.Buffer
	if err := gob.NewEncoder(&data).Encode(n); err != nil {
		return err
	}
	e, err := l.making.Publish(l.ctx, l.stage(stage), data.Bytes())
	if err == nil {
		l.entries = append(l.entries, e)
		l.making = nil
		return nil
	}
	if l.ctx.Err() != nil {
		return context.Cause(l.ctx)
	}
	l.say(fmt.Sprintf("%s is not kept: %v", l.about.Title, err))
	return l.endMaking()
}

// endMaking gives up keeping the stage under way; its layers stay readable.
func (l *Layers) endMaking() error {
	if l.making == nil {
		return nil
	}
	err := l.making.Close()
	l.making = nil
	return err
}

func (l *Layers) begin() (err error) {
	if l.making == nil {
		l.making, err = l.store.Begin()
	}
	return err
}

// Make begins a layer.
func (l *Layers) Make(name string, records, size int) error {
	if err := l.Drop(name); err != nil {
		return err
	}
	f := layer{size: size}
	err := l.begin()
	if err == nil {
		err = l.making.Reserve(int64(records) * int64(size))
	}
	if err == nil {
		f.file, err = l.making.Create(name)
	}
	if err != nil {
		if !l.homely {
			l.say(fmt.Sprintf("%s is not kept: %v", l.about.Title, err))
		}
		l.homely = true
		if err := l.loose.Make(name, records, size); err != nil {
			return err
		}
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	l.layers[name] = f
	return nil
}

func (l *Layers) layer(name string) (layer, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	f, ok := l.layers[name]
	if !ok {
		return f, fmt.Errorf("no layer %q of %s is kept", name, l.about.Title)
	}
	return f, nil
}

// Write writes the beginning of a record.
func (l *Layers) Write(name string, record int, data []byte) error {
	f, err := l.layer(name)
	switch {
	case err != nil:
		return err
	case f.kept:
		return fmt.Errorf("the layer %q of %s is whole, and not to be written", name, l.about.Title)
	case f.file == nil:
		return l.loose.Write(name, record, data)
	}
	if _, err := f.file.WriteAt(data, int64(record)*int64(f.size)); err != nil {
		return fmt.Errorf("writing %s: %w", l.about.Title, err)
	}
	return nil
}

// Read reads part of a record.
func (l *Layers) Read(name string, record, offset int, data []byte) error {
	f, err := l.layer(name)
	if err != nil {
		return err
	}
	if f.file == nil {
		return l.loose.Read(name, record, offset, data)
	}
	if _, err := f.file.ReadAt(data, int64(record)*int64(f.size)+int64(offset)); err != nil && err != io.EOF {
		return fmt.Errorf("reading %s: %w", l.about.Title, err)
	} else if err == io.EOF {
		return fmt.Errorf("reading %s: %w", l.about.Title, io.ErrUnexpectedEOF)
	}
	return nil
}

// Drop gives a layer's room back.
func (l *Layers) Drop(name string) error {
	l.mu.Lock()
	f, ok := l.layers[name]
	delete(l.layers, name)
	l.mu.Unlock()
	if !ok {
		return nil
	}
	if f.file == nil {
		return l.loose.Drop(name)
	}
	err := f.file.Close()
	if l.making != nil && !f.kept {
		err = errors.Join(err, l.making.Drop(name))
	}
	return err
}

// Close lets go of everything; what was kept stays so.
func (l *Layers) Close() error {
	l.mu.Lock()
	defer l.mu.Unlock()
	closeAll(l.layers)
	l.layers = map[string]layer{}
	err := errors.Join(l.loose.Close(), l.endMaking())
	for _, e := range l.entries {
		err = errors.Join(err, e.Close())
	}
	l.entries = nil
	return err
}
