package treatment

import (
	"cmp"
	"hash/fnv"
	"math"
	"math/rand/v2"
	"slices"
	"strings"

	"keelmark/analysis/parasite"
	"keelmark/ingest/record"
)

// Trial is a plan by which the records can tell what a treatment does, and every bird is treated: units drawn by lot are
// treated first, the others TrialWait days later, and the looks just before the second group's turn compare them.
type Trial struct {
	Parasite string
	Start    record.Day
	Unit     string // "pen" or "bird"
	Rows     []TrialRow
	Orders   float64      // number of ways in which the lot could have fallen; 1 over it is the smallest chance the test can show
	Missing  string       // why no plan is made
	At       []record.Ref // cells of the looks by which the parasite was picked
}

// TrialRow is one unit of the plan.
type TrialRow struct {
	Pen   string
	Birds []record.Bird
	Early bool
	Treat record.Day // the first treatment of the unit
}

// Rules of the plan.
const (
	// TrialWait is how long the second group waits: until the look on day 14 that counts for the first.
	TrialWait = parasite.VerifyFrom
	// LeastTrialPens pens can be drawn as wholes; with fewer, birds within each pen are.
	// Source: 8 pens, 4 of them early, fall in 70 ways; 6 in only 20, so that no result could be rarer than 1 in 20.
	LeastTrialPens = 8
	// LeastTrialBirds is the least number of birds.
	LeastTrialBirds = 2 * LeastTreated
)

// propose draws a trial. The lot depends on the flock, its birds and the day only: the same inputs give the same plan,
// and nobody picks.
//
// Source: staggered start, Hussey & Hughes 2007, Contemp. Clin. Trials 28:182; randomisation within pens, Fisher 1935.
func (g *gathered) propose(judged []Judged, start record.Day) Trial {
	t := Trial{Start: start, Parasite: record.Lice, Orders: 1}
	recent := -1
	for _, j := range judged { // of the parasite that was seen most of late
		t.At = append(t.At, j.Freedom.At...)
		if n := j.Freedom.Found; n > recent {
			recent, t.Parasite = n, j.Parasite
		}
	}
	byPen := map[string][]record.Bird{}
	var pens []string
	n := 0
	for _, b := range g.birds {
		if !g.here.There(b, g.today) {
			continue
		}
		pen := b.Pen
		if byPen[pen] == nil {
			pens = append(pens, pen)
		}
		byPen[pen] = append(byPen[pen], b)
		n++
	}
	if n < LeastTrialBirds {
		t.Missing = "it takes 16 birds or more: 8 to be treated first and 8 to wait"
		return t
	}
	slices.Sort(pens)
	h := fnv.New64a()
	h.Write([]byte(strings.Join(append([]string{g.flock, start.String()}, pens...), "\x00")))
	for _, p := range pens {
		slices.SortFunc(byPen[p], func(a, b record.Bird) int { return cmp.Compare(a.ID, b.ID) })
		for _, b := range byPen[p] {
			h.Write([]byte("\x00" + b.ID))
		}
	}
	rng := rand.New(rand.NewPCG(h.Sum64(), 0))
	row := func(pen string, birds []record.Bird, early bool) {
		r := TrialRow{Pen: pen, Birds: birds, Early: early, Treat: start}
		if !early {
			r.Treat += TrialWait
		}
		t.Rows = append(t.Rows, r)
	}
	if len(pens) >= LeastTrialPens {
		t.Unit = "pen"
		t.Orders = choose(len(pens), len(pens)/2)
		early := map[int]bool{}
		for _, i := range rng.Perm(len(pens))[:len(pens)/2] {
			early[i] = true
		}
		for i, p := range pens {
			row(p, byPen[p], early[i])
		}
	} else {
		t.Unit = "bird"
		for _, p := range pens {
			birds := byPen[p]
			k := (len(birds) + rng.IntN(2)) / 2 // of an odd number, the lot says which half is larger
			t.Orders *= choose(len(birds), k)
			var first, later []record.Bird
			drawn := rng.Perm(len(birds))[:k]
			for i, b := range birds {
				if slices.Contains(drawn, i) {
					first = append(first, b)
				} else {
					later = append(later, b)
				}
			}
			if len(first) > 0 {
				row(p, first, true)
			}
			if len(later) > 0 {
				row(p, later, false)
			}
		}
	}
	slices.SortStableFunc(t.Rows, func(a, b TrialRow) int { return cmp.Compare(a.Treat, b.Treat) })
	return t
}

func choose(n, k int) float64 { return math.Round(math.Exp(logChoose(n, k))) }
