package refdata

import "sync"

// FaultSignData is what is published on how faults show in the readings.
type FaultSignData struct {
	Features    []Feature    `json:"features"`
	Charts      []SignChart  `json:"charts"`
	Decoupling  []Decoupling `json:"decoupling"`
	Intensities []Intensity  `json:"intensities"`
}

// Feature is a quantity whose residual, measured minus fault-free at the same
// driving conditions, the charts speak of.
type Feature struct {
	Code string `json:"code"`
	Text string `json:"text"`
}

// SignChart is one published table of signs. It holds for the named mode and
// metering devices only.
type SignChart struct {
	Code            string    `json:"code"`
	Mode            string    `json:"mode"`             // cooling or heating
	MeteringDevices []string  `json:"metering_devices"` // such as fixed_orifice
	Equipment       string    `json:"equipment"`
	Source          string    `json:"source"`
	QuotedIn        string    `json:"quoted_in,omitempty"` // source key of the text that was read
	Detail          string    `json:"detail,omitempty"`
	Status          string    `json:"status"`
	Rows            []SignRow `json:"rows"`
}

// SignRow tells for one fault whether a feature rises (1), falls (-1) or stays
// (0). A feature that is absent is unknown.
type SignRow struct {
	Fault string         `json:"fault"`
	Signs map[string]int `json:"signs"` // by feature code
}

// Decoupling names the feature that answers to one fault and, but for charge,
// little to the others.
type Decoupling struct {
	Fault    string `json:"fault"`
	Feature  string `json:"feature"`
	Text     string `json:"text"`
	Source   string `json:"source"`
	QuotedIn string `json:"quoted_in,omitempty"`
	Detail   string `json:"detail,omitempty"`
	Status   string `json:"status"`
}

// Intensity defines the severity of a fault as a fraction, with the range that
// was modelled.
type Intensity struct {
	Fault  string  `json:"fault"`
	Text   string  `json:"text"`
	Low    float64 `json:"low"`
	High   float64 `json:"high"`
	Source string  `json:"source"`
	Status string  `json:"status"`
}

// FaultSigns returns the published fault signs. The caller must not write to
// the slices and maps inside.
func FaultSigns() FaultSignData { return faultSigns() }

var faultSigns = sync.OnceValue(func() FaultSignData {
	return mustRead[FaultSignData]("rules/fault-signs.json")
})
