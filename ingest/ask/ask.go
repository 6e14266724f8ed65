// Package ask collects the questions that only a keeper can settle, and looks up the answers given before.
//
// A question names its cells and has a key; questions with the same key are one, so that one answer settles
// many cells. An answer about one cell holds as long as the cell's text does.
//
// It refuses to settle anything by itself.
package ask

import (
	"fmt"
	"slices"

	"keelmark/ingest/parse"
	"keelmark/ingest/record"
)

// List collects questions. Questions with the same key are one: an answer settles all their cells.
type List struct {
	byKey map[string]int
	list  []record.Question
}

// NewList returns an empty list.
func NewList() *List {
	return &List{byKey: map[string]int{}}
}

// Add adds a question, or its cell to the question of the same key.
func (a *List) Add(q record.Question) {
	if q.Key == "" {
		q.Key = CellKey(q.Class, q.At)
	}
	i, ok := a.byKey[q.Key]
	if !ok {
		a.byKey[q.Key] = len(a.list)
		a.list = append(a.list, q)
		return
	}
	if old := &a.list[i]; old.At != q.At {
		old.More = append(old.More, q.At)
	}
}

// Also names a further cell that the answer to the latest question about a cell settles.
func (a *List) Also(about, cell record.Ref) {
	for i := len(a.list) - 1; i >= 0; i-- {
		if q := &a.list[i]; q.At == about || slices.Contains(q.More, about) {
			q.More = append(q.More, cell)
			return
		}
	}
}

// Drop takes back what is asked about one cell alone: a row that repeats another is counted once, and asked about once.
func (a *List) Drop(cell record.Ref) {
	a.list = slices.DeleteFunc(a.list, func(q record.Question) bool {
		return q.At == cell && len(q.More) == 0 && q.Key == CellKey(q.Class, cell)
	})
	clear(a.byKey)
	for i, q := range a.list {
		a.byKey[q.Key] = i
	}
}

// Len is how many questions there are.
func (a *List) Len() int { return len(a.list) }

// Questions returns them in the order of their cells.
func (a *List) Questions() []record.Question {
	out := slices.Clone(a.list)
	for i := range out {
		slices.SortFunc(out[i].More, record.Ref.Compare)
		out[i].More = slices.Compact(out[i].More)
	}
	slices.SortStableFunc(out, func(a, b record.Question) int { return a.At.Compare(b.At) })
	return out
}

// CellKey is the key of a question about one cell.
func CellKey(class string, at record.Ref) string { return class + " " + at.Key() }

// ColumnKey is the key of a question about a whole column or file.
func ColumnKey(class, file, what string) string { return fmt.Sprintf("%s %s %s", class, file, what) }

// Problem turns a problem of package parse into a question about its cell.
func Problem(p *parse.Problem, at record.Ref, raw string) record.Question {
	return record.Question{Class: string(p.Class), At: at, Raw: raw, Message: at.String() + ": " + p.Message, Readings: p.Readings}
}
