package slip

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"time"

	"keelmark/ingest/record"
)

// The order of a sheet's rows, or of its columns of dates, is evidence for each date. A sheet is in order where dropping
// a tenth of its dates, at most, leaves one; it may also be in order bird by bird.
const (
	orderRuns  = 5 // different dates that are needed
	orderShare = 0.9
	orderSlack = 45 // d by which a repaired date may miss both its neighbours
)

// run is a stretch of rows, or a column, with one date.
type run struct {
	on  record.Day
	obs []record.Observation
}

// repair is a date that one slip of the pen turns into another.
type repair struct {
	on  record.Day
	why string
}

// repairs lists what a date may have been.
func repairs(d record.Day) []repair {
	y, m, day := d.Date()
	out := []repair{{d.AddMonths(12), "the year before was written"}, {d.AddMonths(-12), "the year after was written"}}
	if day <= 12 && day != int(m) {
		if swapped, ok := record.DayOf(y, time.Month(day), int(m)); ok {
			out = append(out, repair{swapped, "day and month exchanged"})
		}
	}
	return out
}

// dates finds dates that cannot be and dates out of their sheet's order.
func (s *search) dates() {
	bySheet := map[sheetName][]record.Observation{}
	var names []sheetName
	for _, o := range s.d.Observations {
		if !o.On.Exact() || o.At.Row <= 0 {
			continue
		}
		n := sheetOf(o.At)
		if bySheet[n] == nil {
			names = append(names, n)
		}
		bySheet[n] = append(bySheet[n], o)
	}
	slices.SortFunc(names, func(a, b sheetName) int {
		return record.Ref{File: a.file, Sheet: a.sheet}.Compare(record.Ref{File: b.file, Sheet: b.sheet})
	})
	for _, n := range names {
		obs := bySheet[n]
		slices.SortStableFunc(obs, func(a, b record.Observation) int { return a.At.Compare(b.At) })
		no := s.impossible(obs)
		obs = slices.DeleteFunc(obs, func(o record.Observation) bool { return no[o.At] })
		if wide(obs) {
			slices.SortStableFunc(obs, func(a, b record.Observation) int { return int(a.At.Col) - int(b.At.Col) })
		}
		if s.outOfOrder([][]record.Observation{obs}) {
			s.ordered[n] = true
			continue
		}
		var each [][]record.Observation
		at := map[string]int{}
		for _, o := range obs {
			if _, ok := at[o.Bird]; !ok {
				at[o.Bird] = len(each)
				each = append(each, nil)
			}
			each[at[o.Bird]] = append(each[at[o.Bird]], o)
		}
		s.ordered[n] = s.outOfOrder(each)
	}
	s.settleDates()
}

// wide reports whether rows hold several dates, so that the columns follow time.
func wide(obs []record.Observation) bool {
	rows, several := 0, 0
	for i := 0; i < len(obs); {
		j, dates := i, 0
		for ; j < len(obs) && obs[j].At.Row == obs[i].At.Row; j++ {
			if j == i || obs[j].On.First != obs[j-1].On.First {
				dates++
			}
		}
		if j-i > 1 {
			rows++
			if dates > 1 {
				several++
			}
		}
		i = j
	}
	return 2*several > rows
}

// wrongDate is a date of one sheet that is asked about, with all cells that stand under it and do not fit.
type wrongDate struct {
	sheet sheetName
	on    record.Day
	found
	fixes []repair
}

// doubtDate notes that the cells of observations stand under a doubtful date. All cells of a sheet and date are one
// question; the class and sentence of the first stay.
func (s *search) doubtDate(class Class, message string, on record.Day, obs []record.Observation, fixes []repair) {
	k := slices.IndexFunc(s.days, func(w wrongDate) bool { return w.on == on && w.sheet == sheetOf(obs[0].At) })
	if k < 0 {
		k = len(s.days)
		s.days = append(s.days, wrongDate{sheet: sheetOf(obs[0].At), on: on,
			found: found{Finding: Finding{Class: class, At: obs[0].At, Raw: on.String(), Message: message}}})
	}
	w := &s.days[k]
	for _, o := range obs {
		if o.At != w.At {
			w.More = append(w.More, o.At)
		}
		if !slices.Contains(w.birds, o.Bird) {
			w.birds = append(w.birds, o.Bird)
		}
	}
	for _, f := range fixes {
		if at := slices.Index(w.fixes, f); at >= 0 && len(fixes) == 1 { // what the order says comes first
			w.fixes = append([]repair{f}, slices.Delete(w.fixes, at, at+1)...)
		} else if at < 0 {
			w.fixes = append(w.fixes, f)
		}
	}
}

// settleDates asks about the doubtful dates, and leaves their weighings out of what the birds' records say, unless the
// keeper has said what is right.
func (s *search) settleDates() {
	for _, w := range s.days {
		row, col := w.At, w.At
		row.Col, col.Row = 0, 0
		if s.settled(w.Key()) {
			continue
		}
		slices.SortFunc(w.More, record.Ref.Compare)
		w.More = slices.Compact(w.More)
		for _, at := range append([]record.Ref{w.At}, w.More...) {
			s.undated[at] = true
		}
		if len(w.birds) == 1 {
			w.Bird = w.birds[0]
		}
		for _, f := range w.fixes {
			w.Readings = append(w.Readings, record.Reading{Label: f.on.String() + ": " + f.why, Value: f.on.String()})
		}
		w.Readings = append(w.Readings, asItIs(w.on.String()+" is right"))
		if !s.askedOn[row] && !s.askedOn[col] {
			s.add(w.found)
		}
	}
}

// impossible finds dates after today and before the bird hatched.
func (s *search) impossible(obs []record.Observation) map[record.Ref]bool {
	out := map[record.Ref]bool{}
	for _, o := range obs {
		b := s.birds[o.Bird]
		var class Class
		why := ""
		switch {
		case s.c.Today > 0 && o.On.First > s.c.Today:
			class, why = DateFuture, "is after today, "+s.c.Today.String()
		case b.Hatched.Known() && o.On.Last < b.Hatched.First:
			class, why = DateHatch, "is before "+b.Label()+" hatched, "+b.Hatched.String()
		default:
			continue
		}
		out[o.At] = true
		var fixes []repair
		for _, r := range repairs(o.On.First) {
			if (s.c.Today == 0 || r.on <= s.c.Today) && !s.tooEarly([]record.Observation{o}, r.on) {
				fixes = append(fixes, r)
			}
		}
		s.doubtDate(class, fmt.Sprintf("%s: the date %s %s; which day was it?", o.At, o.On, why), o.On.First, []record.Observation{o}, fixes)
	}
	return out
}

// outOfOrder finds the dates that break the order of sequences of rows or columns and would not with one slip undone. It
// returns false, and finds nothing, where the sequences are in no order.
func (s *search) outOfOrder(sequences [][]record.Observation) bool {
	var all [][]run
	total, kept := 0, 0
	up, down := 0, 0
	for _, obs := range sequences {
		var runs []run
		for _, o := range obs {
			if n := len(runs); n > 0 && runs[n-1].on == o.On.First {
				runs[n-1].obs = append(runs[n-1].obs, o)
				continue
			}
			runs = append(runs, run{o.On.First, []record.Observation{o}})
		}
		all = append(all, runs)
		total += len(runs)
		up += longest(runs, 1)
		down += longest(runs, -1)
	}
	sign := record.Day(1)
	if kept = up; down > up {
		sign, kept = -1, down
	}
	if longestOf(all) < orderRuns || kept < total && float64(total-kept) > max(1, (1-orderShare)*float64(total)) {
		return false
	}
	for _, runs := range all {
		s.repairOrder(runs, sign)
	}
	return true
}

func longestOf(all [][]run) int {
	n := 0
	for _, runs := range all {
		n = max(n, len(runs))
	}
	return n
}

// longest is the length of the longest ordered part of the runs.
func longest(runs []run, sign record.Day) int {
	var tails []record.Day // patience sorting: the least last date of an ordered part of each length
	for _, r := range runs {
		on := sign * r.on
		i := sort.Search(len(tails), func(i int) bool { return tails[i] > on })
		if i == len(tails) {
			tails = append(tails, on)
		} else {
			tails[i] = on
		}
	}
	return len(tails)
}

// repairOrder asks about the dates whose repair makes more of the sequence ordered, the closest fit first.
func (s *search) repairOrder(runs []run, sign record.Day) {
	runs = slices.Clone(runs)
	done := make([]bool, len(runs))
	for {
		now := longest(runs, sign)
		if now == len(runs) {
			return
		}
		best, at, miss := repair{}, -1, math.Inf(1)
		for i, r := range runs {
			if done[i] || !breaks(runs, i, sign) {
				continue
			}
			for _, fix := range repairs(r.on) {
				if s.c.Today > 0 && fix.on > s.c.Today || s.tooEarly(r.obs, fix.on) {
					continue
				}
				runs[i].on = fix.on
				if far := distance(runs, i); longest(runs, sign) > now && far <= orderSlack && far < miss {
					best, at, miss = fix, i, far
				}
				runs[i].on = r.on
			}
		}
		if at < 0 {
			return
		}
		s.wrongDay(runs, at, best)
		runs[at].on, done[at] = best.on, true
	}
}

// breaks reports whether a run is out of order with a neighbour, or with the one beyond.
func breaks(runs []run, i int, sign record.Day) bool {
	for j := max(0, i-2); j < min(len(runs), i+3); j++ {
		if j < i && sign*runs[j].on > sign*runs[i].on || j > i && sign*runs[j].on < sign*runs[i].on {
			return true
		}
	}
	return false
}

// distance is how many days a run lies from the nearer of its neighbours.
func distance(runs []run, i int) float64 {
	near := math.Inf(1)
	for _, j := range []int{i - 1, i + 1} {
		if j >= 0 && j < len(runs) {
			near = min(near, math.Abs(float64(runs[j].on-runs[i].on)))
		}
	}
	return near
}

func (s *search) tooEarly(obs []record.Observation, on record.Day) bool {
	return slices.ContainsFunc(obs, func(o record.Observation) bool {
		b := s.birds[o.Bird]
		return b.Hatched.Known() && on < b.Hatched.First
	})
}

// wrongDay asks about the date of a run.
func (s *search) wrongDay(runs []run, i int, fix repair) {
	r := runs[i]
	beside := ""
	switch {
	case i > 0 && i+1 < len(runs):
		beside = fmt.Sprintf("between %s and %s", runs[i-1].on, runs[i+1].on)
	case i > 0:
		beside = "after " + runs[i-1].on.String()
	default:
		beside = "before " + runs[1].on.String()
	}
	s.doubtDate(DateOrder, fmt.Sprintf("%s: the date %s stands %s, out of the sheet's order; was it %s (%s)?", r.obs[0].At, r.on, beside, fix.on, fix.why),
		r.on, r.obs, []repair{fix})
}

// otherDays are the days on which weighing i would fit its bird's record, in a sheet whose order says nothing.
func (s *search) otherDays(h *history, i int, sd float64) []repair {
	o := h.w[i].obs
	if !o.On.Exact() || math.IsNaN(h.start) || s.ordered[sheetOf(o.At)] || len(h.w) < MinWeighings+1 {
		return nil
	}
	var out []repair
	for _, r := range repairs(o.On.First) {
		day := float64(r.on) - h.start
		if s.c.Today > 0 && r.on > s.c.Today || day < h.w[0].day-orderSlack || day > h.w[len(h.w)-1].day+orderSlack || h.prior.aged && day < 0 {
			continue
		}
		if math.Abs(h.w[i].log-h.e.on(day)) < min(2*sd, suspectLog) {
			out = append(out, r)
		}
	}
	return out
}
