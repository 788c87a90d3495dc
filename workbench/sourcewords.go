package workbench

// Words are the source as an archer says it: "draw length".
func (s Source) Words() string { return sourceWords[s] }
