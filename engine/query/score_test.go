package query

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"testing"

	"github.com/knurl-hvacr/knurl/engine/plant"
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
	var roc []rocPoint
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
		if a.NoFault != nil {
			rk := c.Truth.Fault != "no_fault" && a.Faults[0].Fault == c.Truth.Fault
			roc = append(roc, rocPoint{a.NoFault.Probability, a.Unexplained.Probability, c.Truth.Fault == "no_fault", rk})
		}
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
	for _, tau := range []float64{.02, .05, .1, .15, .2, .25, .3, .35, .4, .45, .5} {
		var fa, h, r, said, f float64
		for _, x := range roc {
			if x.healthy {
				h++
			} else {
				f++
			}
			if x.p0 < tau {
				if x.healthy {
					fa++
				} else {
					said++
					if x.ranked {
						r++
					}
				}
			}
		}
		fmt.Printf("tau %.2f FA %.3f said %.3f right %.3f\n", tau, fa/h, said/f, r/f)
	}
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

func TestOwn(t *testing.T) {
	s := newSimulator()
	rng := rand.New(rand.NewPCG(4711, 1))
	var all, mat tally
	by := map[string]*tally{}
	names := []string{"R-22", "R-410A", "R-32", "R-454B", "R-134a", "R-448A", "R-407C", "R-290", "R-421A", "R-450A"}
	devices := []plant.Device{plant.FixedOrifice, plant.ThermostaticValve, plant.FixedOrifice, plant.ThermostaticValve, plant.ElectronicValve, plant.CapillaryTube}
	for i := range 2000 {
		var fs []plant.Fault
		truth := "no_fault"
		if k := rng.IntN(10); k < 7 {
			fs = []plant.Fault{plant.AllFaults()[k]}
			truth = string(fs[0])
		}
		v := s.visit(t, names[i%len(names)], devices[rng.IntN(len(devices))], rng, fs...)
		v.question.Prior = filePrior
		a, err := s.engine.Diagnosis(v.question)
		if err != nil {
			t.Fatal(err)
		}
		all.add(truth, &a, 1)
		if truth == "no_fault" || v.material {
			mat.add(truth, &a, 1)
			for _, k := range []string{"truth " + truth, "device " + v.question.System.MeteringDevice, "ref " + v.question.System.Refrigerant} {
				if by[k] == nil {
					by[k] = &tally{}
				}
				by[k].add(truth, &a, 1)
			}
		}
	}
	fmt.Println("own all     :", all.String())
	fmt.Println("own material:", mat.String())
	var keys []string
	for k := range by {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	for _, k := range keys {
		fmt.Println(k, by[k].String())
	}
}

type rocPoint struct {
	p0, un          float64
	healthy, ranked bool
}
