package parse

import (
	"fmt"
	"testing"
)

// A memo answers as a map does, for texts that collide and for long ones too.
func TestMemo(t *testing.T) {
	m := NewMemo[int]()
	want := map[string]int{"": 1, "a": 2, "\x00": 3, "a\x00": 4, "a text that is too long to pack": 5}
	for i := range 5000 {
		want[fmt.Sprint(i)] = i
	}
	for text, v := range want {
		if _, ok := m.Get(text); ok {
			t.Fatalf("%q is found before it is put", text)
		}
		m.Put(text, v)
	}
	for range 2 {
		for text, v := range want {
			if got, ok := m.Get(text); !ok || got != v {
				t.Fatalf("%q: %d, %v; want %d", text, got, ok, v)
			}
		}
	}
	if _, ok := m.Get("none"); ok {
		t.Error("a text is found that was never put")
	}
}
