// Package season asks whether the bad time for a parasite comes back at the same part of the year, and says when.
//
// It counts before it computes: in how many years was something found in which months, and in which months did nobody
// look. It names a season only where the records of at least three usable years pass a test whose false alarms were
// measured on flocks that have none; two years never conclude. Birds looked at on one day are one observation, and
// years, not birds, are the units of every interval.
//
// How often it is wrong is measured by one command, which a small run of `go test` repeats:
//
//	go test ./analysis/season -run Grid -v -flocks 1000 -timeout 60m
//
// It refuses to assume a month (published seasons contradict each other), to take a month without a look for a clean
// one, and to call a season what may be the birds' age.
package season
