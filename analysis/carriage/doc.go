// Package carriage fits a hidden-state model of a parasite on a flock: each bird is clean or carries it, in continuous
// time; looks at birds miss some of those that carry it; birds take it up in season and from their pen, lose it by
// themselves, and are cleared by treatments.
//
// It answers how likely a bird that nobody has looked at carries the parasite on a day, and how often a look sees what
// is there. Where the records cannot tell how often looks miss, Model.Told is false and the chances are ranges over
// sensitivities from 0.5 to 0.9.
//
// It refuses to know records, claims or life cycles, and to call a bird clean: it gives chances.
package carriage
