package intake

import (
	"fmt"
	"strings"

	"keelmark/ingest/record"
)

// copied is the share of rows in common from which a file under a name of its own counts as a copy of another.
const copied = 0.8

// copies leaves out new files that are edited copies of a file of the flock under another name: the same rows nearly all,
// and some of the older ones changed. Taken for new, what was put right would stand beside what was wrong. A file that
// holds every row of another and goes on is no such copy. It reports whether a file was left out.
func (p *Plan) copies() bool {
	out := false
	for i := range p.Items {
		it := &p.Items[i]
		if it.Action != Add {
			continue
		}
		for _, name := range sortedKeys(p.there) {
			if like, ok := p.copyOf(it.Name, name); ok {
				it.Action, out = Skip, true
				it.Reason = fmt.Sprintf("it looks like an edited copy of %s (%.0f %% of the rows are the same); give it that name, so that it takes its place and the older one is kept, or import it with --anyway as a file of its own", name, 100*like)
				break
			}
		}
	}
	return out
}

// copyOf reports whether a new file is an edited copy of one that was there, and how much of it is the same.
func (p *Plan) copyOf(fresh, there string) (like float64, ok bool) {
	old, now := sheets(there, p.Before), sheets(fresh, p.After)
	if len(old) == 0 || len(old) != len(now) {
		return 0, false
	}
	like, changed := 1.0, false
	for i := range old {
		share := sameRows(old[i], now[i])
		if share < copied {
			return 0, false
		}
		like = min(like, share)
		changed = changed || !holdsAll(now[i], old[i])
	}
	return like, changed
}

// holdsAll reports whether a sheet holds every row of another.
func holdsAll(in, of *record.Ledger) bool {
	have := map[string]int{}
	for _, r := range in.Texts {
		have[strings.Join(texts(r), "\x00")]++
	}
	for _, r := range of.Texts {
		key := strings.Join(texts(r), "\x00")
		if key == "" {
			continue
		}
		if have[key]--; have[key] < 0 {
			return false
		}
	}
	return true
}
