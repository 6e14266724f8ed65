package parasite

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

// Minimum data and windows.
const (
	// SeenDays is how long a look speaks for a bird; afterwards it is "not seen", never carried forward as clean.
	// Source: Keelmark's domain notes 4.8 (28 days), common practice.
	SeenDays = 28
	// VerifyFrom and VerifyTo are the days after a treatment in which a look can tell what it did.
	// Source: domain notes 4.9, "before and after at day 14-28".
	VerifyFrom = 14
	VerifyTo   = 28
	// ClearLooks negative rounds at least ClearDays apart, each missing an infestation of ClearShare of the birds with
	// a chance below ClearMiss, are needed before a flock's looks are called negative twice over.
	// Source: domain notes 4.4 and 4.9.
	ClearLooks = 2
	ClearDays  = 21
	ClearShare = 0.10
	ClearMiss  = 0.05
	// Sensitivity is the assumed chance that a look at a bird that carries parasites sees them.
	// Source: an assumption, stated wherever it is used; trained observers underestimate (Mullens, Hinkle & Szijj 2000).
	Sensitivity = 0.8
	// RoundDays is how close looks at different birds must lie to count as one round.
	RoundDays = 3
)

// level is the stated chance of every interval of the analysis.
const level = 0.90

// Options of the analysis.
type Options struct {
	Ring string `name:"ring" doc:"ring or name of one bird; empty for all"`
}

// Spec is the analysis in the catalogue.
func Spec() analysis.Spec {
	return analysis.Define("parasite", "What was looked for, what was found, and who has not been looked at",
		`For each bird and parasite: the last look and how long ago it was, findings with their dates, the gaps, and the
treatments with their withdrawal as entered. For the flock: effort by month and what the last 28 days show. A look that
found nothing is a record; not having looked is not. Needs one dated look; calls nothing clear: what looks that found
nothing may have missed is of the analysis of treatments.
Source: life cycles as each row of the life-cycle table names them; proportions with Wilson's interval (1927).`,
		Options{}, run)
}

// History is what is known of one bird and one parasite.
type History struct {
	Bird     record.Bird
	Parasite string
	Looks    []Look // oldest first
	Last     *Look  // the latest; nil where nobody looked
	Age      int    // of the last look in days
	Seen     bool   // the last look is at most SeenDays old
	Findings []Look
	// NegativeSince counts the looks in a row, up to the last, that found nothing.
	NegativeSince int
}

// Month is what was done in one month for one parasite.
type Month struct {
	Year, Month        int
	Parasite           string
	Birds, Looks, Seen int // birds looked at, looks made, birds on which something was found
	Present            int // birds of the flock in that month
	HouseFound         bool
}

// Result is what was found.
type Result struct {
	Today      record.Day
	Parasites  []string // that the records look for, in order of their first look
	Histories  []History
	Months     []Month // only months with a look
	Courses    []Course
	Undated    int // treatments without a date, left out
	Looks      []Look
	NotSeen    map[string][]record.Bird // by parasite: present birds without a look in SeenDays
	claims     []analysis.Claim
	birdsToday []record.Bird
	undatedAt  []record.Ref
}

func run(ctx context.Context, c analysis.Context, d *record.Dataset, o Options) (*Result, error) {
	birds := make([]record.Bird, 0, len(d.Birds))
	here := analysis.PresenceOf(d)
	for _, b := range d.Birds {
		if here.There(b, c.Today) {
			birds = append(birds, b)
		}
	}
	r := &Result{Today: c.Today, Looks: Looks(d, c.Settings.Scales, c.Today), NotSeen: map[string][]record.Bird{}, birdsToday: birds}
	r.Courses, r.undatedAt = Courses(d, c.Today)
	r.Undated = len(r.undatedAt)
	r.Parasites = Named(r.Looks)
	byBird := map[string][]Look{}
	for _, l := range r.Looks {
		byBird[l.Bird+"\x00"+l.Parasite] = append(byBird[l.Bird+"\x00"+l.Parasite], l)
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	for _, b := range birds {
		for _, p := range r.onBirds() {
			r.Histories = append(r.Histories, history(b, p, byBird[b.ID+"\x00"+p], c.Today))
		}
	}
	for _, h := range r.Histories {
		if !h.Seen {
			r.NotSeen[h.Parasite] = append(r.NotSeen[h.Parasite], h.Bird)
		}
	}
	r.Months = months(d, r.Looks)
	if o.Ring != "" {
		b, ok := d.Bird(o.Ring)
		if !ok {
			return nil, fmt.Errorf("parasite: no single bird is known as %q; use its ring as check prints it", o.Ring)
		}
		r.Histories = slices.DeleteFunc(r.Histories, func(h History) bool { return h.Bird.ID != b.ID })
		r.Courses = slices.DeleteFunc(r.Courses, func(c Course) bool { return !slices.Contains(c.Birds, b.ID) })
		r.claims = append(r.birdClaims(), r.courseClaims(d, b.ID)...)
		return r, nil
	}
	r.claims = append(r.flockClaims(d), r.birdClaims()...)
	r.claims = append(r.claims, r.courseClaims(d, "")...)
	return r, nil
}

// onBirds lists the parasites of the records that live on birds.
func (r *Result) onBirds() []string {
	var out []string
	for _, p := range r.Parasites {
		if c, ok := LifeCycleOf(p); !ok || c.OnBird {
			out = append(out, p)
		}
	}
	return out
}

func history(b record.Bird, parasite string, looks []Look, today record.Day) History {
	h := History{Bird: b, Parasite: parasite, Looks: looks}
	for i := range looks {
		if looks[i].Finding == Found {
			h.Findings = append(h.Findings, looks[i])
		}
		if looks[i].Finding == NoneFound {
			h.NegativeSince++
		} else {
			h.NegativeSince = 0
		}
	}
	if n := len(looks); n > 0 {
		h.Last = &looks[n-1]
		h.Age = int(today - h.Last.On.First)
		h.Seen = h.Age <= SeenDays
	}
	return h
}

func months(d *record.Dataset, all []Look) []Month {
	var out []Month
	here := analysis.PresenceOf(d)
	index := map[string]int{}
	birds := map[string]map[string]bool{}
	found := map[string]map[string]bool{}
	for _, l := range all {
		if l.On.Last-l.On.First > 31 {
			continue // known to a season or year only
		}
		y, m, _ := l.On.Middle().Date()
		key := fmt.Sprintf("%s %04d-%02d", l.Parasite, y, m)
		i, ok := index[key]
		if !ok {
			i = len(out)
			index[key], birds[key], found[key] = i, map[string]bool{}, map[string]bool{}
			present := countPresent(d, here, l.On.Middle())
			out = append(out, Month{Year: y, Month: int(m), Parasite: l.Parasite, Present: present})
		}
		out[i].Looks++
		if l.Bird != "" {
			birds[key][l.Bird] = true
			if l.Finding == Found {
				found[key][l.Bird] = true
			}
		} else if l.Finding == Found {
			out[i].HouseFound = true
		}
		out[i].Birds, out[i].Seen = len(birds[key]), len(found[key])
	}
	slices.SortStableFunc(out, func(a, b Month) int {
		if c := strings.Compare(a.Parasite, b.Parasite); c != 0 {
			return c
		}
		return (a.Year*12 + a.Month) - (b.Year*12 + b.Month)
	})
	return out
}

func countPresent(d *record.Dataset, here *analysis.Presence, on record.Day) int {
	n := 0
	for _, b := range d.Birds {
		if here.There(b, on) {
			n++
		}
	}
	return n
}

// Claims are the flock's, then one for each bird and parasite, then one for each treatment.
func (r *Result) Claims() []analysis.Claim { return r.claims }

// Cautions come with every treatment in the records.
func (r *Result) Cautions() []analysis.Caution {
	if len(r.Courses)+r.Undated == 0 {
		return nil
	}
	return Cautions()
}

// LastOf returns the history of a bird's last look for any parasite: the latest, and whether it found anything.
func (r *Result) LastOf(bird string) (last Look, ok bool) {
	for _, h := range r.Histories {
		if h.Bird.ID == bird && h.Last != nil && (!ok || h.Last.On.First > last.On.First ||
			h.Last.On.First == last.On.First && h.Last.Finding == Found) {
			last, ok = *h.Last, true
		}
	}
	return last, ok
}

// LastCourse returns the latest treatment that covered a bird.
func (r *Result) LastCourse(bird string) (Course, bool) {
	for _, c := range slices.Backward(r.Courses) {
		if slices.Contains(c.Birds, bird) {
			return c, true
		}
	}
	return Course{}, false
}
