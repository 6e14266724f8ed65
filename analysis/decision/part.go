package decision

import "keelmark/analysis"

// KeepOrPart is the purpose of keeping a bird on or parting with it.
const KeepOrPart = "keep-or-part"

func keepOrPart() purpose {
	return purpose{
		name:    KeepOrPart,
		day:     today,
		sources: []source{standardOn, forecastOn, growthOf, conditionOf, fertilityOf, parasites, treatmentOf, seasonOf},
		bears:   withoutTheShow,
		courses: []string{"wait three weeks, then weigh and look again", "ask a vet about what worries you", "rest it, or give it another pen or company",
			"use it another way: in another pen, for eggs, as a companion", "pass it on to another person, with its records"},
		compares: true,
		lasting:  true,
		cautions: []analysis.Caution{
			{Topic: "What cannot be undone", Text: "A bird that moults is light for its kind for some weeks, and a bird that grows is not yet what it will be: what the records say today may " +
				"be otherwise in three weeks. What can be undone stands first in the list.", Source: "common practice, no source"},
			{Topic: "Killing", Text: "Only by somebody who has been trained and is competent; the owner is responsible for it. Neck dislocation by hand is for small numbers and, under European rules, " +
				"for birds up to 3 kg: many large males are heavier. Countries differ: check your law, also on what is done with the carcass, and ask a vet where you are not sure.",
				Source: "European rules on the protection of animals at the time of killing, as summed up by extension texts; check your law"},
			signsFirst(),
		},
	}
}
