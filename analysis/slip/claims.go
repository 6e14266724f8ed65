package slip

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

const (
	method = "Gaussian process on log weight per bird, each weighing judged by the others"
	source = "Rasmussen & Williams 2006, Gaussian Processes for Machine Learning, eq. 5.12; limits from Keelmark's own simulations"
)

// Claims say for each finding what the records show, for the flock how much was judged, and for each sheet how finely its
// weights are read. All are open: only the keeper knows what was weighed.
func (r *Result) Claims() []analysis.Claim {
	out := []analysis.Claim{r.overview()}
	for _, f := range r.Findings {
		c := analysis.Claim{ID: "slip." + string(f.Class) + "/" + f.At.Key(), Subject: analysis.Subject{Bird: f.Bird}, Topic: "records", Stands: analysis.Open,
			Text: f.Message, N: analysis.Counts{Records: 1 + len(f.More)}, RestsOn: slices.Concat([]record.Ref{f.At}, f.More, f.rests), Method: method, Source: source}
		slices.SortFunc(c.RestsOn, record.Ref.Compare)
		c.RestsOn = slices.Compact(c.RestsOn)
		if f.Class == UnlikeBreed {
			c.Method, c.Source = "latest weighings against the published adult weight", "published weights as named; the limits are Keelmark's own"
		}
		if f.Bird != "" {
			c.N.Birds = 1
		}
		if f.Effect != "" {
			c.Text += " " + f.Effect
		}
		c.Caveats = []string{"a question, not a correction: the record stands as written until the keeper says otherwise"}
		out = append(out, c)
	}
	for _, s := range r.Scales {
		if c, ok := s.claim(r.units); ok {
			out = append(out, c)
		}
	}
	return out
}

func (r *Result) overview() analysis.Claim {
	c := analysis.Claim{ID: "slip.judged/flock", Topic: "records", Stands: analysis.Open, N: analysis.Counts{Records: r.Weighings, Birds: r.Birds},
		Method: method, Source: source}
	for _, s := range r.Scales {
		c.RestsOn = append(c.RestsOn, s.First)
	}
	if r.Weighings == 0 {
		c.Text = "Cannot say whether any weighing is a slip, because there are no weighings of single birds."
		c.Refusal = &analysis.Refusal{Needs: "weighings with a bird and a date", Next: "weigh each bird and write down its ring and the day"}
		return c
	}
	c.Text = fmt.Sprintf("Of %s of %s, %s asked about; of weighings without any slip about 1 in 500, at most, is asked about by chance.",
		analysis.Counted(r.Weighings, "weighing"), analysis.Counted(r.Birds, "bird"), are(len(r.Findings), "thing"))
	c.Caveats = []string{"slips of less than about a tenth of the weight cannot be told from weighing error"}
	if n := len(r.Sparse); n > 0 {
		c.Caveats = append(c.Caveats, fmt.Sprintf("%s weighed fewer than %d times (%s): only the coarsest slips show there", are(n, "bird"), MinWeighings, some(r.Sparse)))
	}
	return c
}

// coarse is the SD of rounding, as a share of the typical weight, from which a scale's step is worth a claim.
const coarse = 0.005

// claim states the resolution where it is coarse enough to matter.
func (s Scale) claim(units string) (analysis.Claim, bool) {
	sd := s.Step / math.Sqrt(12)
	if sd < coarse*s.Typical || s.Step == 0 {
		return analysis.Claim{}, false
	}
	at := record.Ref{File: s.File, Sheet: s.Sheet}
	text := fmt.Sprintf("%s: about %.0f %% of %s are rounded to %s. Rounding alone scatters a weight by about %s (SD), and two weights that differ by one step may be the same.",
		at, 100*s.Share, analysis.Counted(s.N, "weight"), s.Text, smallText(sd, units))
	return analysis.Claim{ID: "slip.scale/" + at.Key(), Topic: "records", Stands: analysis.Open, Text: text,
		N: analysis.Counts{Records: s.N}, RestsOn: []record.Ref{at},
		Method: "share of weights that are multiples of a step, less chance; rounding error uniform, its SD step / sqrt(12)",
		Source: "NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.6.2 (uniform distribution)"}, true
}

// Tables are the findings and the scales.
func (r *Result) Tables() []analysis.Table {
	found := analysis.Table{Name: "findings", Caption: "Weighings to ask about: none is changed", Columns: []analysis.Column{
		{Name: "class", Head: "what it may be", Doc: "class of the slip suspected"},
		{Name: "bird", Head: "bird", Doc: "whose weighing; empty where it is about several birds"},
		{Name: "cell", Head: "cell", Doc: "where it stands, the first of them"},
		{Name: "cells", Head: "cells", Doc: "cells that one answer settles"},
		{Name: "raw", Head: "as written", Doc: "as typed, or the date as read"},
		{Name: "expected_g", Head: "others point to", Unit: "g", Doc: "by the bird's other weighings; empty where not of one weighing"},
		{Name: "off_sd", Head: "off", Unit: "SD", Doc: "distance from that in its SDs", Decimals: 1},
		{Name: "first_reading", Head: "perhaps", Doc: "likeliest reading"},
		{Name: "question", Head: "question", Doc: "as asked"},
	}}
	for _, f := range r.Findings {
		var bird, expected, off, reading any
		if f.Bird != "" {
			bird = r.labels[f.Bird]
		}
		if f.Expected > 0 {
			expected, off = f.Expected, f.Off
		}
		if f.Readings[0].Value != LeaveEmpty && f.Readings[0].Value != AsItIs {
			reading = f.Readings[0].Label
		}
		found.Rows = append(found.Rows, []any{string(f.Class), bird, f.At.String(), 1 + len(f.More), f.Raw, expected, off, reading, f.Message})
	}
	scales := analysis.Table{Name: "scales", Caption: "How finely the weights of each sheet are read", Columns: []analysis.Column{
		{Name: "file", Head: "file", Doc: "file"}, {Name: "sheet", Head: "sheet", Doc: "sheet; empty for text files"},
		{Name: "weights", Head: "weights", Doc: "weights of single birds in it"},
		{Name: "step_g", Head: "step", Unit: "g", Doc: "largest step to which at least half are rounded; empty where none shows", Decimals: 1},
		{Name: "step", Head: "in words", Doc: "the same in words"},
		{Name: "share", Head: "share rounded", Doc: "of the weights, beyond chance", Decimals: 2},
	}}
	for _, s := range r.Scales {
		var step, text, share any
		if s.Step > 0 {
			step, text, share = s.Step, s.Text, s.Share
		}
		scales.Rows = append(scales.Rows, []any{s.File, s.Sheet, s.N, step, text, share})
	}
	return []analysis.Table{found, scales}
}

// weightText prints a weight without more digits than it has.
func weightText(grams float64, units string) string {
	if units == "lb-oz" {
		return poundsOunces(grams)
	}
	if grams < 1000 {
		return fmt.Sprintf("%.0f g", grams)
	}
	return fmt.Sprintf("%.0f g", 5*math.Round(grams/5))
}

func smallText(grams float64, units string) string {
	if units == "lb-oz" {
		return fmt.Sprintf("%.1f oz", grams/gramsPerOunce)
	}
	return fmt.Sprintf("%.0f g", grams)
}

func poundsOunces(grams float64) string {
	halves := int(math.Round(2 * grams / gramsPerOunce))
	pounds, rest := halves/32, halves%32
	ounces := fmt.Sprint(rest / 2)
	if rest%2 == 1 {
		ounces += "½"
	}
	if pounds == 0 {
		return ounces + " oz"
	}
	return fmt.Sprintf("%d lb %s oz", pounds, ounces)
}

// quoted is a weight as typed, with what it was read as where that is another text.
func quoted(o record.Observation, units string) string {
	read := weightText(o.Value, units)
	text := strings.TrimSpace(o.Text)
	if text == "" || text+" g" == read || text == read {
		return read
	}
	if text == figure(o.Value) {
		return text + " g"
	}
	return fmt.Sprintf("%q (%s)", text, read)
}

func are(n int, thing string) string {
	switch n {
	case 0:
		if thing == "thing" {
			return "nothing is"
		}
		return "no " + thing + " is"
	case 1:
		return "1 " + thing + " is"
	}
	return fmt.Sprintf("%d %ss are", n, thing)
}

// some lists at most six labels.
func some(labels []string) string {
	const most = 6
	if len(labels) <= most {
		return strings.Join(labels, ", ")
	}
	return fmt.Sprintf("%s and %d more", strings.Join(labels[:most], ", "), len(labels)-most)
}
