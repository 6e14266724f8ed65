package settings

import _ "embed"

//go:embed flock.toml
var template string

// Template is a flock.toml to begin with: every setting is there, explained and switched off by a #.
func Template() []byte { return []byte(template) }
