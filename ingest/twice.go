package ingest

import (
	"cmp"
	"iter"
	"slices"

	"keelmark/ingest/record"
)

// twice finds looks that are written more than once: the same value again is counted once, another value for
// the same bird and day is asked about.
func (s *settling) twice() {
	looks := s.flock.Looks
	drop := map[int]bool{}
	var again [][2]int // a look and a later one that says it again
	for same := range s.sameDays(s.seen) {
		for n, i := range same {
			for _, j := range slices.Backward(same[:n]) {
				if s.seen[i].kind == s.seen[j].kind && !drop[int(j)] && sameLook(&looks[j], &looks[i]) {
					drop[int(i)] = true
					again = append(again, [2]int{int(j), int(i)})
					break
				}
			}
		}
	}
	if len(again) == 0 {
		return
	}
	slices.SortFunc(again, func(a, b [2]int) int { return cmp.Compare(a[1], b[1]) })
	for _, a := range again {
		s.again(a[0], a[1])
	}
	s.flock.Keep(func(i int) bool { return !drop[i] })
}

// seenOn is the part of a look that tells whether another may say the same, small enough to stay at hand.
type seenOn struct {
	day  int64 // -1 for none; days of age lie beyond all days
	bird int32
	kind uint8 // number of its trait and parasite, the last for all further ones
}

type kind struct {
	trait    record.Trait
	parasite string
}

// saw notes a look that stays.
func (s *settling) saw(o *record.Observation, bird int) {
	l := seenOn{day: -1, bird: int32(bird)}
	if o.On.Exact() {
		l.day = int64(uint32(o.On.First))
	} else if n, ok := o.Age.Days(); ok {
		l.day = int64(uint32(n)) | 1<<32
	}
	if bird < 0 {
		l.day = -1
	}
	k := slices.Index(s.kinds, kind{o.Trait, o.Parasite})
	if k < 0 {
		k = len(s.kinds)
		s.kinds = append(s.kinds, kind{o.Trait, o.Parasite})
	}
	l.kind = uint8(min(k, 255))
	s.seen = append(s.seen, l)
}

// sameDays lists the looks at one bird on one day, or at one age where no day is known, in reading order; only
// where there are several.
func (s *settling) sameDays(seen []seenOn) iter.Seq[[]int32] {
	ends := make([]int32, len(s.id.All)+1)
	for _, l := range seen {
		if l.day >= 0 {
			ends[l.bird+1]++
		}
	}
	for b := range s.id.All {
		ends[b+1] += ends[b]
	}
	byBird := make([]int32, ends[len(s.id.All)]) // bird after bird, each in reading order
	for i, l := range seen {
		if l.day >= 0 {
			byBird[ends[l.bird]] = int32(i)
			ends[l.bird]++ // in the end, where the bird's looks end
		}
	}
	byDay := func(a, b int32) int { return cmp.Compare(seen[a].day, seen[b].day) }
	return func(yield func([]int32) bool) {
		from := int32(0)
		for b := range s.id.All {
			of := byBird[from:ends[b]]
			from = ends[b]
			if !slices.IsSortedFunc(of, byDay) {
				slices.SortStableFunc(of, byDay)
			}
			for len(of) > 0 {
				n := 1
				for n < len(of) && seen[of[n]].day == seen[of[0]].day {
					n++
				}
				if n > 1 && !yield(of[:n]) {
					return
				}
				of = of[n:]
			}
		}
	}
}

// sameLook reports whether two looks at one bird on one day are of the same kind, place and session.
func sameLook(a, b *record.Observation) bool {
	if a.Trait != b.Trait || a.Parasite != b.Parasite {
		return false
	}
	da, db := a.Detail(), b.Detail()
	return da.Site == db.Site && da.Session == db.Session
}
