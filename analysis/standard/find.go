package standard

import (
	"cmp"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

// Wanted says which published weight a bird needs.
type Wanted struct {
	Breed    string // as the keeper writes it; may carry variety and size: "Light Sussex bantam"
	Variety  string
	Size     record.Size
	Country  string // "GB", "USA", ...
	Standard string // as settings name it; "" for none
	Class    record.Class
}

// WantedFor says what a bird needs, with the flock's settings where the bird's own record is silent.
func WantedFor(b record.Bird, s record.Settings, class record.Class) Wanted {
	return Wanted{
		Breed: cmp.Or(b.Breed, s.Flock.Breed), Variety: b.Variety, Size: cmp.Or(b.Size, s.Flock.Size),
		Country: s.Flock.Country, Standard: s.Flock.Standard, Class: class,
	}
}

// Choice is the published row in use and the rows that fit as well.
type Choice struct {
	Chosen  record.PublishedWeight
	Others  []record.PublishedWeight
	Caveats []string // what was not found as asked for, and what other sources print
	Foreign bool     // no row of the flock's country is known; another country's is used
}

// Find returns the row that fits, chosen by a fixed order: the keeper's own table where it gives the class and is not of
// another variety; the standard named in the
// settings; the bird's variety; the flock's country; a row that gives a weight for the class; a present
// edition before one before 1950; a source that names its standard; the kind of source, nearest to the
// standard first; the most classes; the order of the table. It refuses where no row is of the breed and size,
// and where the size is not known and matters. A row may be chosen that gives no weight for the class.
func Find(rows []record.PublishedWeight, want Wanted) (Choice, *analysis.Refusal) {
	if strings.TrimSpace(want.Breed) == "" {
		return Choice{}, &analysis.Refusal{Needs: "the breed is not written", Next: "write the breed in the sheet or in flock.toml"}
	}
	fits, sized := ofBreed(rows, want)
	if len(fits) == 0 {
		return Choice{}, &analysis.Refusal{
			Needs: fmt.Sprintf("no published weight is known here for %q%s", want.Breed, suggestion(rows, want.Breed)),
			Next:  "write the breed as its standard does, or give your standard's weights as a table of your own, named by standard_table in flock.toml",
		}
	}
	if sized != "" {
		fits = slices.DeleteFunc(fits, func(w record.PublishedWeight) bool { return w.Size != sized })
	}
	if len(fits) == 0 {
		return Choice{}, &analysis.Refusal{
			Needs: fmt.Sprintf("no published weight is known here for %s in size %s", want.Breed, sized),
			Next:  "check the size, or give your standard's weights as a table of your own, named by standard_table in flock.toml",
		}
	}
	if sizes := sizesOf(fits); len(sizes) > 1 {
		return Choice{}, &analysis.Refusal{
			Needs: fmt.Sprintf("%s has weights for large fowl and for bantams, and the bird's size is not written", want.Breed),
			Next:  "write large or bantam for the bird, or size in flock.toml",
		}
	}
	slices.SortStableFunc(fits, func(a, b record.PublishedWeight) int {
		return slices.Compare(preference(a, want), preference(b, want))
	})
	c := Choice{Chosen: fits[0], Others: fits[1:]}
	c.Foreign = want.Country != "" && !inCountry(c.Chosen, want.Country) && c.Chosen.SourceKind != record.OwnTable
	c.Caveats = caveats(c, want)
	return c, nil
}

// ofBreed returns the rows of the breed and the size to look for.
func ofBreed(rows []record.PublishedWeight, want Wanted) ([]record.PublishedWeight, record.Size) {
	names := synonyms()
	words, size := names.words(want.Breed)
	var fits []record.PublishedWeight
	longest := 0
	for _, row := range rows {
		name, _ := names.words(row.Breed)
		switch n := matches(words, name); {
		case n == 0 || n < longest:
		case n > longest:
			longest, fits = n, []record.PublishedWeight{row}
		default:
			fits = append(fits, row)
		}
	}
	return fits, cmp.Or(want.Size, size)
}

// matches returns how many words of a breed's name stand at the end or the beginning of what the keeper wrote
// ("light sussex", "sussex light"), 0 where not all do.
func matches(written, name []string) int {
	n := len(name)
	if n == 0 || n > len(written) {
		return 0
	}
	if slices.Equal(written[len(written)-n:], name) || slices.Equal(written[:n], name) {
		return n
	}
	return 0
}

// dictionary lists breeds that have several names, each under the word that the table of weights uses, first.
type dictionary [][]string

// words splits a breed as written into plain words: lower case, no accents, no plural, synonyms settled,
// and the size words taken out.
func (d dictionary) words(s string) ([]string, record.Size) {
	var size record.Size
	var words []string
	for _, w := range strings.FieldsFunc(plain(s), func(r rune) bool { return !('a' <= r && r <= 'z' || '0' <= r && r <= '9') }) {
		switch w = strings.TrimSuffix(w, "s"); w {
		case "bantam", "btm", "miniature", "mini", "bant":
			size = record.Bantam
		case "large", "lf":
			size = record.Large
		case "fowl", "true", "the":
		default:
			words = append(words, w)
		}
	}
	name := strings.Join(words, " ")
	for _, same := range d {
		if strings.HasSuffix(name, same[0]) {
			continue
		}
		for _, other := range same[1:] {
			if name == other || strings.HasSuffix(name, " "+other) {
				name = strings.TrimSuffix(name, other) + same[0]
				return strings.Fields(name), size
			}
		}
	}
	return words, size
}

// synonyms are in the form that words makes.
//
// Source: common practice, no source.
func synonyms() dictionary {
	return dictionary{
		{"hamburg", "hamburgh"},
		{"rhode island red", "rir", "rhode island"},
		{"plymouth rock", "barred rock", "plymouth", "rock"},
		{"leghorn", "livornese"},
		{"old english game", "oeg", "oegb"},
		{"modern game", "modern"},
		{"barbu d anver", "danver", "d anver", "antwerp belgian", "antwerp bearded"},
		{"barbu d uccle", "duccle", "d uccle", "belgian bearded d uccle"},
		{"orloff", "russian orloff"},
		{"polish", "poland"},
		{"cornish", "indian game"},
		{"naked neck", "transylvanian naked neck", "turken"},
		{"lakenvelder", "lakenfelder"},
		{"sabelpoot", "booted", "dutch booted"},
		{"andalusian", "blue andalusian"},
		{"appenzeller spitzhauben", "spitzhauben", "appenzeller"},
		{"japanese", "chabo"},
	}
}

// plain is lower case without the accents of the languages that breeds are named in.
func plain(s string) string {
	return strings.Map(func(r rune) rune {
		switch r {
		case 'é', 'è', 'ê', 'ë':
			return 'e'
		case 'á', 'à', 'â', 'ä', 'å':
			return 'a'
		case 'ö', 'ô', 'ó', 'ø':
			return 'o'
		case 'ü', 'û', 'ú', 'ù':
			return 'u'
		case 'ç':
			return 'c'
		case 'ï', 'î', 'í':
			return 'i'
		case 'ñ':
			return 'n'
		}
		return r
	}, strings.ToLower(s))
}

func sizesOf(rows []record.PublishedWeight) []record.Size {
	var sizes []record.Size
	for _, r := range rows {
		if !slices.Contains(sizes, r.Size) {
			sizes = append(sizes, r.Size)
		}
	}
	return sizes
}

// preference puts the row to use first.
func preference(w record.PublishedWeight, want Wanted) []int {
	not := func(b bool) int {
		if b {
			return 0
		}
		return 1
	}
	return []int{
		not(w.SourceKind == record.OwnTable && (want.Class == "" || w.Weights[want.Class].Published()) && varietyDistance(w, want) < 2),
		not(want.Standard == "" || named(w, want.Standard)),
		varietyDistance(w, want),
		not(want.Country == "" || inCountry(w, want.Country)),
		not(want.Class == "" || w.Weights[want.Class].Published()),
		not(!old(w)),
		not(!strings.Contains(w.Standard, "not named")),
		kindOrder(w.SourceKind),
		-len(w.Weights),
	}
}

func named(w record.PublishedWeight, standard string) bool {
	return strings.Contains(strings.ToLower(w.Standard), strings.ToLower(strings.TrimSpace(standard)))
}

// varietyDistance is 0 where the row names the bird's variety, 1 where it names none, 2 where it names others.
func varietyDistance(w record.PublishedWeight, want Wanted) int {
	if w.Variety == "" {
		return 1
	}
	written := plain(want.Variety + " " + want.Breed)
	for v := range strings.SplitSeq(w.Variety, ",") {
		if v = strings.TrimSpace(plain(v)); v != "" && strings.Contains(written, v) {
			return 0
		}
	}
	return 2
}

// inCountry compares a row's country, several joined by "/", with the flock's.
func inCountry(w record.PublishedWeight, country string) bool {
	for c := range strings.SplitSeq(w.Country, "/") {
		if countryCode(c) == countryCode(country) {
			return true
		}
	}
	return false
}

// countryCode turns the usual English names of countries into the codes of the table.
func countryCode(s string) string {
	switch s = strings.ToUpper(strings.TrimSpace(s)); s {
	case "USA", "UNITED STATES", "UNITED STATES OF AMERICA", "AMERICA":
		return "US"
	case "UK", "GREAT BRITAIN", "UNITED KINGDOM", "ENGLAND", "SCOTLAND", "WALES":
		return "GB"
	case "SOUTH AFRICA":
		return "ZA"
	case "AUSTRALIA":
		return "AU"
	case "NEW ZEALAND":
		return "NZ"
	case "CANADA":
		return "CA"
	case "GERMANY":
		return "DE"
	case "FRANCE":
		return "FR"
	case "NETHERLANDS", "THE NETHERLANDS":
		return "NL"
	}
	return s
}

var firstYear = regexp.MustCompile(`\b1[89][0-9][0-9]\b|\b20[0-9][0-9]\b`)

// oldBefore is the year before which an edition is a historic one.
const oldBefore = 1950

// old reports whether a row's edition is a historic one.
func old(w record.PublishedWeight) bool {
	if strings.Contains(w.Edition, "older") {
		return true
	}
	year, err := strconv.Atoi(firstYear.FindString(w.Edition))
	return err == nil && year < oldBefore
}

// kindOrder puts the kinds of source nearest to the standard's own text first.
func kindOrder(kind string) int {
	order := []string{record.OwnTable, "standard", "club page", "extension sheet", "public bulletin", "conservation body page",
		"open standard page", "teaching page", "old book", "encyclopedia page", "magazine article", "web article",
		"breeder page", "hatchery page", "hobby page", "forum post"}
	if i := slices.Index(order, kind); i >= 0 {
		return i
	}
	return len(order)
}

func caveats(c Choice, want Wanted) []string {
	var out []string
	w := c.Chosen
	if want.Standard != "" && !named(w, want.Standard) && w.SourceKind != record.OwnTable {
		out = append(out, fmt.Sprintf("the settings name the standard %q, of which no row for this breed is known here", want.Standard))
	}
	if c.Foreign {
		out = append(out, fmt.Sprintf("no row from %s is known here; the weights of %s are used, and countries differ", want.Country, w.Country))
	}
	if varietyDistance(w, want) == 2 {
		out = append(out, fmt.Sprintf("the row is for the varieties %s", w.Variety))
	}
	if old(w) {
		out = append(out, fmt.Sprintf("the edition is an old one (%s); weights have changed since", w.Edition))
	}
	if w.Note != "" {
		out = append(out, "the table notes: "+w.Note)
	}
	if others := otherSources(c, want.Class); others != "" {
		out = append(out, "other sources print another weight for this class: "+others)
	}
	return out
}

// agrees is how far apart, as a share, two published weights may lie and still be the same figure in other units.
// Source: 36 oz printed as 1 kg differs by 2 %.
const agrees = 0.025

// Differing are the rows not in use whose figure for a class is another than that of the chosen row and of those
// before: a figure that one source took over from another, rounded to other units, is named once.
func (c Choice) Differing(class record.Class) []record.PublishedWeight {
	same := func(a, b float64) bool { return math.Abs(a-b) <= agrees*max(a, b) }
	known := []record.WeightRange{c.Chosen.Weights[class]}
	var out []record.PublishedWeight
	for _, o := range c.Others {
		r := o.Weights[class]
		if !r.Published() || slices.ContainsFunc(known, func(k record.WeightRange) bool { return same(r.Low, k.Low) && same(r.High, k.High) }) {
			continue
		}
		known = append(known, r)
		out = append(out, o)
	}
	return out
}

// otherSources names the figures of rows that were not used, where they differ from the one that is.
func otherSources(c Choice, class record.Class) string {
	var parts []string
	for _, o := range c.Differing(class) {
		parts = append(parts, fmt.Sprintf("%s (%s)", o.Figure(class), strings.TrimPrefix(o.Country+", "+o.SourceKind, ", ")))
	}
	return strings.Join(parts, "; ")
}

// RowName names a row by its standard, country and edition, as a report prints it; a row of the keeper's own table by that,
// and by what it says of itself.
func RowName(w record.PublishedWeight) string {
	if w.SourceKind == record.OwnTable {
		parts := []string{w.SourceKind, w.Standard, w.Country}
		if w.Edition != "" {
			parts = append(parts, "edition "+w.Edition)
		}
		return strings.Join(slices.DeleteFunc(parts, func(s string) bool { return s == "" }), ", ")
	}
	name := w.Standard
	if name == "not named" || name == "" {
		name = "standard not named"
	}
	edition := "edition " + w.Edition
	if w.Edition == "" || w.Edition == "not stated" {
		edition = "edition not stated"
	}
	return fmt.Sprintf("%s, %s, %s", name, w.Country, edition)
}

// Origin names a row with where it was found.
func Origin(w record.PublishedWeight) string {
	if w.SourceKind == record.OwnTable {
		return RowName(w) + "; " + w.Source
	}
	return RowName(w) + "; " + w.SourceKind + ": " + w.Source
}

// suggestion names the breeds that are spelled nearly so.
func suggestion(rows []record.PublishedWeight, written string) string {
	names := synonyms()
	words, _ := names.words(written)
	name := strings.Join(words, " ")
	var near []string
	for _, r := range rows {
		other, _ := names.words(r.Breed)
		if editDistance(name, strings.Join(other, " ")) <= 2 && !slices.Contains(near, r.Breed) {
			near = append(near, r.Breed)
		}
	}
	if len(near) == 0 {
		return ""
	}
	return "; perhaps " + strings.Join(near, " or ") + " is meant"
}

// editDistance counts the letters to insert, delete or replace.
//
// Source: Levenshtein 1966; table of Wagner & Fischer 1974, J. ACM 21:168.
func editDistance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := 1; i <= len(a); i++ {
		diagonal := row[0]
		row[0] = i
		for j := 1; j <= len(b); j++ {
			replace := diagonal
			if a[i-1] != b[j-1] {
				replace++
			}
			diagonal = row[j]
			row[j] = min(replace, row[j]+1, row[j-1]+1)
		}
	}
	return row[len(b)]
}
