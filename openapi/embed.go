// Package openapi holds the published OpenAPI document. It must not know who
// serves it.
package openapi

import _ "embed"

//go:generate go run ./gen

// JSON is the document as JSON.
//
//go:embed openapi.json
var JSON []byte

// YAML is the same document as YAML.
//
//go:embed openapi.yaml
var YAML []byte
