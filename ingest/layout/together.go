package layout

import "keelmark/ingest/parse"

// together settles headings that only the other columns of their table explain: beside treatments "Given to" names
// the birds, not where one went; beside placings the judge and the entries belong to the showing.
func (s *scan) together(t *Table, h header) {
	treats, placings, who := t.Column(parse.FieldTreatment) != nil, t.Column(parse.FieldResult) != nil, t.Column(parse.FieldBird, parse.FieldRing, parse.FieldName) != nil
	for i := range t.Columns {
		c := &t.Columns[i]
		if c.When != nil || c.Who != nil {
			continue
		}
		if m := could(*c, parse.FieldShowNote); m != nil && placings && c.Means.Field != parse.FieldResult {
			c.Means, c.Could = *m, nil
		}
		dates := parse.Meaning{Field: parse.FieldDate}
		if c.Means.Field == parse.FieldOut && treats && !who && parse.Recipient(c.Text) && t.Column(parse.FieldDate) != nil && s.share(h, c.Field, dates) < 0.5 {
			c.Means, c.Could = parse.Meaning{Field: parse.FieldBird, Confidence: 0.9}, nil
		}
	}
}
