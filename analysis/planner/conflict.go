package planner

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"keelmark/analysis"
	"keelmark/analysis/parasite"
	"keelmark/ingest/record"
)

// withdrawals finds treatments whose withdrawal, as entered, may reach the show, or was not entered. A withdrawal is about
// eggs and meat, not about showing; it is shown because birds and eggs change hands at shows.
func (r *Result) withdrawals(lice *parasite.Result, show Show) []Conflict {
	var out []Conflict
	for _, c := range lice.Courses {
		birds := r.members(c.Birds)
		if len(birds) == 0 || c.Event.On.Last < r.Today-recentDays || c.Event.On.First > show.On {
			continue
		}
		conflict := Conflict{Show: show, Birds: birds, At: []record.Ref{c.Event.At}}
		switch end, ok := withdrawalEnd(c); {
		case c.Withdrawal == parasite.UnknownWithdrawal:
			conflict.Text = fmt.Sprintf("treated on %s (%s); withdrawal: %s", c.Event.On, c.Product, parasite.UnknownWithdrawal)
		case !ok:
			conflict.Text = fmt.Sprintf("treated on %s (%s); withdrawal as entered: %s, which gives no day here", c.Event.On, c.Product, c.Withdrawal)
		case end >= show.On:
			conflict.Text = fmt.Sprintf("treated on %s (%s); withdrawal as entered, %s, counts to %s: not before the show", c.Event.On, c.Product, c.Withdrawal, end)
			conflict.Hard = true
		default:
			continue
		}
		out = append(out, conflict)
	}
	return out
}

// recentDays is for how long a treatment without a known end of withdrawal is shown. Source: ours; three looks' worth.
const recentDays = 84

var daysIn = regexp.MustCompile(`(?i)(\d{1,3})\s*(d\b|days?\b|tage?\b|jours?\b|dagen\b)`)

// withdrawalEnd counts the longest number of days that the keeper entered from the last possible day of the treatment. It
// returns false where no days were entered.
func withdrawalEnd(c parasite.Course) (record.Day, bool) {
	longest := -1
	for _, m := range daysIn.FindAllStringSubmatch(c.Withdrawal, -1) {
		if n, err := strconv.Atoi(m[1]); err == nil {
			longest = max(longest, n)
		}
	}
	if longest < 0 {
		switch strings.ToLower(strings.TrimSpace(c.Withdrawal)) {
		case "nil", "0", "none", "zero":
			longest = 0
		default:
			return 0, false
		}
	}
	return c.Event.On.Last + record.Day(longest), true
}

// featherDays is how long a new show feather takes to grow at most. Source: a breed club's page: 6 to 10 weeks.
const featherDays = 70

// moult tells where the natural moult of grown birds overlaps the weeks in which feather must grow.
//
// Source: in the north natural moult follows shortening days from September, in Australia it begins in March to April and
// should be over by July (an Australian poultry page; secondary pages for the north).
func (r *Result) moult(c analysis.Context, show Show) []Conflict {
	months := map[string][2]time.Month{"north": {time.September, time.November}, "south": {time.March, time.June}}
	span, ok := months[c.Settings.Flock.Hemisphere]
	if !ok {
		return nil
	}
	inMoult := false
	for day := show.On - featherDays; day <= show.On; day++ {
		_, m, _ := day.Date()
		inMoult = inMoult || m >= span[0] && m <= span[1]
	}
	if !inMoult {
		return nil
	}
	var birds []record.Bird
	for _, b := range r.Team {
		if b.Hatched.Known() && show.On-b.Hatched.Last >= 365 {
			birds = append(birds, b)
		}
	}
	if len(birds) == 0 {
		return nil
	}
	return []Conflict{{Show: show, Birds: birds, Text: fmt.Sprintf("grown birds moult in the weeks before %s (natural moult there: %s to %s); a feather takes 6 to 10 weeks, so look now who is in moult",
		show.On, span[0], span[1])}}
}

// crowded finds shows that lie closer than the weeks apart after the one before.
func (r *Result) crowded() []Conflict {
	var out []Conflict
	for i, a := range r.Shows[:max(0, len(r.Shows)-1)] {
		b := r.Shows[i+1]
		if gap := int(b.On - a.On); gap < apartDays && b.On >= r.Today {
			out = append(out, Conflict{Show: b, Birds: slices.Clone(r.Team), Hard: true,
				Text: fmt.Sprintf("%s is %d days after %s: a bird shown at both has not been apart and watched for %d days in between", b.Name, gap, a.Name, apartDays)})
		}
	}
	return out
}

// apartDays after a gathering are recommended. Source: England's gathering licence, updated October 2025: at least 14 days.
const apartDays = 14
