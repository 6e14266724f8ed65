package main

// What the demo says about itself, and what the keeper says about the flock.

const readme = `# An invented demo

Everything here is made up: birds, people, places, the show, and every number. Weights are simulated around published
show weights; lice, moults and treatments follow rules of the program that wrote the files. Nothing in it is evidence
about real birds, and no treatment in it is advice.

- ` + "`wrenlow-yard`" + `: a keeper's flock folder with three seasons in three habits: a tidy workbook in grams (2023), a wide one
  with a column for each date (2024), and a book in pounds and ounces (2025). A few cells are doubtful on purpose.
- ` + "`neighbours`" + `: six flocks of other keepers, under codes, for comparison.

The demo is read as of 24 November 2025, nineteen days before its show.
`

const keeperToml = `# Invented demo data: no such flock, keeper, place or show exists.

[flock]
name = "Wrenlow Yard (invented)"
code = "K0"
country = "US"
hemisphere = "north"
standard = "American Standard (APA/ABA)"
units = "g"

[show]
name = "Ostermere Winter Show (invented)"
date = 2025-12-13
class_rule = "birthday"
paper = "Letter"

[dates]
order = "mdy"   # dates typed as text, as in 4/26/25

[scales.condition]
min = 0
max = 3
direction = "high-good"
words = { "keel sharp" = 0, "keel easily felt" = 1, "well covered" = 2, "full" = 3 }
source = "the keeper's own words"

[scales.lice]
min = 0
max = 3
direction = "high-bad"
words = { none = 0, light = 1, moderate = 2, heavy = 3 }
source = "the keeper's own words: none seen, a few, many, egg clusters as well"

[scales.mites]
min = 0
max = 3
direction = "high-bad"
words = { none = 0, light = 1, moderate = 2, heavy = 3 }
source = "the keeper's own words, as for lice"
`
