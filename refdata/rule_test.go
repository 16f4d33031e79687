package refdata

import (
	"regexp"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
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
		"delta_psi", "delta_kPa", "in", "m", "mL", "MPa", "percent/MPa", "percent/K", "kg/m3",
	}
)

func TestFigures(t *testing.T) {
	for name, fs := range map[string]Figures{"charge verification": ChargeVerification(), "trade facts": TradeFacts(), "no fault": NoFault(), "hoses": HoseFigures(), "tubes": Tubes().Figures, "allowances": Allowances()} {
		t.Run(name, func(t *testing.T) {
			seen := map[string]bool{}
			for _, f := range fs {
				if !snakeCase.MatchString(f.Code) || seen[f.Code] {
					t.Errorf("%s: code %q is malformed or repeated", name, f.Code)
				}
				seen[f.Code] = true
				numeric := f.Value != nil || f.Low != nil || f.High != nil
				require.NotEmpty(t, f.Text)
				require.Equal(t, f.Unit != "", numeric)
				require.Contains(t, units, f.Unit)
				if f.Low != nil && f.High != nil {
					require.Less(t, *f.Low, *f.High)
				}
				if f.Value != nil {
					if f.Low != nil {
						require.GreaterOrEqual(t, *f.Value, *f.Low)
					}
					if f.High != nil {
						require.LessOrEqual(t, *f.Value, *f.High)
					}
				}
			}
		})
	}
}

func TestFiguresGet(t *testing.T) {
	f, ok := ChargeVerification().Get("superheat_tolerance_installer")
	require.True(t, ok, "superheat tolerance of an installer is %+v, %t; want 5 (CEC 2008 RA3.2.2.6.1)", f, ok)
	require.NotNil(t, f.Value)
	require.Equal(t, 5.0, *f.Value)
	require.Equal(t, "delta_degF", f.Unit)
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
		require.True(t, snakeCase.MatchString(i.Code), "code %q is malformed or repeated, or kind %q unknown", i.Code, i.Kind)
		require.False(t, seen[i.Code], "code %q is malformed or repeated, or kind %q unknown", i.Code, i.Kind)
		if i.Kind != "pressure" {
			require.Equal(t, "temperature", i.Kind)
		}
		seen[i.Code] = true
		require.NotEqual(t, i.Limit > 0, len(i.Bands) > 0, "%s", i.Code)
		require.Equal(t, i.Unit != "", i.Limit > 0, "%s", i.Code)
		require.Contains(t, units, i.Unit, "%s", i.Code)
		require.Equal(t, i.Combination == "sum" || i.Combination == "larger", i.PercentOfReading > 0, "%s", i.Code)
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
		require.Equal(t, "cooling", c.Mode, "chart %s", c.Code)
		require.NotEmpty(t, c.MeteringDevices, "chart %s", c.Code)
		require.NotEmpty(t, c.Rows, "chart %s", c.Code)
		seen := map[string]bool{}
		for _, r := range c.Rows {
			if !slices.Contains(faults, r.Fault) || seen[r.Fault] || len(r.Signs) == 0 {
				t.Errorf("chart %s: fault %q is unknown, repeated or without signs", c.Code, r.Fault)
			}
			seen[r.Fault] = true
			for feature, sign := range r.Signs {
				require.True(t, features[feature], "chart %s", c.Code)
				require.GreaterOrEqual(t, sign, -1, "chart %s", c.Code)
				require.LessOrEqual(t, sign, 1, "chart %s", c.Code)
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

// A list of refrigerants says where it comes from, and names none twice.
func TestLikelyRefrigerants(t *testing.T) {
	for _, d := range []Designations{CommonRefrigerants(), ComfortRefrigerants()} {
		seen := map[string]bool{}
		for _, name := range d.Designations {
			if seen[name] {
				t.Errorf("%s: %s stands twice", d.Text, name)
			}
			seen[name] = true
		}
		_, known := Sources()[d.Source]
		require.True(t, known, "%+v", d)
		require.NotEmpty(t, d.Status)
		require.NotEmpty(t, d.Text)
		require.NotEmpty(t, seen)
	}
}

func TestVentingExemptions(t *testing.T) {
	for designation, listedUsesOnly := range map[string]bool{"R-744": false, "R-717": false, "R-290": true} {
		e, ok := VentingExemptionOf(designation)
		require.True(t, ok, designation)
		require.Equal(t, listedUsesOnly, e.ListedUsesOnly, designation)
		require.Contains(t, Sources(), e.Source)
		require.Equal(t, SeenSecondary, e.Status)
	}
	_, ok := VentingExemptionOf("R-410A")
	require.False(t, ok)
}
