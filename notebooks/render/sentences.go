package render

// Sentences are the claims in a list of blocks and in the blocks within them, each once, in order. A claim that stands
// in two places counts where it stands first.
func (bs Blocks) Sentences() []Claim {
	var out []Claim
	seen := map[string]bool{}
	var walk func(Blocks)
	walk = func(list Blocks) {
		for _, b := range list {
			switch b := b.(type) {
			case Claims:
				for _, c := range b.Claims {
					if !seen[c.ID] {
						seen[c.ID] = true
						out = append(out, c)
					}
				}
			case Group:
				walk(b.Blocks)
			case Columns:
				for _, column := range b.Columns {
					walk(column)
				}
			}
		}
	}
	walk(bs)
	return out
}
