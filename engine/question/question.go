// Package question reads the questions of the wire as they are sent: what
// stands in the path, in the query string and in a JSON body, strictly, with
// every error listed. It must not know how they arrive or who answers them.
package question

import (
	"errors"
	"fmt"
	"maps"
	"net/url"
	"slices"
	"strings"

	"github.com/knurl-hvacr/knurl/engine/intake"
	"github.com/knurl-hvacr/knurl/engine/phrase"
	"github.com/knurl-hvacr/knurl/engine/problem"
	"github.com/knurl-hvacr/knurl/engine/query"
	"github.com/knurl-hvacr/knurl/engine/strictjson"
	"github.com/knurl-hvacr/knurl/engine/unit"
)

// Input is one request while its question is read: it collects every error,
// how the question is spelled, and what it means whatever the spelling.
type Input struct {
	path    func(string) string
	values  url.Values
	taken   []string
	spelled []string
	meant   []string
	as      query.Presentation
	refusal query.Refusal
	// partial is set where the question holds what did fit although errors
	// were found, so that the engine can judge the rest of it.
	partial bool
}

// New begins to read a request. path gives the parameters of its path by name,
// values is what follows the question mark.
func New(path func(string) string, values string) *Input {
	in := &Input{path: path}
	parsed, err := url.ParseQuery(values)
	if err != nil {
		in.unreadable(query.RequestError{Code: query.CodeSyntax, Detail: "the query string is not well formed: " + err.Error()})
	}
	in.values = parsed
	in.as = query.Presentation{
		Units:   in.oneOf("units", "ip", "si"),
		Explain: in.oneOf("explain", "false", "true") == "true",
	}
	return in
}

// As says how the question is to be answered.
func (in *Input) As() query.Presentation { return in.as }

// Spelled is what path and query string said, as it was said.
func (in *Input) Spelled() []string { return in.spelled }

// Meant is the same, equal for equal questions whatever unit they are put in.
func (in *Input) Meant() []string { return in.meant }

// Body reads a question that comes as a JSON body.
func Body[Q any]() func(*Input, []byte) Q {
	decoder := strictjson.For[Q]()
	return func(in *Input, data []byte) Q {
		q, err := decoder.Decode(data)
		in.partial = true
		if misfits, ok := errors.AsType[*strictjson.Misfits](err); ok {
			for _, f := range problem.Fields(misfits) {
				in.unreadable(f)
				in.partial = in.partial && f.Code != query.CodeSyntax
			}
		}
		return q
	}
}

func (in *Input) unreadable(f query.RequestError) {
	in.refusal.Unreadable = true
	in.refusal.Errors = append(in.refusal.Errors, f)
}

// designation takes the refrigerant that the path names.
func (in *Input) designation() string {
	value := in.path("designation")
	in.says(value, value)
	return value
}

// parameter takes a parameter of the query string. An operation takes every
// parameter that it knows, given or not; what is left over is unknown.
func (in *Input) parameter(name string) (string, bool) {
	in.taken = append(in.taken, name)
	switch given := in.values[name]; len(given) {
	case 0:
		return "", false
	case 1:
		return given[0], true
	}
	e := intake.Because(query.CodeRepeatedMember, "parameter_repeated", nil)
	e.Parameter = name
	in.unreadable(e)
	return "", false
}

// oneOf takes a parameter that has few values, the first being the default.
func (in *Input) oneOf(name string, allowed ...string) string {
	value, ok := in.parameter(name)
	if !ok {
		value = allowed[0]
	}
	if !slices.Contains(allowed, value) {
		e := intake.Because(query.CodeUnknownName, "name_unknown", phrase.Params{"given": intake.Typed(value), "allowed": allowed})
		e.Parameter, e.Allowed = name, allowed
		in.unreadable(e)
	}
	in.says(name+"="+value, name+"="+value)
	return value
}

func (in *Input) says(spelled, meant string) {
	in.spelled = append(in.spelled, spelled)
	in.meant = append(in.meant, meant)
}

// quantity takes a parameter in text form, such as 118psig.
func (in *Input) quantity(name string, kinds ...unit.Kind) *query.Quantity {
	given, ok := in.parameter(name)
	if !ok {
		return nil
	}
	q, wrong := readQuantity(given, kinds)
	if wrong != nil {
		wrong.Parameter = name
		switch wrong.Code {
		case query.CodeWrongKind, query.CodeOutOfRange: // read, but it cannot be
			in.refusal.Errors = append(in.refusal.Errors, *wrong)
		default:
			in.unreadable(*wrong)
		}
		return nil
	}
	// Converting from another unit leaves the last digits open.
	u, _ := unit.Resolve(q.Unit, kinds...)
	in.says(name+"="+given, fmt.Sprintf("%s=%.11e %s", name, u.ToSI(*q.Value), u.Kind))
	return &q
}

// site takes the parameters that say where the gauge is.
func (in *Input) site() query.Site {
	return query.Site{
		Altitude:            in.quantity("altitude", unit.KindLength),
		AtmosphericPressure: in.quantity("atmospheric_pressure", unit.KindPressure),
	}
}

func readQuantity(text string, kinds []unit.Kind) (q query.Quantity, wrong *query.RequestError) {
	number, name := unit.Split(text)
	value, err := unit.Number(number)
	if err != nil || name != "" && strings.ContainsRune(",_xX", rune(name[0])) { // 1,5 and 0x10 are no numbers
		e := intake.Because(query.CodeWrongType, "no_number_and_unit", phrase.Params{"given": intake.Typed(text)})
		return q, &e
	}
	u, err := unit.Resolve(name, kinds...)
	if err != nil {
		e, _ := intake.UnitError(name, u, err, kinds)
		return q, &e
	}
	if _, err := u.Value(value); err != nil {
		e := intake.NumberError(value, u, err)
		return q, &e
	}
	return query.Quantity{Value: &value, Unit: name}, nil
}

// Finish judges what is left over. Its error means that there is no question
// to ask.
func (in *Input) Finish() error {
	for _, name := range slices.Sorted(maps.Keys(in.values)) {
		if slices.Contains(in.taken, name) {
			continue
		}
		given := intake.Typed(name)
		e := intake.Because(query.CodeUnknownMember, "parameter_unknown", phrase.Params{"given": given, "allowed": in.taken})
		if near := strictjson.Nearest(name, in.taken); near != "" {
			e = intake.Because(query.CodeUnknownMember, "parameter_unknown_near", phrase.Params{"given": given, "suggestion": near})
			e.Suggestions = []string{near}
		}
		e.Parameter, e.Allowed = name, in.taken
		in.unreadable(e)
	}
	if len(in.refusal.Errors) > 0 && !in.partial {
		return &in.refusal
	}
	return nil
}

// Join adds what the engine found to the errors of reading, but for what only
// follows from them: a value that was not taken is not also missing.
func (in *Input) Join(err error) error {
	if len(in.refusal.Errors) == 0 {
		return err
	}
	if refusal, ok := errors.AsType[*query.Refusal](err); ok {
		all := query.Refusal{Unreadable: true, Errors: slices.Clone(in.refusal.Errors)}
		for _, f := range refusal.Errors {
			if !slices.ContainsFunc(in.refusal.Errors, func(g query.RequestError) bool { return within(f.Pointer, g.Pointer) }) {
				all.Errors = append(all.Errors, f)
			}
		}
		return &all
	}
	return &in.refusal
}

// within reports whether a pointer leads to what another leads to, or into it.
func within(inner, outer string) bool {
	return outer != "" && (inner == outer || strings.HasPrefix(inner, outer+"/"))
}
