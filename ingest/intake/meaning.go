package intake

import (
	"slices"

	"keelmark/ingest/record"
)

// Meaning is what an import means for the flock's birds and records.
type Meaning struct {
	Once      int        // looks that a new file and another file both hold, counted once
	Known     []string   // birds of the copied files that the flock or another file knew before
	New       []string   // birds that were not known before
	Vanished  []string   // birds that no file knows any more
	Split     []RingPair // rings that two birds wore
	Questions int        // questions that were not asked before
}

// RingPair is a ring that was used again, with the birds that wore it.
type RingPair struct {
	Ring  string
	Birds []string
}

// Meaning counts what the copied files mean, by the flock as it would become.
func (p *Plan) Meaning() Meaning {
	var m Meaning
	fresh := map[string]bool{}
	for _, it := range p.Items {
		if it.Copied() {
			fresh[it.Name] = true
		}
	}
	asked, before, after := map[string]bool{}, map[string]bool{}, map[string]bool{}
	for _, d := range p.Before {
		for _, b := range d.Birds {
			before[b.ID] = true
		}
		for _, q := range d.Questions {
			asked[q.Key] = true
		}
	}
	for _, d := range p.After {
		m.add(d, fresh, before)
		for _, b := range d.Birds {
			after[b.ID] = true
		}
		for _, q := range d.Questions {
			if !asked[q.Key] {
				m.Questions++
			}
		}
	}
	for _, d := range p.Before {
		for _, b := range d.Birds {
			if !after[b.ID] {
				m.Vanished = append(m.Vanished, b.Label())
			}
		}
	}
	return m
}

func (m *Meaning) add(d *record.Dataset, fresh, before map[string]bool) {
	in, out := map[string]bool{}, map[string]bool{} // birds by whether new and other files know them
	know := func(bird, file string) {
		if fresh[file] {
			in[bird] = true
		} else {
			out[bird] = true
		}
	}
	for _, o := range d.Observations {
		know(o.Bird, o.At.File)
		for _, also := range o.Detail().Also {
			know(o.Bird, also.File)
			if also.File != o.At.File && (fresh[also.File] || fresh[o.At.File]) {
				m.Once++
			}
		}
	}
	for _, e := range d.Events {
		know(e.Bird, e.At.File)
	}
	var rings []string
	wearers := map[string][]string{}
	for _, b := range d.Birds {
		for _, at := range b.At {
			know(b.ID, at.File)
		}
		switch {
		case in[b.ID] && (out[b.ID] || before[b.ID]):
			m.Known = append(m.Known, b.Label())
		case in[b.ID]:
			m.New = append(m.New, b.Label())
		}
		if b.Ring != "" {
			if len(wearers[b.Ring]) == 0 {
				rings = append(rings, b.Ring)
			}
			wearers[b.Ring] = append(wearers[b.Ring], b.Label())
		}
	}
	slices.Sort(rings)
	for _, r := range rings {
		if len(wearers[r]) > 1 {
			m.Split = append(m.Split, RingPair{r, wearers[r]})
		}
	}
}
