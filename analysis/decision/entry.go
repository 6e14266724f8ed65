package decision

import (
	"slices"
	"strings"

	"keelmark/analysis"
	"keelmark/analysis/standard"
	"keelmark/ingest/record"
)

// Entry is the purpose of showing a bird.
const Entry = "entry"

func entry() purpose {
	return purpose{
		name:    Entry,
		day:     func(o Options, c analysis.Context) record.Day { return standard.DecisionDay(o.On, c) },
		sources: []source{standardOn, forecastOn, parasites, treatmentOf, seasonOf},
		bears:   withoutEchoes,
		courses: []string{"look and weigh once more before the entries close", "enter it in another class, or at a later show", "leave it at home this time"},
		cautions: []analysis.Caution{
			{Topic: "Before entering", Text: "A bird that moults hard, is in poor condition or was treated lately is better off at home, and showing is a strain " +
				"for any bird. Rules on gatherings and on registering birds change, in outbreaks from week to week: check them before you enter. " +
				"Birds that come back are best housed apart and watched for two weeks or more.",
				Source: "government licence conditions for poultry gatherings (England, 2025); common practice"},
			signsFirst(),
		},
	}
}

// withoutEchoes leaves out what does not bear on an entry, the weight when grown, and what the last weighing alone
// says of a class where the forecast for the day says it from all weighings.
func withoutEchoes(claims []analysis.Claim) []analysis.Claim {
	forecast := map[string]bool{}
	for _, c := range claims {
		if rest, ok := strings.CutPrefix(c.ID, "forecast.band/"); ok && c.Estimate != nil {
			forecast[rest] = true
		}
	}
	return slices.DeleteFunc(claims, func(c analysis.Claim) bool {
		if strings.HasPrefix(c.ID, "forecast.mature/") {
			return true
		}
		rest, ok := strings.CutPrefix(c.ID, "standard.band/")
		return ok && forecast[rest]
	})
}
