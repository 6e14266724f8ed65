// Package condition reads scores: condition, feather, legs and comb, each on the keeper's own declared scale. It
// says where a bird stood at its last scoring, whether its scores move, whether the flock moved between two
// scorings of the same birds, and how far two scorers agree.
//
// It refuses to convert one scale into another, to average across scales, to guess which end of a scale is the good
// one, and to compare scorings by different people where no bird was scored by both.
package condition
