package decision

import (
	"fmt"
	"slices"
	"strings"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

// purpose is something that a keeper decides about a bird: the analyses that it rests on, the claims of theirs that bear
// on it, and what stands beside them. Each has a file of its own.
type purpose struct {
	name     string
	day      func(Options, analysis.Context) record.Day
	sources  []source
	bears    func([]analysis.Claim) []analysis.Claim // of one bird
	courses  []string                                // that are open to the keeper; what can be undone stands first
	compares bool                                    // birds of one line are weighed up against each other
	lasting  bool                                    // what is decided can hardly be undone: what may pass stands before what lasts
	eggs     bool                                    // fertile eggs are a question
	cautions []analysis.Caution
}

// purposes lists them in the order in which help names them.
func purposes() []purpose { return []purpose{entry(), breeding(), keepOrPart()} }

func purposeOf(name string) (purpose, error) {
	var names []string
	for _, p := range purposes() {
		if p.name == name {
			return p, nil
		}
		names = append(names, p.name)
	}
	return purpose{}, fmt.Errorf("decision: the purpose %q is not known; it can be %s", name, strings.Join(names, ", "))
}

// today is the day of decisions that no show dates.
func today(o Options, c analysis.Context) record.Day {
	if o.On != 0 {
		return o.On
	}
	return c.Today
}

// withoutSecondRefusals leaves out the refusals of one kind of claim about a bird where another kind speaks of the same: a
// curve of the bird alone is refused more often than the forecast that leans on its line, and of no use for a grown bird.
func withoutSecondRefusals(claims []analysis.Claim, kind string, better ...string) []analysis.Claim {
	said := slices.ContainsFunc(claims, func(c analysis.Claim) bool {
		return slices.ContainsFunc(better, func(b string) bool { return strings.HasPrefix(c.ID, b+"/") })
	})
	return slices.DeleteFunc(claims, func(c analysis.Claim) bool {
		return said && c.Refusal != nil && strings.HasPrefix(c.ID, kind+"/")
	})
}

// signsFirst stands beside every purpose.
func signsFirst() analysis.Caution {
	return analysis.Caution{Topic: "Signs that come first", Text: "Sudden or several deaths, a swollen head, a blue or purple comb, gasping, a twisted neck, paralysis, green or bloody " +
		"droppings, a sharp drop in lay, feed or water: speak to a vet or the animal health authority before anything else. Avian influenza and Newcastle disease are notifiable.",
		Source: "government and veterinary pages on avian influenza and Newcastle disease"}
}
