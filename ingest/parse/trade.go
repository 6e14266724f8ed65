package parse

import "strings"

// tradeWords are written by keepers of fowl and seldom by anyone else, folded; the names of breeds are in common use.
// Common practice, no source.
var tradeWords = words(`bird|birds|fowl|fowls|poultry|chicken|chickens|hen|hens|cock|cocks|cockerel|cockerels|pullet|pullets|chick|chicks|rooster|roosters|roo|bantam|bantams|ckl|ckls|plt|plts|stag|trio|trios
	ring no|leg ring|leg band|wing tag|wing band|breed|breeds|hatch|hatched|hatching|hatchability|candled|candling|clutch|incubator|incubation|brooder|broody|fertile|infertile|dead in shell
	bcs|keel|feather|feathers|feathering|plumage|moult|moulting|molt|molting|comb|combs|wattle|wattles|spur|spurs|vent|hock|shank|flock|coop|lice|louse|mite|mites|nfm|slm|scaly leg|bumblefoot
	dusted|wormed|wormer|delouse|deloused|culled|cull
	sussex|wyandotte|wyandottes|orpington|leghorn|marans|maran|australorp|rhode island|plymouth rock|faverolles|dorking|brahma|cochin|pekin|pekins|silkie|silkies|hamburgh|sebright|sebrights|araucana|araucanas|ameraucana|minorca|ancona|welsummer|barnevelder|old english game|modern game|langshan|serama|campine|houdan|lakenvelder|vorwerk|buckeye|andalusian|yokohama|sumatra|rosecomb|belgian bantam|dutch bantam|indian game|asil|malay
	henne|hennen|hahn|hahne|huhn|huhner|kuken|geflugel|zwerghuhn|zwerghuhner|gefieder|milben|federlinge|schlupf|junghenne|junghahn|wyandotten|zuchtstamm|rasse
	poule|poules|coq|coqs|coquelet|poulette|poussin|poussins|volaille|volailles|bague|plumage|poux|couvee|eclosion
	kip|kippen|haan|hanen|kuiken|kuikens|kriel|krielen|hoenders|mijten|luizen|broedsel
	gallina|gallinas|gallo|gallos|pollito|pollitos|pollo|pollos|anilla|anillas|plumaje|piojos|aves|ave`)

// foreignWords head lists of money, people, travel, food, school, feed and other animals, which may hold dates,
// names and weights as a keeper's sheet does. Common practice, no source.
var foreignWords = words(`price|prices|cost|costs|balance|invoice|paid|payment|payments|credit|debit|vat|tax|supplier|customer|customers|client|buyer|order|orders|sku|budget|expense|expenses|income|salary|rent|account|accounts|bank|receipt|receipts|mortgage|savings|discount|unit price|subtotal due|total due|bills|statement
	phone|telephone|tel|mobile|email|e-mail|address|postcode|post code|zip|website|password|surname|first name|last name|birthday|contact
	stop|stops|route|fare|timetable|departure|arrival|depart|arrive|train|bus|flight|platform
	ingredient|ingredients|recipe|calories|kcal|carbs|protein|oven|serves|bmi|steps|height|waist|reps|gym|blood pressure
	maths|math|english|science|homework|exam|marks|pupil|student|teacher|grade average
	crop|crops|plot|yield|harvest|mileage|miles|mpg|km|litres|liters|fuel|odometer|rainfall|rain|rain mm|temperature|humidity|parcel|parcels|tracking|courier|postage|author|isbn|artist|album|shift|start time|end time|hours worked|stock level|in stock|reorder|barcode
	feed|feeds|pellets|straw|shavings|bedding|sack|sacks|bag|bags|dozen|dozens|half dozen|egg sales
	ewe|ewes|lamb|lambs|sheep|cow|cows|calf|calves|pig|pigs|piglet|sow|horse|goat|goats|dog|dogs|puppy|puppies|cat|kitten|rabbit|baby
	preis|kosten|betrag|saldo|rechnung|kunde|kunden|lieferant|telefon|adresse|zutat|zutaten|montant|solde|facture|fournisseur|courriel|ingredients|bedrag|factuur|klant|leverancier|telefoon|precio|importe|factura|cliente|proveedor|telefono|direccion`)

// feedWords are what a keeper buys by weight. Common practice, no source.
var feedWords = words(`pellets|mash|crumb|crumbs|corn|grit|oyster|shell|oystershell|feed|wheat|maize|barley|oats|straw|hay|shavings|bedding|sawdust|peat|seed|peanuts|flour|sugar|butter|milk|potatoes|beans|carrots|onions|rice|pasta|cheese|bread|coal|cement|sand|compost|fertiliser|fertilizer
	futter|legemehl|pellet|weizen|mais|stroh|granules|ble|paille|voer|tarwe|stro|pienso|trigo|paja`)

// Bearing is what a text says about the subject of its sheet.
type Bearing struct {
	Trade   bool // it speaks of fowl
	Foreign bool // it speaks of money, people, food, feed, other animals
	Feed    bool // it names something that is bought by weight
}

// Subject tells whether a heading, title or remark speaks of fowl, or of something else. Both may be true, and
// mostly neither is.
func Subject(text string) Bearing {
	if len(text) > 400 {
		text = text[:400]
	}
	folded := Fold(text)
	list := headingWords(folded)
	var b Bearing
	for i := range list {
		for n := 1; n <= 3 && i+n <= len(list); n++ {
			phrase := strings.Join(list[i:i+n], " ")
			b.Trade = b.Trade || tradeWords[phrase]
			b.Foreign = b.Foreign || foreignWords[phrase]
			b.Feed = b.Feed || feedWords[phrase]
		}
	}
	b.Foreign = b.Foreign || strings.ContainsAny(folded, "£$€")
	b.Trade = b.Trade || Parasite(folded) != ""
	for _, w := range activeIngredients {
		b.Trade = b.Trade || indexWord(folded, w) >= 0
	}
	return b
}

// doings are words of a diary that stand before a number and are no birds.
var doings = words(`bought|buy|sold|paid|pay|ordered|gave|given|fed|feed|used|made|took|take|set|collected|eggs|egg|chicks|chick|hens|hen|cocks|birds|pen|pens|house|run|coop|all|each|every|total|average|mean|added|mixed|moved|put|about|for|with|and|x|at|in|of|from|to|dose|age|aged|temp|temperature|cost|spent|hatched|laid|found|counted|left|only|another|some|the|both|wk|week|weeks|day|days|no|number`)

// NoBird reports whether words of a diary that stand before a number name no bird: what was done, bought or given, a
// pen, a medicine; said is what follows.
func NoBird(bird, said string) bool {
	list := headingWords(Fold(bird))
	if len(list) == 0 {
		return false
	}
	if doings[list[0]] || doings[list[len(list)-1]] || Subject(said).Feed || Subject(bird).Feed {
		return true
	}
	return hasAny(bird, activeIngredients) || hasAny(bird, treatedVerbs)
}
