package decision

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

// byRing orders birds as a keeper reads down a row of pens: R2 before R10, birds without a ring by name.
func byRing(a, b record.Bird) int {
	return cmp.Or(natural(cmp.Or(a.Ring, a.Name, a.ID), cmp.Or(b.Ring, b.Name, b.ID)), strings.Compare(a.ID, b.ID))
}

// natural compares two texts with their runs of digits as numbers.
func natural(a, b string) int {
	for a != "" && b != "" {
		x, y := firstRun(a), firstRun(b)
		var c int
		if isDigit(x[0]) && isDigit(y[0]) {
			p, q := strings.TrimLeft(x, "0"), strings.TrimLeft(y, "0")
			c = cmp.Or(cmp.Compare(len(p), len(q)), strings.Compare(p, q))
		} else {
			c = strings.Compare(strings.ToLower(x), strings.ToLower(y))
		}
		if c != 0 {
			return c
		}
		a, b = a[len(x):], b[len(y):]
	}
	return cmp.Compare(len(a), len(b))
}

// firstRun is the first run of digits, or of anything else, of a text that is not empty.
func firstRun(s string) string {
	for i := 1; i < len(s); i++ {
		if isDigit(s[i]) != isDigit(s[0]) {
			return s[:i]
		}
	}
	return s
}

func isDigit(c byte) bool { return '0' <= c && c <= '9' }

// Next is one sentence on what to look at next, and the birds that it is about.
type Next struct {
	Text  string // "weigh R3, R7 and R12 again"
	Birds []string
}

// NextLooks gathers the next looks of all birds by sentence: what stands for several birds is said once, the
// sentence that is about most birds first.
func (r *Result) NextLooks() []Next {
	var order []string
	of := map[string][]record.Bird{}
	for _, s := range r.Sheets {
		for _, n := range s.Next {
			pattern := strings.ReplaceAll(n, s.Bird.Label(), theBirds)
			if len(of[pattern]) == 0 {
				order = append(order, pattern)
			}
			of[pattern] = append(of[pattern], s.Bird)
		}
	}
	out := make([]Next, 0, len(order))
	for _, pattern := range order {
		birds := of[pattern]
		n := Next{Birds: make([]string, len(birds))}
		names := make([]string, len(birds))
		for i, b := range birds {
			n.Birds[i], names[i] = b.ID, b.Label()
			if len(birds) > 1 && b.Ring != "" {
				names[i] = b.Ring
			}
		}
		if n.Text = strings.ReplaceAll(pattern, theBirds, listed(names)); n.Text == pattern {
			n.Text = fmt.Sprintf("%s: %s", listed(names), pattern)
			if len(birds) == len(r.Sheets) && len(birds) > 1 {
				n.Text = "all birds: " + pattern
			}
		}
		out = append(out, n)
	}
	slices.SortStableFunc(out, func(a, b Next) int { return len(b.Birds) - len(a.Birds) })
	return out
}

// theBirds stands for a bird's label in a sentence.
const theBirds = "\x00"

// listed joins names as a sentence does: "R3, R7 and R12".
func listed(names []string) string {
	if n := len(names); n > 1 {
		return strings.Join(names[:n-1], ", ") + " and " + names[n-1]
	}
	return strings.Join(names, "")
}

// order puts claims into the order of a sheet: stop signs, then against, for, open; within a side by weight of evidence.
// Where the decision can hardly be undone, what may pass by waiting or with care stands before what lasts, because it is
// a reason to wait.
func (p purpose) order(claims []analysis.Claim) {
	slices.SortStableFunc(claims, func(a, b analysis.Claim) int {
		lasts := func(c analysis.Claim) int {
			if p.lasting && c.Stands == analysis.Against && !mayPass(c) {
				return 1
			}
			return 0
		}
		return cmp.Or(side(a)-side(b), lasts(a)-lasts(b), evidence(b)-evidence(a), b.N.Records-a.N.Records)
	})
}

// side is the place of a claim's side on a sheet.
func side(c analysis.Claim) int {
	return slices.Index([]analysis.Stands{analysis.Stop, analysis.Against, analysis.For, analysis.Open}, c.Stands)
}

// evidence says how much kind of evidence a claim is: a number with its range before a statement of records, and both
// before a refusal. Within each the number of records counts.
func evidence(c analysis.Claim) int {
	switch {
	case c.Refusal != nil:
		return 0
	case c.Estimate == nil:
		return 1
	}
	return 2
}

// mayPass reports whether what a claim tells can be otherwise in some weeks, by waiting, feeding, resting or treating.
// Source: common practice, no source; the weight of a bird that is grown, and its eggs over a season, are taken to last.
func mayPass(c analysis.Claim) bool {
	return !slices.Contains([]string{"weight", "growth", "fertility"}, c.Topic)
}
