// Package parasite lays out what was looked for and what was found: looks, findings and not having looked as
// three different things, for each parasite by itself, with the treatments beside them.
//
// It refuses to call a bird or a flock clear on one look, to take "none found" for absence, to name a season
// or judge a treatment (packages season and treatment do), and to know a product, a dose or a withdrawal time.
package parasite
