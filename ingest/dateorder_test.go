package ingest

import (
	"slices"
	"strings"
	"testing"

	"keelmark/ingest/record"
	"keelmark/ingest/settings"
)

// ambiguous are dates that read in two ways, on a sheet of their own. All sheets are invented.
const ambiguous = "Date|Ring|Weight g\n3/4/25|R1|#850\n5/4/25|R2|#900"

func datesIn(t *testing.T, a *settings.Answers, tabs ...tab) ([]*record.Dataset, []record.Question) {
	t.Helper()
	sets := load2(t, write(t, map[string]string{"w.xlsx": string(drawnXLSX(t, false, tabs...))}), a)
	var asked []record.Question
	for _, q := range sets[0].Questions {
		if q.Class == "date_ambiguous" {
			asked = append(asked, q)
		}
	}
	checkFates(t, sets)
	return sets, asked
}

// One date that can be read in one way only settles the others of the file, and each of them says so.
func TestOneProofSettlesTheFile(t *testing.T) {
	sets, asked := datesIn(t, &settings.Answers{}, tab{name: "Early", rows: ambiguous}, tab{name: "Late", rows: "Date|Ring|Weight g\n13/4/25|R1|#861"})
	want := []string{"C2 R1 2025-04-03 weight 850", "C3 R2 2025-04-05 weight 900", "C2 R1 2025-04-13 weight 861"}
	if got := brief(sets); !slices.Equal(got, want) || len(asked) > 0 {
		t.Fatalf("%v, asked %v", got, asked)
	}
	for i, o := range sets[0].Observations {
		steps := strings.Join(o.Detail().Steps, "; ")
		if traced := strings.Contains(steps, "day first as elsewhere in the file: sheet Late, A2"); traced != (i < 2) {
			t.Errorf("%s is traced %q", o.At, steps)
		}
	}
}

// Sheets that prove different orders keep their own; one that proves none is asked about by itself, and the proofs are named.
func TestProofsThatContradictEachOther(t *testing.T) {
	tabs := []tab{{name: "Ours", rows: "Date|Ring|Weight g\n13/4/25|R1|#861\n2/5/25|R1|#870"}, {name: "Theirs", rows: "Date|Ring|Weight g\n5/28/25|R1|#880\n6/2/25|R1|#890"},
		{name: "Whose", rows: ambiguous}, {name: "Another", rows: ambiguous}}
	sets, asked := datesIn(t, &settings.Answers{}, tabs...)
	proven := []string{"C2 R1 2025-04-13 weight 861", "C3 R1 2025-05-02 weight 870", "C2 R1 2025-05-28 weight 880", "C3 R1 2025-06-02 weight 890"}
	if got := brief(sets); !slices.Equal(got, proven) || len(asked) != 2 {
		t.Fatalf("%v, asked %v", got, asked)
	}
	for _, q := range asked {
		for _, part := range []string{"sheet Ours, A2", "sheet Theirs, A2"} {
			if !strings.Contains(q.Message, part) {
				t.Errorf("%s does not name %s", q.Message, part)
			}
		}
	}
	a := &settings.Answers{}
	for i, q := range asked {
		a.Set(settings.Answer{Key: q.Key, Value: []string{"dmy", "mdy"}[i]})
	}
	sets, asked = datesIn(t, a, tabs...)
	days := []string{}
	for _, o := range sets[0].Observations[4:] {
		days = append(days, o.At.Sheet+" "+o.On.String())
	}
	slices.Sort(days)
	if want := []string{"Another 2025-03-04", "Another 2025-05-04", "Whose 2025-04-03", "Whose 2025-04-05"}; len(asked) > 0 || !slices.Equal(days, want) && !slices.Equal(days, []string{"Another 2025-04-03", "Another 2025-04-05", "Whose 2025-03-04", "Whose 2025-05-04"}) {
		t.Errorf("after the answers: %v, asked %v", days, asked)
	}
}

// A column that proves both orders proves none: its doubtful dates are asked about, with the cells that prove each.
func TestAColumnThatContradictsItself(t *testing.T) {
	tabs := []tab{{name: "Log", rows: "Date|Ring|Weight g\n13/4/25|R1|#850\n5/28/25|R1|#861\n3/4/25|R2|#900\n5/4/25|R2|#905"}}
	sets, asked := datesIn(t, &settings.Answers{}, tabs...)
	if got := brief(sets); !slices.Equal(got, []string{"C2 R1 2025-04-13 weight 850", "C3 R1 2025-05-28 weight 861"}) || len(asked) != 1 || len(asked[0].More) != 1 {
		t.Fatalf("%v, asked %v", got, asked)
	}
	if m := asked[0].Message; !strings.Contains(m, "A2") || !strings.Contains(m, "A3") {
		t.Errorf("the proving cells are not named: %s", m)
	}
	a := &settings.Answers{}
	a.Set(settings.Answer{Key: asked[0].Key, Value: "dmy"})
	sets, asked = datesIn(t, a, tabs...)
	if got := brief(sets); len(asked) > 0 || !slices.Contains(got, "C4 R2 2025-04-03 weight 900") || !slices.Contains(got, "C5 R2 2025-04-05 weight 905") {
		t.Errorf("after the answer: %v, asked %v", got, asked)
	}
	// Dates of hatching may not settle in silence what the days of weighing contradict.
	_, asked = datesIn(t, &settings.Answers{}, tab{name: "Log", rows: "Hatched|Date|Ring|Weight g\n3/25/24|13/4/25|R1|#850\n3/25/24|3/4/25|R1|#861\n3/25/24|5/4/25|R1|#870"})
	if len(asked) == 0 {
		t.Error("two columns of a table prove different orders, and nothing is asked")
	}
}
