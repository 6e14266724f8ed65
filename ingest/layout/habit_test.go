package layout

import (
	"strings"
	"testing"
)

// The sheets here are invented.

func TestSubjectOfSheets(t *testing.T) {
	for name, c := range map[string]struct {
		sheet string
		want  Subject
	}{
		"household budget":      {"Date,Description,Amount,Balance\n1/10/2025,Opening,,1200\n3/10/2025,Electricity,-85,1115\n5/10/2025,Groceries,-43,1072", Foreign},
		"savings under dates":   {"Account,1 Oct 2025,1 Nov 2025,1 Dec 2025\nSavings,1200,1210,1220\nCurrent,300,450,210", Foreign},
		"monthly costs":         {"Category,Jan,Feb,Mar,Apr\nRent,800,800,800,800\nFood,310,290,330,305", Foreign},
		"phone list":            {"Name,Phone,Email\nAnn Field,01234 567890,ann@example.org\nBob Marsh,01234 567891,bob@example.org", Foreign},
		"egg sales":             {"Date,Customer,Dozens,Price,Total\n4/10/2025,Mrs Hill,2,3.50,7.00\n11/10/2025,Mr Dale,1,3.50,3.50", Foreign},
		"feed bill in kg":       {"Date,Item,Weight,Price\n2/10/2025,Layers pellets 20 kg,20 kg,12.50\n9/10/2025,Mixed corn 20 kg,20 kg,11.00\n16/10/2025,Grit 5 kg,5 kg,4.20", Foreign},
		"feed without a price":  {"Date,Item,Weight\n2/10/2025,Layers pellets,5 kg\n9/10/2025,Mixed corn,5 kg\n16/10/2025,Grit,2 kg", Foreign},
		"invoice":               {"Product,Qty,Unit,Price,Amount\nLayers pellets 20 kg,4,bag,12.50,50\nMixed corn 20kg,2,bag,11,22\nTotal,,,,72", Foreign},
		"bus timetable":         {"Stop,Mon,Tue,Wed\nHigh Street,07:10,07:10,07:10\nStation,07:25,07:25,07:25", Foreign},
		"recipe":                {"Ingredient,Amount\nFlour,500 g\nButter,250 g\nSugar,200 g\nEggs,3", Foreign},
		"exam marks":            {"Name,Maths,English,Science,Total\nAnn,56,71,64,191\nBob,81,62,70,213", Foreign},
		"a person's weight":     {"Date,Weight,BMI,Steps\n1/10/2025,82.5,26.1,5000\n8/10/2025,82.0,26.0,7000", Foreign},
		"parcels":               {"Parcel,To,Sent,Weight,Cost\nA1,Leeds,3/10/2025,1.2 kg,4.50\nA2,York,4/10/2025,0.8 kg,3.90", Foreign},
		"work hours":            {"Name,Date,Start,End,Hours\nAnn,1/10/2025,09:00,17:00,8\nBob,1/10/2025,09:00,13:00,4", Foreign},
		"errands":               {"1 Oct 2025 buy stamps\n3 Oct 2025 ring the plumber\n7 Oct 2025 car MOT 250", Foreign},
		"dates and weights":     {"Date,Weight (g)\n1/5/2025,210\n1/6/2025,480\n1/7/2025,720", Doubtful},
		"terse":                 {"Bird,Wt\nR1,850\nR2,910", OfBirds},
		"names, weights, dates": {"Name,Date,Wt g\nBess,13/4/2025,850\nClary,13/4/2025,910", OfBirds},
		"names and sexes":       {"Name,Sex\nHetty,hen\nDuke,cock", OfBirds},
		"rings without heads":   {"R1,13/4/25,850\nR2,13/4/25,910\nR1,20/4/25,861", OfBirds},
		"a sale with rings":     {"Ring,Breed,Sold,Price\nR1,Sussex,4/10/2025,25\nR2,Sussex,4/10/2025,30", OfBirds},
		"a diary of birds":      {"4 Oct 2025 Duke 1390g\n11 Oct 2025 Hetty 1080g\n16 Nov 2025 Hetty died", OfBirds},
	} {
		t.Run(name, func(t *testing.T) {
			g := grid(strings.Split(c.sheet, "\n")...)
			g.File, g.Sheet = "a.csv", ""
			if got := Read(g, EitherWay); got.Subject != c.want {
				t.Errorf("subject %d, want %d", got.Subject, c.want)
				for _, tt := range got.Tables {
					t.Logf("%d marks: %s", tt.Marks, sketch(tt))
				}
			}
		})
	}
}

func TestTablesSideBySide(t *testing.T) {
	for name, c := range map[string]struct {
		sheet string
		want  []string
	}{
		"weeks, blank column between": {"Chick,wk 2,wk 4,,Chick,wk 2,wk 4\nred 1,145,460,,green 1,146,466\nred 2,140,440,,green 2,141,444",
			[]string{"wide 2: bird @wk 2 @wk 4", "wide 2: bird @wk 2 @wk 4"}},
		"weeks, no column between": {"Chick,wk 2,wk 4,Chick,wk 2,wk 4\nred 1,145,460,green 1,146,466\nred 2,140,440,green 2,141,444",
			[]string{"wide 2: bird @wk 2 @wk 4", "wide 2: bird @wk 2 @wk 4"}},
		"three, ages": {"Chick,4wks,8wks,,Chick,4wks,8wks,,Chick,4wks,8wks\nA1,290,630,,B1,295,633,,C1,300,640\nA2,280,620,,B2,285,622,,C2,301,641",
			[]string{"wide 2: bird @4wks @8wks", "wide 2: bird @4wks @8wks", "wide 2: bird @4wks @8wks"}},
		"dates under titles, no heading over the names": {"Hens,,,,Cocks,,\n,13/4/25,20/4/25,,,13/4/25,20/4/25\nBess,850,860,,Bert,1200,1210\nDot,820,835,,Don,1180,1193",
			[]string{"wide 2: bird @13/4/25 @20/4/25", "wide 2: bird @13/4/25 @20/4/25"}},
		"two birds of the same weights are no total": {"Bird,13/4/25,20/4/25,27/4/25\nBess,850,860,870\nDot,840,845,850\nEve,840,845,850", []string{"wide 3: bird @13/4/25 @20/4/25 @27/4/25"}},
		"names that begin as totals do":              {"Name,13/4/25,20/4/25\nTotal Eclipse,850,860\nMax,1400,1410\nAverage Joe,1300,1320\nTotal,3550,3590", []string{"wide 3: name @13/4/25 @20/4/25"}},
		"a formula for a name":                       {"Ring,Name,Sex\nR1,@SUM(1+1),hen\nR2,Total,hen\nR3,Bess,hen", []string{"long 3: ring name sex"}},
		"days within headings":                       {"Ring,Wt (kg) 1/10,Wt (kg) 1/11\nR1,1.9,2.2\nR2,1.6,1.8", []string{"wide 2: ring weight@1/10 weight@1/11"}},
	} {
		t.Run(name, func(t *testing.T) {
			var got []string
			for _, table := range Read(grid(strings.Split(c.sheet, "\n")...), EitherWay).Tables {
				got = append(got, strings.TrimSpace(sketch(table)))
			}
			if strings.Join(got, "\n") != strings.Join(c.want, "\n") {
				t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(c.want, "\n"))
			}
		})
	}
}
