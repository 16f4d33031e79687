//go:build bind

// Package bind names what gobind and the code that it makes need, so that
// go.mod keeps them; it must not be built.
package bind

import (
	_ "golang.org/x/mobile/bind"
	_ "golang.org/x/mobile/bind/java"
	_ "golang.org/x/mobile/bind/objc"
	_ "golang.org/x/mobile/bind/seq"

	_ "github.com/knurl-hvacr/knurl/engine/mobile"
)
