package ask

import (
	"strings"
	"testing"

	"keelmark/ingest/record"
	"keelmark/ingest/settings"
)

func at(row int32) record.Ref { return record.Ref{File: "a.csv", Row: row, Col: 3} }

func TestOneAnswerSettlesManyCells(t *testing.T) {
	l := NewList()
	for _, row := range []int32{9, 2, 5, 2} {
		l.Add(record.Question{Class: "unit_unknown", At: at(row), Key: ColumnKey("unit_unknown", "a.csv", "Wt")})
	}
	l.Add(record.Question{Class: "doubtful_value", At: at(3)})
	l.Add(record.Question{Class: "doubtful_value", At: at(3)})
	q := l.Questions()
	if len(q) != 2 || l.Len() != 2 {
		t.Fatalf("%d questions, want 2: %v", len(q), q)
	}
	if q[0].At != at(3) || q[0].Key != CellKey("doubtful_value", at(3)) || len(q[0].More) != 0 {
		t.Errorf("the question about one cell: %+v", q[0])
	}
	if q[1].At != at(9) || len(q[1].More) != 2 || q[1].More[0] != at(2) || q[1].More[1] != at(5) {
		t.Errorf("the question about a column: %+v", q[1])
	}
}

func TestAnswersThatNoLongerFit(t *testing.T) {
	a := &settings.Answers{}
	cell, old, unused := CellKey("doubtful_value", at(2)), CellKey("doubtful_value", at(3)), CellKey("doubtful_value", at(4))
	for key, row := range map[string]int32{cell: 2, old: 3, unused: 4} {
		a.Set(settings.Answer{Key: key, Value: "850 g", Cell: at(row).Key(), Raw: "850?"})
	}
	r := NewReplies(a)
	for range 2 { // looked up twice, told once
		if v, ok := r.Cell(cell, " 850? "); !ok || v != "850 g" {
			t.Errorf("got %q, %v", v, ok)
		}
		if v, ok := r.Cell(old, "860?"); ok {
			t.Errorf("an answer to another text is used: %q", v)
		}
	}
	got := r.Outdated("a.csv")
	if len(got) != 2 || !strings.Contains(got[0], "C3") || !strings.Contains(got[0], "open again") || !strings.Contains(got[1], "C4") {
		t.Errorf("told %q", got)
	}
	if other := r.Outdated("b.csv"); len(other) != 0 {
		t.Errorf("another file is told %q", other)
	}
	if v, ok := NewReplies(nil).Column("any"); ok {
		t.Errorf("no answers, yet %q", v)
	}
}

func TestAnswersThatAQuestionDoesNotTake(t *testing.T) {
	a := &settings.Answers{}
	for key, value := range map[string]string{"hidden_row a.csv!C2": "perhaps", "date_order a.csv dates": "dym", "hemisphere": "south", "unit_unknown a.csv Wt": "stone",
		"column_unknown a.csv Heft": "wieght", "values_unknown a.csv Log": "ring", "death_marker a.csv!C9": "soon", "event_marker a.csv!C8": "2025-03-01", "unit_unknown a.csv!C5": "850 g", "scale_unknown a.csv cond": "good"} {
		cell := ""
		if _, at, ok := strings.Cut(key, " a.csv!"); ok {
			cell = "a.csv!" + at
		}
		a.Set(settings.Answer{Key: key, Value: value, Cell: cell})
	}
	r := NewReplies(a)
	if _, ok := r.Cell("hidden_row a.csv!C2", ""); ok {
		t.Error("any text shows a hidden row")
	}
	for key, want := range map[string]bool{"date_order a.csv dates": false, "hemisphere": true, "unit_unknown a.csv Wt": false, "scale_unknown a.csv cond": false, "column_unknown a.csv Heft": false, "values_unknown a.csv Log": false} {
		if v, ok := r.Column(key); ok != want {
			t.Errorf("%s: %q is taken: %v", key, v, ok)
		}
	}
	if v, ok := r.Cell("unit_unknown a.csv!C5", ""); !ok || v != "850 g" {
		t.Errorf("the weight of one cell: %q, %v", v, ok)
	}
	for key, want := range map[string]bool{"death_marker a.csv!C9": false, "event_marker a.csv!C8": true} {
		if v, ok := r.Cell(key, ""); ok != want {
			t.Errorf("%s: %q is taken: %v", key, v, ok)
		}
	}
	told := strings.Join(r.Outdated("a.csv"), "\n")
	for _, part := range []string{`"perhaps"`, `write one of "yes", "no"`, `"dmy", "mdy", "ymd"`, `"stone"`, `"good"`, `"wieght"`, `"egg_count"`, `"soon"`} {
		if !strings.Contains(told, part) {
			t.Errorf("lacks %s: %s", part, told)
		}
	}
}
