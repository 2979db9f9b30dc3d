package socketcan

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"plumbline/bus"
)

// act is one thing that happens to an interface, at a time in ms.
type act struct {
	at int64
	do func(h *health, now int64)
}

func told(l link) func(*health, int64) {
	l.isCAN = true
	return func(h *health, now int64) { h.learn(&l, now) }
}

func frame(h *health, now int64) { h.frame(now) }

func errorFrame(class uint32, data ...byte) func(*health, int64) {
	f := bus.Frame{ID: class, Flags: bus.Error, Len: 8}
	copy(f.Data[:], data)
	return func(h *health, now int64) { h.fault(parseFault(&f), now) }
}

func up(c Controller) link { return link{index: 1, up: true, kind: "can", control: c} }

// TestHealth runs through what happens and lets time pass as the reader does:
// it looks at every act and whenever deadline says so.
func TestHealth(t *testing.T) {
	listener := Controller{Known: true, BitRate: 500000, Mode: ListenOnly}
	active := Controller{Known: true, BitRate: 250000}
	in := func(c Controller, s State) Controller { c.State = s; return c }
	tests := []struct {
		name string
		acts []act
		end  int64 // ms
		want []string
	}{
		{"never there", []act{{0, func(h *health, _ int64) { h.lose() }}}, 10_000, []string{"0 Absent: no such interface"}},
		{"not CAN", []act{{0, func(h *health, now int64) { h.learn(&link{index: 1, up: true}, now) }}}, 5000, []string{"0 Absent: not a CAN interface"}},
		{"down, up, heard, silent, heard", []act{
			{0, told(link{kind: "can", control: in(listener, Stopped)})}, {2000, told(up(listener))}, {2100, frame}, {2150, frame}, {5000, frame},
		}, 5900, []string{
			"0 Down: bit rate set to 500 kbit/s", "2000 Unknown: first frame is awaited", "2100 Active: frames arrive, at 500 kbit/s",
			"3150 Silent: no error is seen either at 500 kbit/s", "5000 Active: frames arrive",
		}},
		{"down without a bit rate", []act{{0, told(link{kind: "can", control: Controller{Known: true, State: Stopped}})}}, 100, []string{"0 Down: has no bit rate yet"}},
		{"silent from the start", []act{{0, told(up(listener))}}, 9000, []string{"1000 Silent: amplifier off, or cable unplugged"}},
		{"virtual", []act{{0, told(link{up: true, kind: "vcan"})}, {1500, frame}}, 2000, []string{"1000 Silent: nobody sends on this virtual bus", "1500 Active: no error information"}},
		{"old slcan", []act{{0, told(link{up: true})}}, 2000, []string{"1000 Silent: a wrong bit rate looks the same"}},
		{"wrong bit rate, listen-only", []act{{0, told(up(listener))}, {100, errorFrame(0x88, 0, 0, 4)}, {200, errorFrame(0x88, 0, 0, 4)}, {900, errorFrame(0x88, 0, 0, 4)}}, 9000, []string{
			"1000 Silent: wrong bit rate (set to 500 kbit/s), or no acknowledge: a listen-only node gives no acknowledge",
			"5900 Silent: no error is seen", // five seconds after the last one
		}},
		{"wrong bit rate, not listen-only", []act{{0, told(up(active))}, {100, errorFrame(0x88, 0, 0, 4)}}, 2000, []string{
			"1000 Silent: not one whole frame: wrong bit rate (set to 250 kbit/s); a missing termination is possible too",
		}},
		{"alone with a listener", []act{{0, told(up(listener))}, {100, errorFrame(0x88, 0, 0, 0, 0x19)}, {200, errorFrame(0x88, 0, 0, 0, 0x1B)}, {300, errorFrame(0x88, 0, 0, 0, 0x0A)}}, 2000, []string{
			"1000 Silent: an amplifier alone with it repeats one frame for ever",
		}},
		{"an error frame now and then on a good bus", []act{{0, told(up(active))}, {1, frame}, {2, errorFrame(0x88, 0, 0, 4)}, {3, frame}}, 500, []string{"1 Active: frames arrive"}},
		{"worse at once, better later", []act{
			{0, told(up(active))},
			{1, frame},
			{10, errorFrame(0x204, 0, 0x08, 0, 0, 0, 0, 97, 1)},
			{20, errorFrame(0x204, 0, 0x20, 0, 0, 0, 0, 129, 1)},
			{30, errorFrame(0x204, 0, 0x08, 0, 0, 0, 0, 120, 1)},
			{31, errorFrame(0x204, 0, 0x20, 0, 0, 0, 0, 130, 1)},
			{40, errorFrame(0x204, 0, 0x40)},
			{600, frame},
		}, 700, []string{
			"1 Active: frames arrive", "10 Warning: receive counter 1, transmit counter 97", "20 Passive: transmit counter 129", "520 Active: frames arrive",
		}},
		{"bus-off and a restart within a millisecond", []act{
			{0, told(up(active))}, {1, frame}, {10, errorFrame(0x40)}, {10, errorFrame(0x100)}, {11, frame}, {1500, frame}, {1900, frame}, {2500, frame},
		}, 2600, []string{"1 Active: ", "10 BusOff: restarted, by hand: ip link set can0 type can restart", "2010 Active: frames arrive"}},
		{"bus-off stays", []act{{0, told(up(active))}, {1, frame}, {10, errorFrame(0x40)}, {5000, frame}}, 9000, []string{"1 Active: ", "10 BusOff: "}},
		{"bus-off that only the kernel counted", []act{
			{0, told(up(active))}, {1, frame}, {1000, told(up(Controller{Known: true, BusOffs: 1, Restart: 50 * time.Millisecond}))}, {1001, frame}, {2500, frame}, {3400, frame},
		}, 3500, []string{"1 Active: ", "1000 BusOff: by itself after 50 ms", "3000 Active: "}},
		{"bus-off in an error frame and then in the count", []act{
			{0, told(up(active))},
			{1, frame},
			{10, errorFrame(0x40)},
			{20, errorFrame(0x100)},
			{21, frame},
			{1000, frame},
			{1900, frame},
			{2500, told(up(Controller{Known: true, BusOffs: 1}))},
			{2800, frame},
		}, 3000, []string{"1 Active: ", "10 BusOff: ", "2010 Active: "}},
		{"a second bus-off begins the time anew", []act{
			{0, told(up(active))}, {1, frame}, {10, errorFrame(0x40)}, {20, errorFrame(0x100)}, {1500, errorFrame(0x40)}, {1510, errorFrame(0x100)}, {1600, frame}, {2600, frame}, {3450, frame},
		}, 3600, []string{"1 Active: ", "10 BusOff: ", "3500 Active: "}},
		{"bus-off is no reason to hide that it was pulled", []act{{0, told(up(active))}, {1, frame}, {10, errorFrame(0x40)}, {50, func(h *health, _ int64) { h.lose() }}}, 5000, []string{
			"1 Active: ", "10 BusOff: ", "50 Absent: ",
		}},
		{"frames that are not wanted", []act{
			{0, func(h *health, now int64) {
				h.filters = true
				told(link{up: true, kind: "can", control: active, hasLoss: true, packets: 10})(h, now)
			}},
			{1000, told(link{up: true, kind: "can", control: active, hasLoss: true, packets: 60})},
			{2000, told(link{up: true, kind: "can", control: active, hasLoss: true, packets: 60})},
		}, 3000, []string{"1000 Silent: none of those that are wanted", "2000 Silent: amplifier off"}},
	}
	names := map[bus.Link]string{
		bus.LinkUnknown: "Unknown", bus.Absent: "Absent", bus.Down: "Down", bus.Silent: "Silent", bus.ErrorActive: "Active",
		bus.ErrorWarning: "Warning", bus.ErrorPassive: "Passive", bus.BusOff: "BusOff",
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			const begin = 1000 * ms
			h := health{name: "can0", silentAfter: 1000 * ms}
			var got []string
			look := func(now int64) {
				if v, ok := h.change(now); ok {
					got = append(got, fmt.Sprintf("%d %s: %s", (now-begin)/ms, names[v.link], h.sentence(v)))
				}
			}
			pass := func(to int64) {
				for now, looks := int64(begin), 0; ; looks++ {
					next := h.deadline(now)
					if next > to {
						return
					}
					if next <= now && looks > 0 {
						t.Fatalf("deadline %d is not after %d: a busy loop", next, now)
					}
					if looks > 100 {
						t.Fatal("no end of deadlines")
					}
					now = max(now, next)
					look(now)
				}
			}
			for _, a := range tt.acts {
				pass(begin + a.at*ms - 1)
				a.do(&h, begin+a.at*ms)
				look(begin + a.at*ms)
			}
			pass(begin + tt.end*ms)
			if len(got) != len(tt.want) {
				t.Fatalf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(tt.want, "\n"))
			}
			for i, w := range tt.want {
				prefix, text, _ := strings.Cut(w, ": ")
				if !strings.HasPrefix(got[i], prefix+": ") || !strings.Contains(got[i], text) {
					t.Errorf("note %d: got %q, want %q", i, got[i], w)
				}
			}
		})
	}
}

// TestDisturbs holds the warning about an interface that is not listen-only.
func TestDisturbs(t *testing.T) {
	tests := []struct {
		name string
		link link
		want string
	}{
		{"listen-only", up(Controller{Known: true, Mode: ListenOnly | FDMode}), ""},
		{"not", up(Controller{Known: true, Mode: FDMode}), "the controller is not listen-only"},
		{"does not say", link{up: true, kind: "slcan"}, "does not say whether it is listen-only"},
		{"virtual", link{up: true, kind: "vcan"}, ""},
		{"down", link{kind: "can", control: Controller{Known: true}}, ""},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			h := health{name: "can0"}
			told(tt.link)(&h, 0)
			if got := h.disturbs(); (got == "") != (tt.want == "") || !strings.Contains(got, tt.want) {
				t.Errorf("got %q, want %q", got, tt.want)
			}
		})
	}
}

// TestSentences looks at every sentence there is: none is empty, none ends in a
// full stop, none promises what cannot be known, none contradicts itself.
func TestSentences(t *testing.T) {
	seen := map[string]bool{}
	for _, c := range []Controller{{}, {Known: true, BitRate: 500000}, {Known: true, BitRate: 83333, Mode: ListenOnly | FDMode, DataBitRate: 2000000, HasCounters: true}} {
		for l := bus.LinkUnknown; l <= bus.BusOff; l++ {
			for w := plain; w <= noErrorInfo; w++ {
				h := health{name: "can0", expects: "A1", stranger: "B2", silentAfter: 1000 * ms, control: c}
				s := h.sentence(verdict{l, w})
				seen[s] = true
				if !strings.HasPrefix(s, "can0: ") || len(s) < 15 || strings.HasSuffix(s, ".") || strings.Contains(s, "%!") || strings.Contains(s, "  ") {
					t.Errorf("sentence %q", s)
				}
				if strings.Contains(s, "termination") && !strings.Contains(s, "possible") {
					t.Errorf("a missing termination cannot be known, only be possible: %q", s)
				}
			}
		}
	}
	if len(seen) < 20 {
		t.Errorf("%d different sentences, want 20 and more", len(seen))
	}
	got := (&health{control: Controller{BitRate: 83333, DataBitRate: 2000000, Mode: FDMode}}).rate("at ", "")
	if diff := cmp.Diff("at 83333 bit/s and 2000 kbit/s in the data phase", got); diff != "" {
		t.Error(diff)
	}
}
