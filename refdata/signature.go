package refdata

import _ "embed" // the file below

//go:embed signatures/signatures.bin
var signatures []byte

// Signatures returns the model that refdata/gen distils from engine/plant, in
// the form of engine/signature. The caller must not write to it.
func Signatures() []byte { return signatures }
