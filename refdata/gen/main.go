// Command gen distils engine/plant into refdata/signatures: it draws systems
// from the priors, solves each under every explanation that a diagnosis weighs,
// and fits engine/signature to what their instruments would show. It takes some
// minutes; the same systems and seed give the same file on the same processor. It
// must not know what anybody read, nor any system that answers are judged by.
package main

import (
	"flag"
	"fmt"
	"os"
	"runtime"
)

func main() {
	systems := flag.Int("systems", ensemble, "systems drawn for each metering device")
	out := flag.String("out", "refdata/signatures/signatures.bin", "file to write")
	flag.Parse()
	if err := run(*systems, *out); err != nil {
		fmt.Fprintln(os.Stderr, "gen:", err)
		os.Exit(1)
	}
}

func run(systems int, out string) error {
	m, err := Distil(systems, seed, runtime.GOMAXPROCS(0))
	if err != nil {
		return err
	}
	b, err := m.MarshalBinary()
	if err != nil {
		return err
	}
	return os.WriteFile(out, b, 0o644)
}
