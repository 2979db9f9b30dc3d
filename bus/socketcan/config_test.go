package socketcan

import (
	"strings"
	"testing"
	"time"
)

func TestValidate(t *testing.T) {
	with := func(f func(*Config)) Config {
		c := Config{Interfaces: []Interface{{Name: "can0"}}}
		f(&c)
		return c
	}
	filter := func(f Filter) Config {
		return with(func(c *Config) { c.Interfaces[0].Filters = []Filter{f} })
	}
	tests := []struct {
		name   string
		config Config
		faults []string // none: good
	}{
		{"good", with(func(*Config) {}), nil},
		{"filters at their limits", with(func(c *Config) {
			c.Interfaces[0].Filters = []Filter{{ID: 0x7FF}, {ID: 0x1FFFFFFF, Extended: true}, {ID: 0x18FEF100, Extended: true, PGN: true}}
		}), nil},
		{"nothing", Config{}, []string{"no interface is named"}},
		{"long name", with(func(c *Config) { c.Interfaces[0].Name = "sixteen-letters-" }), []string{"1 to 15 bytes"}},
		{"twice and without a name", Config{Interfaces: []Interface{{Name: "can0"}, {Name: "can0"}, {}}}, []string{`"can0" is named twice`, `interface "": a name`}},
		{"12 bits", filter(Filter{ID: 0x800}), []string{"filter 800: more than 11 bits"}},
		{"30 bits", filter(Filter{ID: 0x20000000, Extended: true}), []string{"more than 29 bits"}},
		{"PGN of 11 bits", filter(Filter{ID: 0x100, PGN: true}), []string{"has no PGN"}},
		{"buffer", with(func(c *Config) { c.ReceiveBuffer = -1 }), []string{"receive buffer of -1"}},
		{"stamps", with(func(c *Config) { c.Stamps = 7 }), []string{"stamps 7"}},
		{"silence", with(func(c *Config) { c.SilentAfter = -time.Second }), []string{"less than nothing"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			err := tt.config.Validate()
			if (err == nil) != (tt.faults == nil) {
				t.Fatalf("error %v, want %d faults", err, len(tt.faults))
			}
			for _, f := range tt.faults {
				if !strings.Contains(err.Error(), f) {
					t.Errorf("error %q, want it to say %q", err, f)
				}
			}
			if _, openErr := Open(tt.config); err != nil && openErr == nil {
				t.Error("Open takes what Validate does not")
			}
		})
	}
}
