package analysis

import "testing"

func TestWordsOfSentences(t *testing.T) {
	for got, want := range map[string]string{
		Counted(1, "bird"): "1 bird", Counted(0, "bird"): "0 birds", Counted(2, "look"): "2 looks", Counted(2, "score is", "scores are"): "2 scores are",
		Capital("žofie"): "Žofie", Capital(""): "", Capital("12 birds"): "12 birds", Slug("Parasites, kind not said"): "parasites-kind-not-said",
	} {
		if got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
