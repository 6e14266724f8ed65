package flocks

import (
	"bytes"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"regexp"
	"strconv"
)

// Version of the form in which a released summary is written. A reader refuses later ones.
const Version = 1

// form is what the JSON names itself.
const form = "keelmark flock summary"

// wellFormedCode is what a code may be: short, and nothing that a file name or a spreadsheet would trip over.
var wellFormedCode = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9-]{0,19}$`)

// CheckCode reports what is wrong with a code under which a flock is to be shared.
func CheckCode(code string) error {
	if !wellFormedCode.MatchString(code) {
		return fmt.Errorf("%q is not a code; use 1 to 20 letters, digits and hyphens that tell nobody who you are, such as K7", code)
	}
	return nil
}

// heads are the columns of the CSV.
func heads() []string {
	return []string{"version", "code", "part", "measure", "scale", "half", "size", "sex", "age", "season", "birds", "clusters", "n", "x", "spread", "checksum"}
}

// CSV writes a released summary as a table: one row a total or cell, in a fixed order. Its columns are described in the
// README beside this file.
func (s Summary) CSV() ([]byte, error) {
	rows, err := s.rows()
	if err != nil {
		return nil, err
	}
	sum := checksum(rows)
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	for i, row := range append([][]string{heads()}, rows...) {
		if i > 0 {
			row = append(row, sum)
		}
		if err := w.Write(row); err != nil {
			return nil, err
		}
	}
	w.Flush()
	return b.Bytes(), w.Error()
}

// JSON writes a released summary with one row a line, so that a mistake in it can be named by its line.
func (s Summary) JSON() ([]byte, error) {
	rows, err := s.rows()
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	fmt.Fprintf(&b, "{\n\"form\": %q,\n\"version\": %d,\n\"code\": %q,\n\"birds\": %d,\n\"checksum\": %q,\n\"totals\": [", form, Version, s.Code, s.Birds, checksum(rows))
	for i, list := range [][]Cell{s.Total, s.Cells} {
		if i > 0 {
			b.WriteString("\n],\n\"cells\": [")
		}
		for j, c := range list {
			line, err := json.Marshal(c)
			if err != nil {
				return nil, err
			}
			if j > 0 {
				b.WriteByte(',')
			}
			b.WriteByte('\n')
			b.Write(line)
		}
	}
	b.WriteString("\n]\n}\n")
	return b.Bytes(), nil
}

// rows are the cells as texts, without the checksum. A summary that is not released has none.
func (s Summary) rows() ([][]string, error) {
	if !s.Released {
		return nil, fmt.Errorf("flock %q: only a released summary may be written", s.Code)
	}
	if err := CheckCode(s.Code); err != nil {
		return nil, err
	}
	var out [][]string
	for _, part := range []struct {
		name  string
		cells []Cell
	}{{"flock", []Cell{{Birds: s.Birds}}}, {"total", s.Total}, {"cell", s.Cells}} {
		for _, c := range part.cells {
			half, measure := c.Half.String(), string(c.Measure)
			if c.Half == (Half{}) {
				half = ""
			}
			out = append(out, []string{strconv.Itoa(Version), s.Code, part.name, measure, c.Scale, half, string(c.Size), string(c.Sex), c.Age, whole(c.Season),
				strconv.Itoa(c.Birds), whole(c.Clusters), number(c.N), number(c.X), number(c.Spread)})
		}
	}
	return out, nil
}

func whole(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

func number(x float64) string { return strconv.FormatFloat(x, 'g', -1, 64) }

// checksum tells a summary that was changed by hand or by a bad copy from one that was not. It is no signature: whoever
// means to deceive can make a new one.
func checksum(rows [][]string) string {
	h := sha256.New()
	for _, row := range rows {
		for _, field := range row {
			fmt.Fprintf(h, "%d:%s,", len(field), field)
		}
		h.Write([]byte{'\n'})
	}
	return hex.EncodeToString(h.Sum(nil))[:16]
}
