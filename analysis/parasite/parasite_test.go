package parasite

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

// The flocks of these tests are invented.

const today = record.Day(20412) // 2025-11-20

func TestTodayIsThatDay(t *testing.T) {
	if today.String() != "2025-11-20" {
		t.Fatal(today)
	}
}

func flock(birds int) *record.Dataset {
	d := &record.Dataset{Name: "Home"}
	for i := range birds {
		d.Birds = append(d.Birds, record.Bird{ID: id(i), Ring: id(i), Pen: []string{"A", "B"}[i%2]})
	}
	return d
}

func id(i int) string { return fmt.Sprintf("R%02d", i+1) }

// look adds a count of lice on a bird so many days ago.
func look(d *record.Dataset, bird string, ago int, count float64) {
	d.Observations = append(d.Observations, record.Observation{
		Bird: bird, On: record.On(today - record.Day(ago)), Trait: record.Parasite, Parasite: record.Lice, Form: record.Count, Value: count,
		Text: fmt.Sprint(count), At: record.Ref{File: "checks.csv", Row: int32(len(d.Observations) + 2), Col: 3},
	})
}

func result(t *testing.T, d *record.Dataset, o Options) *Result {
	t.Helper()
	r, err := Spec().Run(context.Background(), analysis.Context{Today: today}, d, map[string]any{"ring": o.Ring})
	if err != nil {
		t.Fatal(err)
	}
	return r.(*Result)
}

func claim(t *testing.T, r *Result, id string) analysis.Claim {
	t.Helper()
	for _, c := range r.Claims() {
		if c.ID == id {
			return c
		}
	}
	t.Fatalf("no claim %q among %d", id, len(r.Claims()))
	return analysis.Claim{}
}

func TestTheSpecIsWhole(t *testing.T) {
	if err := Spec().Validate(); err != nil {
		t.Error(err)
	}
}

func TestNotLookedNoneSeenAndFoundAreThreeThings(t *testing.T) {
	d := flock(4)
	look(d, "R01", 5, 0)
	look(d, "R02", 5, 12)
	look(d, "R03", SeenDays, 0)
	look(d, "R03", 60, 3)
	r := result(t, d, Options{})
	for id, want := range map[string]struct {
		stands  analysis.Stands
		refused bool
		text    string
	}{
		"parasite.last/R01/lice": {analysis.For, false, "None seen"},
		"parasite.last/R02/lice": {analysis.Against, false, `written "12"`},
		"parasite.last/R03/lice": {analysis.For, false, "1 finding on 2 looks in all"},
		"parasite.last/R04/lice": {analysis.Open, true, "no look is recorded"},
	} {
		c := claim(t, r, id)
		if c.Stands != want.stands || (c.Refusal != nil) != want.refused || !strings.Contains(c.Text, want.text) {
			t.Errorf("%s: %s %v %q", id, c.Stands, c.Refusal, c.Text)
		}
	}
	if n := len(r.NotSeen[record.Lice]); n != 1 {
		t.Errorf("%d birds not seen, want R04 only", n)
	}
}

func TestALookSpeaksForSeenDaysAndNoLonger(t *testing.T) {
	for ago, seen := range map[int]bool{0: true, SeenDays: true, SeenDays + 1: false, 400: false} {
		d := flock(1)
		look(d, "R01", ago, 0)
		c := claim(t, result(t, d, Options{}), "parasite.last/R01/lice")
		if (c.Stands == analysis.For) != seen || (c.Refusal == nil) != seen {
			t.Errorf("%d days ago: %s %q", ago, c.Stands, c.Text)
		}
	}
}

func TestFormsOfFindingsAreReadAsSeenNoneOrUnclear(t *testing.T) {
	for want, obs := range map[Finding][]record.Observation{
		Found: {{Form: record.Count, Value: 1}, {Form: record.Ordinal, Value: 2}, {Form: record.Range, Lo: 1, Hi: 10},
			{Form: record.MoreThan, Lo: 50}, {Form: record.AtLeast, Lo: 5}, {Form: record.Present, Value: 1}},
		NoneFound: {{Form: record.Count}, {Form: record.Ordinal}, {Form: record.Range}, {Form: record.Present}},
		Unclear:   {{Form: record.LessThan, Hi: 5}, {Form: record.Range, Hi: 10}, {Form: record.AtLeast}},
	} {
		for _, o := range obs {
			if got := findingOf(o, nil); got != want {
				t.Errorf("%+v: %v, want %v", o, got, want)
			}
		}
	}
}

func TestTheKeepersScaleSaysWhatNoneIs(t *testing.T) {
	scales := map[string]record.Scale{
		record.Lice:  {Min: 1, Max: 5, Words: map[string]float64{"none": 1, "many": 5}},
		record.Mites: {Min: 1, Max: 5},
	}
	for _, c := range []struct {
		parasite string
		value    float64
		want     Finding
	}{{record.Lice, 1, NoneFound}, {record.Lice, 2, Found}, {record.Mites, 1, Unclear}, {record.Mites, 2, Found}, {record.RedMite, 1, Found}} {
		if got := findingOf(record.Observation{Form: record.Ordinal, Parasite: c.parasite, Value: c.value}, scales); got != c.want {
			t.Errorf("%s %v: %v, want %v", c.parasite, c.value, got, c.want)
		}
	}
}

func TestAFindingInTheHouseIsNotTheBirdsOfItsRow(t *testing.T) {
	d := flock(2)
	d.Observations = append(d.Observations, record.Observation{Bird: "R01", On: record.On(today - 1), Trait: record.Parasite, Parasite: record.Mites,
		Form: record.Count, Value: 40, At: record.Ref{File: "a.csv", Row: 2, Col: 1}, More: &record.Detail{Scope: record.WholeFlock, Site: "perch"}})
	if c := claim(t, result(t, d, Options{}), "parasite.last/R01/mites"); c.Refusal == nil {
		t.Errorf("the finding was put on the bird: %s", c.Text)
	}
}

func TestNoneSeenLatelyIsCountedWithItsRange(t *testing.T) {
	d := flock(30)
	for i := range 10 {
		look(d, id(i), 3, 0)
	}
	c := claim(t, result(t, d, Options{}), "parasite.lately/lice")
	// Wilson's interval of 0 of 10 at 90 %: upper end z²/(n+z²) = 2.7055/12.7055 = 21 %.
	for _, want := range []string{"lice were seen on none of 10 birds looked at", "0 to 21 %", "the flock has 30"} {
		if !strings.Contains(c.Text, want) {
			t.Errorf("%q is not in %q", want, c.Text)
		}
	}
	if c.Stands != analysis.Open || c.N.Birds != 10 || len(c.RestsOn) != 10 {
		t.Errorf("claim %+v", c)
	}
}

func TestASentenceRestsOnEveryCellThatItSpeaksOf(t *testing.T) {
	d := flock(4)
	look(d, "R01", 2, 0)
	look(d, "R03", 2, 9)
	treated := record.Ref{File: "treated.csv", Row: 2, Col: 1}
	d.Events = []record.Event{{Kind: record.Treated, Scope: record.WholeFlock, On: record.On(today - 1), At: treated, Treatment: &record.Treatment{Against: "lice"}}}
	r := result(t, d, Options{})
	c := claim(t, r, "parasite.last/R01/lice")
	for _, at := range []record.Ref{d.Observations[0].At, d.Observations[1].At, treated} {
		if !slices.Contains(c.RestsOn, at) {
			t.Errorf("%q does not rest on %s", c.Text, at.Key())
		}
	}
	if c := claim(t, r, "parasite.notseen/lice"); len(c.RestsOn) != 2 {
		t.Errorf("%q rests on %d cells", c.Text, len(c.RestsOn))
	}
}

func TestARowForEachBirdIsOneTreatmentOnceAllWereTreatedAgain(t *testing.T) {
	d := flock(6)
	for round, ago := range []int{100, 20} {
		for i := range 6 {
			d.Events = append(d.Events, record.Event{Kind: record.Treated, Scope: record.OneBird, Bird: id(i), On: record.On(today - record.Day(ago)),
				At: record.Ref{File: "treated.csv", Row: int32(10*round + i), Col: 1}, Treatment: &record.Treatment{Product: "dust", Against: "lice"}})
		}
	}
	single, joined := 0, 0
	for _, c := range result(t, d, Options{}).Claims() {
		switch {
		case !strings.HasPrefix(c.ID, "parasite.treatment/"):
		case c.Subject.Bird != "":
			single++
		default:
			joined++
			if !strings.Contains(c.Text, "(6 birds, treated again since)") || c.N.Records != 6 || len(c.RestsOn) != 6 {
				t.Errorf("%q %+v", c.Text, c.N)
			}
		}
	}
	if single != 6 || joined != 1 {
		t.Errorf("%d claims of birds and %d of days, want 6 and 1", single, joined)
	}
}

func TestNamesOfManyParasites(t *testing.T) {
	for one, many := range map[string]string{record.Lice: "lice", record.BodyLouse: "body lice", record.RedMite: "red mites", record.Mites: "mites",
		record.NorthernFowlMite: "northern fowl mites", record.ScalyLegMite: "scaly leg mites", NotSaid: "parasites of a kind not said", "": ""} {
		if got := Plural(one); got != many {
			t.Errorf("%q: %q, want %q", one, got, many)
		}
	}
}

func TestATreatmentIsPrintedAsEntered(t *testing.T) {
	d := flock(3)
	at := record.Ref{File: "treated.csv", Row: 2, Col: 1}
	treat := func(e record.Event) *Result {
		x := *d
		e.Kind, e.On, e.At = record.Treated, record.On(today-10), at
		x.Events = []record.Event{e}
		return result(t, &x, Options{})
	}
	r := treat(record.Event{Scope: record.WholeFlock, Treatment: &record.Treatment{Product: "pyrethrum dust", Against: "lice"}})
	c := claim(t, r, "parasite.treatment/2025-11-10-1")
	// The window: 7 to 10 days after 10 November, by the derivation of domain notes 3.2.
	for _, want := range []string{"pyrethrum dust", "unknown - do not assume none", "2025-11-17 to 2025-11-20", "cannot say what it did"} {
		if !strings.Contains(c.Text, want) {
			t.Errorf("%q is not in %q", want, c.Text)
		}
	}
	if len(r.Cautions()) != 2 || c.N.Birds != 3 {
		t.Errorf("cautions %v, birds %d", r.Cautions(), c.N.Birds)
	}
	d10 := *d
	d10.Events = []record.Event{{Kind: record.Treated, Scope: record.WholeFlock, On: record.On(today - 11), At: at, Treatment: &record.Treatment{Against: "lice"}}}
	if c := claim(t, result(t, &d10, Options{}), "parasite.treatment/2025-11-09-1"); strings.Contains(c.Text, "life cycle") {
		t.Errorf("a window that has passed is still shown: %q", c.Text)
	}
	r = treat(record.Event{Scope: record.WholePen, Pen: "A", Treatment: &record.Treatment{Withdrawal: "eggs 7 days"}})
	if c := claim(t, r, "parasite.treatment/2025-11-10-1"); !strings.Contains(c.Text, "as entered: eggs 7 days") ||
		!strings.Contains(c.Text, "product not written") || strings.Contains(c.Text, "life cycle") || c.N.Birds != 2 {
		t.Errorf("%q for %d birds", c.Text, c.N.Birds)
	}
	if len(result(t, d, Options{}).Cautions()) != 0 {
		t.Error("a caution about treatments where there is none")
	}
}

func TestATreatmentAgainstWormsIsNotJudgedByLooksForLice(t *testing.T) {
	d := flock(2)
	d.Events = []record.Event{{Kind: record.Treated, Scope: record.WholeFlock, On: record.On(today - 40),
		Treatment: &record.Treatment{Product: "flubendazole in feed", Against: "worms"}}}
	r := result(t, d, Options{})
	if c := claim(t, r, "parasite.treatment/2025-10-11-1"); strings.Contains(c.Text, "look") || c.Refusal != nil || r.Courses[0].Against != "worms" {
		t.Errorf("%q against %q", c.Text, r.Courses[0].Against)
	}
}

func TestALookAtAPenCoversItsBirds(t *testing.T) {
	d := flock(4)
	d.Events = []record.Event{
		{Kind: record.Checked, Scope: record.WholePen, Pen: "A", On: record.On(today - 2), Check: &record.CheckResult{Parasite: record.Lice}},
		{Kind: record.Died, Bird: "R03", On: record.On(today - 5)},
	}
	r := result(t, d, Options{})
	if c := claim(t, r, "parasite.last/R01/lice"); c.Stands != analysis.For || len(c.Caveats) != 2 {
		t.Errorf("R01: %+v", c)
	}
	if c := claim(t, r, "parasite.last/R02/lice"); c.Refusal == nil {
		t.Errorf("R02 is of another pen: %+v", c)
	}
	for _, h := range r.Histories {
		if h.Bird.ID == "R03" {
			t.Error("a bird that has died is still followed")
		}
	}
}

func TestPenMatesAreNamed(t *testing.T) {
	d := flock(4)
	look(d, "R01", 2, 0)
	look(d, "R03", 2, 9)
	if c := claim(t, result(t, d, Options{}), "parasite.last/R01/lice"); c.Stands != analysis.Open || !strings.Contains(c.Text, "same pen in that time they were seen on R03") {
		t.Errorf("%s %q", c.Stands, c.Text)
	}
}

func TestAHouseFindingIsNoBirds(t *testing.T) {
	d := flock(2)
	d.Observations = append(d.Observations, record.Observation{On: record.On(today - 1), Trait: record.Parasite, Parasite: record.RedMite,
		Form: record.Present, Value: 1, At: record.Ref{File: "a.csv", Row: 2, Col: 1}})
	r := result(t, d, Options{})
	if c := claim(t, r, "parasite.house/red-mite"); c.Stands != analysis.Against {
		t.Errorf("%+v", c)
	}
	if len(r.Histories) != 0 {
		t.Errorf("red mites were put on %d birds", len(r.Histories))
	}
}

func TestEdgesAnswerInWords(t *testing.T) {
	later := flock(1)
	look(later, "R01", -3, 2) // dated after today
	undated := flock(1)
	undated.Observations = append(undated.Observations, record.Observation{Bird: "R01", Trait: record.Parasite, Value: 1})
	undated.Events = append(undated.Events, record.Event{Kind: record.Treated, Treatment: &record.Treatment{}})
	for name, d := range map[string]*record.Dataset{"no birds": flock(0), "no looks": flock(3), "later": later, "undated": undated} {
		r := result(t, d, Options{})
		if c := claim(t, r, "parasite.effort/none"); c.Refusal == nil || c.Text == "" {
			t.Errorf("%s: %+v", name, c)
		}
	}
	if _, err := Spec().Run(context.Background(), analysis.Context{Today: today}, flock(1), map[string]any{"ring": "X"}); err == nil {
		t.Error("an unknown bird was accepted")
	}
	d := flock(2)
	look(d, "R01", 1, 0)
	look(d, "R02", 1, 0)
	if r := result(t, d, Options{Ring: "R02"}); len(r.Claims()) != 1 || r.Claims()[0].Subject.Bird != "R02" {
		t.Errorf("one bird: %v", r.Claims())
	}
}

func TestTablesHaveACellForEachColumn(t *testing.T) {
	d := flock(2)
	look(d, "R01", 40, 3)
	d.Events = append(d.Events, record.Event{Kind: record.Treated, Scope: record.OneBird, Bird: "R01", On: record.On(today), Treatment: &record.Treatment{Product: "dust"}})
	for _, table := range result(t, d, Options{}).Tables() {
		if len(table.Rows) == 0 {
			t.Errorf("table %s is empty", table.Name)
		}
		for _, row := range table.Rows {
			if len(row) != len(table.Columns) {
				t.Errorf("table %s: %d cells for %d columns", table.Name, len(row), len(table.Columns))
			}
		}
	}
}

// Whoever enters nil or 0 says so; an empty cell or a sign says nothing, and is never taken for none.
func TestWithdrawalIsPrintedAsTyped(t *testing.T) {
	for typed, want := range map[string]string{"nil": "nil", "0": "0", "none": "none", " 7 days eggs ": "7 days eggs", "": UnknownWithdrawal,
		"-": "- (" + UnknownWithdrawal + ")", "?": "? (" + UnknownWithdrawal + ")", "n/a": "n/a (" + UnknownWithdrawal + ")"} {
		if got := withdrawal(typed); got != want {
			t.Errorf("%q is printed as %q, want %q", typed, got, want)
		}
	}
}
