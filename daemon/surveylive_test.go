package daemon

import (
	"context"
	"errors"
	"fmt"
	"testing"
	"time"

	"plumbline/bus"
	"plumbline/bus/socketcan"
)

// TestLookLive: links are told with what is known of the controller, bytes thrown away are counted, and the
// survey is shown while nothing arrives.
func TestLookLive(t *testing.T) {
	src := &memory{
		names: []string{"can0", "ttyUSB0"}, frames: wheel(100), block: make(chan struct{}),
		notes: []bus.Note{
			{Before: 0, At: start, Kind: bus.LinkChanged, Link: bus.ErrorActive, Text: "can0: frames arrive"},
			{Before: 50, At: start + 5e8, Kind: bus.Garbage, Source: 1, Count: 12, Text: "12 bytes thrown away"},
			{Before: 60, At: start + 6e8, Kind: bus.LinkChanged, Link: bus.BusOff, Text: "can0: bus-off"},
			{Before: 70, At: start + 7e8, Kind: bus.Warning, Text: "not listen-only"},
		},
	}
	ctx, cancel := context.WithTimeout(t.Context(), 2200*time.Millisecond)
	defer cancel()
	shown, quiet := 0, false
	got, err := LookLive(ctx, LookConfig{
		File: "can0", Source: src,
		CAN: func() []socketcan.Info {
			return []socketcan.Info{{Name: "can0", Controller: socketcan.Controller{Known: true, BitRate: 500_000}}}
		},
		Show: func(s *Survey) {
			shown++
			if s.Frames != 100 || s.Interfaces[0].CAN == nil {
				t.Errorf("shown with %d frames, interface %+v", s.Frames, s.Interfaces[0])
			}
			if len(s.Messages) == 1 && s.Messages[0].Now == 0 && s.Messages[0].Rate > 90 {
				quiet = true
			}
		},
	})
	if !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("got %v, want the end of ctx", err)
	}
	if shown < 4 || shown > 10 {
		t.Errorf("shown %d times in 2.2 s, want about 8", shown)
	}
	if !quiet {
		t.Error("the rate of late never became 0 although nothing arrived")
	}
	can, serial := got.Interfaces[0], got.Interfaces[1]
	if can.State != "can0: bus-off" || can.CAN == nil || can.CAN.Controller.BitRate != 500_000 || serial.Garbage != 12 || serial.CAN != nil {
		t.Errorf("got %+v and %+v", can, serial)
	}
	if len(got.Links) != 2 || got.Links[1].Link != bus.BusOff || got.Links[1].At != Instant(start+6e8) {
		t.Errorf("links: got %+v", got.Links)
	}
	if len(got.Warnings) != 1 || got.Warnings[0] != "not listen-only" {
		t.Errorf("warnings: got %q, want none of ticks, links and garbage", got.Warnings)
	}
}

// TestLookLiveBounded: a loose plug does not fill the memory, and the newest is kept.
func TestLookLiveBounded(t *testing.T) {
	src := &memory{names: []string{"can0"}, frames: wheel(1)}
	for i := range 3 * maxLinks {
		src.notes = append(src.notes, bus.Note{At: start, Kind: bus.LinkChanged, Link: bus.Silent, Text: fmt.Sprint(i)})
	}
	got, err := LookLive(t.Context(), LookConfig{File: "can0", Source: src})
	if err != nil {
		t.Fatal(err)
	}
	if n := len(got.Links); n != maxLinks || got.Earlier != 2*maxLinks || got.Links[n-1].Text != fmt.Sprint(3*maxLinks-1) {
		t.Errorf("%d links after %d, the last %+v", len(got.Links), got.Earlier, got.Links[len(got.Links)-1])
	}
}
