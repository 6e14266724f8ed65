package parse

import (
	"strings"

	"keelmark/ingest/record"
)

// Standing is how a text of a treatment column stands to a treatment given.
type Standing string

const (
	Given    Standing = "given"     // it names a product, an ingredient or the deed, and nothing casts doubt on it
	NotGiven Standing = "not given" // it says that nothing was given, or nothing at all
	Crossed  Standing = "cross"     // a mere "x": a tick to one keeper, a strike to another
	Doubted  Standing = "doubtful"  // it denies, plans or doubts
	Unnamed  Standing = "unnamed"   // it names nothing that is known to be given: a product of its own name, or a remark
)

// TreatmentInDoubt is the class of questions whether a treatment was given at all.
const TreatmentInDoubt Class = "treatment_doubtful"

// Answers to such a question.
const (
	WasGiven   = "given"
	WasPlanned = "plan"
	WasNot     = ""
)

// productWords name what is given to fowl, in general terms. They are for recognising what was written; none is
// recommended. Common practice, no source.
var productWords = split(`product|products|as labelled|as label|as per label|dust|dusting powder|powder|louse powder|spray|drops|drop|wormer|dewormer|drench|ointment|cream|salve|balm|oil|vaseline|petroleum jelly|lime|antibiotic|antibiotics|injection|injected|jab|tablet|tablets|capsule|capsules|pour-on|pour on|spot-on|spot on|dip|bath|iodine|vaccine|coccidiostat|epsom salts|epsom salt|vinegar|garlic|tonic|vitamins|electrolytes|surgical spirit|spirit|antiseptic|gel|smoke|fumigated|fumigator|shampoo|soap|tar|paraffin|linseed|coconut oil|neem|diatom|silica|earth|clay|aerosol|solution|pyrethroid|spirits|flea powder|mite powder|purple spray|blue spray|clove oil|tea tree|probiotic|painkiller|steroid|eye drops|saline|salt bath|aspirin|meloxicam|cypermethrin|deltamethrin|carbaryl|malathion|selamectin|moxidectin|albendazole|mebendazole|sulfonamide|sulfadimidine|trimethoprim|amoxicillin|chlortetracycline|lincomycin|metronidazole|diclazuril
	pulver|puder|staub|tropfen|wurmmittel|salbe|ol|kalk|impfung|impfstoff|tabletten|poudre|gouttes|vermifuge|pommade|huile|chaux|vaccin|poeder|druppels|ontwormer|zalf|olie|kalkmelk|polvo|gotas|pomada|aceite|cal|vacuna`)

// deeds are further verbs of a treatment done; creamed legs and a bathed vent are treated.
var deeds = split("bathed|washed|soaked|painted|greased|oiled|creamed|scrubbed|vaselined|rubbed|applied|given|gave|administered|cleaned|fumigated|limed|gebadet|eingerieben|baigne|gewassen|banado")

// denied, planned and doubted cast doubt on a treatment that a text names. Folded.
var (
	denied  = split("no|not|none|never|nothing|without|out of|ran out|run out|refused|skipped|missed|forgot|forgotten|declined|stopped|don't|didn't|did not|wasn't|can't|cannot|n't|untreated|nicht|kein|keine|keinen|ohne|nie|vergessen|pas|aucun|aucune|sans|rien|jamais|niet|geen|nooit|zonder|ningun|ninguno|ninguna|nunca|sin")
	planned = split("due|plan|planned|will|to be|to do|todo|need|needs|needed|must|should|shall|next|order|ordered|buy|bought|collect|ask|remember|book|booked|tomorrow|soon|later|wait|waiting|awaiting|if|when|going to|consider|try|want|re-treat in|retreat in|repeat in|again in|re-dust|redo|retreat|re-treat|before show|until|geplant|fallig|muss|soll|sollte|morgen|spater|bestellen|warten|prevu|a faire|faut|doit|demain|attendre|commander|gepland|moet|moeten|volgende|wachten|bestellen|hay que|pendiente|debe|manana|esperar")
	doubted = split("maybe|perhaps|possibly|probably|might|may have|could|think|thought|unsure|not sure|uncertain|evtl|eventuell|vielleicht|peut-etre|misschien|quizas|tal vez|or")
)

// again begin a clause that plans the next treatment after one that was given: "wormed; repeat 26/7".
var again = split("repeat|repeats|repeated|again|re-treat|retreat|redo|re-dust|redust|re-dose|redose|re-worm|reworm|next|due|then|second dose|2nd dose|second|2nd|follow up|follow-up|recheck|re-check|check|wiederholen|wiederholung|nochmals|repeter|a repeter|herhalen|repetir")

// noneNeeded are texts that say in so many words that nothing was given.
var noneNeeded = words(`none needed|none required|none necessary|none given|none yet|none used|none today|not needed|not required|not necessary|not given|not done|not treated|not yet|nothing needed|nothing required|nothing given|nothing done|no treatment|no treatment needed|no treatment given|no treatment required|no treatment necessary|no need|no meds|no medication|untreated|skipped|missed|forgot|nicht behandelt|nicht notig|keine behandlung|pas traite|pas besoin|rien|niet behandeld|niet nodig|no tratado|sin tratamiento|no hace falta`)

// TreatmentText parts what a text of a treatment column tells as done from the next treatment that it plans:
// "ivermectin (2 drops) - repeat 26/7" is "ivermectin (2 drops)" and "repeat 26/7". The plan is "" where the text has
// none besides what was done.
func TreatmentText(text string) (done, plan string) {
	text = Name(text)
	for i, r := range text {
		switch {
		case r == ';' || r == ',' || r == '(' || r == '.' && i+1 < len(text) && text[i+1] == ' ' || r == '–' || r == '—' || r == '-' && i > 0 && text[i-1] == ' ' || r == '/' && i > 0 && text[i-1] == ' ':
		default:
			continue
		}
		rest := strings.Trim(text[i:], " ;,(.-–—/")
		folded := Fold(rest)
		for _, w := range again {
			if indexWord(folded, w) == 0 && standing(Fold(text[:i])) == Given && futureClause(strings.TrimSpace(folded[len(w):])) {
				return strings.TrimRight(text[:i], " ;,(.-–—/"), strings.TrimRight(rest, " )")
			}
		}
	}
	return text, ""
}

// futureClause reports whether what follows "repeat" says when: a date, "in 10 days", nothing at all.
func futureClause(rest string) bool {
	rest = strings.Trim(rest, " .:,)")
	if rest == "" || strings.ContainsAny(rest, "0123456789") {
		return true
	}
	first, _, _ := strings.Cut(rest, " ")
	if monthNames[first] > 0 || weekdayNames[first] > 0 {
		return true
	}
	switch first {
	case "in", "on", "next", "after", "due", "week", "month", "treatment", "dose", "needed", "if", "soon", "later", "am", "dans", "over", "again":
		return true
	}
	return hasAny(rest, planned)
}

// TreatmentStanding judges whether a text of a treatment column tells of a treatment given.
func TreatmentStanding(text string) Standing {
	folded := strings.Trim(Fold(Name(text)), " .!")
	switch {
	case Missing(folded) || noTreatment[folded] || noneNeeded[folded] || isErrorText(folded):
		return NotGiven
	case folded == "x" || folded == "✗" || folded == "✘" || folded == "×" || folded == "xx":
		return Crossed
	case yesTreated[folded], folded == "de", folded == "d.e":
		return Given
	}
	if s := standing(folded); s != "" {
		return s
	}
	return Unnamed
}

// standing is Given where a folded text names what is given or the deed and nothing speaks against it, Doubted where
// something does, and "" where it names neither. What a clause denies of eggs or lice says nothing about the treatment.
func standing(folded string) Standing {
	if at := withdrawalPattern().FindStringIndex(folded); at != nil && at[0] > 0 {
		folded = strings.TrimSuffix(strings.TrimSpace(folded[:at[0]]), ", no")
	}
	if strings.Contains(folded, "?") {
		return Doubted
	}
	var found Standing
	for clause := range strings.FieldsFuncSeq(strings.ReplaceAll(folded, " - ", ";"), func(r rune) bool { return strings.ContainsRune(",;()", r) }) {
		clause = strings.TrimSpace(clause)
		names := hasAny(clause, activeIngredients) || hasAny(clause, productWords) || hasAny(clause, treatedVerbs) || hasAny(clause, deeds) || dosePattern().MatchString(clause)
		switch {
		case noneNeeded[clause], hasAny(clause, planned), hasAny(clause, doubted):
			return Doubted
		case hasAny(clause, denied):
			if names || !hasAny(clause, aboutElse) {
				return Doubted
			}
		case names:
			found = Given
		}
	}
	return found
}

// aboutElse are things that a clause beside a treatment denies without denying the treatment: "dusted, no lice seen".
var aboutElse = split("egg|eggs|lice|louse|mites|mite|worms|seen|live|found|withdrawal|change|improvement|better|eier|oeufs|eieren|huevos")

// TreatmentReadings are what a doubtful text of a treatment column can mean.
func TreatmentReadings() []record.Reading {
	return []record.Reading{{Label: "it was given", Value: WasGiven}, {Label: "not given", Value: WasNot}, {Label: "only planned", Value: WasPlanned}}
}

// FindingInRemark reports whether a remark tells of parasites seen: it names them and a number or a word for one, and
// denies nothing.
func FindingInRemark(text string) bool {
	folded := Fold(Name(text))
	if Parasite(folded) == "" && !hasAny(folded, otherParasites) || hasAny(folded, denied) || hasAny(folded, planned) || strings.Contains(folded, "?") {
		return false
	}
	return strings.ContainsAny(folded, "0123456789+") || hasAny(folded, quantities)
}

// NoneSeen reads a remark that says in so many words that a parasite was looked for and not there: "no lice seen", "clear
// of mites". It returns false where the remark says more.
func NoneSeen(text string) (parasite string, ok bool) {
	m := nonePattern().FindStringSubmatch(strings.Trim(Fold(Name(text)), " .!"))
	if m == nil {
		return "", false
	}
	parasite = Parasite(m[1])
	f, p := Finding(T("no "+m[1]), FindingIn{Parasite: parasite})
	return parasite, parasite != "" && p == nil && f.Value == 0
}

var nonePattern = later(`^(?:no signs? of|no live|no more|no|zero|nil|not any|clear of|free of|free from|keine|aucun|geen) ([a-z -]+?)(?: (?:seen|found|visible|at all|today|now|anywhere|on (?:him|her|it)|on any|gesehen|gefunden|vu|gezien))*$`)

var (
	otherParasites = split("flea|fleas|stickfast|stick tight|sticktight|tick|ticks|floh|flohe|puce|puces|vlo|vlooien|pulga|pulgas|garrapata|garrapatas")
	quantities     = split("few|some|lots|many|several|heavy|found|seen|saw|crawling|alive|live|bad|covered|infested|full of|has|had|got")
)
