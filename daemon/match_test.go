package daemon

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"plumbline/daemon/setup"
)

func TestMatch(t *testing.T) {
	var (
		wheels = setup.Source{Name: "wheels", Kind: setup.CAN, Interface: "can0", Match: "can0"}
		rear   = setup.Source{Name: "rear", Kind: setup.CAN, Interface: "can1"}
		named  = setup.Source{Name: "wheels", Kind: setup.CAN, Interface: "can0", Match: "bus-a"}
		optics = setup.Source{Name: "optics", Kind: setup.Serial, Interface: "/dev/ttyX"}
	)
	tests := []struct {
		name     string
		sources  []setup.Source
		strict   bool
		meet     [][]string
		to       []int
		late     bool // a meet reported that a taken interface is not the only one
		warnings []string
		unusable string
	}{
		{name: "by its CAN name", sources: []setup.Source{wheels}, meet: [][]string{{"can0"}}, to: []int{0}},
		{name: "by match", sources: []setup.Source{named}, meet: [][]string{{"can0", "bus-a"}}, to: []int{-1, 0}},
		{name: "serial by its name", sources: []setup.Source{wheels, optics}, meet: [][]string{{"can0"}, {"can0", "optics"}}, to: []int{0, 1}},
		{name: "two", sources: []setup.Source{wheels, rear}, meet: [][]string{{"can1", "can0"}}, to: []int{1, 0}},
		{
			name: "the only one is taken", sources: []setup.Source{wheels, optics}, meet: [][]string{{"vcan0"}}, to: []int{0},
			warnings: []string{"capture.log speaks of vcan0, the setup of can0: taken as wheels; write match: vcan0"},
		},
		{
			name: "not with two CAN sources", sources: []setup.Source{wheels, rear}, meet: [][]string{{"vcan0"}}, to: []int{-1},
			unusable: "capture.log speaks of vcan0, the setup of can0 (wheels), can1 (rear): write match: vcan0 under the source that it is",
		},
		{
			name: "not with two interfaces", sources: []setup.Source{wheels}, meet: [][]string{{"vcan0", "vcan1"}}, to: []int{-1, -1},
			unusable: "capture.log speaks of vcan0, vcan1, the setup of can0 (wheels): write match: vcan0 or match: vcan1 under the source that it is",
		},
		{name: "not the only one in the end", sources: []setup.Source{wheels}, meet: [][]string{{"vcan0"}, {"vcan0", "can0"}}, to: []int{0, 0}, late: true, warnings: []string{"capture.log speaks of vcan0, the setup of can0: taken as wheels; write match: vcan0"}},
		{name: "strict", sources: []setup.Source{wheels}, strict: true, meet: [][]string{{"vcan0"}, {"vcan0", "can0"}}, to: []int{-1, 0}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			m := newMatch("capture.log", test.sources, test.strict)
			late := false
			for _, names := range test.meet {
				late = !m.meet(names) || late
			}
			if late != test.late {
				t.Errorf("not the only one: got %v, want %v", late, test.late)
			}
			if diff := cmp.Diff(m.to, test.to); diff != "" {
				t.Errorf("sources, got before want:\n%s", diff)
			}
			if diff := cmp.Diff(m.warnings(), test.warnings); diff != "" {
				t.Errorf("warnings, got before want:\n%s", diff)
			}
			if got := m.unusable(); got != test.unusable {
				t.Errorf("unusable: got %q, want %q", got, test.unusable)
			}
		})
	}
}
