package parse

import (
	"strings"

	"keelmark/ingest/record"
)

// parasiteNames are looked for in this order: a narrower name before the wider one that it holds. Trade and
// vernacular names: common practice, no source.
var parasiteNames = []struct{ kind, names string }{
	{record.NorthernFowlMite, "northern fowl mites|northern fowl mite|northern mites|northern mite|fowl mites|fowl mite|nfm|n.f.m.|ornithonyssus|nordische vogelmilbe|nordische vogelmilben"},
	{record.RedMite, "poultry red mite|red mites|red mite|redmite|prm|rm|roost mites|roost mite|dermanyssus|rote vogelmilben|rote vogelmilbe|rote milben|rote milbe|vogelmilben|vogelmilbe|poux rouges|pou rouge|bloedluizen|bloedluis|vogelmijten|vogelmijt|rode mijten|rode mijt|acaro rojo|acaros rojos|acaro rosso|ptaszyniec|rod fjermide|kvalster"},
	{record.ScalyLegMite, "scaly leg mites|scaly leg mite|scaly legs|scaly leg|scaley legs|scaley leg|scaly-leg|slm|knemidocoptes|kalkbeinmilben|kalkbeinmilbe|kalkbeine|kalkbein|gale des pattes|kalkpoten|schurftpoten|patas escamosas|sarna de las patas"},
	{record.BodyLouse, "body louse|body lice|menacanthus"},
	{record.ShaftLouse, "shaft louse|shaft lice|menopon"},
	{record.HeadLouse, "head louse|head lice|cuclotogaster"},
	{record.Lice, "lice|louse|federlinge|federling|federlingen|lause|laus|poux|pou|luizen|luis|piojos|piojo|piojillos|piojillo|pidocchi|pidocchio|piolhos|piolho|wszoly|wszy|lus|fjerlus|vsenky|vsi"},
	{record.Mites, "mites|mite|milben|milbe|acariens|acarien|mijten|mijt|acaros|acaro|acari|roztocza|mider|roztoci"},
}

// Parasite finds the kind of parasite that a heading or phrase names, as record writes it; "" none. Lice and
// Mites stand for kind not said.
func Parasite(text string) string {
	kind, _, _ := findParasite(Fold(text))
	return kind
}

func findParasite(folded string) (kind string, start, end int) {
	if !strings.ContainsAny(folded, "abcdefghijklmnopqrstuvwxyz") {
		return "", 0, 0
	}
	for _, p := range parasiteNames {
		for name := range strings.SplitSeq(p.names, "|") {
			if i := indexWord(folded, name); i >= 0 {
				return p.kind, i, i + len(name)
			}
		}
	}
	return "", 0, 0
}

// indexWord finds name in s where no letter or digit touches it, -1 where it is not.
func indexWord(s, name string) int {
	for from := 0; ; {
		i := strings.Index(s[from:], name)
		if i < 0 {
			return -1
		}
		i += from
		end := i + len(name)
		if (i == 0 || !isWordByte(s[i-1])) && (end == len(s) || !isWordByte(s[end])) {
			return i
		}
		from = i + 1
	}
}

func isWordByte(c byte) bool { return isLower(c) || isDigit(c) || c >= 0x80 }
