package catalog

import "testing"

func TestEveryAnalysisIsWellDeclared(t *testing.T) {
	seen := map[string]bool{}
	for _, s := range All() {
		if err := s.Validate(); err != nil {
			t.Error(err)
		}
		if seen[s.Name] {
			t.Errorf("%s is listed twice", s.Name)
		}
		seen[s.Name] = true
	}
	if len(seen) == 0 {
		t.Error("the catalogue is empty")
	}
}
