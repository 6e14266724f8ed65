// Package forecast says what a bird may weigh on the day of a show, how likely that is to lie inside the written
// figure of its class, and what it may weigh when grown.
//
// Growing birds lean on their line: birds of one breed, size, strain and sex share a growth curve of one shape, and each
// deviates from it in mature weight, rate and age at inflection, and by a growth rate that wanders and returns. What is
// not known of the line is integrated, not frozen at its best value, because frozen values give ranges that hold less
// often than they say. Grown birds are forecast from their own level, with the season and the moult where the records
// tell of them. The program in calibrate measures how often ranges and chances come true.
//
// It refuses where a bird has fewer than three usable weighings, an unknown sex or a hatch date too loosely known;
// it marks what lies more than four weeks beyond the last weighing; and it never says what to do.
package forecast
