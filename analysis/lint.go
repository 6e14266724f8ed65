package analysis

import (
	"fmt"
	"math"
	"regexp"
	"strings"
)

// Wording of what a keeper reads. These rules are the house's own; tests hold every claim, caution and page to them.

// verdicts are words that decide for the keeper, in whatever form.
var verdicts = regexp.MustCompile(`(?i)\b(cull(s|ed|ing)?|keep it|keep this|keep the bird|keeper bird|healthy|unhealthy|cured?|guarantee[sd]?|guaranteed|disqualif\w+|diseased|inferior|superior|safe to eat|star bird|best bird|worst bird|winner|reject (it|this|the bird)|get rid)\b`)

// slips are marks of a sentence that was put together badly.
var slips = []struct {
	what    string
	pattern *regexp.Regexp
}{
	{"a plural of one", regexp.MustCompile(`(^|[^-.,:\w])1 (birds|cells|looks|days|weighings|records|weeks|treatments|findings|questions|lines|dates|pairs|weights|files|times|years|months|rounds|deaths|eggs|males|females|settings|scores|points|pens)\b`)},
	{"two spaces", regexp.MustCompile(`\S  \S`)},
	{"a space before a full stop or comma", regexp.MustCompile(`\s[.,;](\s|$)`)},
	{"a doubled mark", regexp.MustCompile(`\?\.|\.\.($|[^.])|,,|;;|:\.|,\.|;\.`)},
	{"a number that is none", regexp.MustCompile(`\bNaN\b|[+-]Inf\b|%!|<nil>`)},
	{"an empty bracket", regexp.MustCompile(`\(\s*\)|\[\s*\]`)},
	{"a word twice", regexp.MustCompile(`(?i)\b(by by|of of|the the|in in|to to|is is|is and|and and|or or|a a)\b`)},
}

// LintText names what is wrong with a text that is printed: verdict words, and marks of a sentence put together badly.
// What stands between quotation marks is the keeper's own and is left alone.
func LintText(text string) []string {
	own := quotations.ReplaceAllString(text, `"x"`)
	var out []string
	if word := verdicts.FindString(own); word != "" {
		out = append(out, fmt.Sprintf("the verdict word %q", word))
	}
	for _, s := range slips {
		if at := s.pattern.FindString(own); at != "" {
			out = append(out, fmt.Sprintf("%s: %q", s.what, at))
		}
	}
	return out
}

var quotations = regexp.MustCompile(`"[^"]*"|“[^”]*”`)

// Lint names what is wrong with a claim: its wording, a sentence without an end, a number without its range or its
// level, and a statement, unless it is a refusal, that does not say on how much it rests.
func (c Claim) Lint() []string {
	out := LintText(c.Text)
	if !strings.HasSuffix(c.Text, ".") && !strings.HasSuffix(c.Text, "?") && !strings.HasSuffix(c.Text, `"`) {
		out = append(out, "a sentence without an end")
	}
	for _, caveat := range c.Caveats {
		out = append(out, LintText(caveat)...)
	}
	if c.Refusal != nil {
		out = append(out, LintText(c.Refusal.Needs+"; "+c.Refusal.Next)...)
		if c.Refusal.Needs == "" || c.Refusal.Next == "" {
			out = append(out, "a refusal without what it needs or the next look")
		}
	}
	if e := c.Estimate; e != nil {
		switch {
		case math.IsNaN(e.Low) && math.IsNaN(e.High) || e.Low > e.High:
			out = append(out, "a number without its range")
		case e.Level <= 0 || e.Level >= 1:
			out = append(out, "a range without its chance")
		case !ranged.MatchString(c.Text):
			out = append(out, "a number whose range the sentence does not name")
		}
	}
	if c.Refusal == nil && c.N == (Counts{}) {
		out = append(out, "a statement that does not say on how much it rests")
	}
	if c.ID == "" || c.Topic == "" || c.Stands == "" {
		out = append(out, "a claim without its name, topic or side")
	}
	return out
}

// ranged finds a range in a sentence: "600 to 680 g", "at most 5 %".
var ranged = regexp.MustCompile(`\d.* to [^a-z]*\d|at (most|least)|less than|more than|fewer than|±`)
