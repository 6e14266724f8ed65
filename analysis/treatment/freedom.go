package treatment

import (
	"math"
	"slices"

	"keelmark/analysis"
	"keelmark/analysis/parasite"
	"keelmark/analysis/stat"
	"keelmark/ingest/record"
)

// Freedom is how much "none seen" in the last weeks can miss.
type Freedom struct {
	Flock, Looked, Found int // birds today; of them looked at within parasite.SeenDays; of those, found
	Sensitivity          float64
	Fitted               bool // the sensitivity comes from the flock's own repeat looks
	Missed               []Missed
	Clear                bool         // the rule of two rounds is met
	Rule                 string       // why not
	At                   []record.Ref // cells of the looks within parasite.SeenDays
	RuleAt               []record.Ref // of all looks, which the rule reads
}

// Missed is the chance that looks which found nothing missed an infestation of a share of the flock.
type Missed struct {
	Share    float64 // of the flock
	Infested int     // birds
	Chance   float64
}

// freedom judges the looks of the last weeks.
//
// Source: hypergeometric sum as in stat.MissProbability; the rule of two rounds, Keelmark's domain notes 4.4.
func (v *view) freedom(sensitivity float64) Freedom {
	f := Freedom{Sensitivity: sensitivity}
	var today []int
	for i, b := range v.birds {
		if v.here.There(b, v.today) {
			today = append(today, i)
		}
	}
	f.Flock = len(today)
	for _, i := range today {
		n := len(v.looks[i])
		if n == 0 || v.today-v.looks[i][n-1].On.First > parasite.SeenDays {
			continue
		}
		f.Looked++
		hit := false
		for _, l := range v.looks[i] {
			if v.today-l.On.First <= parasite.SeenDays {
				f.At = append(f.At, l.At)
				hit = hit || l.Finding == parasite.Found
			}
		}
		f.Found += one(hit)
	}
	if f.Found == 0 && f.Looked > 0 {
		for _, share := range []float64{0.1, 0.2} {
			infested := max(1, int(math.Ceil(share*float64(f.Flock))))
			chance, err := stat.MissProbability(f.Flock, infested, f.Looked, sensitivity)
			if err == nil && (len(f.Missed) == 0 || f.Missed[len(f.Missed)-1].Infested != infested) {
				f.Missed = append(f.Missed, Missed{share, infested, chance})
			}
		}
	}
	f.Clear, f.Rule = v.twice(today, sensitivity)
	for _, i := range today {
		for _, l := range v.looks[i] {
			f.RuleAt = append(f.RuleAt, l.At)
		}
	}
	return f
}

// twice applies the rule for the word clear: parasite.ClearLooks rounds, parasite.ClearDays apart, that found nothing and
// each looked at enough birds, with nothing found between or since.
func (v *view) twice(today []int, sensitivity float64) (bool, string) {
	infested := max(1, int(math.Ceil(parasite.ClearShare*float64(len(today)))))
	need := 0
	for n := 1; n <= len(today); n++ {
		if miss, err := stat.MissProbability(len(today), infested, n, sensitivity); err == nil && miss < parasite.ClearMiss {
			need = n
			break
		}
	}
	if need == 0 {
		return false, "even a look at every bird would miss one infested bird in ten too often: look at every bird twice in a round"
	}
	looked := map[record.Day]int{}
	var lastFound record.Day
	for _, i := range today {
		for _, l := range v.looks[i] {
			if l.Finding == parasite.Found {
				lastFound = max(lastFound, l.On.First)
			} else {
				looked[l.On.First]++
			}
		}
	}
	var full []record.Day // rounds that count, by their day; looks up to RoundDays later belong to a round
	days := make([]record.Day, 0, len(looked))
	for day := range looked {
		days = append(days, day)
	}
	slices.Sort(days)
	for i := 0; i < len(days); {
		n, from := 0, days[i]
		for ; i < len(days) && days[i] <= from+parasite.RoundDays; i++ {
			n += looked[days[i]]
		}
		if n >= need && (lastFound == 0 || from > lastFound) {
			full = append(full, from)
		}
	}
	switch {
	case len(full) < parasite.ClearLooks:
		return false, "it takes two rounds at " + analysis.Counted(need, "bird") + " or more, 21 days apart, with none seen; there " + were(len(full), "is", "are") + " " + analysis.Counted(len(full), "such round") + " since the last finding"
	case full[len(full)-1]-full[0] < parasite.ClearDays:
		return false, "the rounds with none seen lie less than 21 days apart"
	case v.today-full[len(full)-1] > parasite.SeenDays:
		return false, "the last round with none seen is more than 28 days old"
	}
	return true, ""
}
