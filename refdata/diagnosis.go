package refdata

import "sync"

// DiagnosisModel is what a diagnosis by signs has to assume because nothing is
// published: how far healthy units stray, the signs of faults that the
// published tables lack, the mix of faults met in the field. All of it is
// common practice or plain assumption, with one source and one status.
type DiagnosisModel struct {
	Figures    Figures       `json:"figures"` // Source and Status are those of the model
	Prior      []PriorShare  `json:"prior"`
	Charts     []SignChart   `json:"charts"` // on the features of [FaultSigns], drier_temperature_drop and indoor_airflow
	Sizes      []EffectSize  `json:"sizes"`
	NextChecks []FaultChecks `json:"next_checks"`
	Source     string        `json:"source"`
	Status     string        `json:"status"`
}

// PriorShare is the assumed share of a hypothesis among the systems that are
// looked at: no_fault, a fault, or unexplained.
type PriorShare struct {
	Hypothesis string  `json:"hypothesis"`
	Share      float64 `json:"share"`
}

// EffectSize says where physics makes a fault move a feature by other than one
// step a step of severity, and why.
type EffectSize struct {
	Fault   string  `json:"fault"`
	Feature string  `json:"feature"` // of the sign charts
	Steps   float64 `json:"steps"`
	Text    string  `json:"text"`
}

// FaultChecks lists what to look at next where a fault is indicated, in order,
// as stable codes.
type FaultChecks struct {
	Fault  string   `json:"fault"`
	Checks []string `json:"checks"`
}

// Diagnosis returns the assumptions of the diagnosis. The caller must not write
// to the slices and maps inside.
func Diagnosis() DiagnosisModel { return diagnosis() }

var diagnosis = sync.OnceValue(func() DiagnosisModel {
	m := mustRead[DiagnosisModel]("rules/diagnosis.json")
	for i := range m.Figures {
		m.Figures[i].Source, m.Figures[i].Status = m.Source, m.Status
	}
	return m
})
