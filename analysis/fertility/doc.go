// Package fertility reads settings of eggs: how many were set, clear, dead early, dead in the shell and hatched, by
// setting, male, hen, pen and year, with intervals, and with each male and hen drawn towards its flock by as much as the
// flock agrees.
//
// It refuses to compare fewer than 20 eggs an arm, to blame a male that was with one hen only, to name a father for eggs
// set soon after males changed, and to compare arms that were stored or candled differently.
package fertility
