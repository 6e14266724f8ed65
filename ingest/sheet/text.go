package sheet

import (
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
)

// textGrids reads delimited text: the encoding and what parts the fields are found from the content.
func (r *reading) textGrids() ([]Grid, error) {
	if most := r.store.left / 2; r.size > most {
		return nil, &Refusal{Reason: TooLarge, What: fmt.Sprintf("is larger than %d MB of text", most>>20), Cure: "split it, one season a file"}
	}
	var b strings.Builder
	b.Grow(int(r.size))
	if _, err := io.Copy(&b, r.all()); err != nil {
		return nil, err
	}
	text, code, err := decode(b.String())
	if err != nil {
		return nil, err
	}
	if err := r.store.take(int64(len(text))); err != nil {
		return nil, err
	}
	g, parted, err := r.delimited(text)
	if err != nil {
		return nil, r.refuseText(err)
	}
	lower := strings.ToLower(r.file)
	for _, ending := range []string{".xlsx", ".xlsm", ".xls", ".ods"} {
		if strings.HasSuffix(lower, ending) {
			r.note("is plain text although its name ends in %s; read as text", ending)
		}
	}
	if code != "UTF-8" || parted != ordinary {
		r.note("read as %s, %s", code, parted)
	}
	return []Grid{g}, nil
}

// ordinary is a text that nobody would read otherwise: its lines agree, and nothing is to be told.
const ordinary = "fields parted by commas"

func (r *reading) refuseText(err error) error {
	if err == errFull {
		return &Refusal{Reason: TooLarge, What: "holds more cells than can be read at once", Cure: "split it, one season a file"}
	}
	return err
}

// decode turns the bytes of a text file into UTF-8 and names the encoding that it found.
func decode(raw string) (text, name string, err error) {
	via := func(e encoding.Encoding, label string) {
		text, err = e.NewDecoder().String(raw)
		name = label
	}
	even, odd := nulls(raw)
	switch {
	case strings.HasPrefix(raw, "\xff\xfe"):
		via(unicode.UTF16(unicode.LittleEndian, unicode.UseBOM), "UTF-16")
	case strings.HasPrefix(raw, "\xfe\xff"):
		via(unicode.UTF16(unicode.BigEndian, unicode.UseBOM), "UTF-16")
	case odd > 0.3 && even < 0.05:
		via(unicode.UTF16(unicode.LittleEndian, unicode.IgnoreBOM), "UTF-16 (without a mark)")
	case even > 0.3 && odd < 0.05:
		via(unicode.UTF16(unicode.BigEndian, unicode.IgnoreBOM), "UTF-16 (without a mark)")
	default:
		text, name, err = decodeBytes(strings.TrimPrefix(raw, "\xef\xbb\xbf"))
	}
	if err != nil {
		return "", "", &Refusal{Reason: NotASheet, What: "is no text that can be read", Cure: "save it as .xlsx, or as .csv in UTF-8", Err: err}
	}
	return clean(text, name)
}

// decodeBytes reads UTF-8, else Windows-1252. Where some lines are good UTF-8 with letters beyond ASCII and
// others are none, as after pasting two exports together, each line is read for itself.
func decodeBytes(raw string) (text, name string, err error) {
	if utf8.ValidString(raw) {
		return raw, "UTF-8", nil
	}
	var out strings.Builder
	out.Grow(len(raw) + len(raw)/8)
	var good, bad int
	for line := range strings.Lines(raw) {
		switch {
		case !utf8.ValidString(line):
			bad++
			if line, err = charmap.Windows1252.NewDecoder().String(line); err != nil {
				return "", "", err
			}
		case utf8.RuneCountInString(line) != len(line):
			good++
		}
		out.WriteString(line)
	}
	if good > 0 {
		return out.String(), fmt.Sprintf("UTF-8, but %d of its lines as Windows-1252", bad), nil
	}
	return out.String(), "Windows-1252 (it is no UTF-8)", nil
}

// nulls gives the share of zero bytes at even and at odd places near the front.
func nulls(raw string) (even, odd float64) {
	raw = raw[:min(len(raw), 4096)&^1]
	if len(raw) == 0 {
		return 0, 0
	}
	var n [2]int
	for i := range len(raw) {
		if raw[i] == 0 {
			n[i&1]++
		}
	}
	half := float64(len(raw) / 2)
	return float64(n[0]) / half, float64(n[1]) / half
}

// clean refuses what is no text, and drops the stray zero bytes that some loggers and broken copies leave.
func clean(text, name string) (string, string, error) {
	text = strings.TrimRight(text, "\x1a\x00") // the end-of-file mark of old programs, and padding
	var zero, control int
	for i := 0; i < len(text); i++ {
		switch c := text[i]; {
		case c == 0:
			zero++
		case c < ' ' && c != '\t' && c != '\n' && c != '\r' && c != '\f' && c != '\v', c == 0x7f:
			control++
		}
	}
	if (zero+control)*50 > len(text) && zero+control > 2 {
		return "", "", &Refusal{Reason: NotASheet, What: "is no spreadsheet and no text", Cure: "name the spreadsheet itself: .xlsx, .ods or .csv"}
	}
	if zero > 0 {
		text = strings.ReplaceAll(text, "\x00", "")
		name += fmt.Sprintf(" without its %d zero bytes", zero)
	}
	return text, name, nil
}
