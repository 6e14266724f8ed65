// Package standard says where a bird stands against a published weight: its class on a given date by the
// show's own rule, the published row that fits it, the band that row and its standard's written rule give, and
// the percent of the target at the last weighing with its weighing error.
//
// Several sources give different weights for one breed. All stay visible; one is used by a stated rule and the
// others are named.
//
// It refuses to judge: a band is the written rule of a named standard and nothing else, many shows never put a
// bird on a scale, and where a class has no published weight the answer says so and none is made up.
package standard
