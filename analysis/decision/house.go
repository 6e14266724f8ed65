package decision

import (
	"slices"

	"keelmark/analysis"
)

// Muted is a claim that a rule of the keeper's own leaves out of a bird's sheet.
type Muted struct {
	Claim analysis.Claim
	Why   string
}

// underRules returns the result with what rules of the keeper's own add and mute: claims that are added go to the sheets
// of their birds, and those whose ID is muted, with the reason, leave their sheets and stand in the table muted instead.
// A stop sign cannot be muted.
func (r *Result) underRules(added []analysis.Claim, muted map[string]string) *Result {
	out := *r
	out.Sheets = slices.Clone(r.Sheets)
	for i := range out.Sheets {
		s := &out.Sheets[i]
		var left []analysis.Claim
		for _, c := range s.Claims {
			if why, ok := muted[c.ID]; ok && c.Stands != analysis.Stop {
				out.Muted = append(out.Muted, Muted{c, why})
				continue
			}
			left = append(left, c)
		}
		for _, c := range added {
			if c.Subject.Bird == s.Bird.ID {
				left = append(left, c)
			}
		}
		slices.SortStableFunc(left, func(a, b analysis.Claim) int { return side(a) - side(b) })
		s.Claims = left
		s.Next = nextOf(left)
	}
	out.tables = out.makeTables()
	return &out
}

// mutedTable shows what was muted, so that nothing goes unseen.
func (r *Result) mutedTable() analysis.Table {
	t := analysis.Table{Name: "muted", Caption: "Muted by your own rules", Columns: []analysis.Column{
		{Name: "id", Head: "key"}, {Name: "what", Head: "muted"}, {Name: "stands", Head: "stands"}, {Name: "why", Head: "your reason"},
	}}
	for _, m := range r.Muted {
		t.Rows = append(t.Rows, []any{m.Claim.Subject.Bird, m.Claim.Text, string(m.Claim.Stands), m.Why})
	}
	return t
}
