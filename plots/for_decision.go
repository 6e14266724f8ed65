package plots

import "keelmark/analysis/decision"

// decisionFigures are those of the flock (the weights to expect, the calendars of looks), then for each bird its
// glyph, its forecast and its looks. Their names end in the bird's ID.
func decisionFigures(r *decision.Result) []Figure {
	if len(r.Stops) > 0 {
		return nil // a stop sign silences the rest
	}
	var out []Figure
	if rows := forecastRows(r.Forecast); len(rows) > 0 {
		out = append(out, forecastFigure(r.Forecast, rows))
	}
	out = append(out, monthFigures(r.Parasites)...)
	for _, s := range r.Sheets {
		if glyph, ok := GlyphFor(r.Forecast, s.Bird.ID); ok {
			out = append(out, glyph)
		}
		out = append(out, ForBird(r.Forecast, s.Bird.ID)...)
		out = append(out, ForBird(r.Parasites, s.Bird.ID)...)
	}
	return out
}
