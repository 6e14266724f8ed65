package plots

import (
	"reflect"
	"testing"

	"gonum.org/v1/plot"

	"keelmark/analysis"
)

func labels(ticks []plot.Tick) []string {
	var out []string
	for _, t := range ticks {
		out = append(out, t.Label)
	}
	return out
}

func TestTicks(t *testing.T) {
	for name, c := range map[string]struct {
		ticker plot.Ticker
		lo, hi float64
		want   []string
	}{
		"grams":  {weightTicks(0, 3400, analysis.Grams, 6), 0, 3400, []string{"0", "1000", "2000", "3000"}},
		"pounds": {weightTicks(0, 3400, analysis.PoundsOz, 6), 0, 3400, []string{"0 oz", "2 lb", "4 lb", "6 lb"}},
		"ounces": {weightTicks(500, 720, analysis.PoundsOz, 6), 500, 720, []string{"1 lb 2 oz", "1 lb 4 oz", "1 lb 6 oz", "1 lb 8 oz"}},
		"weeks":  {weekTicks(-8, 280, 14), -8, 280, []string{"0", "4", "8", "12", "16", "20", "24", "28", "32", "36", "40"}},
		"months": {dateTicks{day("2025-10-20"), 4}, 0, 200, []string{"Nov\n2025", "Jan\n2026", "Mar", "May"}},
		"days":   {dateTicks{day("2025-12-28"), 4}, 0, 20, []string{"28 Dec\n2025", "4 Jan\n2026", "11 Jan"}},
	} {
		if got := labels(c.ticker.Ticks(c.lo, c.hi)); !reflect.DeepEqual(got, c.want) {
			t.Errorf("%s: %q, want %q", name, got, c.want)
		}
	}
}

func TestFit(t *testing.T) {
	th := Print()
	style := th.style(9, th.Ink)
	for _, c := range []struct {
		in    string
		width float64
		want  string
	}{
		{"R12 Žofie", 100, "R12 Žofie"}, {"a\tb\n c", 100, "a b c"}, {"\u202eabc", 100, "abc"}, {"R12 Žofie", 1, "…"},
	} {
		if got := fit(c.in, style, toPoints(c.width)); got != c.want {
			t.Errorf("%q in %g pt is %q, want %q", c.in, c.width, got, c.want)
		}
	}
	long := fit("R16 Großmutter Käthe von der langen Wiese", style, 80)
	if style.Width(long) > 80 || long[:4] != "R16 " {
		t.Errorf("%q is %v wide", long, style.Width(long))
	}
}
