package decision

import (
	"fmt"
	"strings"

	"keelmark/analysis"
	"keelmark/analysis/condition"
	"keelmark/analysis/parasite"
	"keelmark/analysis/standard"
	"keelmark/ingest/record"
)

// Lapse is an observation that is too old to speak for a bird today.
type Lapse struct {
	What  string     // "weighing", "look for lice and mites", "score of condition"
	On    record.Day // of the last one
	Days  int        // since then
	Limit int        // days for which one speaks
}

// String says it in a few words: "weighing of 2025-04-26, 212 days ago".
func (l Lapse) String() string {
	return fmt.Sprintf("%s of %s, %d days ago", l.What, l.On, l.Days)
}

// lapse finds what has expired and what is missing of a bird. Condition counts only for the purposes that ask for it.
func (r *Result) lapse(s *Sheet, d *record.Dataset, p purpose) {
	b := s.Bird
	lack := func(missing bool, what string) {
		if missing {
			s.Missing = append(s.Missing, what)
		}
	}
	old := func(what string, on record.Day, limit int) {
		if days := int(r.Today - on); days > limit {
			s.Lapsed = append(s.Lapsed, Lapse{what, on, days, limit})
		}
	}
	lack(b.Sex == "", "sex")
	written, _ := d.Bird(b.ID) // the sheet's bird has its hatch date narrowed by the records
	lack(!written.Hatched.Known(), "hatch date")
	lack(b.Breed == "", "breed")
	lack(b.Breed != "" && b.Size == "", "large or bantam")

	if s.Rests != nil && s.Rests.Weighed {
		old("weighing", s.Rests.Last.On.Last, standard.LastWeighingDays)
	} else {
		lack(true, "any weighing")
	}
	if s.Looked {
		old("look for lice or mites", s.Look.On.Last, parasite.SeenDays)
	} else {
		lack(true, "any look for lice or mites")
	}
	lack(s.Treated && s.Course.Withdrawal == parasite.UnknownWithdrawal, "withdrawal of the last treatment: "+parasite.UnknownWithdrawal)
	if r.Condition != nil {
		scored := false
		for _, h := range r.Condition.Histories {
			if h.Bird.ID != b.ID || len(h.Scores) == 0 {
				continue
			}
			scored = true
			old("score of "+strings.ToLower(label(h.Trait)), h.Scores[len(h.Scores)-1].On.Last, condition.ScoredDays)
		}
		lack(!scored, "any score of condition")
	}
	if p.eggs {
		lack(!r.hasEggs(b.ID), "any setting of eggs by it")
	}
}

func label(t record.Trait) string {
	for _, s := range record.Traits() {
		if s.Trait == t {
			return s.Label
		}
	}
	return string(t)
}

// hasEggs reports whether a setting names the bird as a parent.
func (r *Result) hasEggs(bird string) bool {
	if r.Fertility == nil {
		return false
	}
	_, ok := r.tally(bird)
	return ok
}

// lapsedTable has one row for each thing of a bird that has expired or is missing.
func (r *Result) lapsedTable() analysis.Table {
	t := analysis.Table{Name: "lapsed", Caption: "What has expired, and what is missing", Columns: []analysis.Column{
		{Name: "id", Head: "key"}, {Name: "bird", Head: "bird"}, {Name: "state", Head: "state", Doc: "expired or missing"},
		{Name: "what", Head: "what"}, {Name: "on", Head: "last"}, {Name: "days", Head: "days ago"}, {Name: "limit", Head: "speaks for", Unit: "d"},
	}}
	for _, s := range r.Sheets {
		for _, l := range s.Lapsed {
			t.Rows = append(t.Rows, []any{s.Bird.ID, s.Bird.Label(), "expired", l.What, l.On.String(), l.Days, l.Limit})
		}
		for _, what := range s.Missing {
			t.Rows = append(t.Rows, []any{s.Bird.ID, s.Bird.Label(), "missing", what, nil, nil, nil})
		}
	}
	return t
}
