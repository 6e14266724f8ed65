package ingest

func messyTabs() []messy {
	return []messy{
		{habit: "a tab a year, dates of day and month only", file: "weights.xlsx", tabs: []tab{
			{name: "2023", rows: "Ring|Date|Wt g\nR1|13/4|#850\nR2|4/5|#900\nR1|11/5|#862"},
			{name: "2024", rows: "Ring|Date|Wt g\nR1|2/4|#990\nR2|14/5|#1010"}},
			want: []string{"2023!C2 R1 2023-04-13 weight 850", "2023!C3 R2 2023-05-04 weight 900", "2023!C4 R1 2023-05-11 weight 862", "2024!C2 R1 2024-04-02 weight 990", "2024!C3 R2 2024-05-14 weight 1010"}},
		{habit: "a hidden tab of old records", file: "flock.xlsx", tabs: []tab{
			{name: "2025", rows: "Date|Ring|Weight (g)\n@2025-04-13|R1|#850\n@2025-04-13|R2|#900"},
			{name: "2019 OLD", hidden: true, rows: "Date|Ring|Weight (g)\n@2019-04-13|R9|#810"}},
			want: []string{"2019 OLD!C2 R9 2019-04-13 weight 810 ?", "2025!C2 R1 2025-04-13 weight 850", "2025!C3 R2 2025-04-13 weight 900"},
			told: []string{"2019 OLD!C2 hidden_sheet"}},
		{habit: "struck through and hidden", file: "struck.xlsx", tabs: []tab{
			{name: "Weights", hide: []int{4}, rows: "Date|Ring|Weight (g)\n@2025-04-13|R1|#850\n@2025-04-13|~R2|#900\n@2025-04-13|R3|#910\n@2025-04-20|R1|#861"}},
			want: []string{"C2 R1 2025-04-13 weight 850", "C3 R2 2025-04-13 weight 900 ?", "C4 R3 2025-04-13 weight 910 ?", "C5 R1 2025-04-20 weight 861"},
			told: []string{"B3 struck_out", "C4 hidden_row"}},
		{habit: "merged names, a row a trait", file: "traits.xlsx", tabs: []tab{
			{name: "2025", merged: []string{"A2:A4", "A5:A7"}, rows: "Bird|Measure|@2025-04-13|@2025-05-11\nBess|Weight (g)|#850|#862\n|BCS 0-3|#2|#2\n|Lice|none|few\nClary|Weight (g)|#900|#915\n|BCS 0-3|#3|#2\n|Lice|none|none"}},
			want: []string{"C2 Bess 2025-04-13 weight 850", "D2 Bess 2025-05-11 weight 862", "C3 Bess 2025-04-13 condition 2 of 0-3", "D3 Bess 2025-05-11 condition 2 of 0-3", "C4 Bess 2025-04-13 lice none", "D4 Bess 2025-05-11 lice few",
				"C5 Clary 2025-04-13 weight 900", "D5 Clary 2025-05-11 weight 915", "C6 Clary 2025-04-13 condition 3 of 0-3", "D6 Clary 2025-05-11 condition 2 of 0-3", "C7 Clary 2025-04-13 lice none", "D7 Clary 2025-05-11 lice none"}},
		{habit: "two tables side by side, weights and treatments", file: "side.xlsx", tabs: []tab{
			{name: "2025", rows: "Weighings|||||Treatments\nDate|Ring|Wt g|||Date|Pen|Product|Against\n@2025-04-13|R1|#850|||@2025-04-14|Pen 1|permethrin dust|lice\n@2025-04-13|R2|#900|||@2025-04-24|all|permethrin dust|lice\n@2025-04-20|R1|#861"}},
			want: []string{"C3 R1 2025-04-13 weight 850", "H3 pen 1 2025-04-14 treated permethrin dust", "C4 R2 2025-04-13 weight 900", "H4 flock 2025-04-24 treated permethrin dust", "C5 R1 2025-04-20 weight 861"}},
		{habit: "a tab a pen", file: "by pen.xlsx", tabs: []tab{
			{name: "Pen 1", rows: "Ring|@2025-04-13|@2025-04-20\nR1|850g|861g\nR2|900g|912g\nAverage|875|886.5"},
			{name: "Pen 2", rows: "Ring|@2025-04-13|@2025-04-20\nR3|610g|622g\nAverage|610|622"}},
			want: []string{"Pen 1!B2 R1 2025-04-13 weight 850", "Pen 1!C2 R1 2025-04-20 weight 861", "Pen 1!B3 R2 2025-04-13 weight 900", "Pen 1!C3 R2 2025-04-20 weight 912", "Pen 2!B2 R3 2025-04-13 weight 610", "Pen 2!C2 R3 2025-04-20 weight 622"}},
		{habit: "formulas: tare taken off, sums, and one without its value", file: "tare.xlsx", tabs: []tab{
			{name: "Log", rows: "Date|Ring|Gross|Tare|Net weight g\n@2025-04-13|R1|#1250|#400|=C2-D2:850\n@2025-04-13|R2|#1300|#400|=C3-D3:900\n@2025-04-20|R1|#1261|#400|=C4-D4:\nTotal||=SUM(C2:C4):3811||=SUM(E2:E4):1750"}},
			want: []string{"E2 R1 2025-04-13 weight 850", "E3 R2 2025-04-13 weight 900"},
			told: []string{"E4 formula_no_cache"}},
		{habit: "dates that lost their format", file: "serials.xlsx", tabs: []tab{
			{name: "Log", rows: "Date|Ring|Weight g\n#45760|R1|#850\n#45760|R2|#900\n#45767|R1|#861\n#45767|R2|#912"}},
			want: []string{"C2 R1 2025-04-13 weight 850", "C3 R2 2025-04-13 weight 900", "C4 R1 2025-04-20 weight 861", "C5 R2 2025-04-20 weight 912"},
			told: []string{"A2 date_serial_unformatted"}},
		{habit: "the 1904 system", file: "mac.xlsx", y1904: true, tabs: []tab{
			{name: "Log", rows: "Date|Ring|Weight g\n@2025-04-13|R1|#850\n@2025-04-20|R1|#861"}},
			want: []string{"C2 R1 2025-04-13 weight 850", "C3 R1 2025-04-20 weight 861"}},
		{habit: "percent and yes/no cells", file: "cells.xlsx", tabs: []tab{
			{name: "Log", rows: "Date|Ring|Weight g|Lice y/n\n@2025-04-13|R1|#850|?1\n@2025-04-13|R2|%9|?0\n@2025-04-20|R1|#861|?0\n@2025-04-20|R2|?1|?0"}},
			want: []string{"C2 R1 2025-04-13 weight 850", "D2 R1 2025-04-13 lice found", "D3 R2 2025-04-13 lice not found", "C4 R1 2025-04-20 weight 861", "D4 R1 2025-04-20 lice not found", "D5 R2 2025-04-20 lice not found"},
			told: []string{"C3 percent_cell", "C5 boolean_cell"}},
		{habit: "a treatment in a comment", file: "comments.xlsx", tabs: []tab{
			{name: "Log", rows: "Date|Ring|Weight g\n@2025-04-13|R1|#850{dusted pen 2 with permethrin}\n@2025-04-20|R1|#861{wet}"}},
			want: []string{"C2 R1 2025-04-13 weight 850", "C2 pen 2 2025-04-13 treated permethrin ?", "C3 R1 2025-04-20 weight 861"},
			told: []string{"C2 treatment_in_remarks"}},
		{habit: "a ring worn by another bird the year after", file: "reuse.xlsx", tabs: []tab{
			{name: "Log", rows: "Date|Ring|Name|Sex|Weight g\n@2023-04-13|7|Bess|hen|#850\n@2023-05-11|7|Bess|hen|#861\n@2023-06-08|7|Bess|hen|#870\n@2024-06-08|7|Bert|ckl|#610\n@2024-07-06|7|Bert|ckl|#820\n@2024-08-03|7|Bert|ckl|#950"}},
			want: []string{"E2 7 2023-04-13 weight 850", "E3 7 2023-05-11 weight 861", "E4 7 2023-06-08 weight 870", "E5 7/Bert 2024-06-08 weight 610", "E6 7/Bert 2024-07-06 weight 820", "E7 7/Bert 2024-08-03 weight 950"},
			told: []string{"B5 ring_reuse"}},
		{habit: "transposed with true dates", file: "across.xlsx", tabs: []tab{
			{name: "Pen weights", rows: "Ring|R1|R2|R3\nSex|hen|hen|cock\nHatched|@2024-03-01|@2024-03-01|@2024-03-08\n@2025-04-13|#850|#900|#1100\n@2025-04-20|#861|#912|#1110\nall weights in g"}},
			want: []string{"B4 R1 2025-04-13 weight 850", "C4 R2 2025-04-13 weight 900", "D4 R3 2025-04-13 weight 1100", "B5 R1 2025-04-20 weight 861", "C5 R2 2025-04-20 weight 912", "D5 R3 2025-04-20 weight 1110"}},
		{habit: "blank spacer columns, gain and note columns between", file: "spaced.xlsx", tabs: []tab{
			{name: "2025", rows: "Hill Farm bantams||||||\n\nRing||13 Apr||11 May||Gain\n\nR1||#850||#862||=E5-C5:12\nR2||#900||#915||=E6-C6:15\n\nAverage||#875||#888.5||"}},
			want: []string{"C5 R1 2025-04-13 weight 850", "E5 R1 2025-05-11 weight 862", "C6 R2 2025-04-13 weight 900", "E6 R2 2025-05-11 weight 915"}},
		{habit: "a weight that became a date, in pounds", file: "autodate.xlsx", tabs: []tab{
			{name: "2025", rows: "Date|Bird|Weight (lb-oz)\n@2025-04-13|Bess|2-4\n@2025-04-13|Clary|@2025-01-12\n@2025-04-20|Bess|2-5\n@2025-04-20|Clary|2 lb"}},
			want: []string{"C2 Bess 2025-04-13 weight 1021", "C4 Bess 2025-04-20 weight 1049", "C5 Clary 2025-04-20 weight 907"},
			told: []string{"C3 date_in_weight_cell"}},
		{habit: "a bird a card on one sheet, three columns of cards", file: "cards.xlsx", tabs: []tab{
			{name: "Cards", rows: "Name:|Bess||Name:|Clary\nRing:|R1||Ring:|R2\nSex:|hen||Sex:|hen\nDate|Wt g||Date|Wt g\n@2025-04-13|#850||@2025-04-14|#900\n@2025-04-20|#861||@2025-04-21|#912"}},
			want: []string{"B5 R1 2025-04-13 weight 850", "E5 R2 2025-04-14 weight 900", "B6 R1 2025-04-20 weight 861", "E6 R2 2025-04-21 weight 912"}},
	}
}
