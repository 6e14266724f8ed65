package cell

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"go.starlark.net/starlark"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

// Rules are the keeper's own rules of thumb: a small program that sees the claims of one bird at a time and may add a
// line to its sheet, marked as the keeper's own, or mute a line that does not matter to this keeper. It is hermetic as a
// cell is, and has limits. It cannot mute a stop sign, and it cannot decide: a line with a word that does is refused.
type Rules struct {
	Name   string // of the file, for messages
	Source string
}

// Limits of a file of rules: on its length, on what it may do for one bird, and on what it may add there.
const (
	LargestRules = 64 << 10
	ruleSteps    = 2_000_000
	ruleTime     = 5 * time.Second
	mostRuled    = 10  // lines added to one bird
	longestRule  = 240 // letters of a line
)

// RulesHelp tells how to write rules.
const RulesHelp = `A file rules.star in the flock's folder (NAME.rules.star beside a single file) holds your own rules of thumb. It is
written in the language of the cells and defines one function, which is called for each bird:

    def rule(bird, claims):
        for c in claims:
            if c.topic == "weight" and c.stands == "open":
                mute(c, "my shows have no scale")
        if bird.sex == "F" and bird.hatched and today - bird.hatched > 3 * 365:
            say("against", "I take no hen to a show after her third year.")

say(side, text, because = claims) adds a line to the bird's sheet. The side is "for", "against" or "open"; because names
the claims whose cells the line rests on, without it the bird's own entry. mute(claim, why) moves a line to the list of
what your rules muted, which every report shows. Stop signs and cautions cannot be muted, and a line that decides (a word
such as a verdict on a bird) is refused: the decision stays yours, on paper.
`

// Apply runs the rules for each bird that the claims are about. It returns the lines that they add and, by the ID of
// the claim, why lines are muted. A mistake names the file, the line and the cure, and nothing is applied.
func (r Rules) Apply(ctx context.Context, c analysis.Context, d *record.Dataset, claims []analysis.Claim) (added []analysis.Claim, muted map[string]string, err error) {
	if len(r.Source) > LargestRules {
		return nil, nil, fmt.Errorf("%s holds %d bytes; rules have at most %d", r.Name, len(r.Source), LargestRules)
	}
	e, err := New(Options{Flock: d, Context: c, Limits: Limits{Steps: ruleSteps, Time: ruleTime, Memory: 256 << 20, Output: 1 << 16}})
	if err != nil {
		return nil, nil, err
	}
	b := &ruling{file: r.Name, muted: map[string]string{}}
	e.api["say"], e.api["mute"] = starlark.NewBuiltin("say", b.say), starlark.NewBuiltin("mute", b.mute)
	if f := e.Run(ctx, r.Name, r.Source, nowhere{}); f != nil {
		return nil, nil, f
	}
	if _, ok := e.names.user["rule"].(starlark.Callable); !ok {
		return nil, nil, fmt.Errorf("%s defines no function rule(bird, claims); begin it with def rule(bird, claims): and see keelmark help rules", r.Name)
	}
	flock, _ := e.api["flock"].(*flockValue)
	for _, id := range birdsOf(claims) {
		own, ok := d.Bird(id)
		if !ok {
			continue
		}
		b.bird, b.said = own, 0
		var list []starlark.Value
		for _, told := range claims {
			if told.Subject.Bird == id {
				list = append(list, &claim{told, flock})
			}
		}
		e.names.user["bird_"], e.names.user["claims_"] = &bird{Bird: own, flock: flock}, starlark.NewList(list)
		if f := e.Run(ctx, "the rules for "+own.Label(), "rule(bird_, claims_);", nowhere{}); f != nil {
			return nil, nil, f
		}
	}
	return b.added, b.muted, nil
}

// birdsOf lists the birds of claims, each once, in order.
func birdsOf(claims []analysis.Claim) []string {
	var out []string
	seen := map[string]bool{}
	for _, c := range claims {
		if id := c.Subject.Bird; id != "" && !seen[id] {
			seen[id] = true
			out = append(out, id)
		}
	}
	return out
}

// ruling gathers what rules do, one bird after another.
type ruling struct {
	file  string
	bird  record.Bird
	said  int
	added []analysis.Claim
	muted map[string]string
}

var errNoBird = errors.New("say and mute work within rule(bird, claims), where there is a bird")

func (b *ruling) say(t *starlark.Thread, _ *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	var side, text string
	var because starlark.Value
	if err := starlark.UnpackArgs("say", args, kwargs, "side", &side, "text", &text, "because?", &because); err != nil {
		return nil, err
	}
	if b.bird.ID == "" {
		return nil, errNoBird
	}
	stands := analysis.Stands(side)
	if !slices.Contains([]analysis.Stands{analysis.For, analysis.Against, analysis.Open}, stands) {
		return nil, fmt.Errorf("say: the side is %q; use \"for\", \"against\" or \"open\"", shorten(side, 20))
	}
	if err := wording(text, true); err != nil {
		return nil, fmt.Errorf("say: %w", err)
	}
	if b.said++; b.said > mostRuled {
		return nil, fmt.Errorf("say: more than %d lines for %s; a sheet with more would not be read", mostRuled, b.bird.Label())
	}
	at := slices.Clone(b.bird.At)
	if because != nil && because != starlark.None {
		var err error
		if at, err = b.cellsOf(because); err != nil {
			return nil, err
		}
	}
	slices.SortFunc(at, record.Ref.Compare)
	at = slices.Compact(at)
	line := int32(0)
	if t.CallStackDepth() > 1 {
		line = t.CallFrame(1).Pos.Line
	}
	b.added = append(b.added, analysis.Claim{ID: fmt.Sprintf("house.rule/%s/%d", b.bird.ID, b.said), Subject: analysis.Subject{Bird: b.bird.ID},
		Topic: "your own rule", Stands: stands, Text: "Your own rule: " + text, N: analysis.Counts{Records: len(at), Birds: 1}, RestsOn: at,
		Method: fmt.Sprintf("your own rule, %s, line %d; Keelmark has not checked it", b.file, line), Source: "the keeper's own"})
	return starlark.None, nil
}

// cellsOf are the cells of one claim or of several, all about the bird.
func (b *ruling) cellsOf(v starlark.Value) ([]record.Ref, error) {
	if c, ok := v.(*claim); ok {
		return slices.Clone(c.RestsOn), nil
	}
	items, ok := v.(starlark.Iterable)
	if !ok {
		return nil, fmt.Errorf("say: because takes a claim or a list of claims, not a %s", v.Type())
	}
	var at []record.Ref
	for item := range starlark.Elements(items) {
		c, ok := item.(*claim)
		if !ok {
			return nil, fmt.Errorf("say: because takes claims, not a %s", item.Type())
		}
		at = append(at, c.RestsOn...)
	}
	return at, nil
}

func (b *ruling) mute(_ *starlark.Thread, _ *starlark.Builtin, args starlark.Tuple, kwargs []starlark.Tuple) (starlark.Value, error) {
	var v starlark.Value
	var why string
	if err := starlark.UnpackArgs("mute", args, kwargs, "claim", &v, "why", &why); err != nil {
		return nil, err
	}
	if b.bird.ID == "" {
		return nil, errNoBird
	}
	c, ok := v.(*claim)
	if !ok {
		return nil, fmt.Errorf("mute takes a claim, not a %s", v.Type())
	}
	if c.Stands == analysis.Stop {
		return nil, errors.New("mute: a stop sign cannot be muted; ask a vet or the authority first")
	}
	if err := wording(why, false); err != nil {
		return nil, fmt.Errorf("mute: %w", err)
	}
	b.muted[c.ID] = why
	return starlark.None, nil
}

// wording refuses a text that decides, or that a sheet cannot show. Quotation marks excuse no word here.
func wording(text string, sentence bool) error {
	switch {
	case strings.TrimSpace(text) == "":
		return errors.New("the text is empty; write what you go by")
	case !utf8.ValidString(text) || strings.ContainsFunc(text, func(r rune) bool { return !unicode.IsPrint(r) }):
		return errors.New("the text holds signs that do not print; write it in one line of plain letters")
	case utf8.RuneCountInString(text) > longestRule:
		return fmt.Errorf("the text has %d letters; use at most %d", utf8.RuneCountInString(text), longestRule)
	case sentence && !strings.HasSuffix(text, "."):
		return fmt.Errorf("the text %q does not end; write a full stop", shorten(text, 60))
	}
	for _, word := range strings.FieldsFunc(text, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsMark(r) }) {
		if latin, other := scripts(word); latin && other {
			return fmt.Errorf("the word %q mixes letters of two scripts; write it in one", shorten(word, 30))
		}
	}
	bare := strings.NewReplacer(`"`, "", "“", "", "”", "", "*", "", "_", "", "`", "").Replace(text)
	wrong := analysis.LintText(bare)
	if len(wrong) == 0 {
		wrong = analysis.LintText(text) // a mark may hide beside a quotation mark
	}
	if len(wrong) > 0 {
		return fmt.Errorf("the text %q holds %s; write what you see or go by, and leave the decision to its line, as in \"Younger than I take to a show.\"",
			shorten(text, 60), strings.Join(wrong, ", "))
	}
	return nil
}

// scripts reports whether a word has letters of the Latin script, and of another.
func scripts(word string) (latin, other bool) {
	for _, r := range word {
		switch {
		case unicode.Is(unicode.Latin, r):
			latin = true
		case unicode.IsLetter(r):
			other = true
		}
	}
	return latin, other
}

// nowhere is a Sink for programs that have nothing to show.
type nowhere struct{}

func (nowhere) Stream(string, string) {}
func (nowhere) Display(Bundle)        {}
func (nowhere) Result(Bundle)         {}
func (nowhere) Error(*Failure)        {}
func (nowhere) Clear(bool)            {}
