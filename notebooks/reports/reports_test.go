package reports

import (
	"strings"
	"testing"
)

func TestEveryReportIsAWholeNotebookWithoutOutputs(t *testing.T) {
	if len(Names()) == 0 {
		t.Fatal("no report is shipped")
	}
	for _, name := range Names() {
		nb, err := Get(name)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if err := nb.Validate(); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		parameters, decides := false, false
		for _, c := range nb.Cells {
			if len(c.Outputs) > 0 || c.Count != nil {
				t.Errorf("%s: cell %s is shipped with an output", name, c.ID)
			}
			parameters = parameters || c.Tagged("parameters")
			decides = decides || strings.Contains(c.Source, "decision_line(")
		}
		if !parameters || !decides {
			t.Errorf("%s: parameters %v, a line for the decision %v", name, parameters, decides)
		}
	}
	if _, err := Get("verdict"); err == nil || !strings.Contains(err.Error(), "entry") {
		t.Errorf("an unknown report: %v", err)
	}
}
