package refdata

import (
	"regexp"
	"slices"
	"testing"
)

var (
	snakeCase = regexp.MustCompile(`^[a-z][a-z0-9]*(_[a-z0-9]+)*$`)
	faults    = []string{
		"undercharge", "overcharge", "low_indoor_airflow", "low_outdoor_airflow",
		"liquid_line_restriction", "non_condensables", "compressor_valve_leakage",
	}
	units = []string{
		"", "degF", "delta_degF", "delta_degC", "delta_K", "psi", "psig", "psia", "inHga", "micron", "min", "h", "s",
		"day", "month", "year", "percent", "ratio", "cfm/ton", "oz", "oz/ft", "lb", "ft",
		"in", "m", "mL", "MPa", "percent/MPa", "percent/K", "kg/m3",
	}
)

func TestFigures(t *testing.T) {
	for name, fs := range map[string]Figures{"charge verification": ChargeVerification(), "trade facts": TradeFacts(), "no fault": NoFault(), "hoses": HoseFigures(), "tubes": Tubes().Figures} {
		seen := map[string]bool{}
		for _, f := range fs {
			if !snakeCase.MatchString(f.Code) || seen[f.Code] {
				t.Errorf("%s: code %q is malformed or repeated", name, f.Code)
			}
			seen[f.Code] = true
			numeric := f.Value != nil || f.Low != nil || f.High != nil
			if f.Text == "" || numeric != (f.Unit != "") || !slices.Contains(units, f.Unit) {
				t.Errorf("%s: %s: text %q, a number %t, unit %q", name, f.Code, f.Text, numeric, f.Unit)
			}
			if f.Low != nil && f.High != nil && !(*f.Low < *f.High) {
				t.Errorf("%s: %s: band from %g to %g", name, f.Code, *f.Low, *f.High)
			}
			if f.Value != nil && (f.Low != nil && !(*f.Value >= *f.Low) || f.High != nil && !(*f.Value <= *f.High)) {
				t.Errorf("%s: %s: %g outside its own band", name, f.Code, *f.Value)
			}
		}
	}
}

func TestFiguresGet(t *testing.T) {
	f, ok := ChargeVerification().Get("superheat_tolerance_installer")
	if !ok || f.Value == nil || *f.Value != 5 || f.Unit != "delta_degF" {
		t.Errorf("superheat tolerance of an installer is %+v, %t; want 5 (CEC 2008 RA3.2.2.6.1)", f, ok)
	}
	if f, ok := ChargeVerification().Get("no such code"); ok {
		t.Errorf("an unknown code gives %+v", f)
	}
}

// Counts made on the collected material by hand, before it took this form.
// Charge verification: 7 lines from memory, of which two hold two figures each.
// Trade facts: 15 lines from memory of which 5 were split over 13 figures; one
// more in part. Instruments: grades B, C and D, the thermistor and the pipe
// clamp; the figures of four more grades. Cautions: one, and seven in part.
func TestRulesKeepTheirStatus(t *testing.T) {
	count := func(all []string, status string) (n int) {
		for _, s := range all {
			if s == status {
				n++
			}
		}
		return n
	}
	var verification, trade, classes, warnings []string
	for _, f := range ChargeVerification() {
		verification = append(verification, f.Status)
	}
	for _, f := range TradeFacts() {
		trade = append(trade, f.Status)
	}
	for _, i := range Instruments() {
		classes = append(classes, i.Status)
	}
	for _, c := range Cautions() {
		warnings = append(warnings, c.Status)
	}
	for _, tt := range []struct {
		what         string
		all          []string
		memory, part int
	}{
		{"charge verification", verification, 9, 0},
		{"trade facts", trade, 23, 1},
		{"instruments", classes, 5, 4},
		{"cautions", warnings, 1, 7},
	} {
		if m, p := count(tt.all, FromMemory), count(tt.all, PartFromMemory); m != tt.memory || p != tt.part {
			t.Errorf("%s: %d from memory and %d in part, want %d and %d", tt.what, m, p, tt.memory, tt.part)
		}
	}
}

func TestInstruments(t *testing.T) {
	seen := map[string]bool{}
	for _, i := range Instruments() {
		if !snakeCase.MatchString(i.Code) || seen[i.Code] || i.Kind != "pressure" && i.Kind != "temperature" {
			t.Errorf("code %q is malformed or repeated, or kind %q unknown", i.Code, i.Kind)
		}
		seen[i.Code] = true
		if (len(i.Bands) > 0) == (i.Limit > 0) || (i.Limit > 0) != (i.Unit != "") || !slices.Contains(units, i.Unit) {
			t.Errorf("%s: has to have either bands or a limit with its unit", i.Code)
		}
		if (i.PercentOfReading > 0) != (i.Combination == "sum" || i.Combination == "larger") {
			t.Errorf("%s: %g %% of reading with combination %q", i.Code, i.PercentOfReading, i.Combination)
		}
		end := 0.0
		for _, b := range i.Bands {
			if b.From != end || !(b.To > b.From) || !(b.Percent > 0 && b.Percent <= 5) {
				t.Errorf("%s: band %+v does not follow on %g", i.Code, b, end)
			}
			end = b.To
		}
		if i.Bands != nil && end != 100 {
			t.Errorf("%s: bands end at %g %% of span", i.Code, end)
		}
	}
}

func TestCautions(t *testing.T) {
	seen := map[string]bool{}
	for _, c := range Cautions() {
		if !snakeCase.MatchString(c.Code) || seen[c.Code] {
			t.Errorf("code %q is malformed or repeated", c.Code)
		}
		seen[c.Code] = true
		if c.Status == PartFromMemory && !regexp.MustCompile("from memory").MatchString(c.Detail) {
			t.Errorf("%s does not say what of it is from memory", c.Code)
		}
	}
	if len(seen) != 28 {
		t.Errorf("%d cautions, want 28", len(seen))
	}
}

func TestFaultSigns(t *testing.T) {
	d := FaultSigns()
	features := map[string]bool{}
	for _, f := range d.Features {
		features[f.Code] = snakeCase.MatchString(f.Code) && f.Text != ""
	}
	for _, c := range d.Charts {
		if c.Mode != "cooling" || len(c.MeteringDevices) == 0 || len(c.Rows) == 0 {
			t.Errorf("chart %s: mode %q, metering devices %v, %d rows", c.Code, c.Mode, c.MeteringDevices, len(c.Rows))
		}
		seen := map[string]bool{}
		for _, r := range c.Rows {
			if !slices.Contains(faults, r.Fault) || seen[r.Fault] || len(r.Signs) == 0 {
				t.Errorf("chart %s: fault %q is unknown, repeated or without signs", c.Code, r.Fault)
			}
			seen[r.Fault] = true
			for feature, sign := range r.Signs {
				if !features[feature] || sign < -1 || sign > 1 {
					t.Errorf("chart %s: %s: feature %q has sign %d", c.Code, r.Fault, feature, sign)
				}
			}
		}
	}
	for _, dec := range d.Decoupling {
		if !slices.Contains(faults, dec.Fault) || !snakeCase.MatchString(dec.Feature) {
			t.Errorf("decoupling of %q by %q", dec.Fault, dec.Feature)
		}
	}
	for _, i := range d.Intensities {
		if !slices.Contains(faults, i.Fault) || !(i.Low >= 0 && i.Low < i.High && i.High <= 1) {
			t.Errorf("intensity of %q from %g to %g", i.Fault, i.Low, i.High)
		}
	}
}

// The text that restates the table names what it turns on: undercharge and
// liquid-line restriction differ in subcooling and in nothing else.
func TestUnderchargeAndRestrictionDifferInSubcooling(t *testing.T) {
	i := slices.IndexFunc(FaultSigns().Charts, func(c SignChart) bool { return c.Code == "rossi_braun" })
	if i < 0 {
		t.Fatal("no chart rossi_braun")
	}
	signs := map[string]map[string]int{}
	for _, r := range FaultSigns().Charts[i].Rows {
		if len(r.Signs) != 7 {
			t.Errorf("%s has %d signs, want 7 (Li and Braun, Table 1-1)", r.Fault, len(r.Signs))
		}
		signs[r.Fault] = r.Signs
	}
	if len(signs) != 5 {
		t.Errorf("%d faults, want 5 (Li and Braun, Table 1-1)", len(signs))
	}
	for _, f := range FaultSigns().Features {
		differs := signs["undercharge"][f.Code] != signs["liquid_line_restriction"][f.Code]
		if differs != (f.Code == "subcooling") {
			t.Errorf("undercharge and restriction differ in %s: %t", f.Code, differs)
		}
	}
}

func TestGasConstant(t *testing.T) {
	const boltzmann, avogadro = 1.380649e-23, 6.02214076e23 // exact by definition: BIPM, The International System of Units, 9th edition
	if got := GasConstant().Value; got < boltzmann*avogadro*(1-1e-15) || got > boltzmann*avogadro*(1+1e-15) {
		t.Errorf("gas constant %.15g, want %.15g", got, boltzmann*avogadro)
	}
}
