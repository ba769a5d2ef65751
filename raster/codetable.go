package raster

// maxDense bounds the span of codes that a CodeTable keeps as a plain slice.
const maxDense = 1 << 17

// CodeTable gives each class code a value: by one slice look-up where the
// codes lie close together, by a map otherwise. It is safe for concurrent
// reading.
type CodeTable[T any] struct {
	low     int32
	dense   []T
	sparse  map[int32]T
	missing T
	others  T
}

// NewCodeTable returns a table of the given values. MissingCode gets the
// value missing, a code that values lacks gets others.
func NewCodeTable[T any](values map[int32]T, missing, others T) *CodeTable[T] {
	t := &CodeTable[T]{missing: missing, others: others}
	low, high := codeSpan(values)
	if int64(high)-int64(low) >= maxDense {
		t.sparse = values
		return t
	}
	if low >= 0 { // the codes of a byte, which most maps have, all lie in the slice
		low, high = 0, max(high, 255)
	}
	t.low = low
	t.dense = make([]T, high-low+1)
	for i := range t.dense {
		t.dense[i] = others
	}
	for code, v := range values {
		if code != MissingCode {
			t.dense[code-low] = v
		}
	}
	return t
}

func codeSpan[T any](values map[int32]T) (low, high int32) {
	first := true
	for code := range values {
		if code == MissingCode {
			continue
		}
		if first {
			low, high, first = code, code, false
		}
		low, high = min(low, code), max(high, code)
	}
	return low, high
}

// At returns the value of a code.
func (t *CodeTable[T]) At(code int32) T {
	if i := uint32(code) - uint32(t.low); i < uint32(len(t.dense)) {
		return t.dense[i]
	}
	return t.rare(code)
}

func (t *CodeTable[T]) rare(code int32) T {
	if code == MissingCode {
		return t.missing
	}
	if v, ok := t.sparse[code]; ok {
		return v
	}
	return t.others
}
