package render

import "github.com/alecthomas/chroma/v2"

// starlark tells the words of the cell language apart. The library's own collection of lexers is not used: to
// read its two hundred languages takes a third of the time in which a kernel has to start.
//
// Source: the Starlark language specification, section "Lexical elements".
func starlark() (chroma.Lexer, error) {
	return chroma.NewLexer(&chroma.Config{Name: "Starlark"}, func() chroma.Rules {
		return chroma.Rules{"root": {
			{Pattern: `[ \t\n]+`, Type: chroma.TextWhitespace},
			{Pattern: `#[^\n]*`, Type: chroma.CommentSingle},
			{Pattern: `(?s)[rb]{0,2}"""(?:\\.|.)*?"""|(?s)[rb]{0,2}'''(?:\\.|.)*?'''`, Type: chroma.LiteralStringDouble},
			{Pattern: `[rb]{0,2}"(?:\\.|[^"\\\n])*"?`, Type: chroma.LiteralStringDouble},
			{Pattern: `[rb]{0,2}'(?:\\.|[^'\\\n])*'?`, Type: chroma.LiteralStringSingle},
			{Pattern: `(?:and|in|not|or)\b`, Type: chroma.OperatorWord},
			{Pattern: `(?:break|continue|def|elif|else|for|if|lambda|pass|return|while)\b`, Type: chroma.Keyword},
			{Pattern: `(?:None|True|False)\b`, Type: chroma.KeywordConstant},
			{Pattern: `\d+\.\d*(?:[eE][+-]?\d+)?|\.\d+(?:[eE][+-]?\d+)?|\d+[eE][+-]?\d+`, Type: chroma.LiteralNumberFloat},
			{Pattern: `0[xX][0-9a-fA-F]+|0[oO][0-7]+|\d+`, Type: chroma.LiteralNumberInteger},
			{Pattern: `[\pL_][\pL\pN_]*`, Type: chroma.Name},
			{Pattern: `[-+*/%&|^~<>=!]+`, Type: chroma.Operator},
			{Pattern: `[(){}\[\],.:;]`, Type: chroma.Punctuation},
			{Pattern: `(?s).`, Type: chroma.Text},
		}}
	})
}

// isStarlark reports whether source is in the cell language, or in the one that it reads as.
func isStarlark(language string) bool { return language == "starlark" || language == "python" }
