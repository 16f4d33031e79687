// Command contract makes the demo visit with the client that was generated
// from the published document: contract ADDRESS FOLDER. It must not know more
// of the service than the document says.
package main

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"reflect"

	"github.com/knurl-hvacr/knurl/ci/contract/knurlclient"
)

func main() {
	if err := run(os.Args[1], os.Args[2]); err != nil {
		fmt.Fprintln(os.Stderr, "contract:", err)
		os.Exit(1)
	}
}

func run(address, folder string) error {
	c, err := knurlclient.NewClientWithResponses(address)
	if err != nil {
		return err
	}
	v := visit{client: c, folder: folder, ctx: context.Background()}
	explain := true
	si := knurlclient.UnitsOfAnswerSi
	pressure := "118psig"

	entry, err := c.RefrigerantWithResponse(v.ctx, "R-454B", nil)
	v.took("R-454B", err, func() any { return entry.JSON200 }, func() []byte { return entry.Body })
	point, err := c.SaturationWithResponse(v.ctx, "R-454B", &knurlclient.SaturationParams{Pressure: &pressure, Units: (*knurlclient.SaturationParamsUnits)(&si)})
	v.took("saturation", err, func() any { return point.JSON200 }, func() []byte { return point.Body })

	standing, err := c.StandingPressureWithResponse(v.ctx, &knurlclient.StandingPressureParams{Explain: &explain}, question[knurlclient.StandingPressureJSONRequestBody](&v, "museum-standing-pressure"))
	v.took("standing pressure", err, func() any { return standing.JSON200 }, func() []byte { return standing.Body })
	stability, err := c.StabilityWithResponse(v.ctx, nil, question[knurlclient.StabilityJSONRequestBody](&v, "museum-stability"))
	v.took("stability", err, func() any { return stability.JSON200 }, func() []byte { return stability.Body })
	state, err := c.SuperheatSubcoolingWithResponse(v.ctx, nil, question[knurlclient.SuperheatSubcoolingJSONRequestBody](&v, "museum-superheat-subcooling"))
	v.took("superheat and subcooling", err, func() any { return state.JSON200 }, func() []byte { return state.Body })
	diagnosis, err := c.DiagnosisWithResponse(v.ctx, nil, question[knurlclient.DiagnosisJSONRequestBody](&v, "museum-second-visit"))
	v.took("diagnosis", err, func() any { return diagnosis.JSON200 }, func() []byte { return diagnosis.Body })
	hoses, err := c.HoseRecoveryWithResponse(v.ctx, nil, question[knurlclient.HoseRecoveryJSONRequestBody](&v, "museum-hose-recovery"))
	v.took("hose recovery", err, func() any { return hoses.JSON200 }, func() []byte { return hoses.Body })
	record, err := c.VisitRecordWithResponse(v.ctx, nil, question[knurlclient.VisitRecordJSONRequestBody](&v, "museum-visit-record"))
	v.took("visit record", err, func() any { return record.JSON200 }, func() []byte { return record.Body })

	unknown, err := c.RefrigerantWithResponse(v.ctx, "R-0", nil)
	v.took("an unknown refrigerant", err, func() any { return unknown.ApplicationproblemJSON404 }, func() []byte { return unknown.Body })
	if v.err == nil && unknown.StatusCode() != http.StatusNotFound {
		v.err = fmt.Errorf("an unknown refrigerant: status %d", unknown.StatusCode())
	}
	if v.err != nil {
		return v.err
	}
	fmt.Printf("Go client: %d answers, nothing of them lost\n", v.answers)
	return nil
}

type visit struct {
	client  *knurlclient.ClientWithResponses
	folder  string
	ctx     context.Context
	answers int
	err     error
}

// question reads a question of the demo into its generated type.
func question[Q any](v *visit, name string) Q {
	var q Q
	text, err := os.ReadFile(filepath.Join(v.folder, name+".json"))
	if err == nil {
		err = json.Unmarshal(text, &q)
	}
	if err != nil && v.err == nil {
		v.err = fmt.Errorf("%s: %w", name, err)
	}
	return q
}

// took checks that the generated type of an answer holds all that was sent.
func (v *visit) took(name string, err error, typed func() any, sent func() []byte) {
	if v.err != nil {
		return
	}
	if err == nil {
		err = same(typed(), sent())
	}
	if err != nil {
		v.err = fmt.Errorf("%s: %w", name, err)
		return
	}
	v.answers++
}

func same(typed any, sent []byte) error {
	if reflect.ValueOf(typed).IsNil() {
		return fmt.Errorf("not of the type in the document: %s", sent)
	}
	again, err := json.Marshal(typed)
	if err != nil {
		return err
	}
	var a, b any
	if err := json.Unmarshal(again, &a); err != nil {
		return err
	}
	if err := json.Unmarshal(sent, &b); err != nil {
		return err
	}
	if path := lost(a, b, ""); path != "" {
		return fmt.Errorf("%s is lost: sent %s, held %s", path, sent, again)
	}
	return nil
}

// lost names the first value of b that a does not have; an absent null is not
// lost.
func lost(a, b any, path string) string {
	switch b := b.(type) {
	case map[string]any:
		of, _ := a.(map[string]any)
		for name, value := range b {
			if where := lost(of[name], value, path+"/"+name); where != "" {
				return where
			}
		}
	case []any:
		of, _ := a.([]any)
		if len(of) != len(b) {
			return path
		}
		for i, value := range b {
			if where := lost(of[i], value, fmt.Sprintf("%s/%d", path, i)); where != "" {
				return where
			}
		}
	default:
		if a != b {
			return path
		}
	}
	return ""
}
