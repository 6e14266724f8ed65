package parse

import (
	"testing"

	"keelmark/ingest/record"
)

// Trade words: common practice, no source.
func TestSex(t *testing.T) {
	for _, c := range []struct {
		text  string
		sex   record.Sex
		class record.Class
	}{
		{"M", record.Male, ""}, {"f", record.Female, ""}, {"cock", record.Male, record.Cock}, {"hen", record.Female, record.Hen},
		{"Cockerel", record.Male, record.Cockerel}, {"plt", record.Female, record.Pullet}, {"K", record.Male, record.Cockerel}, {"c", record.Male, ""},
		{"♂", record.Male, ""}, {"♀", record.Female, ""}, {"1.0", record.Male, ""}, {"0,1", record.Female, ""},
		{"Hahn", record.Male, record.Cock}, {"Henne", record.Female, record.Hen}, {"coquelet", record.Male, record.Cockerel}, {"roo", record.Male, ""},
		{"männlich", record.Male, ""}, {"pullet (blue)", record.Female, record.Pullet},
	} {
		sex, class, p := Sex(T(c.text))
		if p != nil || sex != c.sex || class != c.class {
			t.Errorf("%q: got %q %q %v", c.text, sex, class, p)
		}
	}
	for text, action := range map[string]Action{"?": Skip, "": Skip, "unsexed": Skip, "m?": Ask, "blue": Ask} {
		if sex, _, p := Sex(T(text)); sex != "" || !p.Holds() || p.Action != action {
			t.Errorf("%q: got %q %+v", text, sex, p)
		}
	}
}

func TestSize(t *testing.T) {
	for text, want := range map[string]record.Size{
		"LF": record.Large, "large fowl": record.Large, "Std": record.Large, "bantam": record.Bantam, "btm": record.Bantam, "B": record.Bantam,
		"Wyandotte Bantam": record.Bantam, "Zwerg-Wyandotten": record.Bantam, "Zwergwyandotten": record.Bantam, "Sussex LF": record.Large,
		"Sussex": "", "Large Black": "", "Nana": record.Bantam, "": "",
	} {
		if got := Size(text); got != want {
			t.Errorf("%q: got %q, want %q", text, got, want)
		}
	}
}

func TestYesNoAndCrosses(t *testing.T) {
	for text, want := range map[string]bool{"y": true, "Yes": true, "✓": true, "ja": true, "oui": true, "1": true, "n": false, "no": false, "nein": false, "0": false} {
		if got, p := YesNo(T(text), ""); p != nil || got != want {
			t.Errorf("%q: got %v %v", text, got, p)
		}
	}
	if _, p := YesNo(T("x"), ""); p == nil || p.Class != CrossAmbiguous {
		t.Errorf("x: %v", p)
	}
	for _, c := range []struct {
		texts []string
		want  string
	}{{[]string{"x", "", "x"}, "yes"}, {[]string{"✓", "x"}, ""}, {[]string{"x", "n"}, "yes"}, {[]string{"y", "x", "n"}, ""}, {[]string{"y", "n"}, ""}, {[]string{"x", "few"}, ""}} {
		if got := CrossMeaning(cells(c.texts...)); got != c.want {
			t.Errorf("%q: got %q, want %q", c.texts, got, c.want)
		}
	}
	if got, p := YesNo(T("x"), "no"); p != nil || got {
		t.Errorf("x as no: %v %v", got, p)
	}
}

func TestRingKeepsWhatIsWritten(t *testing.T) {
	for _, c := range []struct {
		cell              Cell
		text, key, colour string
	}{
		{T(" 007 "), "007", "007", ""},
		{Cell{Text: "31", Stored: Number}, "31", "31", ""}, // f
		{Cell{Text: "31.0", Stored: Number}, "31", "31", ""},
		{T("WX24-001"), "WX24-001", "wx24-001", ""}, // f
		{T("AB 118"), "AB 118", "ab118", ""},        // f
		{T("Red 12"), "Red 12", "red12", "red"},
		{T("12 rot L"), "12 rot L", "12rotl", "red"},
		{T("P1O3"), "P1O3", "p1o3", ""}, // f
	} {
		got, p := Ring(c.cell)
		if p != nil || got != (Band{c.text, c.key, c.colour}) {
			t.Errorf("%q: got %+v %v", c.cell.Text, got, p)
		}
	}
	for _, c := range []struct {
		cell  Cell
		class Class
	}{
		{T("1.23E+11"), RingUnreadable}, {T("1,23E+11"), RingUnreadable}, {Cell{Text: "12345678901234567", Stored: Number}, RingUnreadable},
		{Cell{Text: "45388", Stored: Dated}, DateInRing}, {T(""), MissingMarker}, {T("-"), MissingMarker}, {T("?"), UnknownValue},
		{Cell{Text: "#REF!", Stored: Error}, FormulaError}, {T("#REF!"), FormulaError},
	} {
		if got, p := Ring(c.cell); p == nil || p.Class != c.class {
			t.Errorf("%q: got %+v %v", c.cell.Text, got, p)
		}
	}
}

func TestRingKeys(t *testing.T) {
	for _, same := range [][]string{{"R12", "r-12", "R 12", "R.12", "Ｒ１２", " R12 "}, {"N20", "n20", "Ｎ２０", "N20\u200b"}, {"GB 19-118", "gb19-118", "GB 19 118"}} {
		for _, s := range same {
			if RingKey(s) != RingKey(same[0]) {
				t.Errorf("%q and %q: %q, %q", s, same[0], RingKey(s), RingKey(same[0]))
			}
		}
	}
	for _, differ := range [][2]string{{"R12", "R13"}, {"007", "7"}, {"1-12", "11-2"}, {"R12", "red12"}, {"P1O3", "P103"}} {
		if RingKey(differ[0]) == RingKey(differ[1]) {
			t.Errorf("%q and %q have one key", differ[0], differ[1])
		}
	}
	for _, kin := range [][]string{{"R12", "red12", "RED 12", "Ring R12"}, {"P1O3", "P103"}, {"007", "7"}, {"WX24-001", "WX24 001"}} {
		for _, s := range kin {
			if RingKin(s) != RingKin(kin[0]) {
				t.Errorf("%q and %q: %q, %q", s, kin[0], RingKin(s), RingKin(kin[0]))
			}
		}
	}
	if RingKin("R12") == RingKin("R13") || RingKin("B12") == RingKin("R12") {
		t.Error("kin of different rings")
	}
}

func TestGoneAndMissing(t *testing.T) {
	for text, want := range map[string]record.EventKind{
		"†": record.Died, "dead": record.Died, "Died 3/4": record.Died, "RIP": record.Died, "fox!": record.Died, "culled": record.Died, "put down": record.Died, "gestorben": record.Died,
		"sold": record.Departed, "sold to a friend": record.Departed, "given away": record.Departed, "verkauft": record.Departed,
		"RIP 5/11/25": record.Died, "culled, too small": record.Died, "fox got her": record.Died, "fox 13/10/2025": record.Died, "lost to fox": record.Died, "killed by dog": record.Died,
		"sold at a show": record.Departed, "lost her": record.Departed, "left for Ann": record.Departed, "gone to Ann": record.Departed, "gone": record.Departed, "given to Ann": record.Departed,
		"escaped": "", "broody": "", "deadly": "", "not sold": "", "850": "", "": "",
		"left leg swollen": "", "left eye closed": "", "given extra corn": "", "lost weight": "", "lost tail feathers": "", "gone broody": "", "fox got close": "", "sold eggs": "", "returned to pen": "",
	} {
		if got, _ := Gone(text); got != want {
			t.Errorf("%q: got %q, want %q", text, got, want)
		}
	}
	for text, want := range map[string]record.EventKind{
		"gone broody": record.Departed, "gone light": record.Departed, "fox got close": record.Died, "fox about": record.Died, "sold?": record.Departed, "dead?": record.Died, "culled from the team": record.Died,
		"gone to Ann": "", "left leg swollen": "", "given extra corn": "", "lost weight": "", "died": "", "broody": "", "": "",
	} {
		if got, _ := MayBeGone(text); got != want {
			t.Errorf("%q may be gone: got %q, want %q", text, got, want)
		}
	}
	for text, want := range map[string]bool{"": true, "-": true, "--": true, "–": true, "n/a": true, "N/A ": true, ".": true, "nil": true, "…": true, "?": false, "0": false, "x": false, "escaped": false} {
		if got := Missing(text); got != want {
			t.Errorf("%q: got %v", text, got)
		}
	}
}

func TestCleanAndNames(t *testing.T) {
	for in, want := range map[string]string{
		"1\u00a0575": "1 575", "１５６０": "1560", "٢٠٢٤": "2024", "\ufeffDate": "Date", "a\u200bb": "ab", "−5": "-5", "10–20": "10-20", "‘24": "'24", "2⁄4": "2/4",
		" a \n b\t": "a b", "2½": "2½", "Zoe\u0308": "Zoë", "\u202egnihtyreve\u202c": "gnihtyreve", "": "", " ": "",
	} {
		if got := Clean(in); got != want {
			t.Errorf("Clean(%q): got %q, want %q", in, got, want)
		}
	}
	for in, want := range map[string]string{"Größe (KG)": "grosse (kg)", "ŒUFS": "oeufs", "Łata": "lata", "condición": "condicion"} {
		if got := Fold(in); got != want {
			t.Errorf("Fold(%q): got %q, want %q", in, got, want)
		}
	}
	if got := Name(" \u00a0Plum  Duff\u00a0"); got != "Plum  Duff" {
		t.Errorf("Name: %q", got)
	}
	if NameKey("Plum  Duff ") != NameKey("plum duff") || NameKey("Zoe") == NameKey("Zoë") || NameKey("Zoe\u0308") != NameKey("Zoë") {
		t.Error("name keys")
	}
	if got := Shown("Two\nLines \u202egnihtyreve\u202c\x00"); got != "Two Lines gnihtyreve" {
		t.Errorf("Shown: %q", got)
	}
	if got := Shown("=cmd|' /C calc'!A0"); got != "=cmd|' /C calc'!A0" {
		t.Errorf("Shown changes plain text: %q", got)
	}
}
