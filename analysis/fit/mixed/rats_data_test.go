package mixed

import "strconv"

// rats are the weights [g] and the diet of the 16 rats of BodyWeight, on ratDays.
//
// Source: Hand & Crowder 1996, Practical Longitudinal Data Analysis, Table 2.4 (R package nlme, BodyWeight).
var rats = []struct {
	diet    string
	weights []float64
}{
	{"1", []float64{240, 250, 255, 260, 262, 258, 266, 266, 265, 272, 278}},
	{"1", []float64{225, 230, 230, 232, 240, 240, 243, 244, 238, 247, 245}},
	{"1", []float64{245, 250, 250, 255, 262, 265, 267, 267, 264, 268, 269}},
	{"1", []float64{260, 255, 255, 265, 265, 268, 270, 272, 274, 273, 275}},
	{"1", []float64{255, 260, 255, 270, 270, 273, 274, 273, 276, 278, 280}},
	{"1", []float64{260, 265, 270, 275, 275, 277, 278, 278, 284, 279, 281}},
	{"1", []float64{275, 275, 260, 270, 273, 274, 276, 271, 282, 281, 284}},
	{"1", []float64{245, 255, 260, 268, 270, 265, 265, 267, 273, 274, 278}},
	{"2", []float64{410, 415, 425, 428, 438, 443, 442, 446, 456, 468, 478}},
	{"2", []float64{405, 420, 430, 440, 448, 460, 458, 464, 475, 484, 496}},
	{"2", []float64{445, 445, 450, 452, 455, 455, 451, 450, 462, 466, 472}},
	{"2", []float64{555, 560, 565, 580, 590, 597, 595, 595, 612, 618, 628}},
	{"3", []float64{470, 465, 475, 485, 487, 493, 493, 504, 507, 518, 525}},
	{"3", []float64{535, 525, 530, 533, 535, 540, 525, 530, 543, 544, 559}},
	{"3", []float64{520, 525, 530, 540, 543, 546, 538, 544, 553, 555, 548}},
	{"3", []float64{510, 510, 520, 515, 530, 538, 535, 542, 550, 553, 569}},
}

var ratDays = []float64{1, 8, 15, 22, 29, 36, 43, 44, 50, 57, 64}

// ratProblem is weight ~ day * diet with a level, and with a slope where slope is true, of each rat's own.
func ratProblem(slope bool) LinearProblem {
	p := LinearProblem{
		Names:  []string{"(Intercept)", "Time", "Diet2", "Diet3", "Time:Diet2", "Time:Diet3"},
		Random: []string{"level"},
	}
	if slope {
		p.Random = []string{"level", "slope"}
	}
	for i, rat := range rats {
		var second, third float64
		switch rat.diet {
		case "2":
			second = 1
		case "3":
			third = 1
		}
		for j, day := range ratDays {
			p.Y, p.Groups = append(p.Y, rat.weights[j]), append(p.Groups, strconv.Itoa(i+1))
			p.X = append(p.X, []float64{1, day, second, third, day * second, day * third})
			p.Z = append(p.Z, []float64{1, day}[:len(p.Random)])
		}
	}
	return p
}
