package query

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"slices"
	"testing"
)

type evalCase struct {
	ID       string            `json:"id"`
	SystemID string            `json:"system_id"`
	Question DiagnosisQuestion `json:"question"`
	Truth    struct {
		Fault    string  `json:"fault"`
		Severity float64 `json:"severity"`
		Material bool    `json:"material"`
	} `json:"truth"`
	FieldWeight float64 `json:"field_weight"`
}

var filePrior = map[string]float64{"no_fault": .3, "undercharge": .1, "overcharge": .1, "low_evaporator_airflow": .1, "low_condenser_airflow": .1, "liquid_line_restriction": .1, "non_condensables": .1, "compressor_valve_leakage": .1}

type tally struct {
	n, noResponse, correct, falseAlarm, missed, wrong, ranked, faults, healthy float64
	brier, log                                                                 float64
	top, hit, in                                                               [10]float64
}

func (y *tally) add(truth string, a *DiagnosisAnswer, w float64) {
	y.n += w
	if truth == "no_fault" {
		y.healthy += w
	} else {
		y.faults += w
		if len(a.Faults) > 0 && a.Faults[0].Fault == truth {
			y.ranked += w
		}
	}
	switch {
	case a.Assessment == "inconclusive":
		y.noResponse += w
	case a.Assessment == "no_fault_indicated" && truth == "no_fault", a.Assessment == "fault_indicated" && a.Faults[0].Fault == truth:
		y.correct += w
	case truth == "no_fault":
		y.falseAlarm += w
	case a.Assessment == "no_fault_indicated":
		y.missed += w
	default:
		y.wrong += w
	}
	if a.NoFault == nil {
		return
	}
	p := map[string]float64{"no_fault": a.NoFault.Probability}
	sum := a.NoFault.Probability
	for _, f := range a.Faults {
		p[f.Fault] = f.Probability
		sum += f.Probability
	}
	un := a.Unexplained.Probability
	best, bestName := 0.0, ""
	b := 0.0
	for k, v := range p {
		v *= (1 - un) / sum
		p[k] = v
		hit := 0.0
		if k == truth {
			hit = 1
		}
		b += (v - hit) * (v - hit)
		if v > best {
			best, bestName = v, k
		}
	}
	y.brier += w * b
	y.log -= w * math.Log(max(p[truth], 1e-6))
	bin := min(int(best*10), 9)
	y.in[bin] += w
	y.top[bin] += w * best
	if bestName == truth {
		y.hit[bin] += w
	}
}

func (y *tally) String() string {
	ece := 0.0
	for i := range y.in {
		ece += math.Abs(y.top[i]-y.hit[i]) / y.n
	}
	return fmt.Sprintf("n %.0f ranking %.1f right(all) %.1f FA/healthy %.1f inconcl %.1f missed %.1f wrong %.1f brier %.3f log %.3f ece %.3f",
		y.n, 100*y.ranked/y.faults, 100*y.correct/y.n, 100*y.falseAlarm/y.healthy, 100*y.noResponse/y.n, 100*y.missed/y.n, 100*y.wrong/y.n, y.brier/y.n, y.log/y.n, ece)
}

func TestScore(t *testing.T) {
	f, err := os.ReadFile("/tmp/eval.ndjson")
	if err != nil {
		t.Skip(err)
	}
	e := New()
	var all, field tally
	by := map[string]*tally{}
	conf := map[string]map[string]int{}
	right, faults := 0., 0.
	sc := bufio.NewScanner(bytes.NewReader(f))
	sc.Buffer(nil, 1<<20)
	for sc.Scan() {
		var c evalCase
		if err := json.Unmarshal(sc.Bytes(), &c); err != nil {
			t.Fatal(err)
		}
		if os.Getenv("ALL") == "" && c.Truth.Fault != "no_fault" && !c.Truth.Material {
			continue
		}
		c.Question.Prior = filePrior
		a, err := e.Diagnosis(c.Question)
		if err != nil {
			t.Fatal(c.ID, err)
		}
		all.add(c.Truth.Fault, &a, 1)
		for _, k := range []string{"truth " + c.Truth.Fault, "device " + c.Question.System.MeteringDevice, "ref " + c.Question.System.Refrigerant} {
			if by[k] == nil {
				by[k] = &tally{}
			}
			by[k].add(c.Truth.Fault, &a, 1)
		}
		if c.Truth.Fault != "no_fault" {
			faults++
			if a.Assessment == "fault_indicated" && a.Faults[0].Fault == c.Truth.Fault {
				right++
			}
		}
		got := "inconcl"
		if a.Assessment == "no_fault_indicated" {
			got = "none"
		} else if len(a.Faults) > 0 {
			got = a.Faults[0].Fault
			if a.Assessment == "inconclusive" {
				got = "?" + got
			}
		}
		if conf[c.Truth.Fault] == nil {
			conf[c.Truth.Fault] = map[string]int{}
		}
		conf[c.Truth.Fault][got]++
		c.Question.Prior = nil
		if a, err = e.Diagnosis(c.Question); err != nil {
			t.Fatal(err)
		}
		field.add(c.Truth.Fault, &a, c.FieldWeight)
	}
	fmt.Println("file :", all.String(), "right of faults", right/faults)
	fmt.Println("field:", field.String())
	var keys []string
	for k := range by {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	for _, k := range keys {
		fmt.Println(k, by[k].String())
	}
	for k, v := range conf {
		fmt.Println(k, v)
	}
	for i := range all.in {
		fmt.Printf("%d: %.0f claimed %.3f hit %.3f\n", i, all.in[i], all.top[i]/all.in[i], all.hit[i]/all.in[i])
	}
}
