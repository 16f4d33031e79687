// Package refdata holds the published data that the engine reads: equations of
// state, mixing parameters, compositions, refrigerant facts, tables, rules and
// cautions, each value with its source and status, and the texts of the wire. It must not know any physics:
// nothing here evaluates, interpolates or converts a figure.
package refdata

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path"
	"sync"
)

// The statuses a value can have. [FromMemory] and [PartFromMemory] have to stay
// visible in every answer that rests on such a value.
const (
	// Seen marks a value read in the named source itself.
	Seen = "seen"
	// SeenSecondary marks a value read only as quoted by another text.
	SeenSecondary = "seen second-hand"
	// SeenWeak marks a value read in a source that carries little weight alone.
	SeenWeak = "seen, weak source"
	// PartSeen marks a value of which the source confirms only a part.
	PartSeen = "part seen"
	// Computed marks a value worked out from other published values.
	Computed = "computed"
	// Definition marks what holds by definition or elementary physics.
	Definition = "definition"
	// PartFromMemory marks a value that rests on an unchecked one; Detail says on which.
	PartFromMemory = "partly from memory, unverified"
	// FromMemory marks a value that nobody has checked against a source.
	FromMemory = "from memory, unverified"
)

//go:embed sources.bib fluids pairs departures blends facts tables rules cautions constants texts
var embedded embed.FS

// decode reads exactly one JSON value that has no member unknown to v.
func decode(data []byte, v any) error {
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	if err := d.Decode(v); err != nil {
		return err
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return errors.New("more than one JSON value")
	}
	return nil
}

// mustRead decodes one embedded file. Embedded data is part of the program, so
// a fault in it is a fault of the build and panics.
func mustRead[T any](name string) T {
	var v T
	data, err := embedded.ReadFile(name)
	if err == nil {
		err = decode(data, &v)
	}
	if err != nil {
		panic(fmt.Sprintf("refdata: %s: %v", name, err))
	}
	return v
}

// mustReadAll decodes all files of one embedded folder, ordered by name.
func mustReadAll[T any](folder string) []T {
	entries, err := embedded.ReadDir(folder)
	if err != nil {
		panic(fmt.Sprintf("refdata: %s: %v", folder, err))
	}
	all := make([]T, 0, len(entries))
	for _, e := range entries {
		all = append(all, mustRead[T](path.Join(folder, e.Name())))
	}
	return all
}

// Revision returns a short hexadecimal hash over the names and contents of all
// embedded files. It changes whenever any datum does.
func Revision() string { return revision() }

var revision = sync.OnceValue(func() string {
	h := sha256.New()
	err := fs.WalkDir(embedded, ".", func(name string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		data, err := embedded.ReadFile(name)
		fmt.Fprintf(h, "%s\x00%d\x00", name, len(data))
		h.Write(data)
		return err
	})
	if err != nil {
		panic(fmt.Sprintf("refdata: %v", err))
	}
	return hex.EncodeToString(h.Sum(nil)[:6])
})
