package ingest

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"keelmark/ingest/ask"
	"keelmark/ingest/identity"
	"keelmark/ingest/reading"
	"keelmark/ingest/record"
)

// A keeper who weighs ten birds of a flock each week often numbers them 1 to 10 each week anew. Such a number
// is no bird. The evidence: at every date the numbers are 1 to n, and from one date to the next a number's
// weight follows its earlier weight hardly more than that of any other number would.
//
// The limits are our own: birds that were truly weighed again correlate at 0.77 or more from the fourth day
// of age in an open data set of 50 chicks (Crowder and Hand, Analysis of Repeated Measures, 1990, as
// ChickWeight in R), the one open data set of numbered samples gives 0.12.
const (
	sampleCorrelation = 0.4 // mean correlation below which numbers are no birds
	samplePairs       = 5   // pairs of dates that are needed to say so
	sampleSize        = 4   // numbers at each date that are needed
)

// sampleTable is the weights of one table by flock, date or age, and number.
type sampleTable struct {
	weights map[string]map[int64]map[int]float64
	order   []string
	first   record.Ref
}

// samples looks for tables whose birds are sample numbers. Their looks are kept without a bird, and the keeper
// is told on which evidence.
func (r *reader) samples() {
	tables := map[int32]*sampleTable{}
	var order []int32
	not := map[int32]bool{}
	for _, name := range r.flocks.Order {
		f := r.flocks.Find(name)
		for i := range f.Looks {
			it, o := f.Links[i], &f.Looks[i]
			if not[it.From] || it.Who == nil || o.Trait != record.Weight || o.Form != record.Measured {
				continue
			}
			n, ok := sampleNumber(it.Who)
			if !ok {
				not[it.From] = true
				continue
			}
			t := tables[it.From]
			if t == nil {
				t = &sampleTable{weights: map[string]map[int64]map[int]float64{}, first: o.At}
				tables[it.From] = t
				order = append(order, it.From)
			}
			t.add(name, *o, n)
		}
	}
	for _, id := range order {
		if not[id] {
			continue
		}
		t := tables[id]
		mean, pairs, size, ok := t.correlation()
		if !ok {
			continue
		}
		at := t.first
		why := fmt.Sprintf("the numbers 1 to %d return at every date, and a number's weight follows its earlier weight hardly more than chance "+
			"(mean correlation %.2f over %d pairs of dates; birds weighed again give 0.7 or more); read as samples, not as birds, so no bird has a curve of its own", size, mean, pairs)
		q := record.Question{Class: "sample_numbers", At: at, Key: ask.ColumnKey("sample_numbers", at.File, at.Sheet), Message: at.String() + ": " + why + "; is that right?",
			Readings: []record.Reading{{Label: "samples of the flock", Value: "samples"}, {Label: "the same birds each time", Value: "birds"}}}
		a, answered := r.replies.Column(q.Key)
		if answered && a == "birds" {
			continue
		}
		for _, name := range r.flocks.Order {
			f := r.flocks.Find(name)
			forget(f, id)
		}
		if !answered {
			r.flocks.Find(r.flocks.Order[0]).Ask.Add(q)
		}
		for i := range r.files {
			if r.files[i].Name == at.File {
				if at.Sheet != "" {
					why = "sheet " + at.Sheet + ": " + why
				}
				r.files[i].Notes = append(r.files[i].Notes, why)
			}
		}
	}
}

// sampleNumber returns the plain number that a sighting consists of.
func sampleNumber(s *identity.Sighting) (int, bool) {
	if s.Name != "" && s.Ring != "" || s.Facts.Sex != "" || s.Facts.Breed != "" || s.Facts.Hatched.Known() {
		return 0, false
	}
	n, err := strconv.Atoi(first(s.Ring, s.Name))
	return n, err == nil && n >= 1
}

func (t *sampleTable) add(flock string, o record.Observation, n int) {
	var when int64
	if d, ok := o.Age.Days(); ok && !o.On.Known() {
		when = int64(d)
	} else {
		when = 1<<40 + int64(o.On.First)
	}
	w := t.weights[flock]
	if w == nil {
		w = map[int64]map[int]float64{}
		t.weights[flock] = w
		t.order = append(t.order, flock)
	}
	if w[when] == nil {
		w[when] = map[int]float64{}
	}
	w[when][n] = o.Value
}

// correlation is the mean correlation of weights between neighbouring dates, over all flocks, and whether it
// shows that the numbers are no birds.
func (t *sampleTable) correlation() (mean float64, pairs, size int, ok bool) {
	var rs []float64
	groups, odd := 0, 0
	for _, flock := range t.order {
		w := t.weights[flock]
		dates := make([]int64, 0, len(w))
		for d := range w {
			dates = append(dates, d)
		}
		slices.Sort(dates)
		for i, d := range dates {
			groups++
			for n := range w[d] {
				if n > 2*len(w[d]) { // not a count from 1
					odd++
					break
				}
			}
			size = max(size, len(w[d]))
			if i == 0 {
				continue
			}
			if r, ok := correlate(w[dates[i-1]], w[d]); ok {
				rs = append(rs, r)
			}
		}
	}
	if len(rs) < samplePairs || odd*10 > groups {
		return 0, 0, 0, false
	}
	sum, sq := 0.0, 0.0
	for _, r := range rs {
		sum += r
	}
	mean = sum / float64(len(rs))
	for _, r := range rs {
		sq += (r - mean) * (r - mean)
	}
	se := math.Sqrt(sq / float64(len(rs)-1) / float64(len(rs)))
	return mean, len(rs), size, mean+2*se < sampleCorrelation
}

// correlate is Pearson's correlation of the weights of the numbers that stand at both dates.
func correlate(a, b map[int]float64) (float64, bool) {
	ids := make([]int, 0, len(a))
	for id := range a {
		if _, ok := b[id]; ok {
			ids = append(ids, id)
		}
	}
	if len(ids) < sampleSize {
		return 0, false
	}
	slices.Sort(ids) // sums are the same in every run
	ma, mb := 0.0, 0.0
	for _, id := range ids {
		ma, mb = ma+a[id], mb+b[id]
	}
	ma, mb = ma/float64(len(ids)), mb/float64(len(ids))
	saa, sbb, sab := 0.0, 0.0, 0.0
	for _, id := range ids {
		x, y := a[id]-ma, b[id]-mb
		saa, sbb, sab = saa+x*x, sbb+y*y, sab+x*y
	}
	if saa == 0 || sbb == 0 {
		return 0, false
	}
	return sab / math.Sqrt(saa*sbb), true
}

// forget takes the birds away from the looks of one table.
func forget(f *reading.Flock, table int32) {
	elsewhere := map[*identity.Sighting]bool{}
	gone := map[*identity.Sighting]bool{}
	for i := range f.Links {
		if it := &f.Links[i]; it.From == table {
			if it.Who != nil {
				gone[it.Who] = true
			}
			it.Who = nil
		} else if it.Who != nil {
			elsewhere[it.Who] = true
		}
	}
	for _, h := range f.Happenings {
		elsewhere[h.Who] = true
	}
	f.Sightings = slices.DeleteFunc(f.Sightings, func(s *identity.Sighting) bool { return gone[s] && !elsewhere[s] })
}
