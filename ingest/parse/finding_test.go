package parse

import (
	"testing"

	"keelmark/ingest/record"
)

// The invented workbooks of the importer's test set hold the texts marked f; the others are spellings that
// keepers use (common practice, no source).
func TestFindingReadsCountsWordsAndSigns(t *testing.T) {
	type want struct {
		form   record.Form
		value  float64
		lo, hi float64
		scale  string
		word   string
	}
	lice := FindingIn{Parasite: record.Lice}
	legend := FindingIn{Parasite: record.Lice, Dash: DashNone}
	yesNo := FindingIn{Parasite: record.ScalyLegMite, YesNo: true, Cross: "yes"}
	scored := FindingIn{Parasite: record.Lice, Scale: record.Scale{Name: "0-3", Min: 0, Max: 3}}
	for _, c := range []struct {
		cell Cell
		in   FindingIn
		want want
	}{
		{T("none"), lice, want{record.Ordinal, 0, 0, 0, "words", "none"}},            // f
		{T("few"), lice, want{record.Ordinal, 1, 0, 0, "words", "few"}},              // f
		{T("many"), lice, want{record.Ordinal, 3, 0, 0, "words", "many"}},            // f
		{T("keine"), lice, want{record.Ordinal, 0, 0, 0, "words", "none"}},           // f
		{T("wenige"), lice, want{record.Ordinal, 1, 0, 0, "words", "few"}},           // f
		{T("viele"), lice, want{record.Ordinal, 3, 0, 0, "words", "many"}},           // f
		{T("10-20"), lice, want{record.Range, 0, 10, 20, "", ""}},                    // f
		{T(">50"), lice, want{record.MoreThan, 0, 50, 0, "", ""}},                    // f
		{T("12"), lice, want{record.Count, 12, 0, 0, "", ""}},                        // f
		{T("0"), lice, want{record.Count, 0, 0, 0, "", ""}},                          // f
		{T("+"), lice, want{record.Ordinal, 1, 0, 0, plusScale, ""}},                 // f
		{T("++"), lice, want{record.Ordinal, 2, 0, 0, plusScale, ""}},                // f
		{T("+++"), lice, want{record.Ordinal, 3, 0, 0, plusScale, ""}},               // f
		{T("-"), legend, want{record.Ordinal, 0, 0, 0, plusScale, ""}},               // f
		{Cell{Text: "1", Stored: Bool}, lice, want{record.Present, 1, 0, 0, "", ""}}, // f
		{Cell{Text: "0", Stored: Bool}, lice, want{record.Present, 0, 0, 0, "", ""}}, // f
		{Cell{Text: "2", Stored: Number}, lice, want{record.Count, 2, 0, 0, "", ""}}, // f
		{T("None "), lice, want{record.Ordinal, 0, 0, 0, "words", "none"}},
		{T("nil"), lice, want{record.Ordinal, 0, 0, 0, "words", "none"}},
		{T("clear"), lice, want{record.Ordinal, 0, 0, 0, "words", "none"}},
		{T("no lice"), lice, want{record.Ordinal, 0, 0, 0, "words", "none"}},
		{T("mod"), lice, want{record.Ordinal, 2, 0, 0, "words", "moderate"}},
		{T("v heavy"), lice, want{record.Ordinal, 4, 0, 0, "words", "very heavy"}},
		{T("beaucoup"), lice, want{record.Ordinal, 3, 0, 0, "words", "many"}},
		{T("<5"), lice, want{record.LessThan, 0, 0, 5, "", ""}},
		{T("5+"), lice, want{record.AtLeast, 0, 5, 0, "", ""}},
		{T("50 or more"), lice, want{record.AtLeast, 0, 50, 0, "", ""}},
		{T("more than 20"), lice, want{record.MoreThan, 0, 20, 0, "", ""}},
		{T("≥50"), lice, want{record.AtLeast, 0, 50, 0, "", ""}},
		{T("up to 5"), lice, want{record.Range, 0, 0, 5, "", ""}},
		{T("+ve"), lice, want{record.Present, 1, 0, 0, "", ""}},
		{T("-ve"), lice, want{record.Present, 0, 0, 0, "", ""}},
		{T("10 to 20"), lice, want{record.Range, 0, 10, 20, "", ""}},
		{T("10–20"), lice, want{record.Range, 0, 10, 20, "", ""}},
		{T("1,200"), lice, want{record.Count, 1200, 0, 0, "", ""}},
		{T("yes"), lice, want{record.Present, 1, 0, 0, "", ""}},
		{T("n"), yesNo, want{record.Present, 0, 0, 0, "", ""}},
		{T("no"), yesNo, want{record.Present, 0, 0, 0, "", ""}},
		{T("x"), yesNo, want{record.Present, 1, 0, 0, "", ""}},
		{T("✓"), yesNo, want{record.Present, 1, 0, 0, "", ""}},
		{T("2"), scored, want{record.Ordinal, 2, 0, 0, "0-3", ""}},
		{T("1½"), scored, want{record.Ordinal, 1.5, 0, 0, "0-3", ""}},
		{T("lice"), lice, want{record.Present, 1, 0, 0, "", ""}},
	} {
		got, p := Finding(c.cell, c.in)
		if p != nil {
			t.Errorf("%q: %s", c.cell.Text, p.Message)
			continue
		}
		if g := (want{got.Form, got.Value, got.Lo, got.Hi, got.Scale, got.Word}); g != c.want || got.Parasite != c.in.Parasite {
			t.Errorf("%q: got %+v for %s, want %+v", c.cell.Text, g, got.Parasite, c.want)
		}
	}
}

func TestFindingNamesTheParasiteOfTheCell(t *testing.T) {
	got, p := Finding(T("few red mites"), FindingIn{Parasite: record.Lice})
	if p != nil || got.Parasite != record.RedMite || got.Word != "few" {
		t.Errorf("got %+v, %v", got, p)
	}
}

func TestFindingAsksWhereACellCannotSay(t *testing.T) {
	for _, c := range []struct {
		cell   Cell
		in     FindingIn
		class  Class
		action Action
	}{
		{T("?"), FindingIn{}, UnknownValue, Ask}, // f
		{T("-"), FindingIn{}, DashAmbiguous, Ask},
		{T("-"), FindingIn{Dash: DashNotLooked}, MissingMarker, Skip},
		{T(""), FindingIn{}, MissingMarker, Skip},
		{T("n/a"), FindingIn{}, MissingMarker, Skip},
		{T("x"), FindingIn{}, CrossAmbiguous, Ask},
		{T("✓"), FindingIn{}, CrossAmbiguous, Ask},
		{T("xx"), FindingIn{}, NoteInNumber, Ask},
		{T("++++"), FindingIn{}, ScoreOutOfRange, Ask},
		{T("12?"), FindingIn{}, Doubtful, Ask},
		{T("few?"), FindingIn{}, Doubtful, Ask},
		{T("2.5"), FindingIn{}, CountInvalid, Ask},
		{T("100s"), FindingIn{}, CountInvalid, Ask},
		{T("≤0"), FindingIn{}, CountInvalid, Ask},
		{T("none but eggs"), FindingIn{}, NoteInNumber, Ask},
		{T("moulting"), FindingIn{}, NoteInNumber, Ask},
		{T("12 on vent"), FindingIn{}, NoteWithNumber, Tell},
		{T("few on vent"), FindingIn{}, NoteWithNumber, Tell},
		{T("~20"), FindingIn{}, Approximate, Tell},
		{T("†"), FindingIn{}, DeathMarker, Ask},
		{T("5"), FindingIn{Scale: record.Scale{Name: "0-3", Max: 3}}, ScoreOutOfRange, Ask},
		{Cell{Text: "45636", Stored: Dated}, FindingIn{}, DateInCount, Ask}, // 2024-12-10
		{T("10-Dec"), FindingIn{}, DateInCount, Ask},
		{Cell{Text: "0.5", Stored: Percent}, FindingIn{}, PercentCell, Ask},
		{Cell{Text: "#N/A", Stored: Error}, FindingIn{}, FormulaError, Refuse},
	} {
		got, p := Finding(c.cell, c.in)
		if p == nil || p.Class != c.class || p.Action != c.action {
			t.Errorf("%q: got %+v, %+v, want %s", c.cell.Text, got, p, c.class)
		}
	}
	_, p := Finding(Cell{Text: "45636", Stored: Dated}, FindingIn{})
	if len(p.Readings) != 2 || p.Readings[0].Value != "10-12" {
		t.Errorf("readings of 10 December: %v, want 10-12", p.Readings)
	}
}

func TestParasiteTellsKindsApart(t *testing.T) {
	for text, want := range map[string]string{
		"Lice": record.Lice, "Federlinge": record.Lice, "louse count": record.Lice, "poux": record.Lice,
		"Mites (body)": record.Mites, "NFM": record.NorthernFowlMite, "northern fowl mite": record.NorthernFowlMite,
		"red mite": record.RedMite, "poux rouges": record.RedMite, "Rote Vogelmilbe": record.RedMite,
		"Nordische Vogelmilbe": record.NorthernFowlMite,
		"Scaly leg":            record.ScalyLegMite, "Kalkbeine": record.ScalyLegMite, "shaft lice": record.ShaftLouse,
		"police": "", "dynamite": "", "": "",
	} {
		if got := Parasite(text); got != want {
			t.Errorf("%q: got %q, want %q", text, got, want)
		}
	}
}

func TestDashMeaningComesFromTheLegend(t *testing.T) {
	for _, c := range []struct {
		legend []string
		want   Dash
	}{
		{[]string{"Key:", "- none seen   + 1-5   ++ 6-20   +++ more than 20"}, DashNone}, // f
		{[]string{"- = not looked, + = some"}, DashNotLooked},
		{[]string{"-=0, +=1-5"}, DashNone},
		{[]string{"+ = few"}, DashUnknown},
	} {
		if got := DashMeaning(Legend(c.legend...)); got != c.want {
			t.Errorf("%q: got %d, want %d (%v)", c.legend, got, c.want, Legend(c.legend...))
		}
	}
}

func TestLegendReadsItsEntries(t *testing.T) {
	got := Legend("† = lost    wet = caught in the rain, weigh again") // f
	if len(got) != 2 || got[0] != (Definition{"†", "lost"}) || got[1].Mark != "wet" {
		t.Errorf("got %+v", got)
	}
	if got := Legend("Wexmere Hollow bantams"); got != nil {
		t.Errorf("a title read as legend: %+v", got)
	}
}

func TestCount(t *testing.T) {
	for _, c := range []struct {
		text string
		want float64
	}{{"12", 12}, {"0", 0}, {"nil", 0}, {"12 eggs", 12}} {
		if got, p := Count(T(c.text)); p.Holds() || got.Value != c.want || got.Form != record.Count {
			t.Errorf("%q: got %+v, %v", c.text, got, p)
		}
	}
	for _, text := range []string{"2.5", "dozen", "12 of 15", "-3"} {
		if got, p := Count(T(text)); !p.Holds() {
			t.Errorf("%q: got %+v without a question", text, got)
		}
	}
}
