package telemetry

import (
	"crypto/rand"
	"encoding/hex"
	"strings"
)

// Trace is where a request stands in a trace (W3C Trace Context): the trace
// that it is part of, and the span that its handling here is.
type Trace struct{ ID, Span string }

// Follow goes on with the trace of a traceparent header, or begins one where
// there is none or a broken one.
func Follow(traceparent string) Trace {
	var fresh [24]byte
	_, _ = rand.Read(fresh[:]) // never fails
	t := Trace{ID: hex.EncodeToString(fresh[:16]), Span: hex.EncodeToString(fresh[16:])}
	if id, ok := traceID(traceparent); ok {
		t.ID = id
	}
	return t
}

// traceID takes the trace out of version-trace-parent-flags; versions to come
// may add to the end.
func traceID(header string) (string, bool) {
	const whole = len("00-0123456789abcdef0123456789abcdef-0123456789abcdef-01")
	if len(header) < whole || header[2] != '-' || header[35] != '-' || header[52] != '-' {
		return "", false
	}
	version, id, parent, flags := header[:2], header[3:35], header[36:52], header[53:55]
	switch {
	case !hexadecimal(version + id + parent + flags), version == "ff":
		return "", false
	case version == "00" && len(header) != whole, len(header) > whole && header[whole] != '-':
		return "", false
	case strings.Trim(id, "0") == "", strings.Trim(parent, "0") == "":
		return "", false
	}
	return id, true
}

func hexadecimal(s string) bool { return strings.Trim(s, "0123456789abcdef") == "" }
