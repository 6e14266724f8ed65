package treatment

import (
	"keelmark/analysis/parasite"
	"keelmark/ingest/record"
)

// Repeats is what repeat looks at the same birds show without any treatment: how many birds with findings had none at the
// next look. It is what "improved after treatment" must be held against.
//
// Source: regression to the mean before and after, Ostermann et al. 2008, BMC Med. Res. Methodol. 8:52.
type Repeats struct {
	Found, Gone   int // birds found, then looked at again BeforeDays+VerifyTo days at most later; of those, none found
	None, Came    int // birds with none, looked at again; of those, found
	Birds, Rounds int
	At            []record.Ref
}

// repeats pairs each look with the next that lies as far away as looks before and after a treatment do, where no
// treatment fell into the time between or the month before.
func (v *view) repeats() Repeats {
	var out Repeats
	rounds := map[record.Day]bool{}
	for i, looks := range v.looks {
		used := false
		for k, l := range looks {
			next, ok := first(looks[k+1:], l.On.First+parasite.VerifyFrom, l.On.First+BeforeDays+parasite.VerifyTo)
			if !ok || v.treatedIn(i, l.On.First-BeforeDays, next.On.First) {
				continue
			}
			used = true
			rounds[l.On.First] = true
			out.At = append(out.At, l.At, next.At)
			if l.Finding == parasite.Found {
				out.Found++
				out.Gone += one(next.Finding == parasite.NoneFound)
			} else {
				out.None++
				out.Came += one(next.Finding == parasite.Found)
			}
		}
		out.Birds += one(used)
	}
	out.Rounds = len(rounds)
	return out
}
