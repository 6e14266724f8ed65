package parse

import "keelmark/ingest/record"

// headings is the table of headings by field, folded. A confidence below 1 marks words with other meanings.
// English first, then German, French, Dutch and Spanish. Common practice, no source.
var headings = []struct {
	field      Field
	parasite   string
	confidence float64
	phrases    string
}{
	{FieldDate, "", 1, `date|dates|weighed|date weighed|weigh date|weighing date|weigh day|weighed on|date of weighing|when|visit|visit date|check date|checked|checked on|date checked|day checked|week commencing|w/c|wc|week beginning|week starting|week of|w/b|entry date|record date|inspected|inspection date|date treated|treated on|treatment date|given on
		datum|wiegedatum|wiegetag|gewogen am|am|wann|kontrolldatum|le|date de pesee|jour de pesee|pese le|weegdatum|gewogen op|fecha|fecha de pesaje|pesado el|dia de pesaje|data`},
	{FieldDate, "", 0.6, `week|wk|day|tag|jour|dag|dia|month|woche|semaine|semana|mon`},
	{FieldWeekday, "", 0.6, `day|tag|jour|dag|dia`},
	{FieldWeekday, "", 1, `weekday|day of week|dow|wochentag|jour de la semaine|weekdag|dia de la semana`},
	{FieldAge, "", 1, `age|weeks old|wks old|days old|alter|lebenswoche|lebenstag|leeftijd|edad`},
	{FieldBird, "", 1, `bird|birds|bird id|bird no|bird number|bird ref|tier|huhn|tiernummer|oiseau|volaille|dier|kip|vogel|pajaro|gallina id|individual|specimen`},
	{FieldBird, "", 0.8, `who|id|identity|ident|which|which bird|wer|qui|wie|quien|no|no.|number|nummer|nr|nr.|numero|num`},
	{FieldBird, "", 0.5, `#|tag|chick|hen|cock`},
	{FieldRing, "", 1, `ring|rings|ring no|ring no.|ring number|ring nr|ring #|ring id|leg ring|legring|leg ring no|leg ring number|band|bands|band no|band number|band #|band id|leg band|legband|leg band no|wing band|wingband|wing tag|wingtag|tag no|tag number|tag id|ear tag|toe punch|microchip|chip|closed ring
		ringnummer|ringnr|ring nummer|fussring|beinring|bundesring|kennring|kuken ring|flugelmarke|bague|numero de bague|no de bague|bague no|n de bague|pootring|pootringnummer|ringnr.|anilla|anillo|numero de anilla|no anilla|no de anilla`},
	{FieldRing, "", 0.6, `tag|leg|leg no|no|no.|id|number|id no`},
	{FieldRingColour, "", 1, `ring colour|ring color|band colour|band color|leg colour|leg ring colour|colour of ring|spiral|spiral colour|ringfarbe|couleur bague|couleur de bague|ringkleur|color anilla|color de anilla`},
	{FieldRingColour, "", 0.5, `colour|color|farbe|couleur|kleur`},
	{FieldName, "", 1, `name|names|bird name|nickname|nick name|pet name|called|tiername|rufname|nom|nom de l'oiseau|naam|nombre`},
	{FieldHatched, "", 1, `hatch date|hatched on|date hatched|dob|d.o.b.|d.o.b|doh|d.o.h.|d.o.h|born|birth|date of birth|birth date|birthday|hatch day|date of hatch|hatching date|hatch yr|hatch year|year hatched|hatched date|year of hatch
		geschlupft|schlupf|schlupfdatum|schlupftag|geboren|geburtsdatum|jahrgang|eclosion|date d'eclosion|date eclosion|ne le|nee le|naissance|date de naissance|geboortedatum|uitgekomen|uitkomstdatum|fecha de nacimiento|nacimiento|nacido|fecha de eclosion`},
	{FieldHatched, "", 0.8, `hatched|hatch`},
	{FieldHatched, "", 0.5, `year|ring year|yr`},
	{FieldSex, "", 1, `sex|sexed|gender|m/f|m / f|f/m|m/h|c/h|cock/hen|cock / hen|ckl/plt|cockerel/pullet|boy/girl|♂/♀|♂♀|male/female|geschlecht|sexe|geslacht|sexo|sesso`},
	{FieldClass, "", 1, `class|age class|c/h/k/p|c/k/h/p|category|show class|altersklasse|klasse|classe|klas|clase|categoria`},
	{FieldBreed, "", 1, `breed|breeds|breed/variety|breed and variety|breed variety|rasse|race|ras|raza|razza`},
	{FieldVariety, "", 1, `variety|var|var.|plumage colour|feather colour|farbenschlag|farbschlag|variete|kleurslag|variedad`},
	{FieldVariety, "", 0.6, `colour|color|farbe|couleur|kleur`},
	{FieldSize, "", 1, `size|lf/btm|std/btm|lf/bantam|large/bantam|bantam y/n|bantam?|bantam|grosse|taille|formaat|tamano`},
	{FieldLine, "", 1, `strain|line|bloodline|family|linie|stamm|zuchtstamm|souche|lignee|stam|bloedlijn|linea|estirpe`},
	{FieldPen, "", 1, `pen|pens|pen no|pen number|run|coop|house|shed|cage|ark|aviary|row|location|where|stall|voliere|gehege|abteil|wo|parquet|poulailler|enclos|lieu|hok|kooi|ren|gallinero|jaula|corral`},
	{FieldWeight, "", 1, `weight|weights|wt|wt.|wts|wght|wgt|weigh|weigh in|weigh-in|body weight|bodyweight|body wt|live weight|lwt|liveweight|bw|bwt|mass|weighing|scale weight
		gewicht|gew|gew.|korpergewicht|lebendgewicht|lebendmasse|koerpergewicht|poids|poids vif|pds|lichaamsgewicht|peso|peso vivo|peso corporal|waga|vaegt|vikt|vekt|hmotnost`},
	{FieldPoundPart, "", 1, `weight lb part|pounds part`},
	{FieldUnit, "", 1, `unit|units|uom|weight unit|weight units|wt unit|wt units|einheit|einheiten|unite|unites|eenheid|eenheden|unidad|unidades`},
	{FieldCondition, "", 1, `condition|cond|cond.|bcs|bc|body condition|body cond|body condition score|body score|condition score|cond score|keel|keel score|breast|breast score|flesh|fleshing|hand|handling|kondition|brustbein|nahrzustand|ernahrungszustand|bemuskelung|etat corporel|nec|note d'etat|bréchet|brechet|conditie|conditiescore|borstbeen|condicion|condicion corporal|cc|quilla`},
	{FieldCondition, "", 0.6, `score|fat|etat|zustand|punkte|note d etat`},
	{FieldFeather, "", 1, `feather|feathers|feathering|feather score|fscore|f score|plumage|plumage score|in feather|feather cover|feather condition|feather loss|gefieder|federn|befiederung|plumes|emplumement|veren|bevedering|verenkleed|plumas|plumaje`},
	{FieldFeather, "", 0.4, `f`},
	{FieldMoult, "", 1, `moult|molt|moulting|molting|in moult|in molt|mauser|mue|rui|muda`},
	{FieldLeg, "", 1, `legs|leg score|legs score|shanks|shank|feet|foot|foot score|beine|lauf|laufe|pattes|poten|patas`},
	{FieldLeg, "", 0.5, `leg`},
	{FieldComb, "", 1, `comb|comb score|comb colour|comb color|wattles|kamm|crete|kam|cresta`},
	{FieldParasite, record.Lice, 1, `lice|louse|lice count|louse count|louse score|lice score|no of lice|number of lice|lice seen|federlinge|federling|lause|laus|poux|pou|luizen|luis|piojos|piojo|piojillo`},
	{FieldParasite, record.Mites, 1, `mites|mite|mite count|mite score|milben|milbe|acariens|acarien|mijten|mijt|acaros`},
	{FieldParasite, record.NorthernFowlMite, 1, `nfm|northern fowl mite|northern fowl mites|n. fowl mite|fowl mite|vent mites|vent mite|nordische vogelmilbe`},
	{FieldParasite, record.RedMite, 1, `red mite|red mites|redmite|prm|roost mite|rote vogelmilbe|vogelmilbe|rote milbe|rote milben|pou rouge|poux rouges|bloedluis|bloedluizen|vogelmijt|acaro rojo|acaros rojos`},
	{FieldParasite, record.RedMite, 0.5, `rm`},
	{FieldParasite, record.ScalyLegMite, 1, `scaly leg|scaly legs|scaly leg mite|scaly leg mites|scaley leg|slm|kalkbeine|kalkbein|kalkbeinmilbe|gale des pattes|kalkpoten|patas escamosas`},
	{FieldParasite, record.BodyLouse, 1, `body lice|body louse`},
	{FieldParasite, record.ShaftLouse, 1, `shaft lice|shaft louse`},
	{FieldParasite, record.HeadLouse, 1, `head lice|head louse`},
	{FieldParasite, "", 0.9, `parasites|parasite|ext para|ext. para|external parasites|ectoparasites|ectos|ecto|bugs|crawlies|creepy crawlies|lice mites|lice/mites|mites/lice|mites lice|parasiten|ektoparasiten|ungeziefer|parasiet|parasieten|parasitos`},
	{FieldParasite, "", 0.5, `vent|vent score|vent index`},
	{FieldWormEggs, "", 1, `epg|worm eggs|worm egg count|wec|fec|faecal egg count|fecal egg count|eggs per gram|worm count|wurmeier|opg|ookcount|huevos por gramo`},
	{FieldTreatment, "", 1, `treatment|treatments|treated|treated with|product|products|med|meds|medicine|medication|medicines|drug|remedy|dusted|dust|wormed|worming|wormer|drench|spray|active|active ingredient|behandlung|behandelt|behandelt mit|mittel|praparat|medikament|entwurmt|wurmkur|traitement|traite|produit|medicament|behandeling|behandeld|middel|medicijn|ontwormd|tratamiento|tratado|producto|medicamento`},
	{FieldTreatment, "", 0.8, `what|was|quoi|wat|que`},
	{FieldDose, "", 1, `dose|doses|dosage|dose rate|amount|amount given|qty|quantity|dosis|menge|dosierung|posologie|quantite|dosering|hoeveelheid|cantidad`},
	{FieldAgainst, "", 1, `against|target|for|problem|complaint|ailment|gegen|contre|tegen|contra`},
	{FieldReason, "", 1, `reason|why|cause|cause of death|grund|ursache|warum|raison|motif|pourquoi|reden|waarom|oorzaak|motivo|razon|causa`},
	{FieldWithdrawal, "", 1, `withdrawal|withdrawal period|withdrawal time|withdrawal days|withdrawal end|whp|withholding|withholding period|egg withhold|egg withdrawal|withhold|wd|wartezeit|delai d'attente|temps d'attente|wachttijd|wachttermijn|periodo de retiro|tiempo de espera`},
	{FieldBy, "", 1, `by|given by|treated by|administered by|initials|von|par|door|por`},
	{FieldScorer, "", 1, `scorer|scored by|assessor|observer|checked by|weighed by|inspector|handler|recorder|recorded by|gewogen von|bewerter|pese par|gewogen door|pesado por`},
	{FieldEggCount, "", 1, `eggs|egg count|eggs laid|egg no|no of eggs|laid|lay|eier|gelegt|legeleistung|oeufs|ponte|eieren|gelegd|huevos|puesta`},
	{FieldSetting, "", 1, `setting|setting no|set no|batch|hatch no|hatch number|incubation|setting number|brut|brutnummer|gelege|incubation no|couvee|broedsel|broed|lote|nidada`},
	{FieldEggsSet, "", 1, `eggs set|no set|number set|set|eggs in|eingelegt|eier eingelegt|oeufs mis|mis a couver|ingelegd|huevos puestos`},
	{FieldClear, "", 1, `clear|clears|infertile|infertiles|unbefruchtet|klar|clairs|clair|infecondes|onbevrucht|claros|infertiles`},
	{FieldFertile, "", 1, `fertile|no fertile|eggs fertile|fertiles|befruchtet|feconds|fecondes|bevrucht|fertiles`},
	{FieldDeadEarly, "", 1, `dead early|early dead|early deads|quit|quits|early quit|blood ring|blood rings|dead germ|abgestorben|fruh abgestorben`},
	{FieldDeadShell, "", 1, `dead in shell|d.i.s.|d.i.s|dis|dead shell|late dead|full term dead|steckengeblieben|mort en coquille|morts en coquille`},
	{FieldHatchedNo, "", 1, `no hatched|number hatched|chicks|chicks hatched|chicks out|live chicks|kuken|geschlupfte kuken|poussins|kuikens|pollitos`},
	{FieldHatchedNo, "", 0.6, `hatched|hatch`},
	{FieldStored, "", 1, `days stored|storage days|stored|days held|age of eggs|lagertage`},
	{FieldMale, "", 1, `male|sire|father|cock bird|cock no|cockerel used|vater|zuchthahn|pere|coq|vader|haan|padre|gallo`},
	{FieldMale, "", 0.6, `cock|hahn`},
	{FieldHen, "", 1, `dam|mother|hen no|hens|females|mutter|zuchthenne|mere|moeder|madre`},
	{FieldHen, "", 0.6, `hen|henne|female`},
	{FieldShow, "", 1, `show|shows|event|exhibition|entered|shown at|schau|ausstellung|exposition|tentoonstelling|shownaam|exposicion`},
	{FieldResult, "", 1, `result|results|placing|placed|place|award|awards|prize|judge|bob|ris|card|position|ergebnis|preis|bewertung|resultat|prix|classement|uitslag|prijs|resultado|premio`},
	{FieldOut, "", 1, `out|date out|died|date died|sold|date sold|culled|gone|rip|r.i.p.|given|given to|fox|left|left on|departed|fate|disposal|exit|status|abgang|verkauft|gestorben|verendet|sortie|mort|vendu|decede|afgevoerd|verkocht|dood|baja|vendido|muerto`},
	{FieldNote, "", 1, `note|notes|comment|comments|remark|remarks|obs|observation|observations|other|misc|info|bemerkung|bemerkungen|notiz|notizen|anmerkung|anmerkungen|kommentar|sonstiges|remarque|remarques|commentaire|commentaires|opmerking|opmerkingen|notitie|notities|observaciones|observacion|notas|nota|comentarios`},
	{FieldDerived, "", 1, `gain|gain g|weight gain|wt gain|change|difference|diff|+/-|% change|growth|adg|hatch %|% hatched|hatch rate|fertility|fertility %|% fertile|percent|%|hatchability|zunahme|differenz|gewichtszunahme|schlupfrate|gain de poids|toename|verschil|aumento|ganancia|diferencia|running total|cumulative`},
	{FieldTotal, "", 1, `total|totals|sum|subtotal|sub total|sub-total|grand total|average|averages|avg|avg.|ave|mean|median|max|maximum|min|minimum|heaviest|lightest|no weighed|no. weighed|number weighed|n weighed|std dev|stdev|sd|range
		summe|gesamt|mittelwert|durchschnitt|schnitt|anzahl|moyenne|somme|totaal|gemiddelde|aantal|suma|media|promedio`},
	{FieldTotal, "", 0.4, `count|n`},
}
