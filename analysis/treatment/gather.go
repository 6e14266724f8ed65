package treatment

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"keelmark/analysis"
	"keelmark/analysis/parasite"
	"keelmark/ingest/record"
)

// VagueDays is how wide the date of a treatment or look may be to say what came before and what after.
const VagueDays = 3

// SameCourse is how many days may lie between two treatments of a bird that belong together.
// Source: a second treatment for lice falls on days 7 to 10, a third on day 14 (Keelmark's domain notes 3.2).
const SameCourse = 14

// gathered is what the records hold for all parasites.
type gathered struct {
	flock   string
	today   record.Day
	birds   []record.Bird
	index   map[string]int // of birds by ID
	here    *analysis.Presence
	gone    map[string]record.Day // first day on which a bird was no longer there
	courses []parasite.Course
	looks   []parasite.Look
	more    map[record.Ref]record.Observation
	renamed map[string]string
	// renamedAt are the cells of the looks under both names.
	renamedAt map[string][]record.Ref
	leftOut   []LeftOut
}

func gather(d *record.Dataset, looks []parasite.Look, courses []parasite.Course, today record.Day) *gathered {
	g := &gathered{flock: d.Name, today: today, birds: d.Birds, index: map[string]int{}, here: analysis.PresenceOf(d), gone: map[string]record.Day{},
		more: map[record.Ref]record.Observation{}, renamed: map[string]string{}, renamedAt: map[string][]record.Ref{}}
	for i, b := range d.Birds {
		g.index[b.ID] = i
	}
	for _, e := range d.Events {
		if (e.Kind == record.Died || e.Kind == record.Departed) && e.On.Known() && g.here.Gone(e.Bird, e.On.First) {
			if was, ok := g.gone[e.Bird]; !ok || e.On.First < was {
				g.gone[e.Bird] = e.On.First
			}
		}
	}
	for _, o := range d.Observations {
		if o.Trait == record.Parasite {
			g.more[o.At] = o
		}
	}
	for _, c := range courses {
		switch {
		case c.Event.On.Last-c.Event.On.First > VagueDays:
			g.leave(c, "its date is not known to the day, so what came before it and what after is not known")
		case len(c.Birds) == 0 && c.Event.Scope == record.OneBird && c.Event.Bird != "":
			g.leave(c, g.absent(c.Event))
		case len(c.Birds) == 0:
			g.leave(c, "it names no bird that was in the flock on that day")
		default:
			g.courses = append(g.courses, c)
		}
	}
	for _, l := range looks {
		if l.Bird == "" || l.On.Last-l.On.First > VagueDays {
			continue
		}
		if _, ok := g.index[l.Bird]; ok {
			g.looks = append(g.looks, l)
		}
	}
	g.rename()
	return g
}

func (g *gathered) leave(c parasite.Course, why string) {
	g.leftOut = append(g.leftOut, LeftOut{c.Event.At, c.Event.On, why})
}

// absent says why a bird cannot have been treated on a day.
func (g *gathered) absent(e record.Event) string {
	i, ok := g.index[e.Bird]
	if !ok {
		return fmt.Sprintf("no bird is known as %q", e.Bird)
	}
	b := g.birds[i]
	if b.Hatched.Known() && b.Hatched.First > e.On.First {
		return fmt.Sprintf("%s hatched on %s, later", b.Label(), b.Hatched)
	}
	if day, ok := g.gone[e.Bird]; ok {
		return fmt.Sprintf("%s had died or left on %s, earlier", b.Label(), day)
	}
	return b.Label() + " was not in the flock on that day"
}

// rename finds pens that only changed their name: all looks under the new name follow those under the old one, and most
// of the birds are the same. They count as one pen.
func (g *gathered) rename() {
	type span struct {
		first, last record.Day
		birds       map[string]bool
		at          []record.Ref
	}
	pens := map[string]*span{}
	var names []string
	for _, l := range g.looks {
		if l.Pen == "" {
			continue
		}
		s := pens[l.Pen]
		if s == nil {
			s = &span{first: l.On.First, birds: map[string]bool{}}
			pens[l.Pen] = s
			names = append(names, l.Pen)
		}
		s.last = max(s.last, l.On.First)
		s.birds[l.Bird], s.at = true, append(s.at, l.At)
	}
	for _, old := range names {
		for _, later := range names {
			a, b := pens[old], pens[later]
			if old == later || a.last >= b.first {
				continue
			}
			same := 0
			for bird := range a.birds { // a count, so the order does not matter
				if b.birds[bird] {
					same++
				}
			}
			if same >= 3 && 5*same >= 4*max(len(a.birds), len(b.birds)) {
				g.renamed[old], g.renamedAt[old] = later, compact(append(slices.Clone(a.at), b.at...))
			}
		}
	}
}

// pen is the pen of a bird at a look, by its latest name.
func (g *gathered) pen(l parasite.Look) string {
	name := l.Pen
	if name == "" {
		name = g.birds[g.index[l.Bird]].Pen
	}
	for range len(g.renamed) {
		later, ok := g.renamed[name]
		if !ok {
			break
		}
		name = later
	}
	return name
}

// view is what the records hold for one parasite.
type view struct {
	*gathered
	parasite string
	cycle    parasite.LifeCycle
	known    bool              // the life cycle
	looks    [][]parasite.Look // by bird, oldest first, at most one a day: a finding wins
	doses    [][]dose          // by bird, oldest first
}

// dose is one treatment of one bird.
type dose struct {
	on     record.Day
	course parasite.Course
}

func (g *gathered) of(name string) *view {
	v := &view{gathered: g, parasite: name, looks: make([][]parasite.Look, len(g.birds)), doses: make([][]dose, len(g.birds))}
	v.cycle, v.known = parasite.LifeCycleOf(name)
	for _, l := range g.looks {
		if l.Parasite != name || l.Finding == parasite.Unclear {
			continue
		}
		i := g.index[l.Bird]
		if n := len(v.looks[i]); n > 0 && v.looks[i][n-1].On.First == l.On.First {
			if l.Finding == parasite.Found && v.looks[i][n-1].Finding != parasite.Found {
				v.looks[i][n-1] = l
			}
			continue
		}
		v.looks[i] = append(v.looks[i], l)
	}
	for _, c := range g.courses {
		if !works(c.Against, name) {
			continue
		}
		for _, id := range c.Birds {
			i := g.index[id]
			v.doses[i] = append(v.doses[i], dose{c.Event.On.First, c})
		}
	}
	return v
}

// works reports whether a treatment against one thing was meant for a parasite. A treatment that names nothing counts.
func works(against, name string) bool {
	lice := []string{record.Lice, record.BodyLouse, record.ShaftLouse, record.HeadLouse}
	mites := []string{record.Mites, record.NorthernFowlMite, record.ScalyLegMite}
	switch {
	case against == "" || against == name:
		return true
	case name == parasite.NotSaid:
		return slices.Contains(lice, against) || slices.Contains(mites, against)
	case against == record.Lice || name == record.Lice:
		return slices.Contains(lice, against) && slices.Contains(lice, name)
	case against == record.Mites || name == record.Mites:
		return slices.Contains(mites, against) && slices.Contains(mites, name)
	}
	return false
}

// treatedIn reports whether a bird was treated from a day up to, and not on, another.
func (v *view) treatedIn(bird int, from, before record.Day) bool {
	return slices.ContainsFunc(v.doses[bird], func(d dose) bool { return d.on >= from && d.on < before })
}

// count is the number that a look wrote down, where it wrote one.
func (v *view) count(l parasite.Look) (float64, bool) {
	o, ok := v.more[l.At]
	switch {
	case l.Finding == parasite.NoneFound:
		return 0, true
	case ok && (o.Form == record.Count || o.Form == record.Measured && o.Value > 1):
		return o.Value, true
	case ok && o.Form == record.Range:
		return math.Sqrt(max(1, o.Lo) * max(1, o.Hi)), true
	}
	return 0, false
}

// Occasion is one round of treatment: birds first treated on one day with one product, and what followed within the
// course.
type Occasion struct {
	Product    string // as typed first
	First      record.Day
	Last       record.Day // of the second and later treatments of the course; First where there is none
	Second     record.Day // 0 where there is none
	Birds      []string   // IDs
	At         []record.Ref
	Again      [2]record.Day // the days for a second treatment by the life cycle; 0 where none is known
	Withdrawal []string      // as entered, each once
	Story      Story
	birds      []int
}

// occasions groups the treatments of birds.
func (v *view) occasions() []Occasion {
	var out []Occasion
	for i, doses := range v.doses {
		for from := 0; from < len(doses); {
			to := from + 1
			for to < len(doses) && doses[to].on-doses[to-1].on <= SameCourse {
				to++
			}
			course := doses[from:to]
			from = to
			first := course[0]
			at := slices.IndexFunc(out, func(o Occasion) bool {
				return o.First == first.on && folded(o.Product) == folded(first.course.Product)
			})
			if at < 0 {
				out = append(out, Occasion{Product: first.course.Product, First: first.on, Last: first.on})
				at = len(out) - 1
				if v.known && v.cycle.Again != (parasite.Days{}) {
					out[at].Again = [2]record.Day{first.on + record.Day(v.cycle.Again.Low), first.on + record.Day(v.cycle.Again.High)}
				}
			}
			o := &out[at]
			o.birds, o.Birds = append(o.birds, i), append(o.Birds, v.birds[i].ID)
			for _, d := range course {
				o.Last = max(o.Last, d.on)
				if d.on > o.First && (o.Second == 0 || d.on < o.Second) {
					o.Second = d.on
				}
				if !slices.Contains(o.At, d.course.Event.At) {
					o.At = append(o.At, d.course.Event.At)
				}
				if !slices.Contains(o.Withdrawal, d.course.Withdrawal) {
					o.Withdrawal = append(o.Withdrawal, d.course.Withdrawal)
				}
			}
		}
	}
	slices.SortStableFunc(out, func(a, b Occasion) int {
		return cmp.Or(cmp.Compare(a.First, b.First), strings.Compare(a.Product, b.Product))
	})
	first := map[string]string{} // one spelling for each product
	for i := range out {
		slices.SortFunc(out[i].At, record.Ref.Compare)
		key := folded(out[i].Product)
		if first[key] == "" {
			first[key] = out[i].Product
		}
		out[i].Product = first[key]
	}
	return out
}

func folded(s string) string { return strings.Join(strings.Fields(strings.ToLower(s)), " ") }
