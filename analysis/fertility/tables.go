package fertility

import (
	"strings"

	"keelmark/analysis"
)

// Tables are the settings, and the tallies of males, hens, pens and years.
func (r *Result) Tables() []analysis.Table {
	return []analysis.Table{r.settingTable(), tallyTable("males", "Eggs by male, where the father is sure", r.Males), tallyTable("hens", "Eggs by hen, where one hen laid them", r.Hens),
		tallyTable("pens", "Eggs by pen", r.Pens), tallyTable("years", "Eggs by year", r.Years)}
}

func (r *Result) settingTable() analysis.Table {
	t := analysis.Table{Name: "settings", Caption: "Settings as written; an empty cell was not written", Columns: []analysis.Column{
		{Name: "on", Head: "set on"}, {Name: "pen", Head: "pen"}, {Name: "males", Head: "male"}, {Name: "hens", Head: "hen"}, {Name: "set", Head: "eggs set"},
		{Name: "clear", Head: "clear"}, {Name: "dead_early", Head: "dead early"}, {Name: "dead_in_shell", Head: "dead in shell"}, {Name: "hatched", Head: "hatched"},
		{Name: "stored_d", Head: "stored", Unit: "d"}, {Name: "doubts", Head: "doubts"}, {Name: "cell", Head: "cell"},
	}}
	count := func(n int) any {
		if n < 0 {
			return nil
		}
		return n
	}
	names := func(ids []string) string {
		var out []string
		for _, id := range ids {
			out = append(out, r.label(id))
		}
		return strings.Join(out, ", ")
	}
	for _, s := range r.Settings {
		t.Rows = append(t.Rows, []any{s.On.String(), s.Pen, names(s.Males), names(s.Hens), count(s.Set), count(s.Clear), count(s.DeadEarly), count(s.DeadInShell),
			count(s.Hatched), count(s.Stored), strings.Join(s.Doubts, "; "), s.At[0].Key()})
	}
	return t
}

func tallyTable(name, caption string, list []Tally) analysis.Table {
	t := analysis.Table{Name: name, Caption: caption, Columns: []analysis.Column{
		{Name: "name", Head: strings.TrimSuffix(name, "s")}, {Name: "settings", Head: "settings"}, {Name: "set", Head: "eggs set"}, {Name: "fertile", Head: "fertile"},
		{Name: "percent", Head: "fertile", Unit: "%"}, {Name: "low", Head: "from", Unit: "%"}, {Name: "high", Head: "to", Unit: "%"},
		{Name: "expected", Head: "drawn to the flock", Unit: "%"},
	}}
	for _, x := range list {
		row := []any{x.Name, len(x.Settings), x.Set, x.Fertile, nil, nil, nil, nil}
		if x.Set > 0 {
			row[4], row[5], row[6] = 100*x.Share.Value, 100*x.Share.Low, 100*x.Share.High
		}
		if x.Shrunken.Level > 0 {
			row[7] = 100 * x.Shrunken.Value
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}
