package equipment

import "testing"

func TestDevicesAreFixedOrValves(t *testing.T) {
	for _, d := range MeteringDevices() {
		if d.Fixed() == d.Valve() || !d.Known() {
			t.Errorf("%s: fixed %v, valve %v, known %v", d, d.Fixed(), d.Valve(), d.Known())
		}
	}
	for _, d := range []MeteringDevice{"", "needle_valve"} {
		if d.Fixed() || d.Valve() || d.Known() {
			t.Errorf("%q passes for a metering device", d)
		}
	}
}

func TestIndexOfFaults(t *testing.T) {
	for i, f := range Faults() {
		if f.Index() != i {
			t.Errorf("%s is number %d, its index %d", f, i, f.Index())
		}
	}
	if i := Fault("gremlins").Index(); i != -1 {
		t.Errorf("what is no fault has index %d", i)
	}
	Faults()[0] = "gremlins"
	if Faults()[0] != Undercharge {
		t.Error("a caller can change the list")
	}
}
