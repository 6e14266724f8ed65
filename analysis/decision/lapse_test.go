package decision

import (
	"context"
	"slices"
	"strings"
	"testing"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

func TestWhatExpiredAndWhatIsMissing(t *testing.T) {
	c, d := home(t)
	d.Birds[1].Hatched = record.Date{}
	r := gathered(t, c, d, map[string]any{"purpose": Breeding})
	lapsed := func(i int) (out []string) {
		for _, l := range r.Sheets[i].Lapsed {
			out = append(out, l.What)
		}
		return out
	}
	if got := lapsed(0); len(got) != 0 {
		t.Errorf("R1: %v expired", got)
	}
	if got := lapsed(2); !slices.Equal(got, []string{"weighing", "look for lice or mites"}) {
		t.Errorf("R3: %v expired", got)
	}
	if m := r.Sheets[1].Missing; !slices.Contains(m, "hatch date") || !slices.Contains(m, "any score of condition") || !slices.Contains(m, "any setting of eggs by it") {
		t.Errorf("R2 lacks %v", m)
	}
	if m := gathered(t, c, d, nil).Sheets[0].Missing; slices.Contains(m, "any score of condition") {
		t.Errorf("an entry lacks %v", m)
	}
}

// A weighing and a look speak for 28 days (Keelmark's domain notes 4.8): on day 28 they do, on day 29 they do not.
func TestWhatSpeaksExpiresAfterFourWeeks(t *testing.T) {
	c, d := home(t)
	for ago, want := range map[int]int{28: 0, 29: 2} {
		d.Observations = nil
		for _, o := range []record.Observation{
			{Trait: record.Weight, Value: 3200, At: record.Ref{File: "w.csv", Row: 2, Col: 3}},
			{Trait: record.Parasite, Parasite: record.Lice, Form: record.Count, At: record.Ref{File: "l.csv", Row: 2, Col: 3}},
		} {
			o.Bird, o.On = "R1", record.On(c.Today-record.Day(ago))
			d.Observations = append(d.Observations, o)
		}
		if got := gathered(t, c, d, nil).Sheets[0].Lapsed; len(got) != want {
			t.Errorf("after %d days %v expired", ago, got)
		}
	}
}

func TestWhatMayPassStandsFirstWhereADecisionIsFinal(t *testing.T) {
	weight := analysis.Claim{ID: "w", Topic: "weight", Stands: analysis.Against, Estimate: &analysis.Estimate{}, N: analysis.Counts{Records: 9}}
	lice := analysis.Claim{ID: "l", Topic: "parasites", Stands: analysis.Against, N: analysis.Counts{Records: 1}}
	good := analysis.Claim{ID: "g", Topic: "parasites", Stands: analysis.For}
	more := analysis.Claim{ID: "m", Topic: "parasites", Stands: analysis.Against, N: analysis.Counts{Records: 5}}
	refused := analysis.Claim{ID: "r", Topic: "parasites", Stands: analysis.Open, Refusal: &analysis.Refusal{}, N: analysis.Counts{Records: 99}}
	open := analysis.Claim{ID: "o", Topic: "parasites", Stands: analysis.Open}
	for _, p := range []struct {
		of   purpose
		want string
	}{{keepOrPart(), "m l w g o r"}, {entry(), "w m l g o r"}} {
		claims := []analysis.Claim{refused, good, weight, lice, open, more}
		p.of.order(claims)
		var ids []string
		for _, c := range claims {
			ids = append(ids, c.ID)
		}
		if got := strings.Join(ids, " "); got != p.want {
			t.Errorf("%s: %s, want %s", p.of.name, got, p.want)
		}
	}
}

func TestRulesOfTheKeeperMuteAndAdd(t *testing.T) {
	c, d := home(t)
	r := gathered(t, c, d, nil)
	lousy := r.Sheets[1].Side(analysis.Against)[0]
	own := analysis.Claim{ID: "house.rule/R2/1", Subject: analysis.Subject{Bird: "R2"}, Topic: "your own rule", Stands: analysis.Against, Text: "I show no hen in her third year."}
	asked := false
	house := func(_ context.Context, _ analysis.Context, _ *record.Dataset, claims []analysis.Claim) ([]analysis.Claim, map[string]string, error) {
		asked = true
		return []analysis.Claim{own}, map[string]string{lousy.ID: "known"}, nil
	}
	found, err := SpecUnder(house).Run(context.Background(), c, d, nil)
	if err != nil {
		t.Fatal(err)
	}
	ruled := found.(*Result)
	if len(ruled.Muted) != 1 || len(ruled.mutedTable().Rows) != 1 || len(r.Muted) != 0 {
		t.Fatalf("muted %+v; before %+v", ruled.Muted, r.Muted)
	}
	var ids []string
	for _, c := range ruled.Sheets[1].Claims {
		ids = append(ids, c.ID)
	}
	if slices.Contains(ids, lousy.ID) || !slices.Contains(ids, own.ID) {
		t.Errorf("R2 has %v", ids)
	}
	if len(r.Sheets[1].Claims) != len(ids) {
		t.Errorf("the result before was changed: %d claims, then %d", len(r.Sheets[1].Claims), len(ids))
	}
	d.Observations[0].On = record.On(c.Today)
	d.Observations[0].More = &record.Detail{Note: "head swollen"}
	asked = false
	found, err = SpecUnder(house).Run(context.Background(), c, d, nil)
	if err != nil {
		t.Fatal(err)
	}
	if got := found.Claims(); asked || len(got) != 1 || got[0].Stands != analysis.Stop {
		t.Errorf("beside a stop sign rules are asked (%v): %d claims", asked, len(got))
	}
}
