package intake

import (
	"regexp"
	"strconv"
)

// Moment notes a text that is neither a date, YYYY-MM-DD, nor a time by RFC 3339;
// the empty text is "not given".
func (r *Refusal) Moment(text string, at Place) {
	if text != "" && (len(text) > 40 || !moment(text)) {
		r.Refuse(at, CodeOutOfRange, "no_date_or_time", nil)
	}
}

// Date notes a text that is no date, YYYY-MM-DD; the empty text is "not given".
func (r *Refusal) Date(text string, at Place) {
	if text != "" && (len(text) != len("2006-01-02") || !moment(text)) {
		r.Refuse(at, CodeOutOfRange, "no_date", nil)
	}
}

// instant is a date, YYYY-MM-DD, or a time as RFC 3339 section 5.6 has it.
var instant = regexp.MustCompile(`^(\d{4})-(\d{2})-(\d{2})([Tt ](\d{2}):(\d{2}):(\d{2})(\.\d+)?([Zz]|[+-](\d{2}):(\d{2})))?$`)

// moment reports whether a text is a date or a time that can be.
func moment(s string) bool {
	parts := instant.FindStringSubmatch(s)
	if parts == nil {
		return false
	}
	number := func(i int) int {
		n, _ := strconv.Atoi(parts[i]) // digits, or nothing where the part is absent
		return n
	}
	y, m, d := number(1), number(2), number(3)
	days := []int{31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31}
	if m < 1 || m > 12 || d < 1 || d > days[m-1] {
		return false
	}
	leap := y%4 == 0 && (y%100 != 0 || y%400 == 0)
	return y > 0 && (m != 2 || d < 29 || leap) &&
		number(5) < 24 && number(6) < 60 && number(7) <= 60 && number(10) < 24 && number(11) < 60
}
