// Package treatment judges what treatments against parasites did, and says how far the records go: the same birds before
// and after with untreated birds beside them, what repeat checks alone would show, whether survivors, the expected hatch
// or a new arrival fit what was seen after, how long until the parasite was seen again, which unseen birds may carry it,
// and how to treat next time so that the records can tell.
//
// It refuses to name an effect without untreated birds, to name a story without the looks that tell the stories apart, to
// call anything clear but by the rule of two rounds, and to know a product, a dose or a withdrawal time.
package treatment
