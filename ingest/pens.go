package ingest

import (
	"strings"

	"keelmark/ingest/parse"
	"keelmark/ingest/reading"
	"keelmark/ingest/record"
)

// pens gives every pen of a flock one spelling, so that "pen A" beside a treatment is the "A" of the register.
// The register's spelling wins, then the first in reading order. "Run 3" and "house 3" stay two pens; a bare
// "3" is one of them only where there is no other.
type pens struct {
	names map[string]string            // key of the name -> its spelling without a word
	whole map[string]map[string]string // key of the name -> word before it -> spelling with it
}

// pens collects the pens of a flock.
func (s *settling) pens() (*pens, []*record.Detail) {
	p := &pens{map[string]string{}, map[string]map[string]string{}}
	for i := range s.id.All {
		p.see(s.id.All[i].Pen)
	}
	var details []*record.Detail // that name a pen, each once
	done := map[*record.Detail]bool{}
	for i := range s.flock.Looks {
		if d := s.flock.Looks[i].More; d != nil && d.Pen != "" && !done[d] {
			done[d] = true
			details = append(details, d)
			p.see(d.Pen)
		}
	}
	for i := range s.flock.Happenings {
		p.see(s.flock.Happenings[i].Event.Pen)
	}
	return p, details
}

func (p *pens) see(text string) {
	if text == "" {
		return
	}
	name, word := parse.PenName(text)
	key := parse.PenKey(name)
	if _, ok := p.names[key]; !ok {
		p.names[key] = name
	}
	if word == "" {
		return
	}
	if p.whole[key] == nil {
		p.whole[key] = map[string]string{}
	}
	if _, ok := p.whole[key][word]; !ok {
		p.whole[key][word] = text
	}
}

// of is the one spelling of a pen.
func (p *pens) of(text string) string {
	if text == "" {
		return ""
	}
	name, word := parse.PenName(text)
	key := parse.PenKey(name)
	if len(p.whole[key]) == 1 {
		for _, only := range p.whole[key] {
			return only
		}
	}
	if whole, ok := p.whole[key][word]; ok {
		return whole
	}
	return p.names[key]
}

// spellPens writes the pens of birds, looks and events in one spelling.
func (s *settling) spellPens() {
	p, details := s.pens()
	for i := range s.id.All {
		s.id.All[i].Pen = p.of(s.id.All[i].Pen)
	}
	for _, d := range details {
		d.Pen = p.of(d.Pen)
	}
	var happenings []reading.Happening
	for _, h := range s.flock.Happenings {
		parts := p.parts(h.Event.Pen)
		if h.Event.Kind != record.Treated || len(parts) == 0 {
			h.Event.Pen = p.of(h.Event.Pen)
			happenings = append(happenings, h)
			continue
		}
		for _, pen := range parts {
			one := h
			one.Event.Pen = p.of(pen)
			happenings = append(happenings, one)
		}
	}
	s.flock.Happenings = happenings
}

// parts takes "pens A and B" apart, where each is a pen of the flock; else it returns nil.
func (p *pens) parts(text string) []string {
	name, _ := parse.PenName(text)
	for _, join := range []string{" and ", " und ", " et ", " en ", " y "} {
		name = strings.ReplaceAll(name, join, "&")
	}
	var out []string
	for part := range strings.FieldsFuncSeq(name, func(r rune) bool { return strings.ContainsRune("&+/,;", r) }) {
		part = strings.TrimSpace(part)
		bare, _ := parse.PenName(part)
		if _, ok := p.names[parse.PenKey(bare)]; !ok {
			return nil
		}
		out = append(out, part)
	}
	if len(out) < 2 {
		return nil
	}
	return out
}
