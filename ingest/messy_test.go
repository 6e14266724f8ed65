package ingest

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"unicode/utf16"

	"keelmark/ingest/record"
)

// said lists what a flock's records say, one short line each in the order of cells, with "?" where the keeper
// is shown it; and what is asked or refused, as "cell class".
func said(sets []*record.Dataset) (records, told []string) {
	for _, d := range sets {
		many := len(d.Ledgers) > 1
		place := func(at record.Ref) string {
			if many {
				return at.Sheet + "!" + at.Cell()
			}
			return at.Cell()
		}
		mark := func(flagged bool) string {
			if flagged {
				return " ?"
			}
			return ""
		}
		type line struct {
			at   record.Ref
			text string
		}
		var lines []line
		for _, o := range d.Observations {
			when := o.On.String()
			if n, ok := o.Age.Days(); ok && when == "" {
				when = fmt.Sprintf("day %d", n)
			}
			what, value := string(o.Trait), fmt.Sprintf("%.4g", o.Value)
			if o.Trait == record.Parasite {
				what = o.Parasite
			}
			switch {
			case o.Scale == "words":
				value = o.Detail().Word
			case o.Form == record.Range:
				value = fmt.Sprintf("%g to %g", o.Lo, o.Hi)
			case o.Form == record.MoreThan:
				value = fmt.Sprintf("over %g", o.Lo)
			case o.Form == record.AtLeast:
				value = fmt.Sprintf("%g or more", o.Lo)
			case o.Form == record.LessThan:
				value = fmt.Sprintf("under %g", o.Hi)
			case o.Form == record.Present && o.Value != 0:
				value = "found"
			case o.Form == record.Present:
				value = "not found"
			case o.Trait == record.Weight:
				value = fmt.Sprintf("%.0f", o.Value)
			}
			if s := o.Scale; s != "" && s != "words" {
				value += " of " + s
			}
			lines = append(lines, line{o.At, fmt.Sprintf("%s %s %s %s%s", first(o.Bird, "("+o.Detail().Pen+")"), when, what, value, mark(o.Flagged))})
		}
		for _, e := range d.Events {
			who := e.Bird
			if e.Scope != record.OneBird {
				who = strings.TrimSpace(string(e.Scope) + " " + e.Pen)
			}
			text := string(e.Kind)
			if e.Treatment != nil {
				text += " " + e.Treatment.Product
			}
			if s := e.Setting; s != nil {
				text += fmt.Sprintf(" %d clear %d hatched %d", s.Set, s.Clear, s.HatchedNo)
			}
			lines = append(lines, line{e.At, strings.TrimSpace(fmt.Sprintf("%s %s %s", who, e.On, text)) + mark(e.Flagged)})
		}
		slices.SortStableFunc(lines, func(a, b line) int { return a.at.Compare(b.at) })
		for _, l := range lines {
			records = append(records, place(l.at)+" "+l.text)
		}
		for _, q := range d.Questions {
			told = append(told, place(q.At)+" "+q.Class)
			for _, at := range q.More {
				told = append(told, place(at)+" "+q.Class)
			}
		}
		for _, r := range d.Rejects {
			told = append(told, place(r.At)+" "+r.Class)
		}
	}
	slices.Sort(told)
	return records, told
}

// utf16LE writes a text as programs of one maker export it: UTF-16 with a mark.
func utf16LE(s string) string {
	var b strings.Builder
	for _, u := range append([]uint16{0xFEFF}, utf16.Encode([]rune(s))...) {
		b.WriteByte(byte(u))
		b.WriteByte(byte(u >> 8))
	}
	return b.String()
}

// messy is one invented file of a habit, with the truth about it.
type messy struct {
	habit string
	file  string // name; a text file where text is set, else a workbook of tabs
	text  string
	tabs  []tab
	y1904 bool
	want  []string // records, in the order of cells
	told  []string // what is asked or refused, sorted
}

// Keepers' habits beyond those of the sample workbooks. Birds, rings, pens and numbers are invented.
func TestMessyBooks(t *testing.T) {
	for _, m := range slices.Concat(messyText(), messyMore(), messyTabs(), messyLast(), messySlips()) {
		t.Run(m.habit, func(t *testing.T) {
			data := []byte(m.text)
			if m.text == "" {
				data = drawnXLSX(t, m.y1904, m.tabs...)
			}
			path := filepath.Join(t.TempDir(), m.file)
			if err := os.WriteFile(path, data, 0o600); err != nil {
				t.Fatal(err)
			}
			sets := load(t, path)
			got, told := said(sets)
			compare(t, "records", got, m.want)
			compare(t, "told", told, m.told)
			if t.Failed() {
				for _, q := range sets[0].Questions {
					t.Log(q.Message)
				}
				t.Log(strings.Join(sets[0].Files[0].Notes, "\n"), sets[0].Files[0].Reason)
			}
			checkFates(t, sets)
		})
	}
}

// compare reports what is missing and what is there without need.
func compare(t *testing.T, what string, got, want []string) {
	t.Helper()
	left := slices.Clone(got)
	for _, w := range want {
		if i := slices.Index(left, w); i >= 0 {
			left = slices.Delete(left, i, i+1)
		} else {
			t.Errorf("%s: missing %s", what, w)
		}
	}
	for _, g := range left {
		t.Errorf("%s: not true %s", what, g)
	}
}
