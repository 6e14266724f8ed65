package season

import (
	"slices"
	"time"

	"keelmark/analysis"
	"keelmark/analysis/stat"
	"keelmark/ingest/record"
)

// MonthOfYear is what the years show of one calendar month. Years are its units.
type MonthOfYear struct {
	Month   time.Month
	Looked  []int // years in which somebody looked
	Found   []int // of those, years in which the mark was reached
	Rounds  int
	Birds   int           // looks at birds (or places) in all
	Share   float64       // mean over years of the share found; 0 where nobody looked
	Reached float64       // mean over years of the share of looks at which the mark was reached
	OfYears stat.Interval // share of years; only where Looked is not empty
	Inside  bool          // the window of the counted sentence
}

// monthsOf sorts rounds into calendar months.
func monthsOf(rounds []Round, m Mark) [12]MonthOfYear {
	type cell struct{ looked, found, n, k int }
	cells := map[[2]int]*cell{}
	var out [12]MonthOfYear
	for i := range out {
		out[i].Month = time.Month(i + 1)
	}
	for _, r := range rounds {
		y, month, _ := r.On.Date()
		c := cells[[2]int{y, int(month) - 1}]
		if c == nil {
			c = &cell{}
			cells[[2]int{y, int(month) - 1}] = c
		}
		c.looked++
		if m.reached(r) {
			c.found++
		}
		c.n += r.Looked
		c.k += r.Found
		o := &out[month-1]
		o.Rounds++
		o.Birds += r.Looked
	}
	for at, c := range cells {
		o := &out[at[1]]
		o.Looked = append(o.Looked, at[0])
		if c.found > 0 {
			o.Found = append(o.Found, at[0])
		}
	}
	for i := range out {
		o := &out[i]
		slices.Sort(o.Looked)
		slices.Sort(o.Found)
		for _, y := range o.Looked {
			c := cells[[2]int{y, i}]
			o.Share += float64(c.k) / float64(c.n) / float64(len(o.Looked))
			o.Reached += float64(c.found) / float64(c.looked) / float64(len(o.Looked))
		}
		if n := len(o.Looked); n > 0 {
			o.OfYears, _ = stat.Wilson(len(o.Found), n, level)
		}
	}
	return out
}

// Window is a run of months in which most of what was found was found, and the years in which it was.
type Window struct {
	First, Last time.Month
	Months      int
	Found       []int // years, by the year in which the window begins, in which the mark was reached in it
	Clear       []int // years in which at least half of its months had a look and the mark was not reached
	NotLooked   []int // other years of the records: nothing or too little of it was looked at
	// In the other months: how many months of years had a look, and in how many the mark was reached.
	OtherLooked, OtherFound int
}

// most is the part of the findings that a window must hold, and widest the most months it may take. Source: Keelmark's
// choice; a window of more than half a year says nothing.
const (
	most   = 0.8
	widest = 6
)

// window finds the shortest run of months that holds most of the findings: of the looks of each month the share at which
// the mark was reached, so that a month that was looked at more often does not weigh more. It returns false where there is none of at most half a year.
func window(rounds []Round, months [12]MonthOfYear, m Mark) (Window, bool) {
	var all float64
	for _, o := range months {
		all += o.Reached
	}
	if all == 0 || len(rounds) == 0 {
		return Window{}, false
	}
	for length := 1; length <= widest; length++ {
		best, at := 0.0, -1
		for first := range 12 {
			var sum float64
			for k := range length {
				sum += months[(first+k)%12].Reached
			}
			if sum > best+1e-12 {
				best, at = sum, first
			}
		}
		if best >= most*all {
			w := Window{First: time.Month(at + 1), Last: time.Month((at+length-1)%12 + 1), Months: length}
			w.count(rounds, months)
			return w, true
		}
	}
	return Window{}, false
}

// in reports whether a month lies in the window.
func (w Window) in(m time.Month) bool { return (int(m)-int(w.First)+12)%12 < w.Months }

func (w *Window) count(rounds []Round, months [12]MonthOfYear) {
	looked, found := map[int]int{}, map[int]bool{} // months of the window with a look, by the year in which it begins
	for _, o := range months {
		if !w.in(o.Month) {
			w.OtherLooked += len(o.Looked)
			w.OtherFound += len(o.Found)
			continue
		}
		before := 0 // the window began in the year before
		if o.Month < w.First {
			before = 1
		}
		for _, y := range o.Looked {
			looked[y-before]++
		}
		for _, y := range o.Found {
			found[y-before] = true
		}
	}
	first, last := rounds[0].On, rounds[len(rounds)-1].On
	y0, _, _ := first.Date()
	y1, _, _ := last.Date()
	for y := y0 - 1; y <= y1; y++ {
		from, _ := record.DayOf(y, w.First, 1)
		to := from.AddMonths(w.Months) - 1
		switch {
		case found[y]:
			w.Found = append(w.Found, y)
		case 2*looked[y] >= w.Months:
			w.Clear = append(w.Clear, y)
		case looked[y] > 0 || from >= first && to <= last:
			w.NotLooked = append(w.NotLooked, y)
		}
	}
}

// ofYears is the share of years in which the window held a finding, in %.
func (w Window) ofYears() (analysis.Estimate, error) {
	i, err := stat.Wilson(len(w.Found), len(w.Found)+len(w.Clear), level)
	return analysis.Estimate{Value: 100 * i.Value, Low: 100 * i.Low, High: 100 * i.High, Level: level, Unit: "% of years"}, err
}
