package query_test

import (
	"encoding/json"
	"fmt"
	"testing"

	"github.com/knurl-hvacr/knurl/engine/query"
	"github.com/knurl-hvacr/knurl/engine/strictjson"
)

func TestProbe(t *testing.T) {
	for _, b := range []string{
		`{"system":{"refrigerant":"R-410A"},"readings":{"suction_pressure":{"value":118,"unit":"psig","accuracy":1e200},"suction_line_temperature":{"value":50,"unit":"degF"}}}`,
		`{"system":{"refrigerant":"R-410A"},"readings":{"suction_pressure":{"value":118,"unit":"psig","accuracy":1e308},"suction_line_temperature":{"value":50,"unit":"degF"}}}`,
		`{"system":{"refrigerant":"R-410A"},"readings":{"suction_pressure":{"value":118,"unit":"psig"},"suction_line_temperature":{"value":50,"unit":"degF","accuracy":1e160}}}`,
		`{"system":{"refrigerant":"R-410A"},"readings":{"suction_pressure":{"value":118,"unit":"psig"},"suction_line_temperature":{"value":50,"unit":"degF"}},"instruments":{"suction_pressure":{"accuracy_class":"grade_a","span":{"value":1e300,"unit":"psig"}}}}`,
		`{"system":{"refrigerant":"R-410A"},"readings":{"suction_pressure":{"value":118,"unit":"psig"},"suction_line_temperature":{"value":50,"unit":"degF"}},"instruments":{"suction_pressure":{"accuracy":{"value":1e300,"unit":"psig"}}}}`,
		`{"system":{"refrigerant":"R-410A","nominal_capacity":{"value":1e300,"unit":"ton"}},"readings":{"suction_pressure":{"value":118,"unit":"psig"},"suction_line_temperature":{"value":50,"unit":"degF"},"indoor_airflow":{"value":1e300,"unit":"cfm"}}}`,
		`{"system":{"refrigerant":"R-410A"},"readings":{"suction_pressure":{"value":10,"unit":"inHgv","accuracy":0.5},"suction_line_temperature":{"value":50,"unit":"degF"}}}`,
		`{"system":{"refrigerant":"R-410A"},"site":{"atmospheric_pressure":{"value":101,"unit":"kPaa","accuracy":1e300}},"readings":{"suction_pressure":{"value":118,"unit":"psig","accuracy":1},"suction_line_temperature":{"value":50,"unit":"degF"}}}`,
		`{"system":{"refrigerant":"R-410A"},"prior":{"a/b~c":1},"readings":{"suction_pressure":{"value":118,"unit":"psig","accuracy":1}}}`,
		`{"system":{"refrigerant":"R-410A","metering_device":"fixed_orifice"},"prior":{"no_fault":1e308,"undercharge":-1},"readings":{"suction_pressure":{"value":118,"unit":"psig","accuracy":1}}}`,
		`{"system":{"refrigerant":"R-410A","metering_device":"fixed_orifice","mode":"heating"},"prior":{"no_fault":3},"readings":{"suction_pressure":{"value":118,"unit":"psig","accuracy":1}}}`,
		`{"system":{"refrigerant":"R-410A","metering_device":"fixed_orifice"},"prior":{"undercharge":1},"readings":{"suction_pressure":{"value":118,"unit":"psig","accuracy":1},"suction_line_temperature":{"value":50,"unit":"degF"}}}`,
		`{"system":{"refrigerant":"R-410A","metering_device":"fixed_orifice"},"running_time":{"value":1e308,"unit":"h"},"readings":{"suction_pressure":{"value":118,"unit":"psig","accuracy":1},"suction_line_temperature":{"value":50,"unit":"degF"}}}`,
		`{"system":{"refrigerant":"R-410A","metering_device":"fixed_orifice","nominal_capacity":{"value":1e-300,"unit":"ton"}},"readings":{"suction_pressure":{"value":118,"unit":"psig","accuracy":1},"suction_line_temperature":{"value":50,"unit":"degF"},"indoor_airflow":{"value":0,"unit":"cfm"}}}`,
		`{"system":{"refrigerant":"R-410A","metering_device":"thermostatic_valve","target_superheat":{"value":1e-300,"unit":"delta_K"},"target_superheat_tolerance":{"value":1e-320,"unit":"delta_K"}},"readings":{"suction_pressure":{"value":118,"unit":"psig","accuracy":0},"suction_line_temperature":{"value":50,"unit":"degF","accuracy":0}}}`,
		`{"system":{"refrigerant":"R-410A"},"readings":{"return_wet_bulb":{"value":50,"unit":"degF"}}}`,
		`{"system":{"refrigerant":"R-410A"},"site":{"gauge_zero":"sea_level"},"readings":{"suction_pressure":{"value":-14.6959,"unit":"psig"}}}`,
		`{"system":{"refrigerant":"R-744"},"readings":{"liquid_pressure":{"value":1200,"unit":"psig"},"suction_pressure":{"value":500,"unit":"psig"}}}`,
		`{"system":{"refrigerant":"R-22"},"readings":{"suction_pressure":{"value":1e-200,"unit":"psia"},"liquid_pressure":{"value":200,"unit":"psia"}}}`,
		`{"system":{"refrigerant":"R-22"},"readings":{"suction_pressure":{"value":1e-320,"unit":"psia"},"liquid_pressure":{"value":200,"unit":"psia"}}}`,
		`{"system":{"refrigerant":"R-22"},"readings":{"indoor_airflow":{"value":1000,"unit":"cfm"},"return_dry_bulb":{"value":75,"unit":"degF"},"return_relative_humidity":{"value":50,"unit":"percent"},"supply_dry_bulb":{"value":55,"unit":"degF"}}}`,
	} {
		q, err := strictjson.For[query.DiagnosisQuestion]().Decode([]byte(b))
		if err != nil {
			t.Log(err)
		}
		q.Presentation.Explain = true
		a, err := engine.Diagnosis(q)
		if err != nil {
			fmt.Println("ERR", err)
			continue
		}
		d, err := json.Marshal(a)
		if err != nil {
			fmt.Println("MARSHAL", err, b)
			continue
		}
		sd, _ := json.Marshal(a.State)
		fmt.Println("OK", a.Assessment, string(sd), len(d))
	}
}
