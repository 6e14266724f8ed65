package decision

import (
	"slices"
	"strings"

	"keelmark/analysis"
)

// Breeding is the purpose of putting a bird into a breeding pen.
const Breeding = "breeding"

func breeding() purpose {
	return purpose{
		name:     Breeding,
		day:      today,
		sources:  []source{standardOn, forecastOn, growthOf, conditionOf, fertilityOf, parasites, treatmentOf, seasonOf},
		bears:    withoutTheShow,
		courses:  []string{"look and weigh once more before the pens are closed", "set some eggs and count the clear ones before many are set", "use it in another pen, or later in the season"},
		compares: true,
		eggs:     true,
		cautions: []analysis.Caution{
			{Topic: "Before pens are made", Text: "A bird that moults hard, is in poor condition or was treated lately is better left out of a pen for now. Hens lay fertile eggs for some weeks " +
				"after a male has left: until about three to four weeks are over the sire of a chick is not sure. Weight and looks here say nothing of kinship: the keeper's own pedigree does. Lice and mites pass within a pen: look at every bird that goes into one.",
				Source: "extension texts on fertile eggs after a male is removed; common practice"},
			signsFirst(),
		},
	}
}

// withoutTheShow leaves out what is said of the day of a show, and what the records refuse twice.
func withoutTheShow(claims []analysis.Claim) []analysis.Claim {
	claims = slices.DeleteFunc(claims, func(c analysis.Claim) bool {
		return strings.HasPrefix(c.ID, "forecast.band/") || strings.HasPrefix(c.ID, "growth.pace/") // how fast it grew decides nothing now
	})
	return withoutSecondRefusals(claims, "growth.mature", "forecast.mature", "standard.band")
}
