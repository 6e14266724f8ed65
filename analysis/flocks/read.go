package flocks

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"keelmark/ingest/record"
)

// Largest is the size in bytes of the largest file that Read takes. A flock of ten years writes about 100 kB.
const Largest = 8 << 20

// IsSummary reports whether a file begins like a summary that JSON or CSV wrote.
func IsSummary(head []byte) bool {
	head = bytes.TrimPrefix(bytes.TrimSpace(head), []byte("\xef\xbb\xbf"))
	return bytes.HasPrefix(head, []byte("{")) && bytes.Contains(head, []byte(form)) || bytes.HasPrefix(head, []byte("version,code,part,"))
}

// Read reads a summary that JSON or CSV wrote. Everything in it is checked; the error names the file, the line and the cure.
func Read(name string, data []byte) (Summary, error) {
	if len(data) > Largest {
		return Summary{}, fmt.Errorf("%s: %d MB are too much for a summary of one flock (at most %d); ask its keeper for a new one from keelmark share", name, len(data)>>20, Largest>>20)
	}
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	read := readCSV
	if bytes.HasPrefix(bytes.TrimSpace(data), []byte("{")) {
		read = readJSON
	}
	got, err := read(data)
	if err != nil {
		return Summary{}, place(name, err)
	}
	if err := got.check(); err != nil {
		return Summary{}, place(name, err)
	}
	return got.Summary, nil
}

// atLine is a mistake in a line of a summary; line 0 is the file as a whole.
type atLine struct {
	line int
	text string
}

func (e atLine) Error() string { return e.text }

func wrong(line int, format string, a ...any) error { return atLine{line, fmt.Sprintf(format, a...)} }

func place(name string, err error) error {
	var at atLine
	if errors.As(err, &at) && at.line > 0 {
		return fmt.Errorf("%s, line %d: %s", name, at.line, at.text)
	}
	return fmt.Errorf("%s: %w", name, err)
}

const askAgain = "ask its keeper for a new one from keelmark share"

// draft is a summary as it stands in a file, with the line of each cell.
type draft struct {
	Summary
	checksum    string
	totals, all []int
}

func readJSON(data []byte) (draft, error) {
	var d draft
	dec := json.NewDecoder(bytes.NewReader(data))
	line := func() int { return 1 + bytes.Count(data[:min(len(data), int(dec.InputOffset()))], []byte("\n")) }
	broken := func(err error) error {
		if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
			return wrong(line(), "the file ends too early; copy it anew")
		}
		return wrong(line(), "this is not as keelmark share writes it (%v); %s", err, askAgain)
	}
	if _, err := dec.Token(); err != nil {
		return d, broken(err)
	}
	seen := map[string]bool{}
	for dec.More() {
		token, err := dec.Token()
		if err != nil {
			return d, broken(err)
		}
		key, _ := token.(string)
		if seen[key] {
			return d, wrong(line(), "%q stands twice; %s", key, askAgain)
		}
		seen[key] = true
		switch key {
		case "form":
			var f string
			if err = dec.Decode(&f); err == nil && f != form {
				return d, wrong(line(), "this is %q and not a %s", f, form)
			}
		case "version":
			var v int
			if err = dec.Decode(&v); err == nil {
				err = checkVersion(line(), v)
			}
		case "code":
			err = dec.Decode(&d.Code)
		case "birds":
			err = dec.Decode(&d.Birds)
		case "checksum":
			err = dec.Decode(&d.checksum)
		case "totals":
			d.Total, d.totals, err = readCells(dec, line)
		case "cells":
			d.Cells, d.all, err = readCells(dec, line)
		default:
			return d, wrong(line(), "%q is not part of a summary; %s", key, askAgain)
		}
		var at atLine
		if errors.As(err, &at) {
			return d, err
		}
		if err != nil {
			return d, broken(err)
		}
	}
	if _, err := dec.Token(); err != nil {
		return d, broken(err)
	}
	if _, err := dec.Token(); !errors.Is(err, io.EOF) {
		return d, wrong(line(), "something follows the end of the summary; %s", askAgain)
	}
	for _, key := range []string{"form", "version", "code", "birds", "checksum", "totals", "cells"} {
		if !seen[key] {
			return d, wrong(0, "%q is missing; %s", key, askAgain)
		}
	}
	return d, nil
}

func readCells(dec *json.Decoder, line func() int) (cells []Cell, lines []int, err error) {
	token, err := dec.Token()
	if err != nil {
		return nil, nil, err
	}
	if token != json.Delim('[') {
		return nil, nil, errors.New("a list is expected here")
	}
	for dec.More() {
		var raw json.RawMessage
		if err := dec.Decode(&raw); err != nil {
			return nil, nil, err
		}
		one := json.NewDecoder(bytes.NewReader(raw))
		one.DisallowUnknownFields()
		var c Cell
		if err := one.Decode(&c); err != nil {
			return nil, nil, err
		}
		cells, lines = append(cells, c), append(lines, line())
	}
	_, err = dec.Token()
	return cells, lines, err
}

func checkVersion(line, v int) error {
	switch {
	case v > Version:
		return wrong(line, "the summary is of version %d and this Keelmark reads up to %d; take a newer Keelmark", v, Version)
	case v < 1:
		return wrong(line, "there is no version %d; %s", v, askAgain)
	}
	return nil
}

func readCSV(data []byte) (draft, error) {
	var d draft
	r := csv.NewReader(bytes.NewReader(data))
	head, err := r.Read()
	if err != nil || !slices.Equal(head, heads()) {
		return d, wrong(1, "the heading is not %s; %s", strings.Join(heads(), ","), askAgain)
	}
	for {
		row, err := r.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return d, wrong(0, "%v; %s", err, askAgain)
		}
		line, _ := r.FieldPos(0)
		f := fields{row: row, line: line}
		if err := checkVersion(line, f.integer(0)); err != nil && f.err == nil {
			return d, err
		}
		switch last := len(row) - 1; {
		case d.Code == "" && d.checksum == "":
			d.Code, d.checksum = row[1], row[last]
		case row[1] != d.Code:
			return d, wrong(line, "the codes %q and %q stand in one file; one file holds one flock", d.Code, row[1])
		case row[last] != d.checksum:
			return d, wrong(line, "the checksum differs from that of the lines above; %s", askAgain)
		}
		c := Cell{Key: Key{Measure: Measure(row[3]), Scale: row[4], Half: f.half(5)}, Stratum: Stratum{Size: record.Size(row[6]), Sex: record.Sex(row[7]), Age: row[8], Season: f.integer(9)},
			Birds: f.integer(10), Clusters: f.integer(11), N: f.float(12), X: f.float(13), Spread: f.float(14)}
		if f.err != nil {
			return d, f.err
		}
		switch row[2] {
		case "flock":
			if d.Birds != 0 || c.Key != (Key{}) || c.Stratum != (Stratum{}) {
				return d, wrong(line, "the row of the flock stands twice or holds more than its birds; %s", askAgain)
			}
			d.Birds = c.Birds
		case "total":
			d.Total, d.totals = append(d.Total, c), append(d.totals, line)
		case "cell":
			d.Cells, d.all = append(d.Cells, c), append(d.all, line)
		default:
			return d, wrong(line, "part is %q; it is flock, total or cell", row[2])
		}
	}
	return d, nil
}

// fields reads the numbers of a row; its first mistake stays.
type fields struct {
	row  []string
	line int
	err  error
}

func (f *fields) fail(i int, what string) {
	if f.err == nil {
		f.err = wrong(f.line, "column %s: %q is not %s; %s", heads()[i], f.row[i], what, askAgain)
	}
}

func (f *fields) integer(i int) int {
	if f.row[i] == "" {
		return 0
	}
	n, err := strconv.Atoi(f.row[i])
	if err != nil {
		f.fail(i, "a whole number")
	}
	return n
}

func (f *fields) float(i int) float64 {
	x, err := strconv.ParseFloat(f.row[i], 64)
	if err != nil {
		f.fail(i, "a number")
	}
	return x
}

func (f *fields) half(i int) Half {
	if f.row[i] == "" {
		return Half{}
	}
	h, err := ParseHalf(f.row[i])
	if err != nil {
		f.fail(i, "a half year such as 2025-H1")
	}
	return h
}

// ParseHalf reads "2025-H1".
func ParseHalf(s string) (Half, error) {
	year, err := strconv.Atoi(strings.TrimSuffix(strings.TrimSuffix(s, "-H1"), "-H2"))
	h := Half{Year: year}
	if strings.HasSuffix(s, "2") {
		h.Second = 1
	}
	if err != nil || h.String() != s || !h.plausible() {
		return Half{}, fmt.Errorf("%q is not a half year; write it as 2025-H1 or 2025-H2", s)
	}
	return h, nil
}

func (h Half) plausible() bool {
	return h == Half{} || h.Year >= 1900 && h.Year < 2200 && (h.Second == 0 || h.Second == 1)
}

// check reports the first thing in a summary that cannot be.
func (d *draft) check() error {
	d.Released = true
	if err := CheckCode(d.Code); err != nil {
		return wrong(0, "%v", err)
	}
	shown := map[Key]Cell{}
	totals := map[Key]Cell{}
	for i, c := range d.Total {
		if err := c.check(d.totals[i]); err != nil {
			return err
		}
		if c.Stratum != (Stratum{}) {
			return wrong(d.totals[i], "a total has no size, sex, age or season; %s", askAgain)
		}
		if _, twice := totals[c.Key]; twice {
			return wrong(d.totals[i], "the total of %s stands twice; %s", c.Key, askAgain)
		}
		totals[c.Key] = c
		if c.Birds > d.Birds {
			return wrong(d.totals[i], "%d birds in a flock of %d; %s", c.Birds, d.Birds, askAgain)
		}
	}
	seen := map[Cell]bool{}
	for i, c := range d.Cells {
		if err := c.check(d.all[i]); err != nil {
			return err
		}
		at := Cell{Key: c.Key, Stratum: c.Stratum}
		if seen[at] {
			return wrong(d.all[i], "this group of %s stands twice; %s", c.Key, askAgain)
		}
		seen[at] = true
		total, ok := totals[c.Key]
		sum := shown[c.Key]
		sum.add(c)
		shown[c.Key] = sum
		switch slack := 1e-6 + 0.1*float64(len(d.Cells)); {
		case !ok:
			return wrong(d.all[i], "there is no total of %s; %s", c.Key, askAgain)
		case sum.N > total.N+1e-6 || sum.X > total.X+slack:
			return wrong(d.all[i], "the groups of %s hold more than their total; %s", c.Key, askAgain)
		}
	}
	d.sort()
	rows, err := d.rows()
	if err != nil {
		return err
	}
	if checksum(rows) != d.checksum {
		return wrong(0, "the numbers do not fit their checksum: the file was changed or copied badly; %s", askAgain)
	}
	return nil
}

// String names a key in a message.
func (k Key) String() string {
	out := string(k.Measure)
	if k.Scale != "" {
		out += " (" + k.Scale + ")"
	}
	if k.Half != (Half{}) {
		out += " " + k.Half.String()
	}
	return out
}

var wellFormedAge = regexp.MustCompile(`^(|growing|young|adult|week \d\d-\d\d)$`)

// check reports what cannot be in one cell of a released summary.
func (c Cell) check(line int) error {
	switch {
	case !slices.Contains(Measures(), c.Measure):
		return wrong(line, "the measure %q is not known; a newer Keelmark may know it", c.Measure)
	case len(c.Scale) > 120 || strings.ContainsFunc(c.Scale, unicode.IsControl):
		return wrong(line, "the scale is no short text; %s", askAgain)
	case !c.Half.plausible():
		return wrong(line, "%d-%d is not a half year; %s", c.Half.Year, c.Half.Second, askAgain)
	case !slices.Contains([]record.Size{"", record.Large, record.Bantam}, c.Size), !slices.Contains([]record.Sex{"", record.Male, record.Female}, c.Sex),
		!wellFormedAge.MatchString(c.Age), c.Season < 0 || c.Season > 6:
		return wrong(line, "size %q, sex %q, age %q, season %d is no group; %s", c.Size, c.Sex, c.Age, c.Season, askAgain)
	case c.Birds < SmallGroup:
		return wrong(line, "%d birds: a group of fewer than %d should not have left its keeper; %s", c.Birds, SmallGroup, askAgain)
	case c.Clusters < 0 || c.Birds > 1e6 || c.Clusters > 1e6:
		return wrong(line, "%d birds, %d clusters cannot be; %s", c.Birds, c.Clusters, askAgain)
	}
	for _, x := range []float64{c.N, c.X, c.Spread} {
		if math.IsNaN(x) || x < 0 || x > 1e9 {
			return wrong(line, "%v is not a count or sum that can be; %s", x, askAgain)
		}
	}
	switch {
	case c.Measure.share() && (c.N != math.Trunc(c.N) || c.X != math.Trunc(c.X)):
		return wrong(line, "%s counts %v of %v: counts are whole numbers; %s", c.Measure, c.X, c.N, askAgain)
	case c.Measure.share() && c.X > c.N:
		return wrong(line, "%s counts %v of %v: more than there are; %s", c.Measure, c.X, c.N, askAgain)
	}
	return nil
}
