package intake

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// RFC 3339 section 5.6 with its own examples (5.8), and days by the Gregorian
// calendar.
func TestMomentsAndDates(t *testing.T) {
	for text, want := range map[string]struct{ moment, date bool }{
		"":                             {true, true}, // not given
		"2026-07-14":                   {true, true},
		"2024-02-29":                   {true, true},
		"2000-02-29":                   {true, true},
		"1900-02-29":                   {},
		"2026-02-29":                   {},
		"2026-04-31":                   {},
		"2026-13-01":                   {},
		"0000-01-01":                   {},
		"1985-04-12T23:20:50.52Z":      {true, false},
		"1996-12-19T16:39:57-08:00":    {true, false},
		"1990-12-31T23:59:60Z":         {true, false},
		"1937-01-01T12:00:27.87+00:20": {true, false},
		"2026-07-14T16:40:00":          {},
		"2026-07-14T24:00:00Z":         {},
		"2026-07-14Tgarbage":           {},
		"yesterday":                    {},
	} {
		var moment, date Refusal
		moment.Moment(text, At("/at"))
		date.Date(text, At("/at"))
		require.Equal(t, want.moment, moment.Err() == nil, "%q as a moment", text)
		require.Equal(t, want.date, date.Err() == nil, "%q as a date", text)
	}
}
