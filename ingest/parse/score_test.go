package parse

import (
	"testing"

	"keelmark/ingest/record"
)

var (
	oneToFive   = ScoreIn{Scale: record.Scale{Name: "1-5", Min: 1, Max: 5}}
	zeroToThree = ScoreIn{Scale: record.Scale{Name: "0-3", Min: 0, Max: 3}}
)

// Texts marked f stand in the invented workbooks of the importer's test set.
func TestScore(t *testing.T) {
	declared := ScoreIn{Scale: record.Scale{Name: "1-5", Min: 1, Max: 5, Words: map[string]float64{"thin": 2}}}
	for _, c := range []struct {
		text  string
		in    ScoreIn
		value float64
		scale string
		word  string
	}{
		{"3", oneToFive, 3, "1-5", ""}, {"2½", oneToFive, 2.5, "1-5", ""}, {"3.0", oneToFive, 3, "1-5", ""}, {"BCS 2.5", oneToFive, 2.5, "1-5", ""}, // f
		{"2,5", oneToFive, 2.5, "1-5", ""}, {"2", zeroToThree, 2, "0-3", ""}, {"3.5", ScoreIn{}, 3.5, "", ""}, // f
		{"2 1/2", oneToFive, 2.5, "1-5", ""}, {"bcs2", oneToFive, 2, "1-5", ""}, {"score: 3", oneToFive, 3, "1-5", ""},
		{"3/5", ScoreIn{}, 3, "1-5", ""}, {"3/5", oneToFive, 3, "1-5", ""}, {"3 of 5", ScoreIn{}, 3, "1-5", ""}, {"3 out of 5", oneToFive, 3, "1-5", ""}, {"2/3", zeroToThree, 2, "0-3", ""},
		{"thin", ScoreIn{}, 0, "words", "thin"}, {"V. good", ScoreIn{}, 0, "", ""}, {"thin", declared, 2, "1-5", "thin"}, {"B", ScoreIn{}, 0, "letters", "b"}, {"++", ScoreIn{}, 2, "signs", "++"},
	} {
		got, p := Score(T(c.text), c.in)
		if c.scale == "" && c.word == "" && c.value == 0 {
			if !p.Holds() {
				t.Errorf("%q: got %+v without a question", c.text, got)
			}
			continue
		}
		if p != nil || got.Value != c.value || got.Scale != c.scale || got.Word != c.word {
			t.Errorf("%q: got %+v, %v", c.text, got, p)
		}
	}
}

func TestScoreAsks(t *testing.T) {
	for _, c := range []struct {
		cell   Cell
		in     ScoreIn
		class  Class
		action Action
	}{
		{T("3-"), oneToFive, ScoreAmbiguous, Ask}, // f
		{T("3+"), oneToFive, ScoreAmbiguous, Ask}, {T("2-3"), oneToFive, ScoreAmbiguous, Ask}, {T("2/3"), oneToFive, ScoreAmbiguous, Ask}, {T("2/3"), ScoreIn{}, ScoreAmbiguous, Ask},
		{Cell{Text: "7", Stored: Number}, zeroToThree, ScoreOutOfRange, Ask}, // f
		{T("25"), oneToFive, ScoreOutOfRange, Ask}, {T("0"), oneToFive, ScoreOutOfRange, Ask}, {T("12"), ScoreIn{}, ScoreOutOfRange, Ask}, {T("-1"), oneToFive, ScoreOutOfRange, Ask},
		{T("3/5"), zeroToThree, ScaleConflict, Ask}, {T("thin"), oneToFive, ScaleConflict, Ask},
		{T("3?"), oneToFive, Doubtful, Ask}, {T("?"), oneToFive, UnknownValue, Ask}, {T("3 thin"), oneToFive, NoteWithNumber, Tell}, {T("moulting"), oneToFive, NoteInNumber, Ask},
		{T(""), oneToFive, MissingMarker, Skip}, {T("-"), oneToFive, MissingMarker, Skip}, {T("dead"), oneToFive, DeathMarker, Ask},
		{Cell{Text: "45415", Stored: Dated}, oneToFive, DateInScore, Ask}, // 2024-05-03, typed 3/5
		{Cell{Text: "0.85", Stored: Percent}, oneToFive, PercentCell, Ask}, {Cell{Text: "1", Stored: Bool}, oneToFive, BooleanCell, Ask},
		{Cell{Text: "#DIV/0!", Stored: Error}, oneToFive, FormulaError, Refuse},
	} {
		got, p := Score(c.cell, c.in)
		if p == nil || p.Class != c.class || p.Action != c.action {
			t.Errorf("%q: got %+v, %+v; want %s", c.cell.Text, got, p, c.class)
		}
		for _, r := range p.Readings {
			if _, q := Score(T(r.Value), c.in); q.Holds() && r.Value != "" {
				t.Errorf("%q answered %q still asks: %s", c.cell.Text, r.Value, q.Message)
			}
		}
	}
}

func TestScaleIn(t *testing.T) {
	for text, want := range map[string]string{
		"Condition (1-5)": "1-5", "condition (of 5)": "1-5", "Kondition (1-5)": "1-5", "BCS 0-3": "0-3", // f
		"BCS 1–9": "1-9", "score out of 10": "1-10", "cond /5": "1-5", "0 to 3": "0-3", "1 bis 5": "1-5", "NFM (0-7)": "0-7", "etat /5": "1-5",
		"Condition": "", "Weight 3-5": "", "12/5/2024": "", "2023-24": "", "Date 1-12-24": "", "week of 5 June": "",
	} {
		if got, _ := ScaleIn(text); got.Name != want {
			t.Errorf("%q: got %q, want %q", text, got.Name, want)
		}
	}
}
