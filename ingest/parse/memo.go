package parse

// Memo remembers what texts read as. A sheet repeats few short texts very often, so the last short ones are kept where
// one multiplication finds them; the map behind them holds all. Not for use by several goroutines at once.
type Memo[V any] struct {
	recent []remembered[V] // nil until there have been many questions
	asked  int
	all    map[string]V
}

type remembered[V any] struct {
	text  uint64 // as packed, 0 for an empty place
	value V
}

const (
	memoBits  = 10
	memoShort = 7 // bytes of a text that packs into a number, with its length
)

// NewMemo returns an empty memo.
func NewMemo[V any]() *Memo[V] {
	return &Memo[V]{all: map[string]V{}}
}

// Get returns what a text was put with.
func (m *Memo[V]) Get(text string) (V, bool) {
	packed := pack(text)
	if m.recent == nil && m.asked >= 1<<memoBits {
		m.recent = make([]remembered[V], 1<<memoBits)
	}
	if m.asked++; packed == 0 || m.recent == nil {
		v, ok := m.all[text]
		return v, ok
	}
	at := &m.recent[packed*0x9E3779B97F4A7C15>>(64-memoBits)] // Fibonacci hashing, Knuth, TAOCP 3, 6.4
	if at.text == packed {
		return at.value, true
	}
	v, ok := m.all[text]
	if ok {
		at.text, at.value = packed, v
	}
	return v, ok
}

// Put remembers a text. What was put with it before must be the same value or may be found again.
func (m *Memo[V]) Put(text string, v V) { m.all[text] = v }

// pack makes a number of a short text, another for each; 0 for the empty text and long ones.
func pack(text string) uint64 {
	if len(text) > memoShort {
		return 0
	}
	n := uint64(len(text))
	for i := range len(text) {
		n = n<<8 | uint64(text[i])
	}
	return n
}
