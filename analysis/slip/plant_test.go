package slip

import (
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"time"

	"keelmark/ingest/record"
)

// planted is one invented slip.
type planted struct {
	cells []record.Ref
	class Class
	value string // the reading that undoes it; "" where none can be offered
}

func (p planted) hit(f Finding) bool {
	cells := append([]record.Ref{f.At}, f.More...)
	return slices.ContainsFunc(p.cells, func(c record.Ref) bool { return slices.Contains(cells, c) })
}

// a planter makes one slip in place, or reports that this weighing does not allow it.
type planter func(r *rand.Rand, ds *record.Dataset, lives []life, i int) (planted, bool)

// retype replaces the number in a cell.
func retype(o *record.Observation, text string, grams float64) { o.Text, o.Value = text, grams }

func perNumber(o record.Observation) float64 {
	v, _ := strconv.ParseFloat(o.Text, 64)
	return o.Value / v
}

func show(v float64) string { return strconv.FormatFloat(math.Round(v*1000)/1000, 'f', -1, 64) }

// possible keeps what would be held out when the sheet is read.
func possible(grams float64) bool { return grams >= 15 && grams <= 8000 }

func plantUnit(r *rand.Rand, ds *record.Dataset, _ []life, i int) (planted, bool) {
	o := &ds.Observations[i]
	from := perNumber(*o)
	to := units()[r.IntN(4)]
	if math.Abs(to.grams/from-1) < 0.01 {
		return planted{}, false
	}
	p := planted{[]record.Ref{o.At}, UnitSlip, ""}
	number := math.Round(o.Value/to.grams*100) / 100
	if to.grams == 1 {
		number = math.Round(number)
	}
	if !(number > 0) {
		return p, false
	}
	p.value = gramText(number * to.grams)
	retype(o, show(number), number*from)
	return p, true
}

func plantSwap(least float64) planter {
	return func(r *rand.Rand, ds *record.Dataset, _ []life, i int) (planted, bool) {
		o := &ds.Observations[i]
		before, was := []byte(o.Text), o.Value
		if len(before) < 3 || slices.Contains(before, '.') {
			return planted{}, false
		}
		k := r.IntN(len(before) - 1)
		before[k], before[k+1] = before[k+1], before[k]
		v, _ := strconv.ParseFloat(string(before), 64)
		grams := v * perNumber(*o)
		if math.Abs(math.Log(grams/was)) < least || before[0] == '0' {
			return planted{}, false
		}
		retype(o, string(before), grams)
		return planted{[]record.Ref{o.At}, DigitSwap, gramText(was)}, true
	}
}

func plantMissing(r *rand.Rand, ds *record.Dataset, _ []life, i int) (planted, bool) {
	o := &ds.Observations[i]
	if len(o.Text) < 3 || slices.Contains([]byte(o.Text), '.') {
		return planted{}, false
	}
	k := r.IntN(len(o.Text))
	text := o.Text[:k] + o.Text[k+1:]
	v, _ := strconv.ParseFloat(text, 64)
	if text[0] == '0' || !possible(v*perNumber(*o)) {
		return planted{}, false
	}
	retype(o, text, v*perNumber(*o))
	return planted{[]record.Ref{o.At}, MissingDigit, ""}, true
}

func plantExtra(r *rand.Rand, ds *record.Dataset, _ []life, i int) (planted, bool) {
	o := &ds.Observations[i]
	was := o.Value
	if slices.Contains([]byte(o.Text), '.') {
		return planted{}, false
	}
	k := r.IntN(len(o.Text) + 1)
	text := o.Text[:k] + strconv.Itoa(r.IntN(10)) + o.Text[k:]
	v, _ := strconv.ParseFloat(text, 64)
	if text[0] == '0' || !possible(v*perNumber(*o)) {
		return planted{}, false
	}
	retype(o, text, v*perNumber(*o))
	return planted{[]record.Ref{o.At}, ExtraDigit, gramText(was)}, true
}

func plantPoint(r *rand.Rand, ds *record.Dataset, _ []life, i int) (planted, bool) {
	if slices.Contains([]byte(ds.Observations[i].Text), '.') {
		return planted{}, false
	}
	// The whole sheet is in kilograms with three decimals.
	for j := range ds.Observations {
		o := &ds.Observations[j]
		retype(o, strconv.FormatFloat(o.Value/1000, 'f', 3, 64), math.Round(o.Value))
	}
	o := &ds.Observations[i]
	was := o.Value
	factor := []float64{0.1, 10}[r.IntN(2)]
	if !possible(was * factor) {
		return planted{}, false
	}
	retype(o, strconv.FormatFloat(math.Round(was*factor*10)/10000, 'f', -1, 64), math.Round(was*factor*10)/10)
	return planted{[]record.Ref{o.At}, DecimalPoint, gramText(was)}, true
}

func plantExchange(r *rand.Rand, ds *record.Dataset, _ []life, i int) (planted, bool) {
	a := &ds.Observations[i]
	for j := range ds.Observations {
		b := &ds.Observations[(i+1+j)%len(ds.Observations)]
		if b.On == a.On && b.Bird != a.Bird && math.Abs(math.Log(a.Value/b.Value)) > 0.2 && r.IntN(4) == 0 {
			a.Text, b.Text = b.Text, a.Text
			a.Value, b.Value = b.Value, a.Value
			return planted{[]record.Ref{a.At, b.At}, Exchanged, "exchange"}, true
		}
	}
	return planted{}, false
}

// plantDay sets one day's weights off, by 15 %, or by a cage of 15 % of a heavier bird.
func plantDay(r *rand.Rand, ds *record.Dataset, _ []life, i int) (planted, bool) {
	on := ds.Observations[i].On
	share, cage := 0.15, 0.0
	if r.IntN(2) == 0 {
		share = -0.15
	}
	if r.IntN(2) == 0 {
		var that []float64
		for _, o := range ds.Observations {
			if o.On == on {
				that = append(that, o.Value)
			}
		}
		slices.Sort(that)
		share, cage = 0, 0.15*that[3*len(that)/4]
	}
	p := planted{nil, SessionOffset, ""}
	for j := range ds.Observations {
		if o := &ds.Observations[j]; o.On == on {
			v := math.Round(o.Value*(1+share) + cage)
			if !slices.Contains(p.cells, o.At) {
				p.cells = append(p.cells, o.At)
			}
			retype(o, show(v/perNumber(*o)), v)
		}
	}
	return p, len(p.cells) >= 6
}

// plantReuse puts a grown bird's ring on a chick of another hatch after a gap.
func plantReuse(r *rand.Rand, ds *record.Dataset, lives []life, i int) (planted, bool) {
	id, from := ds.Observations[i].Bird, ds.Observations[i].On.First
	var l life
	for _, x := range lives {
		if x.id == id {
			l = x
		}
	}
	if float64(from)-l.born < 250 {
		return planted{}, false
	}
	young := l
	young.mature, young.checks, young.born = l.mature*(0.9+0.2*r.Float64()), nil, float64(from)+100-42
	p := planted{nil, RingReuse, "two"}
	before := 0
	kept := ds.Observations[:0]
	for _, o := range ds.Observations {
		if o.Bird != id || o.On.First < from {
			if o.Bird == id {
				before++
			}
			kept = append(kept, o)
			continue
		}
		if o.On.First < from+100 {
			continue
		}
		w := math.Round(young.weight(float64(o.On.First)) * math.Exp(0.03*r.NormFloat64()))
		retype(&o, show(w/perNumber(o)), w)
		o.Age = record.Age{}
		p.cells = append(p.cells, o.At)
		kept = append(kept, o)
	}
	ds.Observations = kept
	return p, before >= 3 && len(p.cells) >= 2
}

// plantCopied carries one weight on over the next weighings of the bird.
func plantCopied(r *rand.Rand, ds *record.Dataset, _ []life, i int) (planted, bool) {
	o := ds.Observations[i]
	p := planted{nil, CopiedForward, ""}
	for j := range ds.Observations {
		q := &ds.Observations[j]
		if q.Bird == o.Bird && q.On.First > o.On.First && len(p.cells) < 4 {
			retype(q, o.Text, o.Value)
			p.cells = append(p.cells, q.At)
		}
	}
	return p, len(p.cells) == 4
}

// plantCopiedDay carries most birds' weights on to the next day of weighing.
func plantCopiedDay(r *rand.Rand, ds *record.Dataset, _ []life, i int) (planted, bool) {
	on := ds.Observations[i].On
	p := planted{nil, CopiedForward, ""}
	last := map[string]record.Observation{}
	n := 0
	for j := range ds.Observations {
		q := &ds.Observations[j]
		if q.On == on {
			n++
			if before, ok := last[q.Bird]; ok && r.IntN(5) > 0 {
				retype(q, before.Text, before.Value)
				p.cells = append(p.cells, q.At)
			}
		}
		if q.On.First < on.First {
			last[q.Bird] = *q
		}
	}
	return p, len(p.cells) >= 6 && len(p.cells)*10 > n*7
}

// plantDate writes all rows of one day under a date that one slip of the pen makes of it.
func plantDate(kind func(record.Day) (record.Day, bool)) planter {
	return func(_ *rand.Rand, ds *record.Dataset, _ []life, i int) (planted, bool) {
		on := ds.Observations[i].On.First
		to, ok := kind(on)
		if !ok || !breaksOrder(ds, on, to) {
			return planted{}, false
		}
		p := planted{nil, DateOrder, on.String()}
		for j := range ds.Observations {
			if o := &ds.Observations[j]; o.On.First == on {
				o.On = record.On(to)
				p.cells = append(p.cells, o.At)
			}
		}
		return p, true
	}
}

func dayMonth(d record.Day) (record.Day, bool) {
	y, m, day := d.Date()
	if day > 12 || day == int(m) {
		return 0, false
	}
	return record.DayOf(y, time.Month(day), int(m))
}

func lastYear(d record.Day) (record.Day, bool) {
	_, m, _ := d.Date()
	return d.AddMonths(-12), m == time.January && d-365 > year0
}

// plantOneRow is a date slip in one row only.
func plantOneRow(kind func(record.Day) (record.Day, bool)) planter {
	return func(_ *rand.Rand, ds *record.Dataset, _ []life, i int) (planted, bool) {
		o := &ds.Observations[i]
		on := o.On.First
		to, ok := kind(on)
		if !ok || !breaksOrder(ds, on, to) {
			return planted{}, false
		}
		o.On = record.On(to)
		return planted{[]record.Ref{o.At}, DateOrder, on.String()}, true
	}
}

// breaksOrder reports whether another date of the sheet lies between: without one nobody can tell.
func breaksOrder(ds *record.Dataset, a, b record.Day) bool {
	return slices.ContainsFunc(ds.Observations, func(o record.Observation) bool {
		return o.On.First > min(a, b) && o.On.First < max(a, b)
	})
}

// grown plants in birds of 200 days and older only.
func grown(do planter) planter {
	return func(r *rand.Rand, ds *record.Dataset, lives []life, i int) (planted, bool) {
		o := ds.Observations[i]
		for _, l := range lives {
			if l.id == o.Bird && float64(o.On.First)-l.born < 200 {
				return planted{}, false
			}
		}
		return do(r, ds, lives, i)
	}
}
