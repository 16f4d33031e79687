// Package patience says how the tests of the service wait: for what has to
// happen, however busy the machine is, and by the clock only where nothing runs
// beside them. It must not know what is waited for.
package patience

import (
	"os"
	"testing"
	"time"
)

// Long is the time after which what has not happened will not happen: a test
// fails then, and no test passes by reaching it.
const Long = time.Minute

// For waits until something has happened.
func For(t testing.TB, what string, happened func() bool) {
	t.Helper()
	for deadline := time.Now().Add(Long); !happened(); time.Sleep(time.Millisecond) {
		if time.Now().After(deadline) {
			t.Fatalf("in vain for %v: %s", Long, what)
		}
	}
}

// ByTheClock says whether bounds in wall time are judged: with KNURL_LOAD=1,
// when nothing runs beside the tests.
func ByTheClock() bool { return os.Getenv("KNURL_LOAD") != "" }

// Within judges a bound in wall time where the clock counts.
func Within(t testing.TB, took, most time.Duration, what string) {
	t.Helper()
	if ByTheClock() && took > most {
		t.Errorf("%s: took %v, at most %v may pass", what, took, most)
	}
}
