package cell

import (
	"context"
	"strings"
	"testing"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

// ruled applies rules to two claims of an invented hen, one of another, and a stop sign.
func ruled(t *testing.T, source string) ([]analysis.Claim, map[string]string, error) {
	t.Helper()
	d := flock()
	id, other := d.Birds[0].ID, d.Birds[1].ID
	at := func(row int32) []record.Ref { return []record.Ref{{File: "w.csv", Row: row, Col: 2}} }
	claims := []analysis.Claim{
		{ID: "w/1", Subject: analysis.Subject{Bird: id}, Topic: "weight", Stands: analysis.Open, Text: "Weighed.", RestsOn: at(7)},
		{ID: "l/1", Subject: analysis.Subject{Bird: id}, Topic: "parasites", Stands: analysis.Against, Text: "Lice.", RestsOn: at(8)},
		{ID: "s/1", Subject: analysis.Subject{Bird: id}, Topic: "stop signs", Stands: analysis.Stop, Text: "Stop.", RestsOn: at(9)},
		{ID: "w/2", Subject: analysis.Subject{Bird: other}, Topic: "weight", Stands: analysis.For, Text: "Weighed.", RestsOn: at(10)},
	}
	return Rules{"rules.star", source}.Apply(context.Background(), analysis.Context{Today: 20240}, d, claims)
}

func TestRulesAddAndMute(t *testing.T) {
	added, muted, err := ruled(t, `
def rule(bird, claims):
    for c in claims:
        if c.topic == "weight" and c.stands == "open":
            mute(c, "my shows have no scale")
        if c.topic == "parasites":
            say("against", "I treat before I take a bird anywhere.", because = c)
    if len(claims) == 1:
        say("open", "Seldom looked at.")
`)
	if err != nil {
		t.Fatal(err)
	}
	if len(muted) != 1 || muted["w/1"] != "my shows have no scale" {
		t.Errorf("muted %v", muted)
	}
	if len(added) != 2 || added[0].RestsOn[0].Row != 8 || added[0].Stands != analysis.Against || !strings.Contains(added[0].Text, "Your own rule") {
		t.Fatalf("added %+v", added)
	}
	if !strings.Contains(added[0].Method, "rules.star, line 7") {
		t.Errorf("method %q", added[0].Method)
	}
	for _, c := range added {
		for _, wrong := range c.Lint() {
			t.Errorf("%s: %s", c.Text, wrong)
		}
	}
}

func TestHostileRulesAreRefusedWithTheirPlace(t *testing.T) {
	within := func(body string) string { return "def rule(bird, claims):\n    " + body + "\n" }
	for name, c := range map[string]struct{ source, says string }{
		"a verdict":               {within(`say("against", "Cull this one.")`), "rules.star, line 2: say: the text"},
		"a verdict in quotes":     {within(`say("for", "She is \"healthy\".")`), "verdict word"},
		"a verdict as reason":     {within(`mute(claims[0], "it is cured")`), "verdict word"},
		"hidden in the middle":    {within(`say("against", "Cu\u200bll it.")`), "do not print"},
		"another script's letter": {within(`say("against", "С" + "ull it.")`), "two scripts"},
		"marked letters":          {within(`say("against", "C*u*ll it.")`), "verdict word"},
		"a stop sign muted":       {within(`[mute(c, "no") for c in claims if c.stands == "stop"]`), "cannot be muted"},
		"a stop sign made":        {within(`say("stop", "Go on.")`), `use "for", "against" or "open"`},
		"two lines":               {within(`say("open", "One.\nTwo.")`), "one line"},
		"too long":                {within(`say("open", "x" * 1000 + ".")`), "at most"},
		"too many":                {within(`[say("open", "One more %d." % i) for i in range(50)]`), "more than 10 lines"},
		"no end":                  {within("while True:\n        pass"), "steps"},
		"no end at the top":       {"while True:\n    pass", "steps"},
		"recursion":               {"def f(n):\n    return f(n + 1)\ndef rule(bird, claims):\n    f(0)", ""},
		"memory":                  {within(`x = ["a"] * 8000000`) + "    y = [x + x for i in range(1000)]\n", ""},
		"a file":                  {`load("flock.toml", "x")`, ""},
		"open":                    {within(`open("flock.toml")`), "open"},
		"no rule":                 {"x = 1", "def rule(bird, claims):"},
		"rule is no function":     {"rule = 3", "def rule(bird, claims):"},
		"spelling":                {"def rule(bird claims):\n    pass", "rules.star"},
		"wrong arguments":         {"def rule(bird):\n    pass", "rule"},
		"a claim that is none":    {within(`mute("w/1", "no")`), "takes a claim"},
		"nothing to rest on":      {within(`say("open", "So.", because = 3)`), "list of claims"},
		"outside of rule":         {"say(\"open\", \"So.\")\n" + within("pass"), "within rule"},
		"an empty text":           {within(`say("open", " ")`), "empty"},
		"too much text":           {strings.Repeat("# long\n", 20000), "at most"},
		"changing the engine":     {"def rule(bird, claims):\n    claims.append(1)\n    claims[0].text = \"x\"", "rules.star, line 3"},
	} {
		added, muted, err := ruled(t, c.source)
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v, want %q", name, err, c.says)
		}
		if len(added)+len(muted) > 0 {
			t.Errorf("%s: something was applied all the same", name)
		}
	}
}

func FuzzRuleWording(f *testing.F) {
	for _, s := range []string{"Cull it.", "I like her.", "\x00", "“healthy”.", "ĸ.", "\u202ecure", "\"  0."} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if wording(text, true) == nil && len(analysis.LintText(text)) > 0 {
			t.Errorf("%q passes", text)
		}
	})
}
