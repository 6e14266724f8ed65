package analysis

// Caution is what must stand beside a topic that can hurt someone.
type Caution struct {
	Topic  string `json:"topic"`
	Text   string `json:"text"`
	Source string `json:"source"`
}

// Cautioned is a result that comes with cautions. A report prints them wherever it prints the result.
type Cautioned interface {
	Cautions() []Caution
}
