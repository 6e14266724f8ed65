package settings

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"

	"keelmark/ingest/record"
)

// document is a settings file as parsed, with the faults found so far.
type document struct {
	file   string
	root   map[string]any
	lines  map[string]int // by path
	faults Faults
}

// join makes the path of a key. Keys may hold any character, so the parts are parted by one that TOML forbids.
func join(path, key string) string { return path + "\x00" + key }

// keyLines finds the line of every table and key.
func keyLines(data []byte) map[string]int {
	lines := make(map[string]int)
	p := unstable.Parser{}
	p.Reset(data)
	table, arrays := "", make(map[string]int)
	mark := func(path string, keys unstable.Iterator) (string, int) {
		line := 0
		for keys.Next() {
			n := keys.Node()
			line = p.Shape(n.Raw).Start.Line
			if path = join(path, string(n.Data)); lines[path] == 0 {
				lines[path] = line
			}
		}
		return path, line
	}
	var inside func(path string, n *unstable.Node)
	inside = func(path string, n *unstable.Node) {
		path, _ = mark(path, n.Key())
		if value := n.Value(); value.Kind == unstable.InlineTable {
			for it := value.Children(); it.Next(); {
				inside(path, it.Node())
			}
		}
	}
	for p.NextExpression() {
		switch n := p.Expression(); n.Kind {
		case unstable.Table:
			table, _ = mark("", n.Key())
		case unstable.ArrayTable:
			all, line := mark("", n.Key())
			table = join(all, strconv.Itoa(arrays[all]))
			arrays[all]++
			lines[table] = line
		case unstable.KeyValue:
			inside(table, n)
		}
	}
	return lines
}

func (d *document) fault(path, format string, args ...any) {
	d.faults = append(d.faults, Fault{d.file, d.lines[path], fmt.Sprintf(format, args...)})
}

// err gives the faults by line, nil where there are none.
func (d *document) err() error {
	if len(d.faults) == 0 {
		return nil
	}
	slices.SortStableFunc(d.faults, func(a, b Fault) int { return cmp.Compare(a.Line, b.Line) })
	return d.faults
}

// table is one table of the document, read key by key. Keys that nobody asked for are faults.
type table struct {
	d     *document
	path  string
	name  string // as a sentence names it: "[flock]"
	keys  map[string]any
	known []string
}

func (d *document) top() *table { return &table{d: d, name: "the file", keys: d.root} }

// section takes the table under a key; an empty one where there is none.
func (t *table) section(key, name string) *table {
	sub := &table{d: t.d, path: join(t.path, key), name: name}
	if v, ok := t.take(key); ok {
		if sub.keys, ok = v.(map[string]any); !ok {
			t.d.fault(sub.path, "%s is a table; write its keys below %s, each on a line of its own", key, name)
		}
	}
	return sub
}

// names are the keys of a table in which any key may stand, sorted.
func (t *table) names() []string {
	names := make([]string, 0, len(t.keys))
	for k := range t.keys {
		names = append(names, k)
	}
	slices.Sort(names)
	return names
}

func (t *table) take(key string) (any, bool) {
	t.known = append(t.known, key)
	v, ok := t.keys[key]
	return v, ok
}

// text reads a string.
func (t *table) text(key string, at *string) {
	v, ok := t.take(key)
	if !ok {
		return
	}
	s, ok := v.(string)
	if !ok {
		t.d.fault(join(t.path, key), "%s is a text; write it in quotes: %s = \"%v\"", key, key, v)
		return
	}
	*at = strings.TrimSpace(s)
}

// choice reads one of the allowed texts; large and small letters are the same here.
func (t *table) choice(key string, at *string, allowed ...string) {
	var s string
	if t.text(key, &s); s == "" {
		return
	}
	for _, a := range allowed {
		if strings.EqualFold(a, s) {
			*at = a
			return
		}
	}
	t.d.fault(join(t.path, key), "%s cannot be %q%s; write %s", key, s, meant(s, allowed), quoted(allowed))
}

// texts reads a list of strings.
func (t *table) texts(key string) []string {
	v, ok := t.take(key)
	if !ok {
		return nil
	}
	var out []string
	list, ok := v.([]any)
	for _, e := range list {
		s, isText := e.(string)
		ok = ok && isText
		out = append(out, s)
	}
	if !ok {
		t.d.fault(join(t.path, key), "%s is a list of texts; write %s = [\"one\", \"two\"]", key, key)
		return nil
	}
	return out
}

// number reads a number; set says that there is one.
func (t *table) number(key string, at *float64) (set bool) {
	v, ok := t.take(key)
	if !ok {
		return false
	}
	switch n := v.(type) {
	case int64:
		*at = float64(n)
		return true
	case float64:
		if !math.IsNaN(n) && !math.IsInf(n, 0) {
			*at = n
			return true
		}
	}
	t.d.fault(join(t.path, key), "%s is a number, not %v; write it without quotes: %s = 3", key, v, key)
	return false
}

// days reads a whole number of days from 0 to 1000; set says that there is one.
func (t *table) days(key string, at *int) (set bool) {
	v, ok := t.take(key)
	if !ok {
		return false
	}
	n, ok := v.(int64)
	if !ok || n < 0 || n > 1000 {
		t.d.fault(join(t.path, key), "%s is a number of days before the show, not %v; write a whole number from 0 to 1000", key, v)
		return false
	}
	*at = int(n)
	return true
}

// date reads a date as far as it is known: 2025-03-01 (quotes or not), "2025-03", or 2025.
func (t *table) date(key string, at *record.Date) {
	v, ok := t.take(key)
	if !ok {
		return
	}
	var text string
	switch v := v.(type) {
	case toml.LocalDate:
		text = v.String()
	case toml.LocalDateTime:
		text = v.LocalDate.String()
	case time.Time:
		text = v.Format(time.DateOnly)
	case int64:
		text = strconv.FormatInt(v, 10)
	case string:
		text = strings.TrimSpace(v)
	default:
		text = fmt.Sprint(v)
	}
	if text == "" {
		return
	}
	if day, err := record.ParseDay(text); err == nil {
		*at = record.On(day)
	} else if month, err := time.Parse("2006-01", text); err == nil {
		*at = record.InMonth(month.Year(), month.Month())
	} else if year, err := time.Parse("2006", text); err == nil {
		*at = record.InYear(year.Year())
	} else {
		t.d.fault(join(t.path, key), "%s is a date, not %q; write year, month and day: %s = 2025-03-01, or as far as it is known: \"2025-03\", 2025", key, text, key)
	}
}

// done reports the keys that nobody asked for. elsewhere maps a key to the section where it belongs.
func (t *table) done(elsewhere map[string]string) {
	for _, key := range t.names() {
		if slices.Contains(t.known, key) {
			continue
		}
		hint := meant(key, t.known)
		if home := elsewhere[key]; hint == "" && home != "" {
			hint = fmt.Sprintf("; it belongs below %s", home)
		}
		if hint == "" && len(t.known) > 0 {
			hint = "; known are " + strings.Join(t.known, ", ")
		}
		t.d.fault(join(t.path, key), "%q is not known in %s%s", key, t.name, hint)
	}
}

func quoted(list []string) string {
	q := make([]string, len(list))
	for i, s := range list {
		q[i] = strconv.Quote(s)
	}
	if n := len(q); n > 1 {
		return strings.Join(q[:n-1], ", ") + " or " + q[n-1]
	}
	return strings.Join(q, "")
}

// meant asks whether the nearest of the known words was meant, "" where none is near.
func meant(word string, known []string) string {
	best, nearest := "", len([]rune(word))/3+2
	for _, k := range known {
		if n := distance(strings.ToLower(word), strings.ToLower(k)); n < nearest {
			best, nearest = k, n
		}
	}
	if best == "" {
		return ""
	}
	return fmt.Sprintf("; did you mean %q?", best)
}

// distance is the number of letters to insert, delete, replace or swap with their neighbour to turn a into b
// (optimal string alignment). Words beyond 64 letters count as far apart.
func distance(a, b string) int {
	s, t := []rune(a), []rune(b)
	if len(s) > 64 || len(t) > 64 {
		return 64
	}
	d := make([][]int, len(s)+1)
	for i := range d {
		d[i] = make([]int, len(t)+1)
		d[i][0] = i
	}
	for j := range t {
		d[0][j+1] = j + 1
	}
	for i := 1; i <= len(s); i++ {
		for j := 1; j <= len(t); j++ {
			change := 1
			if s[i-1] == t[j-1] {
				change = 0
			}
			d[i][j] = min(d[i-1][j]+1, d[i][j-1]+1, d[i-1][j-1]+change)
			if i > 1 && j > 1 && s[i-1] == t[j-2] && s[i-2] == t[j-1] {
				d[i][j] = min(d[i][j], d[i-2][j-2]+1)
			}
		}
	}
	return d[len(s)][len(t)]
}
