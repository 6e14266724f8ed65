package decision

import (
	"context"
	"slices"
	"strings"
	"testing"

	"keelmark/analysis"
	"keelmark/datasets"
	"keelmark/ingest/record"
)

func day(t *testing.T, s string) record.Day {
	t.Helper()
	d, err := record.ParseDay(s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// home is an invented flock of three Sussex hens: one on weight and looked at, one far too light and lousy, one that
// nobody has weighed or looked at for months.
func home(t *testing.T) (analysis.Context, *record.Dataset) {
	t.Helper()
	rows, err := datasets.Breeds()
	if err != nil {
		t.Fatal(err)
	}
	today := day(t, "2025-11-20")
	c := analysis.Context{Today: today, Standards: rows}
	c.Settings.Flock.Country = "US"
	c.Settings.Show.Date = record.On(day(t, "2025-12-06"))
	d := &record.Dataset{Name: "Home"}
	row := int32(1)
	weigh := func(bird string, ago int, grams float64) {
		row++
		d.Observations = append(d.Observations, record.Observation{Bird: bird, On: record.On(today - record.Day(ago)), Trait: record.Weight,
			Value: grams, At: record.Ref{File: "w.csv", Row: row, Col: 3}})
	}
	look := func(bird string, ago int, count float64) {
		row++
		d.Observations = append(d.Observations, record.Observation{Bird: bird, On: record.On(today - record.Day(ago)), Trait: record.Parasite,
			Parasite: record.Lice, Form: record.Count, Value: count, Text: "n", At: record.Ref{File: "l.csv", Row: row, Col: 3}})
	}
	for i, id := range []string{"R1", "R2", "R3"} {
		d.Birds = append(d.Birds, record.Bird{ID: id, Ring: id, Sex: record.Female, Breed: "Sussex", Size: record.Large,
			Hatched: record.On(day(t, "2023-04-01")), At: []record.Ref{{File: "birds.csv", Row: int32(i + 2), Col: 1}}})
	}
	for _, ago := range []int{90, 60, 30, 2} {
		weigh("R1", ago, 3200)
		weigh("R2", ago, 2000)
		weigh("R3", ago+120, 3100)
	}
	look("R1", 3, 0)
	look("R2", 3, 40)
	look("R3", 150, 0)
	return c, d
}

func gathered(t *testing.T, c analysis.Context, d *record.Dataset, options map[string]any) *Result {
	t.Helper()
	r, err := Spec().Run(context.Background(), c, d, options)
	if err != nil {
		t.Fatal(err)
	}
	return r.(*Result)
}

func TestForAgainstAndOpenStandWhereTheyBelong(t *testing.T) {
	c, d := home(t)
	r := gathered(t, c, d, nil)
	if len(r.Sheets) != 3 || len(r.Stops) != 0 {
		t.Fatalf("%d sheets, %d stops", len(r.Sheets), len(r.Stops))
	}
	// The American Standard's 7 lb hen less and plus a fifth is 2540 to 3810 g (notice of November 2023).
	for i, want := range []struct{ against, forSide int }{{0, 2}, {2, 0}, {0, 0}} {
		s := r.Sheets[i]
		if len(s.Side(analysis.Against)) != want.against || len(s.Side(analysis.For)) != want.forSide {
			t.Errorf("%s: %d against, %d for", s.Bird.ID, len(s.Side(analysis.Against)), len(s.Side(analysis.For)))
			for _, claim := range s.Claims {
				t.Logf("%s %s", claim.Stands, claim.Text)
			}
		}
		for _, claim := range s.Claims {
			if claim.Subject.Bird != s.Bird.ID {
				t.Errorf("%s carries a claim about %+v", s.Bird.ID, claim.Subject)
			}
		}
	}
	next := strings.Join(r.Sheets[2].Next, "; ")
	if !strings.Contains(next, "weigh R3 again") || !strings.Contains(next, "look at R3") {
		t.Errorf("the next looks at R3: %s", next)
	}
	if a, o, g := r.Counted(); a != 1 || o != 1 || g != 1 {
		t.Errorf("counted %d, %d, %d", a, o, g)
	}
}

func TestClaimIDsAreUnique(t *testing.T) {
	c, d := home(t)
	seen := map[string]bool{}
	for _, claim := range gathered(t, c, d, nil).Claims() {
		if seen[claim.ID] {
			t.Errorf("%s stands twice", claim.ID)
		}
		seen[claim.ID] = true
	}
}

func TestAStopSignIsAllThatIsSaid(t *testing.T) {
	c, d := home(t)
	d.Observations[0].On = record.On(c.Today)
	d.Observations[0].More = &record.Detail{Note: "head swollen"}
	r := gathered(t, c, d, nil)
	if len(r.Claims()) != 1 || r.Claims()[0].Stands != analysis.Stop {
		t.Errorf("%d claims", len(r.Claims()))
	}
	rows := 0
	for _, table := range r.Tables() {
		rows += len(table.Rows)
	}
	if len(r.Sheets) != 0 || rows != 0 {
		t.Errorf("%d sheets and %d table rows are still there", len(r.Sheets), rows)
	}
}

func TestABirdThatIsGoneIsLeftOut(t *testing.T) {
	c, d := home(t)
	d.Events = append(d.Events, record.Event{Kind: record.Departed, Bird: "R2", On: record.On(c.Today - 1)})
	r := gathered(t, c, d, nil)
	if slices.ContainsFunc(r.Sheets, func(s Sheet) bool { return s.Bird.ID == "R2" }) {
		t.Error("a bird that was sold has a sheet")
	}
}

func TestDoubtsFindTheirBird(t *testing.T) {
	c, d := home(t)
	at := d.Observations[0].At
	d.Questions = []record.Question{{At: at, Message: "which unit?"}}
	d.Observations[0].Flagged = true
	d.Rejects = []record.Reject{{At: record.Ref{File: "birds.csv", Row: 3, Col: 4}, Message: "no date"}}
	r := gathered(t, c, d, nil)
	if n := len(r.Sheets[0].Doubts); n != 1 {
		t.Errorf("R1 has %d doubts, want the question alone", n)
	}
	if n := len(r.Sheets[1].Doubts); n != 1 {
		t.Errorf("R2 has %d doubts, want the refused cell of its row", n)
	}
}

func TestOptionsAreChecked(t *testing.T) {
	c, d := home(t)
	for _, bad := range []map[string]any{{"purpose": "soup"}, {"ring": "R9"}, {"tolerance": -3.0}} {
		if _, err := Spec().Run(context.Background(), c, d, bad); err == nil {
			t.Errorf("%v was accepted", bad)
		}
	}
	if r := gathered(t, c, d, map[string]any{"ring": "R2"}); len(r.Sheets) != 1 || r.Sheets[0].Bird.ID != "R2" {
		t.Errorf("%d sheets", len(r.Sheets))
	}
}

func TestTablesHaveACellForEachColumn(t *testing.T) {
	c, d := home(t)
	for _, table := range gathered(t, c, d, nil).Tables() {
		for _, row := range table.Rows {
			if len(row) != len(table.Columns) {
				t.Errorf("table %s: %d cells for %d columns", table.Name, len(row), len(table.Columns))
			}
		}
	}
}

func TestEachPurposeRestsOnItsOwn(t *testing.T) {
	c, d := home(t)
	for _, p := range []string{Entry, Breeding, KeepOrPart} {
		r := gathered(t, c, d, map[string]any{"purpose": p})
		if len(r.Sheets) != 3 || len(r.Courses) < 2 || r.Purpose != p {
			t.Fatalf("%s: %d sheets, courses %v", p, len(r.Sheets), r.Courses)
		}
		show, seen := false, map[string]bool{}
		for _, claim := range r.Claims() {
			show = show || strings.HasPrefix(claim.ID, "forecast.band/")
			if seen[claim.ID] {
				t.Errorf("%s: %s stands twice", p, claim.ID)
			}
			seen[claim.ID] = true
			for _, wrong := range claim.Lint() {
				t.Errorf("%s: %s in %q", p, wrong, claim.Text)
			}
		}
		if show != (p == Entry) {
			t.Errorf("%s: the day of the show is spoken of: %v", p, show)
		}
		if (r.On == c.Today) != (p != Entry) {
			t.Errorf("%s: the day is %s", p, r.On)
		}
		last := r.Cautions()[len(r.Cautions())-1]
		if last.Topic != "Signs that come first" {
			t.Errorf("%s: the last caution is %s", p, last.Topic)
		}
	}
	// Parting is not reversible: what can be undone stands first, and nothing that cannot is offered.
	r := gathered(t, c, d, map[string]any{"purpose": KeepOrPart})
	if !strings.HasPrefix(r.Courses[0], "wait") || !slices.ContainsFunc(r.Cautions(), func(c analysis.Caution) bool { return c.Topic == "Killing" }) {
		t.Errorf("courses %v", r.Courses)
	}
}

// A death or sale that the keeper has not confirmed leaves the bird on its page, with the cell.
func TestADoubtfulDepartureLeavesTheBirdOnItsPage(t *testing.T) {
	c, d := home(t)
	at := record.Ref{File: "a.csv", Sheet: "2025", Row: 8, Col: 7}
	d.Events = append(d.Events, record.Event{Kind: record.Departed, Bird: "R2", On: record.On(c.Today - 40), Flagged: true, Text: "sold?", At: at})
	for _, s := range gathered(t, c, d, nil).Sheets {
		if s.Bird.ID != "R2" {
			continue
		}
		for _, claim := range s.Claims {
			if strings.Contains(claim.Text, "a cell may say that it left: "+at.String()) && claim.Stands == analysis.Open && claim.RestsOn[0] == at {
				return
			}
		}
		t.Fatalf("the page does not tell: %+v", s.Claims)
	}
	t.Fatal("R2 has no page")
}
