// Package flocks compares flocks fairly: effort first, then findings, weights, condition and fertility, each with the mix of
// size class, sex, age and season allowed for, the flock as the unit, and false alarms held down over all comparisons of
// an evening.
//
// What it compares are sums: a Summary holds, for each measure and stratum, counts and sums that can be added, and no bird,
// name or place. Compare takes Summaries that were made from rows, or released ones in which small groups are hidden
// (Release), or both.
//
// It refuses to rank flocks, to call any flock above or below on fewer than 10 birds or beside fewer than 4 others, and to
// read an effect of treatment out of a comparison between flocks.
package flocks
