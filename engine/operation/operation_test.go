package operation

import (
	"slices"
	"testing"
)

func TestNamesAndAddressesAreDistinct(t *testing.T) {
	names, addresses := map[string]bool{}, map[string]bool{}
	for _, o := range All() {
		address := o.Method + " " + o.Path
		if names[o.Name] || addresses[address] {
			t.Errorf("%s at %s stands twice", o.Name, address)
		}
		names[o.Name], addresses[address] = true, true
	}
}

func TestAt(t *testing.T) {
	for _, tt := range []struct {
		path, designation string
		names             []string
	}{
		{"/v1/units", "", []string{"units"}},
		{"/v1/refrigerants/R-410A/saturation", "R-410A", []string{"saturation"}},
		{"/v1/refrigerants/R%2D22%2Fx", "R-22/x", []string{"refrigerant"}},
		{"/v1/refrigerants/", "", nil},
		{"/v1/refrigerants/%zz", "", nil},
		{"/v1/refrigerants/R-22/", "", nil},
		{"/v1", "", nil},
		{"", "", nil},
	} {
		served, parameter := All().At(tt.path)
		var names []string
		for _, o := range served {
			names = append(names, o.Name)
		}
		if !slices.Equal(names, tt.names) || parameter("designation") != tt.designation {
			t.Errorf("%q: %q of %q", tt.path, names, parameter("designation"))
		}
	}
}
