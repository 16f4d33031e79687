package refdata

import "sync"

// DiagnosisModel is what a diagnosis has to assume because nothing is published:
// how far systems and readings scatter, how far a model of them may be wrong,
// the mix of faults met in the field, what wrong words cost. All of it is common
// practice or plain assumption, with one source and one status.
type DiagnosisModel struct {
	Figures    Figures       `json:"figures"` // Source and Status are those of the model where a figure has none of its own
	Prior      []PriorShare  `json:"prior"`
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
		if m.Figures[i].Source == "" {
			m.Figures[i].Source, m.Figures[i].Status = m.Source, m.Status
		}
	}
	return m
})
